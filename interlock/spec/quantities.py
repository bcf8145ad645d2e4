"""Quantities and windows: exact bounds with a dimension, and numbers as people write them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.diag.place import Span
from interlock.spec.units import CAPACITANCE, COUNT, ENERGY, RATE, TIME, UNITS, Dimension

DIGITS = 6
"""To so many digits the ends of a computed value are shown, rounded away from the middle."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """All that a value may be: from `low` to `high`, in the base unit of what it measures, equal if there is no
    tolerance. `computed`: worked out in a way that gives long numbers, so that a time is rounded where it is used."""

    low: Fraction
    high: Fraction
    measures: Dimension
    span: Span
    computed: bool = False

    @property
    def value(self) -> Fraction:
        """The value of a quantity without tolerance; ValueError if it has one."""
        if self.low != self.high:
            raise ValueError("a quantity with a tolerance has no single value")
        return self.low

    @property
    def whole(self) -> bool:
        """Whether it is a plain whole number."""
        return self.measures == COUNT and self.low == self.high and self.low.denominator == 1


@dataclass(frozen=True, slots=True)
class Range:
    """A window whose sides are quantities of one dimension; `latest` None: never."""

    earliest: Quantity
    latest: Quantity | None
    earliest_open: bool
    latest_open: bool
    span: Span


def point(value: Fraction, measures: Dimension, span: Span, computed: bool = False) -> Quantity:
    """A quantity without tolerance."""
    return Quantity(value, value, measures, span, computed)


def exact(value: Fraction) -> str:
    """A number as people write it: whole, with decimals if they end, else as a fraction."""
    if value.denominator == 1:
        return str(value.numerator)
    places = decimals(value)
    if places is None:
        return str(value)
    digits = str(abs(value.numerator) * 10**places // value.denominator).rjust(places + 1, "0")
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def decimals(value: Fraction) -> int | None:
    """How many digits stand behind the point; None if they do not end."""
    twos, fives, rest = 0, 0, value.denominator
    while rest % 2 == 0:
        twos, rest = twos + 1, rest // 2
    while rest % 5 == 0:
        fives, rest = fives + 1, rest // 5
    return max(twos, fives) if rest == 1 else None


def to_step(value: Fraction, step: Fraction, *, up: bool) -> Fraction:
    """The next whole multiple of a step, upwards or downwards; the value itself if it is one."""
    n = value / step
    return (-(-n.numerator // n.denominator) if up else n.numerator // n.denominator) * step


def brief(value: Fraction, *, up: bool) -> Fraction:
    """A number cut to a few digits, away from where it is less: upwards or downwards. Short ones stay as they are."""
    places = decimals(value)
    if value == 0 or (places is not None and len(str(abs(value.numerator) * 10**places // value.denominator)) <= 9):
        return value
    step = Fraction(1)
    while abs(value) < step * 10 ** (DIGITS - 1):
        step /= 10
    return to_step(value, step, up=up)


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


_SHOWN_IN: dict[Dimension, tuple[str, ...]] = {
    RATE: ("/h",),
    CAPACITANCE: ("F", "mF", "uF"),
    ENERGY: ("MWh", "kWh", "J"),
}
"""Units in which a quantity is shown, the largest first, where it is not simply the base unit and its thousands."""


def show_amount(value: Fraction, measures: Dimension) -> str:
    """A number of base units with the unit that shows it best."""
    if measures == TIME:
        return show_time(value)
    units = _SHOWN_IN.get(measures)
    if units is None:
        units = tuple(
            unit
            for unit, (dimension, size) in sorted(UNITS.items(), key=lambda entry: -entry[1][1])
            if dimension == measures and (size == 1 or (size > 1 and unit[0] in "kM"))
        )
    if measures == COUNT or not units:
        return f"{exact(value)} {measures.base_unit}".strip()
    unit = next((unit for unit in units if abs(value) >= UNITS[unit][1]), units[-1])
    return f"{exact(value / UNITS[unit][1])} {unit}"


def show_quantity(quantity: Quantity) -> str:
    """A quantity with its unit: `750 V`, `9.5 kohm .. 10.5 kohm`; ends of many digits are cut outwards."""
    if quantity.low == quantity.high:
        return show_amount(quantity.low, quantity.measures)
    low = show_amount(brief(quantity.low, up=False), quantity.measures)
    return f"{low} .. {show_amount(brief(quantity.high, up=True), quantity.measures)}"


def show_range(window: Range) -> str:
    """A window of quantities, each side at its outer end."""
    earliest = show_amount(brief(window.earliest.low, up=False), window.earliest.measures)
    latest = "never"
    if window.latest is not None:
        latest = show_amount(brief(window.latest.high, up=True), window.latest.measures)
    over, under = "over " if window.earliest_open else "", "under " if window.latest_open else ""
    return f"{over}{earliest} .. {under}{latest}"
