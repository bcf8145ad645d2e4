"""Least and greatest times against published answers and against linear programs.

Crossing a bridge at night with one torch: the puzzle and its answers from memory; for four people the least time is the
smaller of a + 3 b + d and 2 a + b + c + d (G. Rote, Crossing the bridge at night, EATCS Bulletin 78, 2002; memory).
Two machines, one after the other: S. M. Johnson, Optimal two- and three-stage production schedules, Naval Research
Logistics Quarterly 1, 1954; his rule and the five jobs with their 47 units from memory, the 47 worked out again.
Precedence graphs: least and greatest completion are longest paths (any textbook of project planning), here as linear
programs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations, permutations
from random import Random

import numpy as np
import pytest
from scipy.optimize import linprog

from interlock.core.question import Answer, Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.engines.api import Engine, Limits
from interlock.engines.ticks.engine import TicksEngine
from interlock.engines.timed.engine import ZonesEngine
from interlock.logic.expression import Expression, conjunction, negate
from tests.engines.plan import Plan

PLAIN, ARRAYS, TICKS = ZonesEngine(small=1_000_000), ZonesEngine(small=0, near=False), TicksEngine()


def exactly(ticks: int) -> TickWindow:
    return TickWindow(ticks, ticks)


def timed(plan: Plan, windows: Mapping[str, TickWindow]) -> None:
    """Give events their windows, by id."""
    for i, action in enumerate(plan.actions):
        if action.id in windows:
            window = windows[action.id]
            plan.actions[i] = replace(action, window=window, obliged=window.latest is not None)


def verdict(engine: Engine, system: System, until: Expression, window: TickWindow) -> Verdict:
    """Whether whatever happens it takes a time within the window until a condition holds."""
    rule = Property("takes", PropertyKind.LASTS, False, negate(until), within=window)
    asked: System = replace(system, properties=(rule,))
    answer: Answer
    (answer,) = engine.answer(asked, (Question("takes", Timing.DECLARED),), Limits())
    assert answer.limit is None
    return answer.verdict


def least_is(engine: Engine, system: System, until: Expression, ticks: int) -> bool:
    """Whether the least time until a condition holds is just this, and is reached."""
    at_least = verdict(engine, system, until, TickWindow(ticks, None))
    over = verdict(engine, system, until, TickWindow(ticks + 1, None))
    return (at_least, over) == (Verdict.HOLDS, Verdict.FAILS)


# --- the bridge ---


def bridge(minutes: Sequence[int]) -> tuple[System, Expression]:
    """People with one torch; at most two cross together, at the pace of the slower one."""
    plan = Plan()
    people = [f"p{i}" for i in range(len(minutes))]
    pace = dict(zip(people, minutes, strict=True))
    groups = [(one,) for one in people] + list(combinations(people, 2))
    names = [" and ".join(group) for group in groups]
    for one in people:
        plan.item(one, "here", "there")
    plan.item("torch", "here", "there", *(f"{name} {way}" for name in names for way in ("go", "return")))
    over = plan.at(dict.fromkeys(people, "there"))
    windows = {}
    for group, name in zip(groups, names, strict=True):
        for way, begin, end in (("go", "here", "there"), ("return", "there", "here")):
            at_hand = conjunction([plan.at({"torch": begin, **dict.fromkeys(group, begin)}), negate(over)])
            plan.event(f"{name} {way}", at_hand, {"torch": f"{name} {way}"})
            arrive = f"{name} {way} and arrive"
            plan.event(arrive, {"torch": f"{name} {way}"}, {"torch": end, **dict.fromkeys(group, end)})
            windows[arrive] = exactly(max(pace[one] for one in group))
    timed(plan, windows)
    return plan.system(), over


@pytest.mark.parametrize(("minutes", "published"), [((1, 2, 5, 10), 17), ((1, 2, 7, 10), 17)])
@pytest.mark.parametrize("engine", [PLAIN, ARRAYS, TICKS], ids=["plain", "arrays", "ticks"])
def test_four_people_cross_the_bridge_in_seventeen_minutes_and_no_sooner(
    engine: Engine, minutes: Sequence[int], published: int
) -> None:
    system, over = bridge(minutes)
    assert least_is(engine, system, over, published)
    if engine is not TICKS:
        assert verdict(engine, system, over, TickWindow(published, None, earliest_open=True)) is Verdict.FAILS
        assert verdict(engine, system, over, TickWindow(published - 1, None, earliest_open=True)) is Verdict.HOLDS


def test_the_bridge_takes_what_the_general_formula_says() -> None:
    rng = Random(5)
    sides = set()
    for _ in range(6):
        a, b, c, d = minutes = sorted(rng.randint(1, 30) for _ in range(4))
        ways = (a + 3 * b + d, 2 * a + b + c + d)
        sides.add(ways[0] < ways[1])
        system, over = bridge(minutes)
        assert least_is(ARRAYS, system, over, min(ways)), minutes
    assert sides == {True, False}


# --- two machines ---


def two_machines(jobs: Sequence[tuple[int, int]]) -> tuple[System, Expression]:
    """Each job goes over the first machine, then over the second; a machine has one job at a time."""
    plan = Plan()
    windows = {}
    for machine in ("first", "second"):
        plan.item(machine, "idle", "busy")
    names = [f"j{i}" for i in range(len(jobs))]
    for name, (on_first, on_second) in zip(names, jobs, strict=True):
        plan.item(name, "waits", "on first", "between", "on second", "done")
        for machine, before, after, takes in (
            ("first", "waits", "between", on_first), ("second", "between", "done", on_second)
        ):  # fmt: skip
            on = f"on {machine}"
            plan.free(f"{name} begins {on}", {name: before, machine: "idle"}, {name: on, machine: "busy"})
            plan.event(f"{name} ends {on}", {name: on}, {name: after, machine: "idle"})
            windows[f"{name} ends {on}"] = exactly(takes)
    timed(plan, windows)
    return plan.system(), plan.at(dict.fromkeys(names, "done"))


def in_order(jobs: Sequence[tuple[int, int]]) -> int:
    """When the last job is done, if they go in this order."""
    first = second = 0
    for on_first, on_second in jobs:
        first += on_first
        second = max(first, second) + on_second
    return second


def by_johnsons_rule(jobs: Sequence[tuple[int, int]]) -> int:
    """Those shorter on the first machine go first, the shortest first; then the others, the longest second first."""
    front = sorted((job for job in jobs if job[0] <= job[1]), key=lambda job: job[0])
    back = sorted((job for job in jobs if job[0] > job[1]), key=lambda job: -job[1])
    return in_order(front + back)


def test_jobs_on_two_machines_take_as_long_as_johnson_says() -> None:
    published = [(4, 5), (4, 1), (30, 4), (6, 30), (2, 3)]
    assert by_johnsons_rule(published) == min(map(in_order, permutations(published))) == 47
    system, done = two_machines(published)
    assert least_is(ARRAYS, system, done, 47)
    rng = Random(8)
    for _ in range(4):
        jobs = [(rng.randint(1, 9), rng.randint(1, 9)) for _ in range(3)]
        system, done = two_machines(jobs)
        assert least_is(ARRAYS, system, done, by_johnsons_rule(jobs)), jobs


# --- precedence graphs ---


def test_precedence_graphs_take_what_linear_programs_say() -> None:
    rng = Random(3)
    for _ in range(5):
        n = rng.randint(4, 6)
        arcs = [(i, j) for i, j in combinations(range(n), 2) if rng.random() < 0.4]
        windows = {
            f"e{i}": TickWindow(low, low + rng.randint(0, 4)) for i, low in enumerate(rng.choices(range(6), k=n))
        }
        plan = Plan()
        for i in range(n):
            plan.item(f"s{i}", "open", "done")
        for i in range(n):
            needs = {f"s{a}": "done" for a, b in arcs if b == i}
            plan.event(f"e{i}", {f"s{i}": "open", **needs}, {f"s{i}": "done"})
        timed(plan, windows)
        system, done = plan.system(), plan.at({f"s{i}": "done" for i in range(n)})
        least = longest(arcs, [windows[f"e{i}"].earliest for i in range(n)])
        greatest = longest(arcs, [windows[f"e{i}"].latest or 0 for i in range(n)])
        for engine in (PLAIN, ARRAYS):
            assert least_is(engine, system, done, least)
            assert verdict(engine, system, done, TickWindow(least, greatest)) is Verdict.HOLDS
            assert verdict(engine, system, done, TickWindow(0, greatest, latest_open=True)) is Verdict.FAILS


def longest(arcs: Sequence[tuple[int, int]], takes: Sequence[int]) -> int:
    """The least end of a project: times of ends t, and T after them all; each end no sooner than the ends before it and
    what it takes."""
    n = len(takes)
    rows, at_most = [], []
    for i in range(n):
        for before in [None, *(a for a, b in arcs if b == i)]:
            row = [0.0] * (n + 1)
            row[i] = -1
            if before is not None:
                row[before] = 1
            rows.append(row)
            at_most.append(-takes[i])
        row = [0.0] * (n + 1)
        row[i], row[n] = 1, -1
        rows.append(row)
        at_most.append(0)
    found = linprog([0] * n + [1], A_ub=np.array(rows), b_ub=at_most, bounds=[(0, None)] * (n + 1))
    least: float = found.fun
    assert found.status == 0
    assert abs(least - round(least)) < 1e-6
    return round(least)
