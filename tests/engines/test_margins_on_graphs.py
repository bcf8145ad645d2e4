"""How far times may move before `always_possible` and `always_ends` break, against verdicts worked out anew.

Random systems: the end put at, inside and beyond what a margin says, and the verdict asked of regions or whole ticks,
which know nothing of the proof. Where a margin relies on some times alone, all others are moved at random as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from interlock.core.question import Bound, Margin, Moment, Question, Timing, Verdict
from interlock.core.system import PropertyKind, System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.ends import as_declared, with_ends_at, with_only
from interlock.engines.moving import first_broken
from interlock.engines.table import in_time_on_graphs, regions, ways
from tests.engines.test_rests_on import (
    LIMITS,
    drawn,
    plan_with_a_trap,
    plan_with_a_wheel,
    with_ages,
    with_other_values,
)

N_CASES = 24
"""Seeds. By hand, with more: hundreds."""

FAR = 12


def held(kind: PropertyKind, seed: int) -> Iterator[tuple[System, Question, frozenset[Bound]]]:
    """Rules of a kind that hold, with what they rest on, where that is something."""
    plans = [(system, rule) for system in traps_and_wheels(seed) for rule in system.properties if rule.kind is kind]
    asked = [(system, Question(rule.id, Timing.DECLARED)) for system, rule in plans]
    for system, question in (*asked, *(drawn(seed, kind) if seed % 6 == 0 else ())):
        engine = next(one for one in in_time_on_graphs() if one.decides(system, question))
        (answer,) = engine.answer(system, (question,), LIMITS)
        if answer.rests_on:
            yield system, question, frozenset(answer.rests_on)


def traps_and_wheels(seed: int) -> tuple[System, System]:
    """The plans that are known by hand, with other windows; ends are open in some."""
    rng = Random(seed)

    def window(earliest: int, longest: int, never: float = 0.2) -> TickWindow:
        early_open = rng.random() < 0.2
        latest = None if rng.random() < never else earliest + early_open + rng.randint(0, longest)
        return TickWindow(earliest, latest, early_open, latest is not None and latest > earliest and rng.random() < 0.2)

    b = window(rng.randint(0, 2), 2)
    shuts = window((b.latest or 3) + rng.randint(0, 2), 3)
    return plan_with_a_trap(b, shuts), plan_with_a_wheel(window(rng.randint(0, 2), 1))


def some_between(one: Moment, other: Moment, rng: Random) -> Iterator[Moment]:
    """Values between, both told ones with them where they are closed."""
    yield from (at for at in (one, other) if not at.open)
    for _ in range(3):
        yield Moment(one.ticks + (other.ticks - one.ticks) * Fraction(rng.randint(1, 7), 8))


def as_far(system: System, told: Margin) -> Moment | None:
    """How far a margin says that it surely holds."""
    if told.breaks is None and told.limit is None:
        (end,) = told.ends
        window = next(action.window for action in system.actions if action.id == end.of)
        assert window is not None
        up = end.latest is told.wider
        if told.wider:
            return Moment(as_declared(system, frozenset(told.ends)).ticks + FAR if up else Fraction(0))
        if not end.latest:
            return Moment(Fraction(window.earliest + FAR if window.latest is None else window.latest))
        return Moment(Fraction(window.earliest))
    if told.limit is not None:
        return told.holds
    assert told.breaks is not None
    # What breaks beyond a value holds at it; what breaks at one, just before.
    return told.breaks if told.breaks.open is False and told.wider else Moment(told.breaks.ticks)


def check_ways(
    system: System, question: Question, kept: frozenset[Bound], rng: Random, mix: Counter[str]
) -> str | None:
    """None, or what disagrees."""
    asked = tuple(frozenset({end}) for end in sorted(kept, key=str))
    for both_ways in ways().margins(system, question, asked, LIMITS, kept):
        for told in both_ways:
            mix["exact" if told.limit is None else "limit"] += 1
            ends = frozenset(told.ends)
            declared = as_declared(system, ends)
            far = as_far(system, told)
            if far is not None:
                for at in some_between(declared, far, rng):
                    if at.ticks == far.ticks and (far.open or at == told.breaks):
                        continue
                    other = with_ends_at(with_other_values(system, kept, rng), ends, at)
                    for there in (with_ends_at(system, ends, at), other):
                        if any(empty(action.window) for action in there.actions):
                            continue
                        verdict = with_ages(there, question)
                        mix[f"so far {verdict.value}"] += 1
                        if verdict is Verdict.FAILS:
                            return f"{told} at {at}"
            if told.breaks is not None:
                mix["wider breaks" if told.wider else "narrower breaks"] += 1
                mix["beyond"] += told.breaks.open
                verdict = with_ages(with_ends_at(system, ends, told.breaks), question)
                if verdict is not Verdict.FAILS:
                    return f"{told} at itself: {verdict}"
    return None


def empty(window: TickWindow | None) -> bool:
    if window is None or window.latest is None:
        return False
    is_open = window.earliest_open or window.latest_open
    return window.earliest > window.latest or (window.earliest == window.latest and is_open)


def check_endings(system: System, question: Question, kept: frozenset[Bound], mix: Counter[str]) -> str | None:
    """None, or what disagrees."""
    asked = tuple(frozenset({end}) for end in sorted(kept, key=str))
    for relying, declared in regions().margins(system, question, asked, LIMITS, (kept, None)):
        for told, there in ((relying, with_only(system, kept | frozenset(relying.ends))), (declared, system)):
            ends = frozenset(told.ends)
            mix["exact" if told.limit is None else "limit"] += 1
            expected: dict[Moment, Verdict] = {}
            if told.breaks is None and told.limit is None:
                mix["any change"] += 1
                expected[as_far(system, told) or Moment(Fraction(0))] = Verdict.HOLDS
            if told.breaks is not None:
                mix["breaks"] += 1
                expected[told.breaks] = Verdict.FAILS
                if told.limit is None:
                    expected[Moment(told.breaks.ticks, open=True)] = Verdict.HOLDS
            if told.holds is not None:
                expected[told.holds] = Verdict.HOLDS
            for at, verdict in expected.items():
                again = with_ages(with_ends_at(there, ends, at), question)
                mix["asked anew"] += 1
                if again not in (verdict, Verdict.UNDECIDED):
                    return f"{told} at {at}: {again}"
    return None


AT = Fraction


def by_hand(system: System, rule: str, end: Bound) -> tuple[Margin, ...]:
    """The margins of one end, relying on what the verdict rests on."""
    question = Question(rule, Timing.DECLARED)
    engine = next(one for one in in_time_on_graphs() if one.decides(system, question))
    (answer,) = engine.answer(system, (question,), Limits())
    kept = frozenset(answer.rests_on or ())
    assert end in kept
    if rule == "b ends" or rule == "x ends":
        ((relying, _),) = regions().margins(system, question, (frozenset({end}),), Limits(), (kept, None))
        return (relying,)
    (both_ways,) = ways().margins(system, question, (frozenset({end}),), Limits(), kept)
    return both_ways


def test_by_hand_a_trap_breaks_it_where_it_may_shut_before_the_latest() -> None:
    """B comes between 1 and 2, the trap shuts at 3 at the earliest."""
    system = plan_with_a_trap(TickWindow(1, 2), TickWindow(3, 4))
    later, sooner = by_hand(system, "b", Bound("b comes", True))
    assert (later.breaks, later.limit, later.wider) == (Moment(AT(3)), None, True)
    assert (sooner.breaks, sooner.limit, sooner.wider) == (None, None, False)
    sooner, later = by_hand(system, "b", Bound("trap shuts", False))
    assert (sooner.breaks, sooner.limit) == (Moment(AT(2)), None)
    assert (later.breaks, later.limit) == (None, None)
    (alone,) = by_hand(system, "b ends", Bound("b comes", True))
    assert (alone.breaks, alone.limit) == (Moment(AT(3)), None)
    (alone,) = by_hand(system, "b ends", Bound("trap shuts", False))
    assert (alone.breaks, alone.limit) == (Moment(AT(2)), None)


def test_by_hand_where_another_time_would_have_to_be_known_it_is_told_how_far_it_holds() -> None:
    """The wheel stays for 2 at least, and for 3 at most, which is not relied on."""
    system = plan_with_a_wheel(TickWindow(1, None))
    sooner, later = by_hand(system, "x", Bound("x comes", False))
    assert (sooner.breaks, sooner.limit) == (None, None)
    # It does not surely hold at 2, when the wheel may turn; the last value tried short of that is 15/8.
    assert (later.breaks, later.holds) == (Moment(AT(4)), Moment(AT(15, 8)))
    sooner, later = by_hand(system, "x", Bound("wheel to 1", False))
    assert (sooner.breaks, sooner.limit, sooner.holds) == (None, "further on it is not known", Moment(AT(1), open=True))
    assert (later.breaks, later.limit) == (None, None)


def test_by_hand_what_must_come_before_the_wheel_turns_breaks_where_it_may_come_as_late() -> None:
    system = plan_with_a_wheel(TickWindow(1, 1))
    (alone,) = by_hand(system, "x ends", Bound("x comes", True))
    assert (alone.breaks, alone.limit) == (Moment(AT(2)), None)
    (alone,) = by_hand(system, "x ends", Bound("wheel to 1", False))
    assert (alone.breaks, alone.limit) == (Moment(AT(1)), None)


def test_where_another_time_stands_in_no_change_breaks_it_unless_that_one_is_not_relied_on() -> None:
    """A second way by which b comes, as soon as the first: either is enough, and one of them is relied on."""
    system = plan_with_a_trap(TickWindow(1, 2), TickWindow(3, 4))
    first = next(action for action in system.actions if action.id == "b comes")
    twice = replace(system, actions=(*system.actions, replace(first, id="b comes too")))
    question = Question("b ends", Timing.DECLARED)
    (answer,) = regions().answer(twice, (question,), Limits())
    kept = frozenset(answer.rests_on or ())
    (latest,) = (end for end in kept if end.latest)
    ((relying, declared),) = regions().margins(twice, question, (frozenset({latest}),), Limits(), (kept, None))
    assert (relying.breaks, relying.limit) == (Moment(AT(3)), None)
    assert (declared.breaks, declared.limit) == (None, None)


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("wider", [True, False])
@pytest.mark.parametrize("change", [AT(1), AT(7), AT(100), AT(1, 2), AT(7, 3), AT(29, 8), AT(5, 16)])
@pytest.mark.parametrize("reached", [True, False])
def test_where_it_ceases_is_found_exactly_or_between_two_values(
    up: bool, wider: bool, change: Fraction, reached: bool
) -> None:
    """`reached`: it ceases at the value, else beyond it. The end may be open: that is less where windows grow wider,
    more where they become narrower."""
    sign = 1 if up else -1
    declared = Moment(AT(200))
    tried: list[Moment] = []

    def broken(at: Moment) -> bool:
        tried.append(at)
        assert at.ticks.denominator <= 8
        short = sign * (at.ticks - declared.ticks) - change
        if short or not at.open:
            return short > 0 or (short == 0 and reached)
        return not wider

    found = first_broken(declared, up=up, wider=wider, stop=None, broken=broken)
    assert len(tried) == len(set(tried)) <= 40
    value = declared.ticks + sign * change
    if change.denominator <= 8 and reached is wider:
        assert (found.breaks, found.exact) == (Moment(value, open=not reached), True)
        return
    assert not found.exact
    assert found.breaks is not None
    assert 0 < abs(found.breaks.ticks - found.holds.ticks) <= AT(1, 8)
    assert sign * found.holds.ticks <= sign * value <= sign * found.breaks.ticks


@pytest.mark.no_cover
def test_ways_lead_on_as_far_as_a_margin_says_and_not_where_it_breaks() -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_CASES):
        rng = Random(seed)
        for system, question, kept in held(PropertyKind.ALWAYS_POSSIBLE, seed):
            wrong = check_ways(system, question, kept, rng, mix)
            assert wrong is None, f"seed {seed}, {question}: {wrong}"
    print(sorted(mix.items()))
    assert min(mix["exact"], mix["so far holds"]) >= 10
    assert min(mix["wider breaks"], mix["narrower breaks"]) >= 1


@pytest.mark.no_cover
def test_runs_end_up_to_a_margin_and_not_at_it() -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_CASES):
        for system, question, kept in held(PropertyKind.ALWAYS_ENDS, seed):
            wrong = check_endings(system, question, kept, mix)
            assert wrong is None, f"seed {seed}, {question}: {wrong}"
    print(sorted(mix.items()))
    assert min(mix["exact"], mix["breaks"]) >= 10
