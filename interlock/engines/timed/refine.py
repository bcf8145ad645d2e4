"""Deciding a question with only the windows that it needs.

In: a settled graph. Out: a run that the declared timing allows, or that there is none and which ends of windows that
rests on.

The idea: begin with no window at all. A run that is found is held against all windows (`constraints.py`): if it can
be timed, it is the answer; if not, the ends on one negative circle say why not, and they count from then on. For a
deadline they count while it is open first, and always only if that was not enough. What remains when no run is left is
then tried end by end: one that can be left out is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

from interlock.core.question import Bound, Times
from interlock.engines.api import EngineFault, Limits
from interlock.engines.timed.constraints import Difference, Run, conflict, differences, times
from interlock.engines.timed.graph import DEADLINES, END, Settled, TooMany, TooWide
from interlock.engines.timed.search import Counting, TooManyZones

if TYPE_CHECKING:
    from interlock.engines.timed.bulk_graph import BulkGraph

Searching: TypeAlias = Callable[[Counting], tuple[Run | None, int]]
"""From the ends that count to a run, or None, and the zones reached."""


def over_all(graph: BulkGraph, limits: Limits) -> Searching:
    """A search over all situations at once."""
    return partial(graph.search, most=limits.most_zones, told=limits.progress)


@dataclass(frozen=True, slots=True)
class Decided:
    """`run` with its `times`, or None: there is none, resting on `rests_on`. `counting`: the ends that counted at the
    last. `searches`, `zones`: what it cost."""

    run: Run | None
    times: Times | None
    rests_on: tuple[Bound, ...]
    counting: Counting
    searches: int
    zones: int


@dataclass(slots=True)
class Refinement:
    """One question being decided. `begin`: ends to count from the beginning, as found for fewer failures."""

    graph: Settled
    search: Searching
    searches: int = 0
    zones: int = 0

    def decide(self, begin: Counting) -> Decided:
        """TooManyZones, TooMany, Unsettling: it cannot be decided within the limits."""
        return self.told(*self.sought(begin))

    def told(self, run: Run | None, found: list[Difference], counting: Counting) -> Decided:
        """What `sought` came to: a run with its times, or none and the least that this rests on."""
        if run is None:
            least = self._least(counting)
            order = {owner.id: i for i, owner in enumerate(self.graph.owners)}
            rests_on = sorted(least.bounds, key=lambda one: (order[one.of], one.latest))
            return Decided(None, None, tuple(rests_on), least, self.searches, self.zones)
        n_moments = 1 + len(run.strides) + run.too_late
        return Decided(run, times(found, n_moments), (), counting, self.searches, self.zones)

    def sought(self, begin: Counting) -> tuple[Run | None, list[Difference], Counting]:
        """A run that can be timed, with all that windows say about it, or None; and the ends that counted at the last.
        Exceptions as `decide`."""
        counting = begin
        deadline = self.graph.rule.kind in DEADLINES
        while True:
            run = self._search(counting)
            if run is None:
                return None, [], counting
            found = [] if run.start == END else differences(self.graph, run)
            against = conflict(found)
            if against is None:
                return run, found, counting
            new = frozenset(against) - counting.bounds
            if deadline and new:
                counting = Counting(counting.always, counting.while_open | new)
                continue
            new = frozenset(against) - counting.always
            if not new:
                raise EngineFault(f"a run for {self.graph.rule.id} was found that cannot be timed")
            counting = Counting(counting.always | new, counting.while_open - new)

    def _search(self, counting: Counting) -> Run | None:
        self.searches += 1
        run, zones = self.search(counting)
        self.zones += zones
        return run

    def _least(self, counting: Counting) -> Counting:
        """No end of what is left can be left out."""
        for one in sorted(counting.bounds, key=lambda bound: (bound.of, bound.latest)):
            smaller = Counting(counting.always - {one}, counting.while_open - {one})
            try:
                if self._search(smaller) is None:
                    counting = smaller
            except (TooMany, TooManyZones, TooWide):
                continue
        return counting
