"""On random timed systems, the extremes of times are what a walk in whole ticks finds by trying everything.

The walk keeps how long each rising has waited beside the plain timed meaning; it knows nothing of bounds or zones.
Closed windows only: whole ticks are exact for them (Henzinger, Manna and Pnueli 1992). With open ends the extremes lie
between those of two systems of closed windows, one in which open ends miss by a tick of many and one in which they are
closed.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

import pytest

from interlock.analysis.extremes import Asked, Stopwatch
from interlock.analysis.result_timing import Extreme, Measured
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import Action, System
from interlock.core.timed import TimedMeaning, TimedState
from interlock.engines.api import Limits
from interlock.logic.expression import Expression, has
from tests.engines.tick_walk import is_closed, windows_of, with_windows
from tests.random_timed import random_timed_case

pytestmark = pytest.mark.no_cover

N_CHUNKS = 2
N_CASES = 20
MOST = 6_000
SCALE = 8
LONGEST = 30
ONE = Fraction(1)


class TooMany(Exception):
    """More timed states than the limit."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Least and greatest ticks seen (None: no rising met; greatest at the cap: longer than anything that ends)."""

    least: int | None
    greatest: int | None
    risen: bool


def walk(system: System, asked: Asked, question: Question, cap: int = LONGEST) -> Seen:
    """Tries everything in whole ticks. The oldest and the newest rising that wait are kept, as ages up to a cap."""
    timed = TimedMeaning(system, question)
    true = timed.plain.true
    constants = [c for w in windows_of(timed.plain.system, question) for c in (w.earliest, w.latest or 0)]
    far = Fraction(max(constants, default=0) + 1)
    least: int | None = None
    greatest: int | None = None
    risen = False
    State = tuple[TimedState, tuple[int, int] | None, bool]
    work: list[State] = []
    seen: set[State] = set()

    def reached(state: TimedState, waiting: tuple[int, int] | None, held: bool) -> None:
        nonlocal least, greatest, risen
        valuation = state.state.valuation
        if timed.plain.settled(valuation):
            holds = true(asked.begins, valuation)
            if holds and not held:
                risen = True
                waiting = (0, 0) if waiting is None else (waiting[0], 0)
            held = holds
            if waiting is not None:
                greatest = max(greatest or 0, waiting[0])
                if true(asked.until, valuation):
                    least = waiting[1] if least is None else min(least, waiting[1])
                    waiting = None
        found = (state, waiting, held)
        if found not in seen:
            seen.add(found)
            work.append(found)
            if len(seen) > MOST:
                raise TooMany

    for state, _ in timed.starts():
        reached(state, None, False)
    while work:
        state, waiting, held = work.pop()
        if timed.plain.settled(state.state.valuation) and timed.may_wait(state, ONE):
            later = timed.waited(state, ONE)
            ages = tuple((id, min(age, far)) for id, age in later.ages)
            longer = None if waiting is None else (min(waiting[0] + 1, cap), min(waiting[1] + 1, cap))
            reached(TimedState(later.state, ages), longer, held)
        for action in timed.enabled(state):
            reached(timed.after(action, state), waiting, held)
    return Seen(least, greatest, risen)


def asked_of(system: System, rng: Random) -> Asked:
    variables = [v for v in system.variables if len(v.values) > 1]

    def some() -> Expression:
        variable = rng.choice(variables)
        size = len(variable.values)
        return has(variable.name, rng.sample(range(size), rng.randint(1, size - 1)), size)

    return Asked(some(), None if rng.random() < 0.3 else some())


def bound(system: System) -> System:
    """The system with an end to every window, so that less of it may never come."""

    def action(one: Action) -> Action:
        if one.window is None or one.window.latest is not None or one.modes or one.ages_with:
            return one
        window = replace(one.window, latest=one.window.earliest + 2)
        return replace(one, window=window, obliged=True)

    return replace(system, actions=tuple(map(action, system.actions)))


@pytest.mark.parametrize("chunk", range(N_CHUNKS))
def test_extremes_are_what_a_walk_in_ticks_finds(chunk: int) -> None:
    mix: Counter[str] = Counter()
    for i in range(N_CASES):
        seed = 2_000 + chunk * N_CASES + i
        disagreement = check(seed, mix)
        assert disagreement is None, f"seed {seed}: {disagreement}"
    print(sorted(mix.items()))
    assert mix["closed, compared"] >= 0.4 * N_CASES
    assert mix["between bounds"] >= 2
    assert mix["endless"] >= 2
    assert mix["more than one tick apart"] >= 1
    assert mix["undecided"] <= 0.2 * N_CASES


def check(seed: int, mix: Counter[str]) -> str | None:
    """None, or what disagrees."""
    rng = Random(seed)
    system = random_timed_case(seed, closed=seed % 4 != 0).system
    system = bound(system) if seed % 3 else system
    asked = asked_of(system, rng)
    failures = rng.choice([0, 0, 1])
    question = Question(system.properties[0].id, Timing.DECLARED, failures)
    measured = Stopwatch(system, Limits(states=20_000), failures).measure(asked)
    mix["undecided"] += not measured.decided
    mix["endless"] += measured.latest.endless
    closed = is_closed(system, question)
    try:
        if closed:
            return agrees(measured, walk(system, asked, question), mix)
        inner, outer = (
            walk(with_windows(system, question, SCALE, miss), asked, question, LONGEST * SCALE) for miss in (1, 0)
        )
    except TooMany:
        return None
    return lies_between(measured, inner, outer, mix)


def agrees(measured: Measured, seen: Seen, mix: Counter[str]) -> str | None:
    earliest, latest = measured.earliest, measured.latest
    if Verdict.UNDECIDED in (earliest.verdict, latest.verdict):
        return None
    mix["closed, compared"] += 1
    if earliest.never:
        same = seen.least is None and seen.risen == earliest.risen
        return None if same else f"never, but the walk says {seen}"
    if (ticks(earliest), seen.risen) != (seen.least, True):
        return f"earliest {ticks(earliest)}, the walk says {seen}"
    if latest.endless:
        return None if seen.greatest == LONGEST else f"endless, but the walk says {seen}"
    mix["more than one tick apart"] += ticks(latest) != ticks(earliest)
    return None if ticks(latest) == seen.greatest else f"latest {ticks(latest)}, the walk says {seen}"


def ticks(extreme: Extreme) -> int | None:
    """Ticks of an extreme that is reached."""
    if extreme.length is None:
        return None
    return -1 if extreme.length.open else extreme.length.ticks


def lies_between(measured: Measured, inner: Seen, outer: Seen, mix: Counter[str]) -> str | None:
    earliest, latest = measured.earliest, measured.latest
    if earliest.verdict is Verdict.HOLDS:
        if earliest.length is None:
            if inner.least is not None:
                return f"never, but the narrower system says {inner}"
        elif outer.least is None or earliest.length.ticks * SCALE < outer.least:
            return f"earliest {earliest.length}, but the wider system says {outer}"
        elif inner.least is not None and earliest.length.ticks * SCALE > inner.least:
            return f"earliest {earliest.length}, but the narrower system says {inner}"
        mix["between bounds"] += 1
    if latest.verdict is Verdict.HOLDS and latest.length is not None:
        most = latest.length.ticks * SCALE
        if most < (inner.greatest or 0) or most > (outer.greatest or 0):
            return f"latest {latest.length}, but {inner} and {outer}"
    return None
