"""Ages as regions: whole parts as far as constants say anything, and the order of what is beyond the whole.

Ages in one region cannot be told apart by any window, now or later: Alur and Dill 1994. An age is kept as a pair. The
first is 2n where the age is n, 2n + 1 where it lies between n and n + 1 or, with the largest constant n, beyond it. The
second says, of an age in between, how its part beyond the whole compares with that of others (1 the least); else it is
0: of whole ages, and of those beyond their largest constant.
"""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction
from typing import TypeAlias, cast

from interlock.core.system import TickWindow
from interlock.engines.aged.walk import Ages

Age: TypeAlias = tuple[int, int]

NO_AGE = (-1, 0)
ZERO = (0, 0)


class RegionAges:
    """A way to keep ages: as regions."""

    def __init__(self, n_clocks: int, windows: tuple[tuple[int, TickWindow], ...], unit: int) -> None:
        largest = [0] * n_clocks
        for clock, window in windows:
            largest[clock] = max(largest[clock], window.earliest // unit, (window.latest or 0) // unit)
        self._largest = tuple(largest)
        self._unit = unit

    def none(self) -> Ages:
        """No clock runs."""
        return (NO_AGE,) * len(self._largest)

    def after(self, ages: Ages, afresh: Collection[int], running: Collection[int] | None) -> Ages:
        """After an event."""
        kept = [NO_AGE if clock in afresh else age for clock, age in enumerate(_pairs(ages))]
        if running is not None:
            kept = [_or_zero(age) if clock in running else NO_AGE for clock, age in enumerate(kept)]
        return _in_order(kept)

    def later(self, ages: Ages) -> Ages:
        """The next region: whole ages go beyond the whole; if there are none, those nearest to it become whole."""
        pairs = _pairs(ages)
        if any(_whole(age) for age in pairs):
            moved = []
            for (code, rank), largest in zip(pairs, self._largest, strict=True):
                if _whole((code, rank)):
                    moved.append((code + 1, 0 if code == 2 * largest else 1))
                else:
                    moved.append((code, rank + 1 if rank else 0))
            return _in_order(moved)
        nearest = max((rank for _, rank in pairs), default=0)
        if nearest == 0:
            return ages
        return _in_order([(code + 1, 0) if rank == nearest else (code, rank) for code, rank in pairs])

    def early(self, ages: Ages, clock: int, window: TickWindow) -> bool:
        """Whether an age lies before a window."""
        code, earliest = _code(ages, clock), window.earliest // self._unit
        return code <= 2 * earliest if window.earliest_open else code < 2 * earliest

    def beyond(self, ages: Ages, clock: int, window: TickWindow) -> bool:
        """Whether an age lies beyond the latest of a window."""
        if window.latest is None:
            return False
        code, latest = _code(ages, clock), window.latest // self._unit
        return code >= 2 * latest if window.latest_open else code > 2 * latest

    def wait(self, region: Ages, exact: tuple[Fraction, ...]) -> Fraction:
        """How long to wait, in ticks, from exact ages in a region so as to come into the next one (any of a stretch:
        its middle). Ages of clocks that do not run are not looked at."""
        left = [self._unit - exact[i] % self._unit for i, (_, rank) in enumerate(_pairs(region)) if rank]
        room = min(left, default=Fraction(self._unit))
        return room / 2 if any(_whole(age) for age in _pairs(region)) or not left else room


def _pairs(ages: Ages) -> tuple[Age, ...]:
    return cast(tuple[Age, ...], ages)


def _code(ages: Ages, clock: int) -> int:
    code, _ = _pairs(ages)[clock]
    assert code >= 0, "the age of a clock that does not run is asked for"
    return code


def _whole(age: Age) -> bool:
    return age[0] >= 0 and age[0] % 2 == 0


def _or_zero(age: Age) -> Age:
    return ZERO if age == NO_AGE else age


def _in_order(ages: list[Age]) -> Ages:
    """The same order, numbered from 1 without gaps."""
    ranks = {rank: i for i, rank in enumerate(sorted({rank for _, rank in ages if rank}), start=1)}
    return tuple((code, ranks.get(rank, 0)) for code, rank in ages)
