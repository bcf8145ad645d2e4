"""Scenarios of the quick engine: its events in declaration order, for the one routine that chooses scenarios.

In: events, starts, what ends a run. Out: the shortest way, unpacked into a scenario.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.meaning import Meaning
from interlock.core.question import Ends, Scenario
from interlock.engines.api import EngineFault
from interlock.engines.quick.events import Events
from interlock.engines.scenario import at_start_of
from interlock.engines.shortest import Way, shortest_way

Start: TypeAlias = tuple[int, int, bool]
"""Packed situation with flags, failures spent, whether it is an end."""

Judge: TypeAlias = Callable[[int, int, bool], tuple[int, bool]]
"""From the situation before and after an event, and whether the observer calls it an end: the situation after with
flags of the search, and whether the run ends there."""


@dataclass(frozen=True, slots=True)
class Ground:
    """Where ways run. `watched` makes the steps, `events` tells tiers. `is_cut`: situations that no run comes to.
    `top`: bits that a situation takes with all flags; the search keeps the failures spent above them."""

    events: Events
    watched: Events
    top: int
    is_cut: Callable[[int], bool] | None

    def shortest(self, starts: Iterable[Start], budget: int, judge: Judge, inner: int | None = None) -> Way[int]:
        """The shortest way to an end within the budget; EngineFault if there is none. States of the way are situations
        without flags. `inner`: what was reached with more failures than that is not gone on from.
        """
        top, low = self.top, (1 << self.top) - 1

        def begin() -> Iterator[tuple[int, bool]]:
            for state, spent, ends in starts:
                if spent <= budget and not (self.is_cut and self.is_cut(state)):
                    yield state | spent << top, ends

        def successors(packed: int) -> Iterator[tuple[int, int, bool]]:
            spent, state = packed >> top, packed & low
            if inner is not None and spent > inner:
                return
            for act, delta, cost, observed in self._steps(state, budget - spent):
                if not (self.is_cut and self.is_cut(state ^ delta)):
                    after, ends = judge(state, state ^ delta, observed)
                    yield act, after | (spent + cost) << top, ends

        way = shortest_way(begin(), successors)
        if way is None:
            raise EngineFault("no way to what was found")
        return way

    def _steps(self, state: int, left: int) -> list[tuple[int, int, int, bool]]:
        tier = self.events.tier(state)
        found = [(act, delta, 0, end) for act, delta, end in self.watched.free_events(state, tier)]
        if left > 0:
            failing = self.watched.costly_events(state, tier)
            if failing:
                found += [(act, delta, 1, end) for act, delta, end in failing]
                found.sort()
        return found

    def scenario(self, meaning: Meaning, way: Way[int], ends: Ends) -> Scenario:
        """The scenario of a way."""
        unpack = self.events.layout.unpack
        first = unpack(way.states[0])
        return Scenario(
            at_start_of(meaning, first, way.states[0] >> self.top),
            tuple(map(unpack, way.states)),
            tuple(self.events.system.actions[event].id for event in way.events),
            ends,
        )
