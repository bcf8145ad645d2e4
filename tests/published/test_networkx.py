"""Reachable sets, shortest paths, dominators and strongly connected components, against networkx on random systems.

Source: networkx (general-purpose graph library), `descendants`, `shortest_path_length`, `immediate_dominators`,
`strongly_connected_components`. The graph is drawn by the plain meaning; what is compared is what engines say through
their door: counts, scenarios, `before` rules, surveys.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import networkx as nx
import pytest

from interlock.core.meaning import Meaning, State
from interlock.core.question import Answer, Question, Verdict
from interlock.core.system import Property, PropertyKind, System, Valuation
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.logic.expression import Expression, conjunction, has
from tests.random_systems import random_case

pytestmark = pytest.mark.no_cover

MOST = 400
"""Larger systems are left to the agreement test."""


def drawn(system: System) -> tuple[nx.DiGraph[Valuation], list[Valuation]] | None:
    """The graph of situations without failures, and the starts; None if it is too large."""
    meaning = Meaning(system, Question(""))
    starts = [state.valuation for state in meaning.starts()]
    graph: nx.DiGraph[Valuation] = nx.DiGraph()
    graph.add_nodes_from(starts)
    work = list(dict.fromkeys(starts))
    while work:
        now = State(work.pop(), 0)
        for action in meaning.enabled(now):
            after = meaning.after(action, now).valuation
            if after not in graph:
                work.append(after)
            graph.add_edge(now.valuation, after)
        if len(graph) > MOST:
            return None
    return graph, starts


def at(system: System, valuation: Valuation) -> Expression:
    """The condition that is true in one situation only."""
    pairs = zip(system.variables, valuation, strict=True)
    return conjunction(has(variable.name, [value], len(variable.values)) for variable, value in pairs)


def asked(engine: str, system: System, rule: Property) -> Answer:
    """One engine's answer about a property of our own."""
    system = replace(system, properties=(rule,))
    (answer,) = ENGINES[engine].answer(system, (Question(rule.id),), Limits())
    return answer


@pytest.mark.parametrize("engine", ["reference", "quick"])
def test_engines_and_networkx_agree_on_hundreds_of_random_systems(engine: str) -> None:
    compared = dominated = loops = paths = 0
    for seed in range(320):
        system = random_case(seed, False).system
        found = drawn(system)
        if found is None:
            continue
        graph, starts = found
        compared += 1
        random = Random(seed)
        reachable = set(starts).union(*(nx.descendants(graph, start) for start in starts))
        meaning = Meaning(system, Question(""))
        target = random.choice(sorted(reachable))

        way = asked(engine, system, Property("way", PropertyKind.POSSIBLE, False, at(system, target), passing=True))
        assert way.verdict is Verdict.HOLDS
        shortest = min(
            nx.shortest_path_length(graph, start, target) for start in starts if nx.has_path(graph, start, target)
        )
        assert way.scenario is not None
        assert len(way.scenario.events) == shortest
        paths += shortest > 1

        survey = ENGINES[engine].survey(system, Question(""), (), Limits())
        assert survey.counts.settled + survey.counts.passing == len(reachable)
        unsettled = graph.subgraph([node for node in graph if not meaning.settled(node)])
        looped = any(len(part) > 1 for part in nx.strongly_connected_components(unsettled))
        looped = looped or any(unsettled.has_edge(node, node) for node in unsettled)
        assert (survey.unsettling is not None) == looped
        loops += looped

        if len(set(starts)) == 1:
            over = nx.immediate_dominators(graph, starts[0])
            x = random.choice(sorted(reachable))
            chain, node = set(), x
            while node != starts[0]:
                node = over[node]
                chain.add(node)
            for y in random.sample(sorted(reachable), min(6, len(reachable))):
                if y != x and x != starts[0]:
                    rule = Property("rule", PropertyKind.BEFORE, False, at(system, x), first=at(system, y))
                    answer = asked(engine, system, rule)
                    assert (answer.verdict is Verdict.HOLDS) == (y in chain), (seed, x, y)
                    dominated += y in chain
    print(f"{engine}: {compared} systems, {paths} longer ways, {dominated} dominated, {loops} with loops")
    assert compared >= 200
    assert min(paths, dominated, loops) >= 10
