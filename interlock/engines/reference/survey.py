"""One exploration of everything, and what it saw. In: a graph and probes. Out: a `Survey`."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from interlock.core.question import Counts, Ends, Question, Scenario
from interlock.core.system import ActionKind, Tier, Valuation
from interlock.engines.api import EngineFault, Limits, Probe, Survey, Where
from interlock.engines.components import components
from interlock.engines.reference.graph import Graph
from interlock.engines.reference.runs import Node, Runs, search
from interlock.engines.scenario import at_start_of, limit_words, with_loop
from interlock.engines.shortest import LoopGround, Way, shortest_loop, shortest_way


def survey(graph: Graph, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
    """See `interlock.engines.api.Survey`. If the limit is hit, what was explored before is still told."""
    runs = Runs(graph, question, None)
    searched = search(runs, limits)
    pairs = {(valuation, spent) for valuation, spent, _ in searched.known}
    spent_at = {v: min(s for w, s in group) for v, group in _by_valuation(pairs).items()}
    settled = {v for v in spent_at if graph.settled(v)}
    happening = [
        edge.action.id
        for valuation, spent in pairs
        for edge in graph.edges(valuation)
        if spent + edge.action.cost <= question.budget
    ]
    events = len(happening)
    stuck = {v for v in settled if _nothing_but_failures(graph, v)}
    loops = _unsettling(graph, spent_at, settled)
    orders = _different_orders(graph, spent_at, settled)

    def way(found: set[Valuation]) -> Way[Node] | None:
        return _shortest(runs, min(spent_at[v] for v in found), found) if found else None

    to_loop = way(set(loops))
    unsettling = None
    if to_loop is not None:
        at = to_loop.states[-1][0]
        inside = loops[at]
        loop = shortest_loop(
            at,
            LoopGround(
                successors=lambda v: [(e.i, e.after) for e in graph.free_edges(v) if e.after in inside],
                enabled_if_settled=lambda v: None,
                breaks=graph.breaks,
                obliged=frozenset(),
            ),
        )
        if loop is None:
            raise EngineFault("no loop where one was found")
        unsettling = with_loop(graph.system, _scenario(graph, to_loop, Ends.LOOP), loop)
    to_stuck, to_orders = way(stuck), way(orders)
    return Survey(
        counts=Counts(len(settled), len(spent_at) - len(settled), events),
        happened=frozenset(happening),
        seen=frozenset(p.id for p in probes if any(_looks(graph, p, v) for v in spent_at)),
        stuck=None if to_stuck is None else _scenario(graph, to_stuck, Ends.STUCK),
        unsettling=unsettling,
        orders=None if to_orders is None else _scenario(graph, to_orders, Ends.REACHED),
        limit=limit_words(limits) if searched.beyond else None,
        engine="reference",
    )


def _by_valuation(pairs: set[tuple[Valuation, int]]) -> dict[Valuation, list[tuple[Valuation, int]]]:
    groups: dict[Valuation, list[tuple[Valuation, int]]] = {}
    for pair in pairs:
        groups.setdefault(pair[0], []).append(pair)
    return groups


def _looks(graph: Graph, probe: Probe, valuation: Valuation) -> bool:
    tier = graph.tier(valuation)
    if (probe.where is Where.SETTLED and tier is not Tier.OTHER) or (
        probe.where is Where.DECIDING and tier is Tier.CONSEQUENCE
    ):
        return False
    return graph.meaning.true(probe.expression, valuation)


def _nothing_but_failures(graph: Graph, valuation: Valuation) -> bool:
    return not any(
        graph.meaning.true(action.guard, valuation)
        for action in graph.system.actions
        if action.kind not in (ActionKind.FAILURE, ActionKind.REPAIR)
    )


def _unsettling(
    graph: Graph, reached: dict[Valuation, int], settled: set[Valuation]
) -> dict[Valuation, frozenset[Valuation]]:
    """The unsettled valuations on a loop of tier 0 and 1 events, each with its component."""

    def onward(valuation: Valuation) -> Iterator[Valuation]:
        return (e.after for e in graph.free_edges(valuation) if e.after in reached and e.after not in settled)

    found: dict[Valuation, frozenset[Valuation]] = {}
    for members in components([v for v in reached if v not in settled], onward):
        if len(members) > 1 or members[0] in onward(members[0]):
            found.update((v, frozenset(members)) for v in members)
    return found


def _different_orders(graph: Graph, reached: dict[Valuation, int], settled: set[Valuation]) -> set[Valuation]:
    """The unsettled valuations in which the order of two events decides where things settle.

    The two are of different owners, and no settled situation that can follow the one can follow the other. Failures are
    left out. Where a sequence merely has a choice, something is shared.
    """

    def places(valuation: Valuation) -> frozenset[Valuation]:
        work, seen = [valuation], {valuation}
        while work:
            v = work.pop()
            for edge in () if graph.settled(v) else graph.free_edges(v):
                if edge.after not in seen:
                    seen.add(edge.after)
                    work.append(edge.after)
        return frozenset(v for v in seen if graph.settled(v))

    found = set()
    for valuation in reached:
        if valuation in settled:
            continue
        edges = [(edge.action.owner, places(edge.after)) for edge in graph.free_edges(valuation)]
        for (owner, first), (other, second) in combinations(edges, 2):
            if owner != other and first and second and first.isdisjoint(second):
                found.add(valuation)
    return found


def _shortest(runs: Runs, budget: int, found: set[Valuation]) -> Way[Node]:
    def successors(node: Node) -> Iterator[tuple[int, Node, bool]]:
        return ((event, after, after[0] in found) for event, after, _ in runs.successors(node, budget))

    way = shortest_way(((node, node[0] in found) for node, _ in runs.starts(budget)), successors)
    if way is None:
        raise EngineFault("no way to the situation that was found")
    return way


def _scenario(graph: Graph, way: Way[Node], ends: Ends) -> Scenario:
    valuation, spent, _ = way.states[0]
    return Scenario(
        at_start_of(graph.meaning, valuation, spent),
        tuple(node[0] for node in way.states),
        tuple(graph.system.actions[event].id for event in way.events),
        ends,
    )
