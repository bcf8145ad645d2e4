"""`always_possible` and `always_ends`, decided on the graph of everything that can be reached.

In: the nodes of a complete search without a rule. Out: the valuations at which the rule is broken; the caller finds the
shortest way to one of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.system import Property, Valuation
from interlock.engines.components import components
from interlock.engines.reference.graph import Graph
from interlock.engines.shortest import LoopGround
from interlock.logic.expression import TRUE

Pair: TypeAlias = tuple[Valuation, int]
"""Valuation and failures spent."""


def without_way(graph: Graph, rule: Property, valuations: Iterable[Valuation]) -> frozenset[Valuation]:
    """The settled valuations from which no way leads to the rule's condition without a failure or a repair.

    The condition is read in settled situations, with `passing` in every one. `valuations`: all that can be reached.
    """
    reached = set(valuations)
    before: dict[Valuation, list[Valuation]] = {}
    for valuation in reached:
        for edge in graph.way_edges(valuation):
            before.setdefault(edge.after, []).append(valuation)
    work = [v for v in reached if graph.meaning.true(rule.condition, v) and (rule.passing or graph.settled(v))]
    good = set(work)
    while work:
        for valuation in before.get(work.pop(), ()):
            if valuation not in good:
                good.add(valuation)
                work.append(valuation)
    return frozenset(v for v in reached if graph.settled(v) and v not in good)


@dataclass(frozen=True, slots=True)
class Unended:
    """Where runs that owe an end may stay for ever: `stuck` valuations at which they may stop, `fair` components that a
    run may go round in for ever, `unsettled` components of situations that never settle; the last two by member."""

    stuck: frozenset[Valuation]
    fair: dict[Valuation, frozenset[Valuation]]
    unsettled: dict[Valuation, frozenset[Valuation]]

    def __contains__(self, valuation: Valuation) -> bool:
        return valuation in self.stuck or valuation in self.fair or valuation in self.unsettled


class Ending:
    """One `always_ends` rule: B, from A. A run *owes* from a settled situation with A until a settled one with B."""

    def __init__(self, graph: Graph, rule: Property) -> None:
        self.graph = graph
        self.rule = rule
        self.obliged = graph.all_obliged(rule.helped_by)

    def owes(self, owed: bool, valuation: Valuation) -> bool:
        """Whether a run owes an end in this valuation, if it did before."""
        if not self.graph.settled(valuation):
            return owed
        meaning = self.graph.meaning
        began = meaning.true(self.rule.start or TRUE, valuation)
        return (owed or began) and not meaning.true(self.rule.condition, valuation)

    def owing(self, pairs: Iterable[Pair], budget: int) -> set[Pair]:
        """All pairs in which some run owes an end. `pairs`: all that can be reached."""
        work = [pair for pair in pairs if self.owes(False, pair[0])]
        found = set(work)
        while work:
            valuation, spent = work.pop()
            for edge in self.graph.edges(valuation):
                pair = (edge.after, spent + edge.action.cost)
                if pair[1] <= budget and pair not in found and self.owes(True, edge.after):
                    found.add(pair)
                    work.append(pair)
        return found

    def unended(self, owing: Iterable[Valuation]) -> Unended:
        """Where runs that owe may stay for ever.

        A run may stop in a settled situation in which no obliged action is enabled. It may go round in a maximal
        strongly connected component, its edges without failures, if each obliged action is disabled in a settled
        situation of it, or happens or is restarted on an edge inside it: a run that keeps visiting all of the component
        is then fair, and a smaller part offers no more. A loop without any settled situation is allowed always.
        """
        graph = self.graph
        inside = dict.fromkeys(owing)

        def unsettled_next(valuation: Valuation) -> Iterator[Valuation]:
            return (v for v in self._next(valuation, inside) if not graph.settled(v))

        stuck = frozenset(v for v in inside if graph.settled(v) and not graph.obliged(v, self.rule.helped_by))
        fair: dict[Valuation, frozenset[Valuation]] = {}
        for found in components(inside, lambda v: self._next(v, inside)):
            members = frozenset(found)
            if self._fair(members):
                fair.update((v, members) for v in found)
        unsettled: dict[Valuation, frozenset[Valuation]] = {}
        for found in components([v for v in inside if not graph.settled(v)], unsettled_next):
            if len(found) > 1 or found[0] in unsettled_next(found[0]):
                members = frozenset(found)
                unsettled.update((v, members) for v in found)
        return Unended(stuck, fair, unsettled)

    def _next(self, valuation: Valuation, inside: Iterable[Valuation]) -> Iterator[Valuation]:
        return (edge.after for edge in self.graph.free_edges(valuation) if edge.after in inside)

    def _fair(self, members: frozenset[Valuation]) -> bool:
        for_ever: frozenset[int] | None = None
        broken: set[int] = set()
        for valuation in members:
            if self.graph.settled(valuation):
                enabled = self.graph.obliged(valuation, self.rule.helped_by)
                for_ever = enabled if for_ever is None else for_ever & enabled
            for edge in self.graph.free_edges(valuation):
                if edge.after in members:
                    broken |= self.graph.breaks(edge.i)
        return bool(broken) and for_ever is not None and for_ever <= broken

    def ground(self, at: Valuation, unended: Unended) -> LoopGround[Valuation]:
        """Where the loop through `at` may run: never settling if that can be, else fair."""
        graph = self.graph
        settles = at not in unended.unsettled
        inside = unended.fair[at] if settles else unended.unsettled[at]
        return LoopGround(
            successors=lambda v: [(e.i, e.after) for e in graph.free_edges(v) if e.after in inside],
            enabled_if_settled=lambda v: graph.obliged(v, self.rule.helped_by) if graph.settled(v) else None,
            breaks=graph.breaks,
            obliged=self.obliged if settles else frozenset(),
        )
