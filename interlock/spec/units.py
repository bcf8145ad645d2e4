"""Units and dimensions: a closed list of units, what each measures, and its exact size.

In: a unit as written (`kohm`, `A/s`, `/h`). Out: its dimension and its size in the base unit. A dimension is a row of
powers of second, metre, volt and ampere; with volt and ampere instead of kilogram and ampere, every electrical quantity
of a charging point has small whole powers (a watt is V A, an ohm V/A, a farad A s/V). Sizes from the SI brochure; `a`
is 365 days of 24 hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.diag.near import near


@dataclass(frozen=True, slots=True)
class Dimension:
    """What a quantity measures, as powers of the base units."""

    second: int = 0
    metre: int = 0
    volt: int = 0
    ampere: int = 0

    def __mul__(self, other: Dimension) -> Dimension:
        return Dimension(
            self.second + other.second, self.metre + other.metre, self.volt + other.volt, self.ampere + other.ampere
        )

    def __truediv__(self, other: Dimension) -> Dimension:
        return Dimension(
            self.second - other.second, self.metre - other.metre, self.volt - other.volt, self.ampere - other.ampere
        )

    @property
    def base_unit(self) -> str:
        """The product of powers of base units: `V A s`, `V^2/s`; "" for a plain number."""
        powers = (("V", self.volt), ("A", self.ampere), ("m", self.metre), ("s", self.second))
        over = " ".join(_power(unit, n) for unit, n in powers if n > 0)
        under = [_power(unit, -n) for unit, n in powers if n < 0]
        divisor = "/(" + " ".join(under) + ")" if len(under) > 1 else "".join(f"/{unit}" for unit in under)
        return over + divisor

    def __str__(self) -> str:
        """With its article: `a time`, `an energy`, `a quantity in V^2`."""
        return _NAMES.get(self) or f"a quantity in {self.base_unit}"


def _power(unit: str, n: int) -> str:
    return unit if n == 1 else f"{unit}^{n}"


COUNT = Dimension()
TIME = Dimension(second=1)
RATE = COUNT / TIME
LENGTH = Dimension(metre=1)
VOLTAGE = Dimension(volt=1)
CURRENT = Dimension(ampere=1)
RESISTANCE = VOLTAGE / CURRENT
CHARGE = CURRENT * TIME
CAPACITANCE = CHARGE / VOLTAGE
POWER = VOLTAGE * CURRENT
ENERGY = POWER * TIME
CURRENT_RATE = CURRENT / TIME
VOLTAGE_RATE = VOLTAGE / TIME

_NAMES: dict[Dimension, str] = {
    COUNT: "a plain number",
    TIME: "a time",
    RATE: "a rate",
    LENGTH: "a length",
    VOLTAGE: "a voltage",
    CURRENT: "a current",
    RESISTANCE: "a resistance",
    CHARGE: "a charge",
    CAPACITANCE: "a capacitance",
    POWER: "a power",
    ENERGY: "an energy",
    CURRENT_RATE: "a rate of current",
    VOLTAGE_RATE: "a rate of voltage",
    LENGTH / TIME: "a speed",
}

_SECOND = Fraction(1)
_HOUR = Fraction(3600)
_YEAR = 8760 * _HOUR

UNITS: dict[str, tuple[Dimension, Fraction]] = {
    "ns": (TIME, Fraction(1, 10**9)),
    "us": (TIME, Fraction(1, 10**6)),
    "ms": (TIME, Fraction(1, 1000)),
    "s": (TIME, _SECOND),
    "min": (TIME, 60 * _SECOND),
    "h": (TIME, _HOUR),
    "d": (TIME, 24 * _HOUR),
    "a": (TIME, _YEAR),
    "/h": (RATE, 1 / _HOUR),
    "/a": (RATE, 1 / _YEAR),
    "mV": (VOLTAGE, Fraction(1, 1000)),
    "V": (VOLTAGE, Fraction(1)),
    "kV": (VOLTAGE, Fraction(1000)),
    "mA": (CURRENT, Fraction(1, 1000)),
    "A": (CURRENT, Fraction(1)),
    "kA": (CURRENT, Fraction(1000)),
    "ohm": (RESISTANCE, Fraction(1)),
    "kohm": (RESISTANCE, Fraction(1000)),
    "Mohm": (RESISTANCE, Fraction(10**6)),
    "F": (CAPACITANCE, Fraction(1)),
    "mF": (CAPACITANCE, Fraction(1, 1000)),
    "uF": (CAPACITANCE, Fraction(1, 10**6)),
    "C": (CHARGE, Fraction(1)),
    "Ah": (CHARGE, _HOUR),
    "W": (POWER, Fraction(1)),
    "kW": (POWER, Fraction(1000)),
    "MW": (POWER, Fraction(10**6)),
    "J": (ENERGY, Fraction(1)),
    "kJ": (ENERGY, Fraction(1000)),
    "MJ": (ENERGY, Fraction(10**6)),
    "Wh": (ENERGY, _HOUR),
    "kWh": (ENERGY, 1000 * _HOUR),
    "MWh": (ENERGY, 10**6 * _HOUR),
    "m": (LENGTH, Fraction(1)),
    "km": (LENGTH, Fraction(1000)),
    "%": (COUNT, Fraction(1, 100)),
}
"""Unit: what it measures, and its size in the base unit (seconds, volts, amperes ...; rates per second)."""

SPELLINGS: dict[str, str] = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "S": "s", "msec": "ms", "millis": "ms", "MS": "ms",
    "milliseconds": "ms", "\u00b5s": "us", "\u03bcs": "us", "usec": "us", "nsec": "ns", "mins": "min", "minute": "min",
    "minutes": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "H": "h", "day": "d", "days": "d", "y": "a",
    "yr": "a", "year": "a", "years": "a", "/hr": "/h", "/hour": "/h", "/y": "/a", "/yr": "/a", "/year": "/a",
    "volt": "V", "volts": "V", "v": "V", "KV": "kV", "kv": "kV", "amp": "A", "amps": "A", "ka": "kA", "Ohm": "ohm",
    "ohms": "ohm", "kOhm": "kohm", "Kohm": "kohm", "\u03a9": "ohm", "\u2126": "ohm", "k\u03a9": "kohm",
    "k\u2126": "kohm", "M\u03a9": "Mohm", "M\u2126": "Mohm", "MOhm": "Mohm", "\u00b5F": "uF", "\u03bcF": "uF",
    "w": "W", "kw": "kW", "KW": "kW", "kwh": "kWh", "KWh": "kWh", "ah": "Ah", "AH": "Ah", "coulomb": "C",
    "coulombs": "C", "meter": "m", "metres": "m", "metre": "m", "meters": "m", "percent": "%",
}  # fmt: skip
"""How people also write units, and what to write here."""


def unit_of(text: str) -> tuple[Dimension, Fraction] | None:
    """Dimension and size of a unit as written, also of one unit over another (`A/s`); None if it is none."""
    if text in UNITS:
        return UNITS[text]
    over, slash, under = text.partition("/")
    if not slash or under not in UNITS or under == "%" or (over and over not in UNITS):
        return None
    dimension, size = UNITS[over] if over else (COUNT, Fraction(1))
    return dimension / UNITS[under][0], size / UNITS[under][1]


def meant(text: str) -> str:
    """What was most likely meant by a text that is no unit; "" if that is not clear."""
    if guess := SPELLINGS.get(text) or near(text, UNITS):
        return guess
    over, slash, under = text.partition("/")
    if not slash:
        return ""
    over = over if not over or over in UNITS else (meant(over) or "?")
    under = under if under in UNITS else meant(under)
    guess = f"{over}/{under}"
    return guess if guess != text and unit_of(guess) is not None else ""
