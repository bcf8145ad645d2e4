"""Ages in whole ticks, each counted as far as its largest constant says anything.

Ends of windows are divided by the largest number that divides all of them. Where all windows are closed, whatever can
be reached in dense time can be reached in whole ticks: Henzinger, Manna and Pnueli 1992.
"""

from __future__ import annotations

from collections.abc import Collection

from interlock.core.system import TickWindow
from interlock.engines.aged.walk import Ages


class TickAges:
    """A way to keep ages: whole ticks of `unit` ticks of the system; None where a clock does not run."""

    def __init__(self, n_clocks: int, windows: tuple[tuple[int, TickWindow], ...], unit: int) -> None:
        constants = [(clock, c) for clock, w in windows for c in (w.earliest, w.latest or 0)]
        self.unit = unit
        caps = [0] * n_clocks
        for clock, constant in constants:
            caps[clock] = max(caps[clock], constant // self.unit + 1)
        self._caps = tuple(caps)

    def none(self) -> Ages:
        """No clock runs."""
        return (None,) * len(self._caps)

    def after(self, ages: Ages, afresh: Collection[int], running: Collection[int] | None) -> Ages:
        """After an event."""
        kept = [None if clock in afresh else age for clock, age in enumerate(ages)]
        if running is None:
            return tuple(kept)
        return tuple((age or 0) if clock in running else None for clock, age in enumerate(kept))

    def later(self, ages: Ages) -> Ages:
        """After one tick."""
        return tuple(_one_more(age, cap) for age, cap in zip(ages, self._caps, strict=True))

    def early(self, ages: Ages, clock: int, window: TickWindow) -> bool:
        """Whether an age lies before a window."""
        age = ages[clock]
        assert isinstance(age, int)
        return age * self.unit < window.earliest

    def beyond(self, ages: Ages, clock: int, window: TickWindow) -> bool:
        """Whether an age lies beyond the latest of a window."""
        age = ages[clock]
        assert isinstance(age, int)
        return window.latest is not None and age * self.unit > window.latest


def _one_more(age: object, cap: int) -> int | None:
    if age is None:
        return None
    assert isinstance(age, int)
    return min(age + 1, cap)
