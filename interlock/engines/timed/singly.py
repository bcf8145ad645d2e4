"""Deciding a question with one failure at the most by one failure after the other.

In: a question for each failure, and a settled graph for each of them. Out: what was decided for all of them.

The idea: there is a run for any one failure exactly if there is one for some failure alone (`core/one_failure.py`).
Each graph is dropped before the next is made: the memory is that of the largest. The runs without any failure are
looked at again with each; the ends of windows that one failure needed count from the beginning for the next.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.question import Question
from interlock.engines.timed.constraints import Difference, Run
from interlock.engines.timed.graph import Settled
from interlock.engines.timed.refine import Decided, Refinement
from interlock.engines.timed.search import Counting

Alone: TypeAlias = Callable[[Question], Refinement]
"""From a question to its being decided, over a graph of its own."""


@dataclass(slots=True)
class Singly:
    """One question being decided by its parts, in their order; there is at least one."""

    parts: tuple[Question, ...]
    alone: Alone
    searches: int = 0
    zones: int = 0

    def decide(self, begin: Counting) -> tuple[Settled, Decided]:
        """With the graph on which a run was found, or the last one. Of a run that is found no shorter one with another
        failure is looked for. Exceptions as `Refinement.decide`.
        """
        one = self.alone(self.parts[0])
        run, found, counting = self._sought(one, begin)
        for part in self.parts[1:]:
            if run is None:
                one = self.alone(part)
                run, found, counting = self._sought(one, counting)
        together = Refinement(one.graph, self._search, self.searches, self.zones)
        return one.graph, together.told(run, found, counting)

    def _sought(self, one: Refinement, begin: Counting) -> tuple[Run | None, list[Difference], Counting]:
        sought = one.sought(begin)
        self.searches += one.searches
        self.zones += one.zones
        return sought

    def _search(self, counting: Counting) -> tuple[Run | None, int]:
        """A run of some part, that one looked at first of which there was one the last time."""
        zones = 0
        for part in self.parts:
            run, reached = self.alone(part).search(counting)
            zones += reached
            if run is not None:
                self.parts = (part, *(other for other in self.parts if other != part))
                return run, zones
        return None, zones
