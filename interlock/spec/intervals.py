"""Arithmetic on quantities with tolerance: the result holds every value that the operands allow.

In: quantities. Out: a quantity whose ends no choice of values within the operands can pass. Nothing is known of how
operands depend on one another, so `a - a` may differ from zero: wider, never narrower. Ends are exact fractions.
R. E. Moore, Interval Analysis (1966).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from interlock.diag.place import Span
from interlock.spec.quantities import Quantity, decimals
from interlock.spec.units import COUNT


def plus(one: Quantity, other: Quantity, span: Span, *, minus: bool = False) -> Quantity:
    """The sum, or the difference, of two quantities of one dimension."""
    low, high = (-other.high, -other.low) if minus else (other.low, other.high)
    return Quantity(one.low + low, one.high + high, one.measures, span, one.computed or other.computed)


def times(one: Quantity, other: Quantity, span: Span) -> Quantity:
    """The product. Of two quantities that both have a unit, it is a computed one."""
    ends = [a * b for a in (one.low, one.high) for b in (other.low, other.high)]
    computed = one.computed or other.computed or COUNT not in (one.measures, other.measures)
    return Quantity(min(ends), max(ends), one.measures * other.measures, span, computed)


def over(one: Quantity, other: Quantity, span: Span) -> Quantity | None:
    """The quotient; None if the divisor may be zero."""
    if other.low <= 0 <= other.high:
        return None
    ends = [a / b for a in (one.low, one.high) for b in (other.low, other.high)]
    low, high = min(ends), max(ends)
    endless = decimals(low) is None or decimals(high) is None
    computed = one.computed or other.computed or other.measures != COUNT or endless
    return Quantity(low, high, one.measures / other.measures, span, computed)


def about(middle: Quantity, by: Quantity, span: Span, *, share: bool) -> Quantity:
    """The middle, `by` more or less: a plain number that is a `share` of the middle, or so much of its dimension."""
    if share:
        return times(middle, Quantity(1 - by.high, 1 + by.high, COUNT, span), span)
    return Quantity(middle.low - by.high, middle.high + by.high, middle.measures, span, middle.computed or by.computed)


def least(values: Sequence[Quantity], span: Span) -> Quantity:
    """The least of quantities of one dimension."""
    return _of(min(one.low for one in values), min(one.high for one in values), values, span)


def greatest(values: Sequence[Quantity], span: Span) -> Quantity:
    """The greatest of quantities of one dimension."""
    return _of(max(one.low for one in values), max(one.high for one in values), values, span)


def _of(low: Fraction, high: Fraction, values: Sequence[Quantity], span: Span) -> Quantity:
    return Quantity(low, high, values[0].measures, span, any(one.computed for one in values))
