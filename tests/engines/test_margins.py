"""On random timed systems, margins are what a walk in whole ticks says when the end is put at, inside and beyond them.

Closed systems only, where a walk in ticks is exact: an end at the value that a margin names breaks the rule (or, where
that is not reached, does not), half a tick inside it does not, half a tick beyond it does. Where no change is to break
it, neither does one far beyond all constants. With open ends, the verdicts on systems with the end moved are asked.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from interlock.core.question import Bound, Margin, Moment, Question, Timing, Verdict
from interlock.core.system import Action, Assignment, Property, PropertyKind, System, TickWindow
from interlock.core.timed import age_of, has_age
from interlock.engines.api import Limits
from interlock.engines.quick.observe import speaks_of_events
from interlock.engines.timed.engine import ZonesEngine
from interlock.logic.expression import conjunction
from tests.engines.plan import Plan, never
from tests.engines.tick_walk import TickWalk, TooMany
from tests.random_timed import random_timed_case

pytestmark = pytest.mark.no_cover

N_SYSTEMS = 16
N_RACES = 8
"""Random systems, and races. By hand, with more: thousands (see DEVELOPERS.md)."""

MOST = 1_000
FAR = 40
"""Ticks by which an end is moved where no change is to break the rule: more than all that a walk here takes."""

ENGINES = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0, near=False)}
LIMITS = Limits(states=20_000)


def test_margins_on_random_systems_are_what_a_walk_in_ticks_says() -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_SYSTEMS):
        system, questions = loosened(seed)
        for question in questions:
            disagreement = check_all(system, question, mix, in_bulk=seed % 5 == 0)
            assert disagreement is None, f"seed {seed}: {disagreement}"
    print(sorted(mix.items()))
    assert mix["walked"] >= mix["margins"]
    assert min(mix["reached"], mix["beyond"], mix["any change"]) >= 1


def test_margins_of_random_races_are_what_a_walk_in_ticks_says() -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_RACES):
        system = race(seed)
        for rule in system.properties:
            question = Question(rule.id, Timing.DECLARED)
            disagreement = check_all(system, question, mix, in_bulk=seed % 5 == 0)
            assert disagreement is None, f"seed {seed}: {disagreement}"
    print(sorted(mix.items()))
    assert mix["walked"] >= mix["margins"]
    assert min(mix["reached"], mix["beyond"], mix["no whole tick"]) >= 5
    assert min(mix["together"], mix["any change"]) >= 3


def test_with_open_ends_verdicts_at_inside_and_beyond_a_margin_are_as_it_says() -> None:
    mix: Counter[str] = Counter()
    for seed in range(2 * N_RACES):
        system = opened(race(seed), seed)
        for rule in system.properties:
            disagreement = check_verdicts(system, Question(rule.id, Timing.DECLARED), mix)
            assert disagreement is None, f"seed {seed}: {disagreement}"
    print(sorted(mix.items()))
    assert min(mix["reached"], mix["beyond"], mix["any change"]) >= 5


def opened(system: System, seed: int) -> System:
    """The system with some ends open."""
    rng = Random(seed)

    def some(action: Action) -> Action:
        assert action.window is not None
        late = action.window.latest
        wide = late is None or late > action.window.earliest
        early_open, late_open = wide and rng.random() < 0.4, wide and late is not None and rng.random() < 0.4
        return replace(action, window=replace(action.window, earliest_open=early_open, latest_open=late_open))

    return replace(system, actions=tuple(map(some, system.actions)))


def check_verdicts(system: System, question: Question, mix: Counter[str]) -> str | None:
    """None, or where the verdict on a system with the end moved is another than the margin says."""
    engine = ENGINES["plain"]
    (answer,) = engine.answer(system, (question,), LIMITS)
    if answer.verdict is not Verdict.HOLDS:
        return None
    asked = tuple(ends for ends in asked_ends(system, answer.rests_on or ()) if len(ends) == 1)
    for (one,) in engine.margins(system, question, asked, LIMITS):
        assert one.limit is None
        out = Fraction(1 if one.ends[0].latest else -1)
        if one.breaks is None:
            mix["any change"] += 1
            expected = {Moment(Fraction(FAR if one.ends[0].latest else 0)): Verdict.HOLDS}
        elif one.breaks.open:
            mix["beyond"] += 1
            expected = {
                Moment(one.breaks.ticks): Verdict.HOLDS,
                Moment(one.breaks.ticks + out / (16 * one.breaks.ticks.denominator)): Verdict.FAILS,
            }
        else:
            mix["reached"] += 1
            expected = {Moment(one.breaks.ticks): Verdict.FAILS, Moment(one.breaks.ticks, True): Verdict.HOLDS}
        for end, verdict in expected.items():
            moved = with_ends_at(system, one.ends, end.ticks, end.open)
            (again,) = engine.answer(moved, (question,), LIMITS)
            if again.verdict is not verdict:
                return f"{question}: {one}: with the end at {end}, {again.verdict}"
    return None


def loosened(seed: int) -> tuple[System, tuple[Question, ...]]:
    """A random system of closed windows, its deadlines at random later, some of them open."""
    rng = Random(seed)
    case = random_timed_case(seed, closed=True)

    def later(rule: Property) -> Property:
        if rule.within is None or rule.within.latest is None:
            return rule
        latest = rule.within.latest + rng.randint(1, 4)
        return replace(rule, within=replace(rule.within, latest=latest, latest_open=rng.random() < 0.5))

    return replace(case.system, properties=tuple(map(later, case.system.properties))), case.asked


def race(seed: int) -> System:
    """Three counters that run in steps of their own windows; the second is to be through before the first, and within a
    time; the third may hold up the second. An end counts as often as its counter steps."""
    rng = Random(seed)
    plan = Plan()
    windows = {}
    tops = [rng.randint(1, 3) for _ in range(3)]
    for i, top in enumerate(tops):
        plan.item(f"c{i}", *range(top + 1))
    for i, top in enumerate(tops):
        steps = Assignment(f"c{i}", tuple((plan.has(f"c{i}", n), n + 1) for n in range(top)))
        guard = [plan.has(f"c{i}", *range(top))]
        if i == 1 and rng.random() < 0.4:
            guard.append(plan.has("c2", *range(1, tops[2] + 1)))
        restarts = ("c1 steps",) if i == 2 and rng.random() < 0.3 else ()
        plan.event(f"c{i} steps", conjunction(guard), (steps,), restarts=restarts)
        earliest = rng.randint(3, 6) if i == 0 else rng.randint(0, 2)
        latest = None if i == 0 and rng.random() < 0.5 else earliest + rng.randint(0, 2)
        windows[f"c{i}_steps"] = TickWindow(earliest, latest)
    for i, action in enumerate(plan.actions):
        window = windows[action.id.replace(" ", "_")]
        plan.actions[i] = replace(action, window=window, obliged=window.latest is not None)
    order = never("order", plan.at({"c0": tops[0], "c1": tuple(range(tops[1]))}))
    within = TickWindow(0, rng.randint(2, 9), False, rng.random() < 0.5)
    begun = plan.has("c0", *range(tops[0])) if rng.random() < 0.5 else plan.has("c2", *range(tops[2]))
    soon = Property("soon", PropertyKind.AFTER, False, begun, must=plan.at(c1=tops[1]), within=within)
    return plan.system(order, soon)


def check_all(system: System, question: Question, mix: Counter[str], in_bulk: bool) -> str | None:
    """None, or what disagrees about the margins of one question."""
    rule = system.property(question.property)
    (answer,) = ENGINES["plain"].answer(system, (question,), LIMITS)
    if answer.verdict is not Verdict.HOLDS or rule.kind is PropertyKind.POSSIBLE:
        return None
    if not answer.rests_on:
        return None
    asked = asked_ends(system, answer.rests_on)
    rests_on = frozenset(answer.rests_on)
    in_turn = ENGINES["plain"].margins(system, question, asked, LIMITS, (rests_on, None))
    for i, kept in enumerate((rests_on, None)):
        wrong = compare(system, question, asked, kept, mix, in_bulk=in_bulk and kept is None)
        if wrong is not None:
            return f"{question}, relying on {'all' if kept is None else sorted(map(str, kept))}: {wrong}"
        for both, ((one,),) in zip(in_turn, each(system, question, asked, kept), strict=True):
            exact = both[i].limit is None and one.limit is None
            if exact and both[i] != one:
                return f"{question}: asked in turn {both}, by itself {one}"
    return None


def each(
    system: System, question: Question, asked: tuple[frozenset[Bound], ...], kept: frozenset[Bound] | None
) -> list[tuple[tuple[Margin, ...], ...]]:
    """The margins of ends asked one by one."""
    return [ENGINES["plain"].margins(system, question, (ends,), LIMITS, (kept,)) for ends in asked]


def compare(
    system: System,
    question: Question,
    asked: tuple[frozenset[Bound], ...],
    kept: frozenset[Bound] | None,
    mix: Counter[str],
    in_bulk: bool,
) -> str | None:
    """None, or what disagrees about these ends."""
    rule = system.property(question.property)
    found = ENGINES["plain"].margins(system, question, asked, LIMITS, (kept,))
    if in_bulk and not speaks_of_events(rule) and not question.cut:
        over_arrays = ENGINES["arrays"].margins(system, question, asked, LIMITS, (kept,))
        if found != over_arrays:
            return f"plain {found}, arrays {over_arrays}"
        mix["arrays"] += len(found)
    for ends, (one,) in zip(asked, found, strict=True):
        if one.limit is not None:
            mix["limit"] += 1
            continue
        assert frozenset(one.ends) == ends
        mix["margins"] += 1
        mix["together"] += len(one.ends) > 1
        mix["relying on some"] += kept is not None
        there = system if kept is None else without_others(system, kept | ends)
        wrong = check(there, question, one, mix)
        if wrong is not None:
            return f"{one}: {wrong}"
    return None


def without_others(system: System, kept: frozenset[Bound]) -> System:
    """The system with all ends left out but these."""

    def less(action: Action) -> Action:
        if action.window is None:
            return action
        early, late = Bound(age_of(action), False) in kept, Bound(age_of(action), True) in kept
        window = TickWindow(action.window.earliest if early else 0, action.window.latest if late else None)
        return replace(action, window=window)

    return replace(system, actions=tuple(map(less, system.actions)))


def asked_ends(system: System, rests_on: tuple[Bound, ...]) -> tuple[frozenset[Bound], ...]:
    """Each end by itself, then those of the same side and value together, then one on which nothing rests."""
    windows = {action.id: action.window for action in system.actions}
    alike: dict[tuple[bool, int | None], set[Bound]] = {}
    for one in rests_on:
        window = windows[one.of]
        assert window is not None
        alike.setdefault((one.latest, window.latest if one.latest else window.earliest), set()).add(one)
    together = [frozenset(ends) for ends in alike.values() if len(ends) > 1]
    idle = [
        Bound(action.id, latest)
        for action in system.actions
        if action.window is not None and has_age(action) and not action.ages_with
        for latest, end in ((False, action.window.earliest), (True, action.window.latest))
        if end is not None and (latest or end > 0) and Bound(action.id, latest) not in rests_on
    ]
    return (*(frozenset({one}) for one in rests_on), *together, *(frozenset({one}) for one in idle[:1]))


def check(system: System, question: Question, margin: Margin, mix: Counter[str]) -> str | None:
    """None, or what a walk in ticks says otherwise."""
    latest = margin.ends[0].latest
    out = Fraction(1 if latest else -1)
    if margin.breaks is None:
        mix["any change"] += 1
        window = next(a.window for a in system.actions if a.id == margin.ends[0].of)
        assert window is not None
        far = Fraction((window.latest or 0) + FAR) if latest else Fraction(0)
        return expect(system, question, margin.ends, {far: False}, mix)
    mix["beyond" if margin.breaks.open else "reached"] += 1
    at = margin.breaks.ticks
    half = out / (2 * at.denominator)
    mix["no whole tick"] += at.denominator > 1
    if margin.breaks.open:
        return expect(system, question, margin.ends, {at: False, at + half: True}, mix)
    return expect(system, question, margin.ends, {at - half: False, at: True}, mix)


def expect(
    system: System, question: Question, ends: tuple[Bound, ...], expected: dict[Fraction, bool], mix: Counter[str]
) -> str | None:
    """Whether the rule breaks with the ends at these values, closed. An end of a deadline may be open: one strict
    difference in a run is exact in whole ticks."""
    assert not any(a.window.earliest_open or a.window.latest_open for a in system.actions if a.window is not None)
    for value, breaks in expected.items():
        moved = with_ends_at(system, ends, value)
        try:
            walked = TickWalk(moved, question, MOST).walk().least is not None
        except TooMany:
            mix["too many"] += 1
            continue
        mix["walked"] += 1
        if walked is not breaks:
            return f"a walk in ticks with the end at {value} says it {'breaks' if walked else 'holds'}"
    return None


def with_ends_at(system: System, ends: tuple[Bound, ...], value: Fraction, is_open: bool = False) -> System:
    """The system in ticks so fine that the value is whole, with these ends at it."""
    scale = value.denominator

    def finer(window: TickWindow, of: str = "") -> TickWindow:
        made = replace(
            window,
            earliest=window.earliest * scale,
            latest=None if window.latest is None else window.latest * scale,
        )
        if Bound(of, True) in ends:
            return replace(made, latest=int(value * scale), latest_open=is_open)
        if Bound(of, False) in ends:
            return replace(made, earliest=int(value * scale), earliest_open=is_open)
        return made

    def rule(one: Property) -> Property:
        return one if one.within is None else replace(one, within=finer(one.within))

    actions = tuple(a if a.window is None else replace(a, window=finer(a.window, age_of(a))) for a in system.actions)
    return replace(system, actions=actions, properties=tuple(map(rule, system.properties)))
