"""Times of scenarios, and the least time to a goal, against linear programs (scipy) on random acyclic timed systems.

Each event happens once at the most; it needs some others before it, and some others rule it out. For one order of
events the times form a linear program: an age is a difference between two times. Its constants are whole, so its
extreme times are too. Whether an extreme time is reached, open ends counted, is another program: with that time held,
how much room can be left at every open end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from random import Random
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog

from interlock.core.question import Answer, Moment, Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.engines.api import Engine, Limits
from interlock.engines.timed.engine import ZonesEngine
from interlock.logic.expression import conjunction, negate
from tests.engines.plan import Plan

pytestmark = pytest.mark.no_cover

ENGINES = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0, near=False)}
NO_MORE_ROOM = 1e-7
N_CASES = 20


@dataclass(frozen=True)
class Once:
    """Events that happen once. `needs`, `ruled_out_by`: by event; `goal`: events that are to have happened."""

    windows: tuple[TickWindow, ...]
    needs: tuple[frozenset[int], ...]
    ruled_out_by: tuple[frozenset[int], ...]
    goal: frozenset[int]

    def enabled(self, done: frozenset[int]) -> frozenset[int]:
        """What may come next, but for time."""
        return frozenset(
            e
            for e in range(len(self.windows))
            if e not in done and self.needs[e] <= done and not self.ruled_out_by[e] & done
        )

    def system(self) -> System:
        """The same as a core, asked for its goal."""
        plan = Plan()
        for e in range(len(self.windows)):
            plan.item(f"e{e}", "not yet", "done")
        for e in range(len(self.windows)):
            guard = {f"e{e}": "not yet", **{f"e{a}": "done" for a in self.needs[e]}}
            guard |= {f"e{a}": "not yet" for a in self.ruled_out_by[e]}
            plan.event(f"event {e}", guard, {f"e{e}": "done"})
        for e, window in enumerate(self.windows):
            plan.actions[e] = replace(plan.actions[e], window=window, obliged=window.latest is not None)
        goal = conjunction([plan.has(f"e{e}", "done") for e in sorted(self.goal)])
        return plan.system(Property("goal", PropertyKind.POSSIBLE, False, goal))


def random_once(seed: int) -> Once:
    rng = Random(seed)
    n = rng.randint(4, 6)
    windows, needs, ruled_out = [], [], []
    for e in range(n):
        earliest = rng.randint(0, 5)
        latest = None if rng.random() < 0.35 else earliest + rng.randint(0, 4)
        wide = latest is None or latest > earliest
        latest_open = wide and latest is not None and rng.random() < 0.3
        windows.append(TickWindow(earliest, latest, wide and rng.random() < 0.3, latest_open))
        needs.append(frozenset(rng.sample(range(e), min(e, rng.choice([0, 0, 1, 2])))))
        others = [a for a in range(n) if a != e and a not in needs[-1]]
        ruled_out.append(frozenset(rng.sample(others, 1)) if rng.random() < 0.25 else frozenset[int]())
    goal = frozenset(rng.sample(range(n), rng.randint(2, 3)))
    return Once(tuple(windows), tuple(needs), tuple(ruled_out), goal)


@dataclass
class Program:
    """The times t[1], t[2] ... of some events in their order, t[0] the start: `rows @ t <= at_most`, or `<`."""

    n: int
    rows: list[list[float]] = field(default_factory=list)
    at_most: list[float] = field(default_factory=list)
    strict: list[bool] = field(default_factory=list)

    @staticmethod
    def of(once: Once, order: tuple[int, ...]) -> Program:
        """All that the windows say about an order of events."""
        program = Program(len(order) + 1)
        done: frozenset[int] = frozenset()
        since = dict.fromkeys(once.enabled(done), 0)
        for i, event in enumerate(order, start=1):
            program.at_most_apart(i - 1, i, 0, False)
            for other, begin in since.items():
                window = once.windows[other]
                if window.latest is not None:
                    program.at_most_apart(i, begin, window.latest, window.latest_open)
            window = once.windows[event]
            program.at_most_apart(since[event], i, -window.earliest, window.earliest_open)
            done |= {event}
            since = {e: since.get(e, i) for e in once.enabled(done)}
        return program

    def at_most_apart(self, of: int, minus: int, ticks: int, strict: bool) -> None:
        """t[of] - t[minus] <= ticks, or <."""
        row = [0.0] * self.n
        row[of] += 1
        row[minus] -= 1
        self.rows.append(row)
        self.at_most.append(ticks)
        self.strict.append(strict)

    def possible(self, held: tuple[int, float] | None = None) -> bool:
        """Whether there are such times, one of them held: the most room at strict ends is above zero."""
        rows = np.array([[*row, float(strict)] for row, strict in zip(self.rows, self.strict, strict=True)])
        bounds: list[tuple[float, float | None]] = [(0, 0), *[(0, None)] * (self.n - 1), (0, 1)]
        if held is not None:
            bounds[held[0]] = (held[1], held[1])
        found: Any = linprog([0.0] * self.n + [-1.0], A_ub=rows, b_ub=self.at_most, bounds=bounds)
        assert found.status in (0, 2), found
        return bool(found.status == 0 and -found.fun > NO_MORE_ROOM)

    def extreme(self, moment: int, latest: bool) -> Moment | None:
        """The earliest or latest time of one event; None: as late as one likes."""
        aim = [0.0] * self.n
        aim[moment] = -1.0 if latest else 1.0
        bounds = [(0, 0), *[(0, None)] * (self.n - 1)]
        found: Any = linprog(aim, A_ub=np.array(self.rows), b_ub=self.at_most, bounds=bounds)
        if latest and found.status in (3, 4):
            return None
        assert found.status == 0, found
        value = round(abs(found.fun))
        assert abs(value - abs(found.fun)) < 1e-6
        return Moment(Fraction(value), not self.possible((moment, value)))


@cache
def extremes(once: Once, order: tuple[int, ...]) -> tuple[tuple[Moment | None, Moment | None], ...]:
    """The earliest and latest time of each event of an order."""
    program = Program.of(once, order)
    return tuple((program.extreme(i, False), program.extreme(i, True)) for i in range(1, program.n))


def orders(once: Once) -> Iterator[tuple[int, ...]]:
    """All orders of events that come to the goal and can be timed; each ends with the goal."""
    work: list[tuple[int, ...]] = [()]
    while work:
        order = work.pop()
        done = frozenset(order)
        if once.goal <= done:
            yield order
            continue
        longer = [(*order, event) for event in sorted(once.enabled(done))]
        work += [one for one in longer if Program.of(once, one).possible()]


@cache
def cases() -> tuple[tuple[Once, tuple[tuple[int, ...], ...]], ...]:
    return tuple((once, tuple(orders(once))) for once in map(random_once, range(N_CASES)))


def ask(engine: Engine, system: System, rule: str) -> Answer:
    (answer,) = engine.answer(system, (Question(rule, Timing.DECLARED),), Limits())
    assert answer.limit is None
    return answer


def test_each_event_of_a_scenario_is_as_early_and_as_late_as_linear_programs_say() -> None:
    found, missed, opens, unbounded = 0, 0, 0, 0
    for once, in_time in cases():
        system = once.system()
        for engine in ENGINES.values():
            answer = ask(engine, system, "goal")
            assert (answer.verdict is Verdict.HOLDS) == bool(in_time)
            if answer.scenario is None:
                missed += 1
                continue
            found += 1
            order = tuple(int(event.split()[1]) for event in answer.scenario.events)
            assert order in in_time
            times = answer.scenario.times
            assert times is not None
            for told, expected in zip(
                zip(times.earliest, times.latest, strict=True), extremes(once, order), strict=True
            ):
                assert told == expected
                early, late = told
                opens += early.open + (late is not None and late.open)
                unbounded += late is None
    print(found, opens, unbounded, missed)
    assert min(found, opens, unbounded) >= 10
    assert missed >= 2


def test_the_least_time_to_a_goal_is_the_least_of_linear_programs_over_all_orders() -> None:
    compared, opens = 0, 0
    for once, in_time in cases():
        if not in_time:
            continue
        all_least = [Program.of(once, order).extreme(len(order), False) for order in in_time]
        least = min((moment.ticks, moment.open) for moment in all_least if moment is not None)
        ticks, is_open = int(least[0]), least[1]
        for engine in ENGINES.values():
            takes = {
                window: ask(engine, lasting(once.system(), window), "takes").verdict is Verdict.HOLDS
                for window in (TickWindow(ticks), TickWindow(ticks, None, True), TickWindow(ticks + 1))
            }
            assert list(takes.values()) == [True, is_open, False]
            compared += 1
            opens += is_open
    print(compared, opens)
    assert compared >= 20
    assert opens >= 4


def lasting(system: System, window: TickWindow) -> System:
    """Asked whether it takes a time in the window until the goal is there."""
    until = system.property("goal").condition
    return replace(system, properties=(Property("takes", PropertyKind.LASTS, False, negate(until), within=window),))
