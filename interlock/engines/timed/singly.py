"""Deciding a question with one failure at the most by one mode of failure after the other.

In: the modes that may happen, and a settled graph for each of them alone. Out: what was decided for all of them.

The idea: a run in which at most one mode happens is a run in which at most that one may, and the other way round. So
there is a run for any one failure exactly if there is one for some mode alone. Each graph is dropped before the next is
made: the memory is that of the largest, a small part of that for all modes together, for which every mode brings a copy
of much the same. The runs without any failure are looked at again with each mode; the ends of windows that one mode
needed count from the beginning for the next.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.question import Question
from interlock.core.system import System
from interlock.engines.timed.constraints import Difference, Run
from interlock.engines.timed.graph import Settled
from interlock.engines.timed.refine import Decided, Refinement
from interlock.engines.timed.search import Counting

Alone: TypeAlias = Callable[[str], Refinement]
"""From a mode to the question with that mode alone, to be decided."""


def modes_singly(system: System, question: Question) -> tuple[str, ...]:
    """The modes to take one after the other, where each event of failure brings one mode; none: it cannot be done so,
    or there is nothing to take apart."""
    if question.budget != 1 or any(action.cost != 1 for action in system.actions if action.modes):
        return ()
    allowed = tuple(mode.id for mode in system.modes if not mode.common_cause)
    if question.allowed is not None:
        allowed = tuple(mode.id for mode in system.modes if mode.id in question.allowed)
    return allowed if len(allowed) > 1 and all(len(action.modes) < 2 for action in system.actions) else ()


@dataclass(slots=True)
class Singly:
    """One question being decided, mode by mode, in their order; there is at least one."""

    modes: tuple[str, ...]
    alone: Alone
    searches: int = 0
    zones: int = 0

    def decide(self, begin: Counting) -> tuple[Settled, Decided]:
        """With the graph on which a run was found, or the last one. Of a run that is found no shorter one with another
        mode is looked for. Exceptions as `Refinement.decide`.
        """
        one = self.alone(self.modes[0])
        run, found, counting = self._sought(one, begin)
        for mode in self.modes[1:]:
            if run is None:
                one = self.alone(mode)
                run, found, counting = self._sought(one, counting)
        together = Refinement(one.graph, self._search, self.searches, self.zones)
        return one.graph, together.told(run, found, counting)

    def _sought(self, one: Refinement, begin: Counting) -> tuple[Run | None, list[Difference], Counting]:
        sought = one.sought(begin)
        self.searches += one.searches
        self.zones += one.zones
        return sought

    def _search(self, counting: Counting) -> tuple[Run | None, int]:
        """A run with some mode, that one looked at first with which there was one the last time."""
        zones = 0
        for mode in self.modes:
            run, reached = self.alone(mode).search(counting)
            zones += reached
            if run is not None:
                self.modes = (mode, *(other for other in self.modes if other != mode))
                return run, zones
        return None, zones
