"""Published timed examples, asked of zones in plain Python and over arrays.

Railroad crossing: R. Alur and D. L. Dill, A theory of timed automata, TCS 126 (1994), closing example (constants from
memory, the same four read in a university exercise text of 1997/98); the general condition worked out by hand.
Fischer's mutual exclusion: Lamport 1987; Abadi and Lamport 1994 (from memory).
A shared cable: a station that was not disturbed for twice the time a signal needs from end to end has the cable to
itself: R. M. Metcalfe and D. R. Boggs, Ethernet: distributed packet switching for local computer networks, CACM 19
(1976) (from memory); where the bounds touch, worked out by hand.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from interlock.core.question import Answer, Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.timed.engine import ZonesEngine
from interlock.logic.expression import Expression, conjunction, disjunction
from tests.engines.plan import Plan, never

ENGINES = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0, near=False)}


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


def one_passage() -> tuple[Plan, Expression]:
    """One train, gate and controller with the bounds of the paper, ten ticks a minute; when the gate is not up."""
    plan = Plan()
    plan.item("train", "far", "near", "in", "gone")
    plan.item("told", "nothing", "comes", "has gone")
    plan.item("gate", "up", "lowering", "down", "raising")
    plan.free("train approaches", {"train": "far"}, {"train": "near", "told": "comes"})
    plan.event("train enters", {"train": "near"}, {"train": "in"})
    plan.event("train leaves", {"train": ("near", "in")}, {"train": "gone", "told": "has gone"})
    plan.event("control lowers", {"told": "comes"}, {"told": "nothing", "gate": "lowering"})
    plan.event("control raises", {"told": "has gone"}, {"told": "nothing", "gate": "raising"})
    plan.event("gate comes_down", {"gate": "lowering"}, {"gate": "down"})
    plan.event("gate comes_up", {"gate": "raising"}, {"gate": "up"})
    timed(
        plan,
        train_enters=TickWindow(20, None, True),
        train_leaves=TickWindow(20, 50, True, True),
        control_lowers=TickWindow(10, 10),
        control_raises=TickWindow(0, 10, latest_open=True),
        gate_comes_down=TickWindow(0, 10, latest_open=True),
        gate_comes_up=TickWindow(10, 20),
    )
    return plan, plan.has("gate", "down", "raising")


@pytest.mark.parametrize("engine", ENGINES)
def test_the_gate_is_closed_for_less_than_seven_of_the_ten_minutes_allowed_and_for_more_than_one(engine: str) -> None:
    """Down from 1 at the earliest; left before 5, raised before 6, up before 8: less than 7. Down before 2; left after
    2, raised at once, up after 3: more than 1."""
    plan, closed = one_passage()

    def stretch(earliest: int, latest: int, **ends: bool) -> Verdict:
        rule = Property("closed", PropertyKind.LASTS, False, closed, within=TickWindow(earliest, latest, **ends))
        return ask(engine, plan.system(rule), "closed").verdict

    assert stretch(0, 100) is Verdict.HOLDS
    assert stretch(0, 70, latest_open=True) is Verdict.HOLDS
    assert stretch(0, 69) is Verdict.FAILS
    assert stretch(10, 70, earliest_open=True) is Verdict.HOLDS
    assert stretch(11, 70) is Verdict.FAILS


def cable(travels: int, waits: int, *, strictly: bool = False) -> System:
    """Two stations at the ends of a cable. A station sends only where it hears nothing; undisturbed for `waits`, it
    takes the cable for its own. A signal needs just `travels` from end to end."""
    plan = Plan()
    for name in ("left", "right"):
        plan.item(name, "quiet", "sends", "sends on", "disturbed")
        plan.item(f"{name} hears", "nothing", "the other")
        plan.item(f"from {name}", "nothing", "on its way", "arrived")
    for name, other in (("left", "right"), ("right", "left")):
        begins = {name: "sends", f"from {name}": "on its way"}
        plan.free(f"{name} begins", {name: "quiet", f"{name} hears": "nothing"}, begins)
        plan.event(
            f"{name} arrives",
            {f"from {name}": "on its way"},
            {f"from {name}": "arrived", f"{other} hears": "the other"},
        )
        plan.instant(f"{name} notices", {name: "sends", f"{name} hears": "the other"}, {name: "disturbed"})
        plan.event(f"{name} is_sure", {name: "sends"}, {name: "sends on"})
        timed(
            plan,
            **{
                f"{name}_arrives": TickWindow(travels, travels),
                f"{name}_is_sure": TickWindow(waits, None if strictly else waits, strictly),
            },
        )
    begun = ("on its way", "arrived")
    wrong = (plan.at({"left": "sends on", "from right": begun}), plan.at({"right": "sends on", "from left": begun}))
    return plan.system(never("alone", disjunction(wrong)))


@pytest.mark.parametrize("engine", ENGINES)
def test_a_station_has_the_cable_to_itself_once_it_waited_longer_than_there_and_back(engine: str) -> None:
    """The other end may begin at the instant before the signal is there; its own signal is back after twice the way."""
    for travels, waits in product((1, 2, 3), range(1, 8)):
        verdict = ask(engine, cable(travels, waits), "alone").verdict
        assert verdict is (Verdict.HOLDS if waits > 2 * travels else Verdict.FAILS), (travels, waits)
    assert ask(engine, cable(26, 52), "alone").verdict is Verdict.FAILS
    assert ask(engine, cable(26, 52, strictly=True), "alone").verdict is Verdict.HOLDS
