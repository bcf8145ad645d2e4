"""Networks of activities: earliest and latest time of the whole are longest paths, as project planners compute them.

The critical path method: J. E. Kelley and M. R. Walker, Critical-path planning and scheduling, 1959 (from memory; any
textbook on operations research). An activity begins when all before it are done and takes a time within its window, so
the whole takes at least the longest path of the least times and at most the longest path of the greatest ones. The
longest paths are those of networkx. An open end is counted as a little more (less) than the end: the whole is open
where the longest path by that measure has one.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import networkx as nx
import pytest

from interlock.analysis.extremes import Asked, Stopwatch
from interlock.analysis.result_timing import Length
from interlock.core.system import System, TickWindow
from interlock.engines.api import Limits
from interlock.logic.expression import FALSE, Expression
from tests.engines.plan import Plan, never

MUCH = 1_000
"""So many open ends count less than one tick."""


def random_network(seed: int) -> tuple[dict[int, TickWindow], list[tuple[int, int]]]:
    """Activities with their windows, and which one goes before which."""
    rng = Random(seed)
    n = rng.randint(3, 7)
    windows = {}
    for i in range(n):
        earliest = rng.randint(0, 9)
        latest = earliest + rng.choice([0, 1, 4])
        opens = [earliest < latest and rng.random() < 0.25 for _ in range(2)]
        windows[i] = TickWindow(earliest, latest, *opens)
    before = [(i, j) for j in range(n) for i in range(j) if rng.random() < 0.4]
    return windows, before


def system_of(windows: dict[int, TickWindow], before: list[tuple[int, int]]) -> tuple[System, Asked]:
    plan = Plan()
    for i in windows:
        plan.item(f"a{i}", "waiting", "done")
    for i in windows:
        first = {f"a{j}": "done" for j, then in before if then == i}
        plan.bound(f"a{i} ends", {f"a{i}": "waiting", **first}, {f"a{i}": "done"})
        plan.actions[-1] = replace(plan.actions[-1], window=windows[i])
    begins: Expression = plan.at({f"a{i}": "waiting" for i in windows})
    ends: Expression = plan.at({f"a{i}": "done" for i in windows})
    return plan.system(never("nothing", FALSE)), Asked(begins, ends)


def longest(windows: dict[int, TickWindow], before: list[tuple[int, int]], *, latest: bool) -> Length:
    network: nx.DiGraph[tuple[str, int]] = nx.DiGraph()
    for i, window in windows.items():
        if latest:
            weight = (window.latest or 0) * MUCH - window.latest_open
        else:
            weight = window.earliest * MUCH + window.earliest_open
        network.add_edge(("begin", i), ("end", i), weight=weight)
    network.add_edges_from(((("end", i), ("begin", j)) for i, j in before), weight=0)
    scaled = nx.dag_longest_path_length(network, weight="weight")
    ticks = round(scaled / MUCH)
    return Length(ticks, scaled != ticks * MUCH)


@pytest.mark.parametrize("seed", range(20))
def test_a_network_takes_its_longest_path_at_the_least_and_at_the_most(seed: int) -> None:
    windows, before = random_network(seed)
    system, asked = system_of(windows, before)
    measured = Stopwatch(system, Limits(), 0).measure(asked)
    assert measured.earliest.length == longest(windows, before, latest=False)
    assert measured.latest.length == longest(windows, before, latest=True)


def test_the_networks_have_open_ends_at_both_extremes() -> None:
    networks = [random_network(seed) for seed in range(20)]
    for latest in (False, True):
        found = [longest(*network, latest=latest).open for network in networks]
        assert {False, True} == set(found)
