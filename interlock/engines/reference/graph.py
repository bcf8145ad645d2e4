"""The events of a system as a graph over valuations, read from the plain meaning once for each valuation.

Nothing is decided here: `Graph` only remembers what `Meaning` said.
"""

from __future__ import annotations

from dataclasses import dataclass

from interlock.core.meaning import Meaning, State
from interlock.core.question import Question
from interlock.core.system import Action, ActionKind, System, Tier, Valuation


@dataclass(frozen=True, slots=True)
class Edge:
    """An event: its action, by index and itself, and the valuation after it."""

    i: int
    action: Action
    after: Valuation


class Graph:
    """Events, tiers and obligations of valuations, under one question's overlay and allowed modes.

    Its own budget is never in force: who walks the graph keeps the budget (`Edge.action.cost`).
    """

    def __init__(self, system: System, question: Question) -> None:
        self.meaning = Meaning(system, question)
        self.system = self.meaning.system
        self._edges: dict[Valuation, tuple[Edge, ...]] = {}
        self._tier: dict[Valuation, Tier] = {}
        self._index = {action.id: i for i, action in enumerate(self.system.actions)}

    def tier(self, valuation: Valuation) -> Tier:
        """The tier whose actions may happen."""
        found = self._tier.get(valuation)
        if found is None:
            found = self._tier[valuation] = self.meaning.tier_of(valuation)
        return found

    def settled(self, valuation: Valuation) -> bool:
        """Whether no action of tier 0 or 1 is enabled."""
        return self.tier(valuation) is Tier.OTHER

    def edges(self, valuation: Valuation) -> tuple[Edge, ...]:
        """Every event that may happen, in declaration order, whatever it costs."""
        found = self._edges.get(valuation)
        if found is None:
            tier = self.tier(valuation)
            found = self._edges[valuation] = tuple(
                Edge(i, action, self.meaning.after(action, State(valuation, 0)).valuation)
                for i, action in enumerate(self.system.actions)
                if action.tier is tier and self.meaning.may_fail(action) and self.meaning.true(action.guard, valuation)
            )
        return found

    def free_edges(self, valuation: Valuation) -> tuple[Edge, ...]:
        """Events that are no failure (repairs are among them)."""
        return tuple(edge for edge in self.edges(valuation) if edge.action.cost == 0)

    def way_edges(self, valuation: Valuation) -> tuple[Edge, ...]:
        """Events that are neither a failure nor a repair: what a way of `always_possible` may use."""
        kinds = (ActionKind.FAILURE, ActionKind.REPAIR)
        return tuple(edge for edge in self.free_edges(valuation) if edge.action.kind not in kinds)

    def obliged(self, valuation: Valuation, helpers: tuple[str, ...]) -> frozenset[int]:
        """The actions that may not be put off for ever, among those that may happen: obliged ones and helpers."""
        return frozenset(
            edge.i for edge in self.free_edges(valuation) if edge.action.obliged or edge.action.id in helpers
        )

    def all_obliged(self, helpers: tuple[str, ...]) -> frozenset[int]:
        """All obliged actions and helpers of the system."""
        return frozenset(i for i, action in enumerate(self.system.actions) if action.obliged or action.id in helpers)

    def breaks(self, event: int) -> frozenset[int]:
        """The actions whose age starts afresh when this one happens: itself and those it restarts."""
        return frozenset({event, *(self._index[id] for id in self.system.actions[event].restarts)})
