"""Over arrays, times are held in the longest step that measures all that count: what they are in ticks makes no
difference, and where they are too far apart for that it is said.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.timed.engine import ZonesEngine
from tests.engines.plan import Plan, never
from tests.random_timed import random_timed_case

PLAIN, ARRAYS = ZonesEngine(small=1_000_000), ZonesEngine(small=0, near=False)
FACTOR = 10**10


def stretched(window: TickWindow | None, factor: int) -> TickWindow | None:
    if window is None:
        return None
    latest = None if window.latest is None else window.latest * factor
    return replace(window, earliest=window.earliest * factor, latest=latest)


def in_smaller_ticks(system: System, factor: int) -> System:
    """The same in ticks of which so many make one of before."""
    return replace(
        system,
        actions=tuple(replace(one, window=stretched(one.window, factor)) for one in system.actions),
        properties=tuple(replace(one, within=stretched(one.within, factor)) for one in system.properties),
    )


def test_smaller_ticks_make_no_difference_over_arrays() -> None:
    timing_decides = 0
    for seed in range(24):
        case = random_timed_case(seed, closed=seed % 3 != 0)
        smaller = in_smaller_ticks(case.system, FACTOR)
        for question in case.asked:
            (expected,) = ARRAYS.answer(case.system, (question,), Limits(states=20_000))
            (answer,) = ARRAYS.answer(smaller, (question,), Limits(states=20_000))
            events = [one.scenario and one.scenario.events for one in (expected, answer)]
            assert (answer.verdict, answer.rests_on, events[1]) == (expected.verdict, expected.rests_on, events[0]), (
                seed
            )
            timing_decides += bool(answer.rests_on)
    assert timing_decides >= 3


def lamp(*, blinks: int, burns: int) -> System:
    """A lamp that lights and darkens by turns until it has burnt out."""
    plan = Plan()
    plan.item("lamp", "dark", "lit")
    plan.item("filament", "whole", "burnt out")
    plan.event("lights", {"lamp": "dark", "filament": "whole"}, {"lamp": "lit"})
    plan.event("darkens", {"lamp": "lit"}, {"lamp": "dark"})
    plan.event("burns out", {"filament": "whole"}, {"filament": "burnt out"})
    for i, (action, ticks) in enumerate(zip(plan.actions, (blinks, blinks, burns), strict=True)):
        plan.actions[i] = replace(action, window=TickWindow(ticks, ticks), obliged=True)
    return plan.system(never("lit at the end", plan.at({"lamp": "lit", "filament": "burnt out"})))


def test_times_too_far_apart_for_arrays_are_told_and_plain_python_decides_them_where_the_way_is_short() -> None:
    """Dark since the second blink when it burns out; at the third it may light before it burns out."""
    question = Question("lit at the end", Timing.DECLARED)
    far = lamp(blinks=10**10, burns=2 * 10**10 + 1)
    (plain,) = PLAIN.answer(far, (question,), Limits())
    assert plain.verdict is Verdict.HOLDS
    (arrays,) = ARRAYS.answer(far, (question,), Limits())
    assert arrays.verdict is Verdict.UNDECIDED
    assert arrays.limit is not None
    assert arrays.limit.startswith("its times are too far apart")
    (near,) = ARRAYS.answer(lamp(blinks=10**10, burns=3 * 10**10), (question,), Limits())
    assert near.verdict is Verdict.FAILS
