"""Margins worked out by hand, asked of zones in plain Python and over arrays.

Fischer's mutual exclusion (Lamport 1987; Abadi and Lamport 1994, from memory): broken exactly where setting may take as
long as waiting. Railroad crossing (R. Alur and D. L. Dill, TCS 126, 1994, constants from memory): a train must not
arrive before controller and gate are through.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from interlock.core.question import Bound, Margin, Moment, Question, Timing, Verdict
from interlock.core.system import Assignment, Property, PropertyKind, System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.timed import margins as under_test
from interlock.engines.timed.engine import ZonesEngine
from tests.engines.plan import Plan, never
from tests.published.test_timed_examples import crossing, fischer

ENGINES = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0, near=False)}


def timed(plan: Plan, **windows: TickWindow) -> None:
    """Give events their windows, by id with `_` for a space."""
    for i, action in enumerate(plan.actions):
        window = windows.get(action.id.replace(" ", "_"))
        if window is not None:
            plan.actions[i] = replace(action, window=window, obliged=window.latest is not None)


def ask(
    engine: str, system: System, rule: str, *ends: Bound, kept: frozenset[Bound] | None = None, states: int = 20_000
) -> Margin:
    """The margin of ends that move together; the rule must hold."""
    question = Question(rule, Timing.DECLARED)
    (answer,) = ENGINES[engine].answer(system, (question,), Limits())
    assert answer.verdict is Verdict.HOLDS
    ((found,),) = ENGINES[engine].margins(system, question, (frozenset(ends),), Limits(states=states), (kept,))
    return found


def at(value: Fraction | int) -> Moment:
    """It breaks at the value and further on."""
    return Moment(Fraction(value))


def beyond(value: Fraction | int) -> Moment:
    """It breaks beyond the value, however little."""
    return Moment(Fraction(value), True)


SETS, ENTERS = Bound("p1 sets", True), Bound("p1 enters", False)


@pytest.mark.parametrize("engine", ENGINES)
def test_fischers_exclusion_breaks_where_setting_takes_as_long_as_waiting(engine: str) -> None:
    system = fischer(2, 2, 5)
    assert ask(engine, system, "both in", SETS).breaks == at(5)
    assert ask(engine, system, "both in", ENTERS).breaks == at(2)
    assert ask(engine, system, "both in", SETS, Bound("p2 sets", True)).breaks == at(5)


@pytest.mark.parametrize("engine", ENGINES)
def test_where_waiting_is_strictly_longer_setting_may_take_as_long_but_no_longer(engine: str) -> None:
    system = fischer(2, 2, 2, strictly=True)
    assert ask(engine, system, "both in", SETS).breaks == beyond(2)
    # An end that is declared open has no margin at all where its own value, closed, breaks the rule.
    assert ask(engine, system, "both in", ENTERS).breaks == at(2)


TRAIN, CONTROL = Bound("train enters", False), Bound("control lowers", True)
GATE, RAISED = Bound("gate comes_down", True), Bound("gate comes_up", True)


@pytest.mark.parametrize("engine", ENGINES)
def test_the_crossing_breaks_where_control_and_gate_together_take_as_long_as_the_train(engine: str) -> None:
    system = crossing(arrives=TickWindow(4, None), lowers=TickWindow(0, 1), controls=2)
    assert ask(engine, system, "gate is down", TRAIN).breaks == at(3)
    assert ask(engine, system, "gate is down", CONTROL).breaks == at(3)
    assert ask(engine, system, "gate is down", GATE).breaks == at(2)
    nothing = ask(engine, system, "gate is down", RAISED)
    assert (nothing.breaks, nothing.limit) == (None, None)


@pytest.mark.parametrize("engine", ENGINES)
def test_with_open_ends_the_crossing_breaks_beyond_where_they_touch(engine: str) -> None:
    system = crossing(arrives=TickWindow(2, None, True), lowers=TickWindow(0, 1, latest_open=True))
    # The train comes later than 2. The controller takes 1; the gate, sooner than 1, may take 1 itself but not more.
    assert ask(engine, system, "gate is down", TRAIN).breaks == beyond(2)
    assert ask(engine, system, "gate is down", GATE).breaks == beyond(1)


def three_steps(step: TickWindow, gate: TickWindow) -> System:
    """A counter that steps three times, and a gate that must be shut by then."""
    plan = Plan()
    plan.item("count", 0, 1, 2, 3)
    plan.item("gate", "open", "shut")
    up = Assignment("count", tuple((plan.has("count", n), n + 1) for n in range(3)))
    plan.event("count steps", plan.has("count", 0, 1, 2), (up,))
    plan.event("gate shuts", {"gate": "open"}, {"gate": "shut"})
    timed(plan, count_steps=step, gate_shuts=gate)
    return plan.system(never("shut by then", plan.at({"count": 3, "gate": "open"})))


@pytest.mark.parametrize("engine", ENGINES)
def test_an_end_that_occurs_three_times_on_a_way_counts_three_times(engine: str) -> None:
    # Three steps of at least v each are through at 3 v at the soonest, the gate is shut at 5 at the latest.
    system = three_steps(TickWindow(2, None), TickWindow(0, 5))
    assert ask(engine, system, "shut by then", Bound("count steps", False)).breaks == at(Fraction(5, 3))
    assert ask(engine, system, "shut by then", Bound("gate shuts", True)).breaks == at(6)
    sooner = three_steps(TickWindow(2, None), TickWindow(0, 5, latest_open=True))
    assert ask(engine, sooner, "shut by then", Bound("count steps", False)).breaks == beyond(Fraction(5, 3))


def two_ways(short: int, long: int) -> System:
    """A door must be shut before a lamp is lit: by one event after at least `short`, or by two of at least `long` in
    all, of which the first takes no less than 1."""
    plan = Plan()
    plan.item("lamp", "dark", "warm", "lit")
    plan.item("door", "open", "shut")
    plan.event("lamp lights", {"lamp": "dark"}, {"lamp": "lit"})
    plan.event("lamp warms", {"lamp": "dark"}, {"lamp": "warm"})
    plan.event("lamp glows", {"lamp": "warm"}, {"lamp": "lit"})
    plan.event("door shuts", {"door": "open"}, {"door": "shut"})
    timed(
        plan,
        lamp_lights=TickWindow(short, None),
        lamp_warms=TickWindow(1, None),
        lamp_glows=TickWindow(long - 1, None),
        door_shuts=TickWindow(0, 2),
    )
    return plan.system(never("shut before", plan.at({"lamp": "lit", "door": "open"})))


@pytest.mark.parametrize("engine", ENGINES)
def test_the_longer_way_counts_where_it_needs_less(engine: str) -> None:
    # The shortest way to a lit lamp, which is found first, needs 9; the longer one 6.
    assert ask(engine, two_ways(9, 6), "shut before", Bound("door shuts", True)).breaks == at(6)
    assert ask(engine, two_ways(5, 6), "shut before", Bound("door shuts", True)).breaks == at(5)


def two_doors() -> System:
    """A lamp is lit 10 after the start at the soonest, and two doors are to stop what it does; one is enough."""
    plan = Plan()
    plan.item("lamp", "dark", "lit")
    plan.event("lamp lights", {"lamp": "dark"}, {"lamp": "lit"})
    for door in ("near", "far"):
        plan.item(door, "open", "shut")
        plan.event(f"{door} shuts", {door: "open"}, {door: "shut"})
    timed(plan, lamp_lights=TickWindow(10, None), near_shuts=TickWindow(0, 2), far_shuts=TickWindow(0, 3))
    return plan.system(never("one is shut", plan.at({"lamp": "lit", "near": "open", "far": "open"})))


@pytest.mark.parametrize("engine", ENGINES)
def test_where_another_time_stands_in_no_change_breaks_it_unless_that_one_is_not_relied_on(engine: str) -> None:
    near, lights = Bound("near shuts", True), Bound("lamp lights", False)
    assert ask(engine, two_doors(), "one is shut", near).breaks is None
    assert ask(engine, two_doors(), "one is shut", near, kept=frozenset({near, lights})).breaks == at(10)
    # Of two doors the quicker one counts, if it is relied on.
    assert ask(engine, two_doors(), "one is shut", lights).breaks == at(2)


def deadline(latest_open: bool) -> System:
    plan = Plan()
    plan.item("door", "open", "shut")
    plan.bound("door shuts", {"door": "open"}, {"door": "shut"})
    timed(plan, door_shuts=TickWindow(1, 3))
    within = TickWindow(0, 5, latest_open=latest_open)
    open_door = plan.at(door="open")
    return plan.system(Property("soon", PropertyKind.AFTER, False, open_door, must=plan.at(door="shut"), within=within))


@pytest.mark.parametrize("engine", ENGINES)
def test_a_deadline_is_missed_beyond_its_time_or_at_it_where_that_is_open(engine: str) -> None:
    assert ask(engine, deadline(False), "soon", Bound("door shuts", True)).breaks == beyond(5)
    assert ask(engine, deadline(True), "soon", Bound("door shuts", True)).breaks == at(5)


def drifting() -> System:
    """Two wheels that turn every 5, exactly, side by side: each turn of one is met by one of the other, else they are
    out of step. However little one is late, after turns enough they are."""
    plan = Plan()
    plan.item("ahead", -2, -1, 0, 1, 2, start=0)
    n = 5
    up = Assignment("ahead", tuple((plan.has("ahead", v), i + 1) for i, v in enumerate((-2, -1, 0, 1))))
    down = Assignment("ahead", tuple((plan.has("ahead", v), i) for i, v in enumerate((-1, 0, 1, 2))))
    assert len(plan.domain("ahead")) == n
    plan.event("left turns", plan.has("ahead", -2, -1, 0, 1), (up,))
    plan.event("right turns", plan.has("ahead", -1, 0, 1, 2), (down,))
    timed(plan, left_turns=TickWindow(5, 5), right_turns=TickWindow(5, 5))
    return plan.system(never("in step", plan.has("ahead", -2, 2)))


@pytest.mark.parametrize("engine", ENGINES)
def test_where_ever_less_is_enough_the_margin_is_told_to_be_not_known_exactly(
    engine: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Out of step by two once n turns of at most v can lie beyond n + 1 turns of 5: v = 5 (n + 1) / n, for every n.
    monkeypatch.setattr(under_test, "MOST_ROUNDS", 5)
    found = ask(engine, drifting(), "in step", Bound("left turns", True))
    assert found.limit == under_test.ROUNDS
    assert found.breaks is not None
    assert 5 < found.breaks.ticks < 10


@pytest.mark.parametrize("engine", ENGINES)
def test_a_limit_that_is_hit_makes_the_margin_unknown_and_never_none_at_all(engine: str) -> None:
    found = ask(engine, fischer(3, 2, 5), "both in", SETS, states=20)
    assert found.breaks is None
    assert found.limit is not None
    assert "more than 20 " in found.limit


@pytest.mark.parametrize("engine", ENGINES)
def test_what_breaks_it_though_more_is_relied_on_breaks_it_relying_on_less(
    engine: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Asked in turn, the second goes on from where the first was stopped, and comes nearer.
    monkeypatch.setattr(under_test, "MOST_ROUNDS", 3)
    left, right = Bound("left turns", True), Bound("right turns", False)
    question = Question("in step", Timing.DECLARED)
    kept = frozenset({left, right, Bound("left turns", False), Bound("right turns", True)})
    ((less, more),) = ENGINES[engine].margins(drifting(), question, (frozenset({left}),), Limits(), (kept, None))
    assert less.limit == more.limit == under_test.ROUNDS
    assert less.breaks == more.breaks
    alone = ask(engine, drifting(), "in step", left)
    assert less.breaks is not None
    assert alone.breaks is not None
    assert less.breaks.ticks < alone.breaks.ticks
