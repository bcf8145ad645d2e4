"""Shops and tables: least times of textbook schedules, written as specs and measured by `interlock timing`.

Job shop: M. Pinedo, Scheduling: theory, algorithms, and systems, example of three jobs on four machines in the
chapter on the shifting bottleneck, 28 units (times and answer from memory). The least of all orders of the machines
is worked out beside it: the longest path of the disjunctive graph (B. Roy and B. Sussmann, 1964; any textbook).
Flow shop with three machines: S. M. Johnson, Optimal two- and three-stage production schedules, 1954: where the
second machine is never slower than the first (or the third) his rule on the sums of two is best.
Project network: F. S. Hillier and G. J. Lieberman, Introduction to operations research, Reliable Construction, 44
weeks (from memory).
Philosophers at a round table: E. W. Dijkstra, Hierarchical ordering of sequential processes, 1971.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, permutations, product
from math import ceil
from typing import Any

import networkx as nx
import pytest

from interlock.core.question import Verdict
from tests.timed_texts import NEVER, between, find, verdicts

Jobs = Mapping[str, Sequence[tuple[str, int]]]

PINEDO: Jobs = {
    "first": [("m1", 10), ("m2", 8), ("m3", 4)],
    "second": [("m2", 8), ("m1", 3), ("m4", 5), ("m3", 6)],
    "third": [("m1", 4), ("m2", 7), ("m4", 3)],
}

# --- jobs on machines ---


def shop(jobs: Jobs) -> str:
    """Each job goes over its machines in its order; a machine has one job at a time, and may be left idle."""
    lines = ["equipment:"]
    machines = sorted({machine for steps in jobs.values() for machine, _ in steps})
    lines += [f"  {machine}: {{states: [idle, busy], start: idle}}" for machine in machines]
    for job, steps in jobs.items():
        states = [f"{state}_{i}" for i in range(len(steps)) for state in ("waits", "on")]
        lines += [f"  {job}:", f"    states: [{', '.join(states)}, done]", "    start: waits_0", "    moves:"]
        for i, (machine, minutes) in enumerate(steps):
            after = f"waits_{i + 1}" if i + 1 < len(steps) else "done"
            at_hand, taken, let_go = f"{machine} is idle", f"{{{machine}: busy}}", f"{{{machine}: idle}}"
            lines.append(f"      begins_{i}: {{from: waits_{i}, to: on_{i}, when: {at_hand}, also: {taken}}}")
            lines.append(f"      ends_{i}: {{from: on_{i}, to: {after}, takes: {minutes} min, also: {let_go}}}")
    all_done = " and ".join(f"{job} is done" for job in jobs)
    return "\n".join([*lines, "conditions:", f"  all_done: {all_done}"])


def least_makespan(jobs: Jobs) -> int:
    """Over all orders of the jobs on each machine, the shortest of the longest paths."""
    machines: dict[str, list[tuple[str, int]]] = {}
    conjunctive: nx.DiGraph[Any] = nx.DiGraph()
    for job, steps in jobs.items():
        for i, (machine, _) in enumerate(steps):
            machines.setdefault(machine, []).append((job, i))
            conjunctive.add_node((job, i))
            if i:
                conjunctive.add_edge((job, i - 1), (job, i), weight=steps[i - 1][1])
        conjunctive.add_edge((job, len(steps) - 1), "end", weight=steps[-1][1])
    found = []
    for orders in product(*(permutations(on_it) for on_it in machines.values())):
        graph = conjunctive.copy()
        for order in orders:
            for (job, i), after in pairwise(order):
                graph.add_edge((job, i), after, weight=jobs[job][i][1])
        if nx.is_directed_acyclic_graph(graph):
            found.append(nx.dag_longest_path_length(graph))
    return min(found)


@pytest.mark.parametrize(
    "jobs",
    [
        PINEDO,
        {"first": [("m1", 3), ("m2", 2), ("m3", 2)], "second": [("m1", 2), ("m3", 1), ("m2", 4)]},
        {"first": [("m1", 1), ("m2", 5)], "second": [("m2", 3), ("m1", 4)], "third": [("m1", 2), ("m2", 2)]},
    ],
    ids=["pinedo", "two jobs", "three jobs"],
)
def test_a_job_shop_takes_what_the_best_order_takes_and_may_be_left_idle_for_ever(jobs: Jobs) -> None:
    least = least_makespan(jobs)
    assert least == 28 or jobs is not PINEDO
    assert between(shop(jobs), "not all_done", "all_done") == (f"{60 * least} s", NEVER)


def test_three_machines_take_what_johnsons_rule_says() -> None:
    """The second machine is the quickest of the three for every job: the rule on (1st + 2nd, 2nd + 3rd) is best."""
    times = [(7, 3, 5), (4, 2, 8), (6, 1, 4)]

    def in_order(order: Sequence[tuple[int, int, int]]) -> int:
        ends = [0, 0, 0]
        for job in order:
            ends[0] += job[0]
            ends[1] = max(ends[0], ends[1]) + job[1]
            ends[2] = max(ends[1], ends[2]) + job[2]
        return ends[2]

    front = sorted((one for one in times if one[0] + one[1] <= one[1] + one[2]), key=lambda one: one[0] + one[1])
    back = sorted((one for one in times if one[0] + one[1] > one[1] + one[2]), key=lambda one: -one[1] - one[2])
    least = in_order(front + back)
    assert least == min(map(in_order, permutations(times)))
    jobs = {f"job_{i}": [(f"m{k}", job[k]) for k in range(3)] for i, job in enumerate(times)}
    assert between(shop(jobs), "not all_done", "all_done")[0] == f"{60 * least} s"


# --- a project ---

PROJECT: Mapping[str, tuple[tuple[int, int, int], str]] = {
    "A": ((1, 2, 3), ""),
    "B": ((2, 4, 8), "A"),
    "C": ((6, 10, 18), "B"),
    "D": ((4, 6, 10), "C"),
    "E": ((1, 4, 5), "C"),
    "F": ((4, 5, 10), "E"),
    "G": ((5, 7, 11), "D"),
    "H": ((5, 9, 17), "EG"),
    "I": ((3, 7, 9), "C"),
    "J": ((3, 8, 9), "FI"),
    "K": ((4, 4, 4), "J"),
    "L": ((1, 5, 7), "J"),
    "M": ((1, 2, 3), "H"),
    "N": ((5, 6, 9), "KL"),
}
"""Each activity: the least, the planned, the greatest number of weeks, and what goes before it."""


def project(takes: Mapping[str, str]) -> str:
    lines = ["equipment:"]
    for name, (_, before) in PROJECT.items():
        when = f"when: {' and '.join(f'{one} is done' for one in before)}, " if before else ""
        move = f"ends: {{from: open, to: done, {when}takes: {takes[name]}}}"
        lines.append(f"  {name}: {{states: [open, done], start: open, moves: {{{move}}}}}")
    return "\n".join([*lines, "conditions: {finished: M is done and N is done}"])


def longest(which: int) -> int:
    graph: nx.DiGraph[Any] = nx.DiGraph()
    for name, (weeks, before) in PROJECT.items():
        graph.add_edge(name, "end", weight=weeks[which])
        for one in before:
            graph.add_edge(one, name, weight=PROJECT[one][0][which])
    length: int = nx.dag_longest_path_length(graph)
    return length


def test_the_project_takes_forty_four_weeks_as_planned_and_its_longest_paths_at_the_extremes() -> None:
    assert longest(1) == 44
    day = 24 * 3600
    planned = project({name: f"{weeks[1]} d" for name, (weeks, _) in PROJECT.items()})
    assert between(planned, "not finished", "finished") == (f"{44 * day} s", f"{44 * day} s")
    uncertain = project({name: f"{weeks[0]} d .. {weeks[2]} d" for name, (weeks, _) in PROJECT.items()})
    assert between(uncertain, "not finished", "finished") == (f"{longest(0) * day} s", f"{longest(2) * day} s")


# --- philosophers ---


def table(n: int, *, one_is_left_handed: bool = False) -> str:
    """Each takes the fork on one side, is ready for the other one after a second, eats for 10 s and lays both down."""
    lines = ["equipment:"]
    lines += [f"  fork_{i}: {{states: [free, taken], start: free}}" for i in range(n)]
    for i in range(n):
        here, there = f"fork_{i}", f"fork_{(i + 1) % n}"
        if one_is_left_handed and i == 0:
            here, there = there, here
        lines += [
            f"  p{i}:",
            "    states: [hungry, has_one, ready, eats, full]",
            "    start: hungry",
            "    moves:",
            f"      takes_one: {{from: hungry, to: has_one, when: {here} is free, also: {{{here}: taken}}}}",
            "      turns: {from: has_one, to: ready, takes: 1 s}",
            f"      takes_other: {{from: ready, to: eats, when: {there} is free, also: {{{there}: taken}}}}",
            f"      lays_down: {{from: eats, to: full, takes: 10 s, also: {{{here}: free, {there}: free}}}}",
        ]
    everybody = range(n)
    lines += ["conditions:", f"  all_full: {' and '.join(f'p{i} is full' for i in everybody)}"]
    lines += [f'  each_has_one: "{" and ".join(f"p{i} in {{has_one, ready}}" for i in everybody)}"']
    lines += [
        "rules:",
        "  R1: {never: each_has_one}",
        "  R2: {always_possible: all_full}",
        "  R3: {possible: all_full}",
    ]
    return "\n".join(lines)


@pytest.mark.parametrize("n", [3, 4])
def test_philosophers_who_are_all_alike_may_starve_and_one_who_is_not_saves_them(n: int) -> None:
    alike = verdicts(table(n), "R1", "R2", "R3")
    assert alike == {"R1": Verdict.FAILS, "R2": Verdict.FAILS, "R3": Verdict.HOLDS}
    one_other = verdicts(table(n, one_is_left_handed=True), "R1", "R2", "R3")
    assert set(one_other.values()) == {Verdict.HOLDS}


@pytest.mark.parametrize("n", [3, 4, 5])
def test_philosophers_are_full_after_as_many_rounds_as_forks_allow(n: int) -> None:
    """At most half of them eat at once. Of an even number who eat all forks are taken then, so the others turn to their
    second fork only afterwards; of an odd number there is one fork left, and who has it is ready by then."""
    rounds = ceil(n / (n // 2))
    least = 11 * rounds if n % 2 == 0 else 1 + 10 * rounds
    assert between(table(n), "not all_full", "all_full")[0] == f"{least} s"


def test_the_scenario_of_the_table_is_the_shortest_way_to_one_fork_each() -> None:
    found = find(table(3), "each_has_one")
    assert found.verdict is Verdict.HOLDS
    assert found.cells[0].scenario is not None
    assert [event.action for event in found.cells[0].scenario.events] == [
        "p0 takes_one",
        "p1 takes_one",
        "p2 takes_one",
    ]
