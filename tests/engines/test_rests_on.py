"""What `always_possible` and `always_ends` rest on: whatever the values of all other ends are, the rule holds.

Random systems, ends outside of what a verdict rests on moved at random, and the verdict worked out anew by regions or
by whole ticks, which know nothing of the proof.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest

from interlock.core.question import Bound, Question, Timing, Verdict
from interlock.core.system import Action, PropertyKind, System, TickWindow
from interlock.core.timed import age_of
from interlock.engines.aged.few import ByEnds
from interlock.engines.api import Engine, Limits
from interlock.engines.ends import ends_of, fewest
from interlock.engines.regions.engine import either_on
from interlock.engines.table import in_time_on_graphs
from interlock.engines.timed.graph import Graph, TooMany, Unsettling
from interlock.engines.timed.search import TooManyZones
from interlock.engines.ways import relying
from interlock.engines.ways.engine import WaysEngine
from interlock.engines.ways.relying import Relying
from interlock.engines.ways.whatever import surely_good
from tests.engines.in_time import ENGINES, TimedPlan, ask, decides
from tests.engines.plan import always_ends, always_possible
from tests.random_timed import random_timed_case

LIMITS = Limits(states=400)
N_CASES = 70
N_MOVES = 3


def with_other_values(system: System, kept: frozenset[Bound], rng: Random) -> System:
    """The system with all ends but these moved at random: what has an earliest has one or none, what has a latest has
    one, what has none keeps none."""
    moved: dict[str, TickWindow] = {}

    def window(action: Action) -> TickWindow:
        old, of = action.window, age_of(action)
        assert old is not None
        if of in moved:
            return moved[of]
        early, early_open = old.earliest, old.earliest_open
        late, late_open = old.latest, old.latest_open
        if (early or early_open) and Bound(of, False) not in kept:
            most = 5 if late is None or Bound(of, True) not in kept else late - late_open
            early, early_open = rng.randint(0, max(most, 0)), rng.random() < 0.2
            if late is not None and Bound(of, True) in kept and early == late:
                early_open = False
        if late is not None and Bound(of, True) not in kept:
            late, late_open = early + rng.choice([0, 1, 1, 2, 4]), rng.random() < 0.2
        if late is not None and early >= late and (early_open or late_open):
            if Bound(of, True) not in kept:
                late = early + 1
            else:
                early, early_open = 0, False
        moved[of] = TickWindow(early, late, early_open, late_open)
        return moved[of]

    owners = {age_of(a) for a in system.actions if a.window is not None and a.window.bears}
    own_first = sorted((a for a in system.actions if a.id in owners), key=lambda a: a.id)
    for action in own_first:
        window(action)
    actions = tuple(replace(a, window=window(a)) if age_of(a) in owners else a for a in system.actions)
    return replace(system, actions=actions, digest="")


def wheels(seed: int) -> System:
    """X, and wheels that turn; X comes only where they stand so, and one may be stopped for ever. Times decide in many
    of these."""
    rng = Random(seed)
    closed = seed % 3 != 0
    plan = TimedPlan()
    plan.item("x", "no", "yes")
    sizes = [rng.choice([2, 2, 3]) for _ in range(rng.choice([1, 2, 2]))]

    def window(never: float) -> TickWindow:
        earliest = rng.choice([0, 1, 1, 2, 3])
        latest = None if rng.random() < never else earliest + rng.choice([0, 1, 1, 2])
        early_open = not closed and rng.random() < 0.25 and latest != earliest
        late_open = not closed and rng.random() < 0.25 and latest not in (None, earliest)
        return TickWindow(earliest, latest, early_open, late_open)

    for i, size in enumerate(sizes):
        plan.item(f"wheel {i}", *range(size), "stopped")
        for at in range(size):
            plan.windowed(f"wheel {i} from {at}", {f"wheel {i}": at}, {f"wheel {i}": (at + 1) % size}, window(0.1))
    if rng.random() < 0.5:
        plan.windowed("stops", {"wheel 0": 0, "x": "no"}, {"wheel 0": "stopped"}, window(0.1))
    where = {f"wheel {i}": rng.randrange(size) for i, size in enumerate(sizes) if i == 0 or rng.random() < 0.6}
    plan.windowed("x comes", {**where, "x": "no"}, {"x": "yes"}, window(0.3))
    if rng.random() < 0.4:
        plan.windowed("x goes", {"x": "yes", "wheel 0": rng.randrange(sizes[0])}, {"x": "no"}, window(0.3))
    return plan.system(always_ends("ends", plan.at(x="yes")), always_possible("possible", plan.at(x="yes")))


def drawn(seed: int, kind: PropertyKind) -> Iterator[tuple[System, Question]]:
    """The rules of a kind in a system of wheels, and in a random timed system now and then."""
    systems = [wheels(seed)]
    if seed % 6 == 0:
        systems.append(random_timed_case(seed, closed=seed % 4 != 0).system)
    for system in systems:
        for rule in system.properties:
            if rule.kind is kind and not rule.passing:
                yield system, Question(rule.id, Timing.DECLARED, seed % 2)


def with_ages(system: System, question: Question) -> Verdict:
    """The verdict of an engine that knows nothing of leaving out ends."""
    engine: Engine = WaysEngine(whatever=False)
    if not engine.decides(system, question):
        able = [one for one in (ENGINES["ticks"], ENGINES["regions"]) if one.decides(system, question)]
        engine = able[0]
    (answer,) = engine.answer(system, (question,), LIMITS)
    return answer.verdict


@pytest.mark.no_cover
@pytest.mark.parametrize("kind", [PropertyKind.ALWAYS_POSSIBLE, PropertyKind.ALWAYS_ENDS])
def test_a_rule_holds_whatever_the_ends_are_that_it_does_not_rest_on(kind: PropertyKind) -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_CASES):
        rng = Random(seed)
        for system, question in drawn(seed, kind):
            engine = next(one for one in in_time_on_graphs() if one.decides(system, question))
            (answer,) = engine.answer(system, (question,), LIMITS)
            mix[answer.verdict.value] += 1
            if answer.rests_on is None:
                mix["not known"] += answer.verdict is Verdict.HOLDS
                continue
            assert answer.verdict is Verdict.HOLDS
            mix["rests on some"] += bool(answer.rests_on)
            for _ in range(N_MOVES):
                other = with_other_values(system, frozenset(answer.rests_on), rng)
                again = with_ages(other, question)
                assert again is not Verdict.FAILS, (seed, question, answer.rests_on)
                mix[f"moved, {again.value}"] += 1
    print(mix)
    assert mix["moved, holds"] >= 40, mix
    assert mix["rests on some"] >= 4, mix
    assert mix["not known"] <= 3, mix


def test_by_all_ends_the_proof_says_what_ages_say_and_by_none_what_it_says_without_ages() -> None:
    mix: Counter[tuple[str, bool]] = Counter()
    for seed in range(N_CASES):
        for system, question in drawn(seed, PropertyKind.ALWAYS_POSSIBLE):
            try:
                by_all = Relying(system, question, frozenset(ends_of(system)), LIMITS).holds()
                by_none = Relying(system, question, frozenset(), LIMITS).holds()
                without = surely_good(Graph(system, question, LIMITS.states))
            except (TooMany, TooManyZones, Unsettling):
                continue
            assert by_all == (with_ages(system, question) is Verdict.HOLDS), (seed, question)
            # The one looks at no more than is reached whatever the ages are, the other at all that any timing reaches.
            assert by_none == without, (seed, question)
            mix["all", by_all] += 1
            mix["none", by_none] += 1
    print(mix)
    assert min(mix.values()) >= 8, mix


def plan_with_a_trap(b: TickWindow, shut: TickWindow) -> System:
    """B may come while nothing is shut."""
    plan = TimedPlan()
    plan.item("b", "no", "yes")
    plan.item("trap", "open", "shut")
    plan.windowed("b comes", {"b": "no", "trap": "open"}, {"b": "yes"}, b)
    plan.windowed("trap shuts", {"trap": "open", "b": "no"}, {"trap": "shut"}, shut)
    return plan.system(always_possible("b", plan.at(b="yes")), always_ends("b ends", plan.at(b="yes")))


B_AT_LEAST, B_AT_MOST = Bound("b comes", False), Bound("b comes", True)
SHUT_AT_LEAST, SHUT_AT_MOST = Bound("trap shuts", False), Bound("trap shuts", True)


@pytest.mark.parametrize(
    ("b", "shut", "possible", "ends"),
    [
        # B comes at its latest, whatever its earliest is, and the trap only after that.
        (TickWindow(1, 2), TickWindow(3, 4), (B_AT_MOST, SHUT_AT_LEAST), (B_AT_MOST, SHUT_AT_LEAST)),
        (TickWindow(1, 3, latest_open=True), TickWindow(3, 4), None, (B_AT_MOST, SHUT_AT_LEAST)),
    ],
)
def test_by_hand_what_a_way_before_a_trap_rests_on(
    b: TickWindow, shut: TickWindow, possible: tuple[Bound, ...] | None, ends: tuple[Bound, ...]
) -> None:
    system = plan_with_a_trap(b, shut)
    if possible is not None:
        assert ask("ways", system, "b").rests_on == possible
    for engine in ("ticks", "regions"):
        if decides(engine, system, "b ends"):
            answer = ask(engine, system, "b ends")
            assert (answer.verdict is Verdict.HOLDS) == bool(ends)
            assert (answer.rests_on or ()) == ends


def plan_with_a_wheel(x: TickWindow) -> System:
    """X needs the wheel at 0 for some time; the wheel stays there for 2, and comes back."""
    plan = TimedPlan()
    plan.item("wheel", 0, 1)
    plan.item("x", "no", "yes")
    plan.within("wheel to 1", {"wheel": 0}, {"wheel": 1}, 2, 3)
    plan.within("wheel to 0", {"wheel": 1}, {"wheel": 0}, 2, 3)
    plan.windowed("x comes", {"wheel": 0, "x": "no"}, {"x": "yes"}, x)
    return plan.system(always_ends("x ends", plan.at(x="yes")), always_possible("x", plan.at(x="yes")))


def test_by_hand_what_comes_though_a_wheel_turns_rests_on() -> None:
    # It comes within 1 as soon as the wheel is at 0, where that stays for more.
    system = plan_with_a_wheel(TickWindow(1, 1))
    for engine in ("ticks", "regions"):
        assert ask(engine, system, "x ends").rests_on == (Bound("wheel to 1", False), Bound("x comes", True))


def test_by_hand_what_may_come_though_a_wheel_turns_rests_on() -> None:
    # It may come from 1 on, and the wheel stays at 0 for more; else it may be turned away each time.
    system = plan_with_a_wheel(TickWindow(1, None))
    assert ask("ways", system, "x").rests_on == (Bound("wheel to 1", False), Bound("x comes", False))
    assert ask("ways", plan_with_a_wheel(TickWindow(0, None)), "x").rests_on == ()


def test_what_is_obliged_is_not_put_off_for_ever_though_its_latest_is_left_out() -> None:
    plan = TimedPlan()
    plan.at_time("x", 3)
    system = plan.system(always_ends("x", plan.at(x="yes")))
    for engine in ("ticks", "regions"):
        assert ask(engine, system, "x").rests_on == ()


@pytest.mark.no_cover
def test_beyond_the_limit_it_may_hold_by_few_ends() -> None:
    # Six more wheels, each with ages of its own: far too many with all ages.
    def with_more(x: TickWindow) -> System:
        plan = TimedPlan()
        for i in range(6):
            plan.item(f"w {i}", 0, 1)
            for at in (0, 1):
                plan.within(f"w {i} from {at}", {f"w {i}": at}, {f"w {i}": 1 - at}, 2 + i, 3 + 2 * i)
        small = plan_with_a_wheel(x)
        large = plan.system()
        return replace(
            large,
            variables=(*small.variables, *large.variables),
            start=tuple((*one, *other) for one in small.start for other in large.start),
            actions=(*small.actions, *large.actions),
            properties=small.properties,
        )

    for name in ("ticks", "regions"):
        limits = Limits(states=2_000)
        question = Question("x ends", Timing.DECLARED)
        (answer,) = ENGINES[name].answer(with_more(TickWindow(1, 1)), (question,), limits)
        assert (answer.verdict, answer.limit) == (Verdict.HOLDS, None)
        assert answer.rests_on == (Bound("wheel to 1", False), Bound("x comes", True))
        # It may be turned away each time: that is not known so.
        (answer,) = ENGINES[name].answer(with_more(TickWindow(2, 3)), (question,), limits)
        assert (answer.verdict, answer.rests_on) == (Verdict.UNDECIDED, None)


def test_what_holds_by_few_ends_holds_and_most_that_holds_does_so() -> None:
    mix: Counter[tuple[str, bool]] = Counter()
    for seed in range(N_CASES):
        for system, question in drawn(seed, PropertyKind.ALWAYS_ENDS):
            by_few = ByEnds(system, question, LIMITS, either_on).enough()
            verdict = with_ages(system, question)
            assert by_few is None or verdict is not Verdict.FAILS, (seed, question, by_few)
            mix[verdict.value, by_few is not None] += 1
    print(mix)
    assert mix["holds", True] >= 20, mix
    assert mix["holds", True] >= 5 * mix["holds", False], mix
    assert mix["fails", False] >= 20, mix


def test_what_is_always_possible_by_few_ends_is_so() -> None:
    mix: Counter[tuple[str, bool]] = Counter()
    for seed in range(N_CASES // 2):
        system, question = next(drawn(seed, PropertyKind.ALWAYS_POSSIBLE))
        by_few = relying.ByEnds(system, question, LIMITS, 20_000).enough()
        verdict = with_ages(system, question)
        assert by_few is None or verdict is not Verdict.FAILS, (seed, question, by_few)
        mix[verdict.value, by_few is not None] += 1
    print(mix)
    assert mix["holds", True] >= 8, mix
    assert mix["holds", True] >= 3 * mix["holds", False], mix
    assert mix["fails", False] >= 8, mix


@pytest.mark.parametrize("needed", [(), (3,), (0, 6), (1, 2, 5)])
def test_few_ends_are_found_with_few_trials(needed: tuple[int, ...]) -> None:
    ends = tuple(Bound(f"event {i}", i % 2 == 0) for i in range(7))
    tried: list[frozenset[Bound]] = []

    def holds(chosen: frozenset[Bound]) -> bool:
        tried.append(chosen)
        return chosen.issuperset(ends[i] for i in needed)

    assert fewest(ends, holds) == tuple(ends[i] for i in needed)
    assert len(tried) <= 20


def test_where_it_does_not_hold_by_all_ends_none_are_found() -> None:
    assert fewest((Bound("one", True), Bound("two", True)), lambda _: False) is None
    assert fewest((), lambda _: False) is None
