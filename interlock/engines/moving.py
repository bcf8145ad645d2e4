"""Where something ceases to hold as an end of a window is moved, by trial.

In: an end as declared, which way it is moved, and whether something still holds with the end at a value; if it does at
a value it must at all between. Out: where it ceases, exactly, or between which two values.

Steps are doubled until it ceases, then halved; then values between two whole ticks are tried, those with the smallest
denominators first (Stern 1858, Brocot 1861). Where a window is made wider, it ceases *at* a value if it does there and
does not with the end open at it; where it is made narrower, *beyond* a value if it does with the end open at it and not
there. What lies otherwise is told between two values.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import floor

from interlock.core.question import Moment

MOST_DOUBLINGS = 20
FINEST = 8
"""The largest denominator that is tried."""


@dataclass(frozen=True, slots=True)
class Ceasing:
    """Where something ceases. `breaks`: there it does (`open`: beyond it); None: not found. `holds`: as far as there it
    still holds, with the end closed, or as declared. `exact`: nothing lies between the two."""

    breaks: Moment | None
    holds: Moment
    exact: bool


def first_broken(
    declared: Moment, *, up: bool, wider: bool, stop: Fraction | None, broken: Callable[[Moment], bool | None]
) -> Ceasing:
    """Where it ceases to hold.

    `up`: values grow. `wider`: a window is made wider so. `stop`: the last value to try (None: there is none).
    `broken`: whether it does not hold with the end at a value; None: that was too much to find out. Cost: some 2 log2
    of the change in ticks, and 20 more.
    """
    broken = cache(broken)
    low = declared
    if declared.open and wider:
        closed = Moment(declared.ticks)
        if broken(closed) is not False:
            return Ceasing(closed if broken(closed) else None, declared, bool(broken(closed)))
        low = closed
    high: Fraction | None = None
    for tried in _ever_further(declared.ticks, up, stop):
        is_broken = broken(Moment(tried))
        if is_broken is None:
            return Ceasing(None, low, exact=False)
        if is_broken:
            high = tried
            break
        low = Moment(tried)
    if high is None:
        return Ceasing(None, low, exact=low.ticks == stop and not low.open)
    while True:
        middle = _between(low.ticks, high)
        if abs(high - low.ticks) <= 1:
            exact = _just_there(low, high, wider, broken)
            if exact is not None:
                return Ceasing(exact, low, exact=True)
        is_broken = None if middle is None else broken(Moment(middle))
        if middle is None or is_broken is None:
            return Ceasing(Moment(high), low, exact=False)
        if is_broken:
            high = middle
        else:
            low = Moment(middle)


def _ever_further(declared: Fraction, up: bool, stop: Fraction | None) -> Iterator[Fraction]:
    for doubling in range(MOST_DOUBLINGS):
        tried = declared + (1 if up else -1) * 2**doubling
        if stop is not None and (tried >= stop if up else tried <= stop):
            if stop != declared:
                yield stop
            return
        yield tried


def _just_there(low: Moment, high: Fraction, wider: bool, broken: Callable[[Moment], bool | None]) -> Moment | None:
    """Where it ceases, if that is just where it does not hold any more, or just beyond where it still does."""
    if wider:
        return Moment(high) if broken(Moment(high, open=True)) is False else None
    beyond = Moment(low.ticks, open=True)
    return beyond if low != beyond and broken(beyond) else None


def _between(one: Fraction, other: Fraction) -> Fraction | None:
    """A value between two: a whole one in the middle, else that with the smallest denominator (None: too fine)."""
    low, high = min(one, other), max(one, other)
    if high - low > 1:
        return Fraction(floor((low + high) / 2) if floor((low + high) / 2) > low else floor(low) + 1)
    for denominator in range(1, FINEST + 1):
        tried = Fraction(floor(low * denominator) + 1, denominator)
        if tried < high:
            return tried
    return None
