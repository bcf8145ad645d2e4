"""Runs as a question sees them: situations with the budget spent, flags of `before` rules beside them, ends, cuts.

A *node* is a valuation, the number of failures that have happened, and the flags of the `before` rules that the
question looks at (its own and those it cuts at). An *end* is a breach of the question's own rule, or for `possible`
what was looked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.question import Question
from interlock.core.system import Property, PropertyKind, Valuation
from interlock.engines.api import Limits
from interlock.engines.reference.graph import Graph

Node: TypeAlias = tuple[Valuation, int, tuple[bool, ...]]
"""Valuation, failures spent, flags."""

JUDGED_ON_RUNS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE)


class Runs:
    """The runs that one question looks at. `rule` None: nothing is judged, everything is explored."""

    def __init__(self, graph: Graph, question: Question, rule: Property | None) -> None:
        self.graph = graph
        self.meaning = graph.meaning
        self.rule = rule
        self.cuts = [graph.system.property(id) for id in question.cut]
        watched = [*([rule] if rule is not None else []), *self.cuts]
        self.flagged = [one for one in watched if one.kind is PropertyKind.BEFORE]
        self.budget = question.budget

    def starts(self, budget: int) -> Iterator[tuple[Node, bool]]:
        """Start nodes with whether they are an end already; those at which a run is cut are left out."""
        for state in self.meaning.starts():
            if state.spent <= budget:
                flags = tuple(self.meaning.flag_at_start(rule, state.valuation) for rule in self.flagged)
                if not any(self.hits(cut, None, state.valuation, ()) for cut in self.cuts):
                    ends = self.rule is not None and self.hits(self.rule, None, state.valuation, ())
                    yield (state.valuation, state.spent, flags), ends

    def successors(self, node: Node, budget: int) -> Iterator[tuple[int, Node, bool]]:
        """(action, node after, whether this event is an end) in declaration order; events that cut are left out."""
        before, spent, flags = node
        for edge in self.graph.edges(before):
            if spent + edge.action.cost > budget:
                continue
            after = edge.after
            if any(self.hits(cut, before, after, flags) for cut in self.cuts):
                continue
            ends = self.rule is not None and self.hits(self.rule, before, after, flags)
            kept = tuple(
                self.meaning.flag_after(rule, flag, before, after)
                for rule, flag in zip(self.flagged, flags, strict=True)
            )
            yield edge.i, (after, spent + edge.action.cost, kept), ends

    def hits(self, rule: Property, before: Valuation | None, after: Valuation, flags: tuple[bool, ...]) -> bool:
        """Whether an event (before None: the start) breaches a NEVER or BEFORE rule, or reaches what POSSIBLE seeks."""
        if rule.kind is PropertyKind.BEFORE:
            return before is not None and self.meaning.breaks_order(
                rule, flags[self.flagged.index(rule)], before, after
            )
        if rule.every_event:
            return self.meaning.true(rule.condition, after, before)
        looked_at = rule.passing or self.graph.settled(after)
        return looked_at and self.meaning.true(rule.condition, after)


@dataclass(frozen=True, slots=True)
class Searched:
    """What a search came to. `known`: all nodes, complete if neither of the others is given. `ends_with`: the least
    number of failures with which an end was found. `beyond`: the limit was hit; then `ends_with` may still be known
    from a failure that leads straight to an end."""

    known: frozenset[Node]
    ends_with: int | None
    beyond: bool


def search(runs: Runs, limits: Limits) -> Searched:
    """Look for an end with as few failures as possible; all that can be reached if there is none.

    Layer by layer of failures spent, each by depth (events from a start). At each depth, in this order: an end there
    stops the search; more nodes known than the limit stop it. Every engine keeps to this order, so that all hit a limit
    at the same question.
    """
    waiting: dict[int, dict[int, list[Node]]] = {spent: {} for spent in range(runs.budget + 1)}
    ends: dict[int, set[int]] = {spent: set() for spent in range(runs.budget + 1)}
    known: set[Node] = set()

    def put(node: Node, depth: int, is_end: bool) -> None:
        waiting[node[1]].setdefault(depth, []).append(node)
        if is_end:
            ends[node[1]].add(depth)

    for node, is_end in runs.starts(runs.budget):
        put(node, 0, is_end)
    for spent in range(runs.budget + 1):
        while waiting[spent]:
            depth = min(waiting[spent])
            if depth in ends[spent]:
                return Searched(frozenset(known), spent, False)
            level = [node for node in dict.fromkeys(waiting[spent].pop(depth)) if node not in known]
            known.update(level)
            if len(known) > limits.states:
                return Searched(frozenset(known), min((s for s in ends if ends[s]), default=None), True)
            if limits.progress is not None:
                limits.progress(len(known), depth)
            for node in level:
                for _, after, is_end in runs.successors(node, runs.budget):
                    if after not in known or is_end:
                        put(after, depth + 1, is_end)
    return Searched(frozenset(known), None, False)


def restricted(runs: Runs, budget: int, inner: int | None = None) -> Callable[[Node], Iterator[tuple[int, Node, bool]]]:
    """Successors within a budget; with `inner`, nodes that have spent more are not gone on from."""

    def successors(node: Node) -> Iterator[tuple[int, Node, bool]]:
        return iter(()) if inner is not None and node[1] > inner else runs.successors(node, budget)

    return successors
