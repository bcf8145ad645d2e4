"""Quantities and windows: exact numbers with units of a closed list, computed from parameters."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.diag.place import Span

_SECOND = Fraction(1)
_HOUR = Fraction(3600)
_YEAR = 8760 * _HOUR

UNITS: dict[str, tuple[str, Fraction]] = {
    "ns": ("time", Fraction(1, 10**9)),
    "us": ("time", Fraction(1, 10**6)),
    "ms": ("time", Fraction(1, 1000)),
    "s": ("time", _SECOND),
    "min": ("time", 60 * _SECOND),
    "h": ("time", _HOUR),
    "d": ("time", 24 * _HOUR),
    "a": ("time", _YEAR),
    "/h": ("rate", Fraction(1)),
    "/a": ("rate", Fraction(1, 8760)),
    "V": ("voltage", Fraction(1)),
    "kV": ("voltage", Fraction(1000)),
    "A": ("current", Fraction(1)),
    "kA": ("current", Fraction(1000)),
    "ohm": ("resistance", Fraction(1)),
    "kohm": ("resistance", Fraction(1000)),
    "F": ("capacitance", Fraction(1)),
    "mF": ("capacitance", Fraction(1, 1000)),
    "uF": ("capacitance", Fraction(1, 10**6)),
    "W": ("power", Fraction(1)),
    "kW": ("power", Fraction(1000)),
    "MW": ("power", Fraction(10**6)),
    "J": ("energy", Fraction(1)),
    "kJ": ("energy", Fraction(1000)),
    "MJ": ("energy", Fraction(10**6)),
    "Wh": ("energy", Fraction(3600)),
    "kWh": ("energy", Fraction(3600 * 1000)),
    "MWh": ("energy", Fraction(3600 * 10**6)),
    "m": ("length", Fraction(1)),
    "km": ("length", Fraction(1000)),
}
"""Unit: what it measures, and its size in the base unit (seconds, per hour, volts ...). `a` is 365 days."""

COUNT = "count"

SPELLINGS: dict[str, str] = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "S": "s", "msec": "ms", "millis": "ms", "MS": "ms",
    "milliseconds": "ms", "\u00b5s": "us", "\u03bcs": "us", "usec": "us", "nsec": "ns", "mins": "min", "minute": "min",
    "minutes": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "H": "h", "day": "d", "days": "d", "y": "a",
    "yr": "a", "year": "a", "years": "a", "/hr": "/h", "/hour": "/h", "/y": "/a", "/yr": "/a", "/year": "/a",
    "volt": "V", "volts": "V", "v": "V", "KV": "kV", "kv": "kV", "amp": "A", "amps": "A", "ka": "kA", "Ohm": "ohm",
    "ohms": "ohm", "kOhm": "kohm", "\u03a9": "ohm", "\u2126": "ohm", "\u00b5F": "uF", "\u03bcF": "uF", "w": "W",
    "kw": "kW", "KW": "kW", "kwh": "kWh", "KWh": "kWh", "meter": "m", "metres": "m", "metre": "m", "meters": "m",
}  # fmt: skip
"""How people also write units, and what to write here."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in the base unit of what it measures ("time": seconds, "rate": per hour, "count": a plain number)."""

    value: Fraction
    measures: str
    span: Span


@dataclass(frozen=True, slots=True)
class Range:
    """A window whose sides are quantities of one kind; `latest` None: never."""

    earliest: Quantity
    latest: Quantity | None
    earliest_open: bool
    latest_open: bool
    span: Span


def exact(value: Fraction) -> str:
    """A number as people write it: whole, with decimals if they end, else as a fraction."""
    if value.denominator == 1:
        return str(value.numerator)
    twos, fives, rest = 0, 0, value.denominator
    while rest % 2 == 0:
        twos, rest = twos + 1, rest // 2
    while rest % 5 == 0:
        fives, rest = fives + 1, rest // 5
    if rest != 1:
        return str(value)
    places = max(twos, fives)
    digits = str(abs(value.numerator) * 10**places // value.denominator).rjust(places + 1, "0")
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def show_time(value_s: Fraction) -> str:
    """A time in the unit that shows it best: `30 ms`, `2.5 s`, `3 min`."""
    for unit in ("h", "min"):
        size = UNITS[unit][1]
        if value_s and value_s % size == 0:
            return f"{exact(value_s / size)} {unit}"
    if value_s == 0 or abs(value_s) >= 1:
        return f"{exact(value_s)} s"
    for unit in ("ms", "us"):
        size = UNITS[unit][1]
        if abs(value_s) >= size:
            return f"{exact(value_s / size)} {unit}"
    return f"{exact(value_s / UNITS['ns'][1])} ns"


def show_quantity(quantity: Quantity) -> str:
    """A quantity with its unit."""
    if quantity.measures == "time":
        return show_time(quantity.value)
    base = next((unit for unit, (measures, size) in UNITS.items() if measures == quantity.measures and size == 1), "")
    return f"{exact(quantity.value)} {base}".strip()
