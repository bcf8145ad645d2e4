"""Published timed examples, asked of zones in plain Python and over arrays.

Railroad crossing: R. Alur and D. L. Dill, A theory of timed automata, TCS 126 (1994), closing example (constants from
memory, the same four read in a university exercise text of 1997/98); the general condition worked out by hand.
Fischer's mutual exclusion: Lamport 1987; Abadi and Lamport 1994 (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from interlock.core.question import Answer, Question, Timing, Verdict
from interlock.core.system import System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.timed.engine import ZonesEngine
from interlock.logic.expression import conjunction, disjunction
from tests.engines.plan import Plan, never

ENGINES = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0)}


def timed(plan: Plan, **windows: TickWindow) -> None:
    """Give events their windows, by id with `_` for a space."""
    for i, action in enumerate(plan.actions):
        window = windows.get(action.id.replace(" ", "_"))
        if window is not None:
            plan.actions[i] = replace(action, window=window, obliged=window.latest is not None)


def ask(engine: str, system: System, rule: str) -> Answer:
    (answer,) = ENGINES[engine].answer(system, (Question(rule, Timing.DECLARED),), Limits())
    assert answer.limit is None
    return answer


def fischer(processes: int, sets_within: int, waits: int, *, strictly: bool = False) -> System:
    plan = Plan()
    plan.item("lock", *range(processes + 1))
    names = [f"p{i}" for i in range(1, processes + 1)]
    for i, name in enumerate(names, start=1):
        plan.item(name, "idle", "asks", "waits", "in")
        plan.free(f"{name} asks", {name: "idle", "lock": 0}, {name: "asks"})
        plan.event(f"{name} sets", {name: "asks"}, {name: "waits", "lock": i})
        plan.event(f"{name} enters", {name: "waits", "lock": i}, {name: "in"})
        plan.free(f"{name} gives_up", {name: "waits", "lock": 0}, {name: "idle"})
        plan.free(f"{name} leaves", {name: "in"}, {name: "idle", "lock": 0})
        timed(plan, **{f"{name}_sets": TickWindow(0, sets_within), f"{name}_enters": TickWindow(waits, None, strictly)})
    pairs = [(a, b) for a, b in product(names, names) if a < b]
    return plan.system(never("both in", disjunction(plan.at({a: "in", b: "in"}) for a, b in pairs)))


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("processes", [2, 3])
def test_fischers_exclusion_is_broken_exactly_where_setting_may_take_as_long_as_waiting(
    engine: str, processes: int
) -> None:
    for sets_within, waits in product(range(1, 6), repeat=2):
        verdict = ask(engine, fischer(processes, sets_within, waits), "both in").verdict
        assert verdict is (Verdict.FAILS if sets_within >= waits else Verdict.HOLDS), (sets_within, waits)


@pytest.mark.parametrize("engine", ENGINES)
def test_fischers_exclusion_holds_where_waiting_is_strictly_longer(engine: str) -> None:
    assert ask(engine, fischer(3, 2, 2, strictly=True), "both in").verdict is Verdict.HOLDS


def crossing(*, arrives: TickWindow, lowers: TickWindow, controls: int = 1) -> System:
    """Train, gate and controller; one tick a minute."""
    plan = Plan()
    plan.item("train", "far", "near", "in", "out")
    plan.item("told", "nothing", "comes", "has gone")
    plan.item("gate", "up", "lowering", "down", "raising")
    plan.item("since", "no train", "approach")
    plan.free("train approaches", {"train": "far"}, {"train": "near", "told": "comes", "since": "approach"})
    plan.event("train enters", {"train": "near"}, {"train": "in"})
    plan.free("train passes", {"train": "in"}, {"train": "out"})
    leaves = {"train": "far", "told": "has gone", "since": "no train"}
    plan.event("train leaves", {"since": "approach", "train": "out"}, leaves)
    plan.event("crossing is_over", {"since": "approach"}, leaves)
    plan.event("control lowers", {"told": "comes"}, {"told": "nothing", "gate": "lowering"})
    plan.event("control raises", {"told": "has gone"}, {"told": "nothing", "gate": "raising"})
    plan.event("gate comes_down", {"gate": "lowering"}, {"gate": "down"})
    plan.event("gate comes_up", {"gate": "raising"}, {"gate": "up"})
    timed(
        plan,
        train_enters=arrives,
        crossing_is_over=TickWindow(0, 5, latest_open=True),
        control_lowers=TickWindow(controls, controls),
        control_raises=TickWindow(0, 1, latest_open=True),
        gate_comes_down=lowers,
        gate_comes_up=TickWindow(1, 2),
    )
    bad = conjunction([plan.has("train", "in"), plan.has("gate", "up", "lowering", "raising")])
    return plan.system(never("gate is down", bad))


@pytest.mark.parametrize("engine", ENGINES)
def test_the_crossing_is_safe_with_its_bounds_and_unsafe_where_they_touch(engine: str) -> None:
    strict = crossing(arrives=TickWindow(2, None, True), lowers=TickWindow(0, 1, latest_open=True))
    assert ask(engine, strict, "gate is down").verdict is Verdict.HOLDS
    touching = crossing(arrives=TickWindow(2, None), lowers=TickWindow(0, 1))
    assert ask(engine, touching, "gate is down").verdict is Verdict.FAILS
    one_strict = crossing(arrives=TickWindow(2, None, True), lowers=TickWindow(0, 1))
    assert ask(engine, one_strict, "gate is down").verdict is Verdict.HOLDS


@pytest.mark.parametrize("engine", ENGINES)
def test_the_crossing_is_safe_exactly_where_control_and_gate_are_quicker_than_the_train(engine: str) -> None:
    for control, gate, train in product(range(1, 4), range(1, 4), range(1, 7)):
        system = crossing(arrives=TickWindow(train, None), lowers=TickWindow(0, gate), controls=control)
        expected = Verdict.HOLDS if control + gate < train else Verdict.FAILS
        # A train that must have left by 5 after its approach never arrives at 5 or later.
        if train >= 5:
            expected = Verdict.HOLDS
        assert ask(engine, system, "gate is down").verdict is expected, (control, gate, train)
