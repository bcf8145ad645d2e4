"""The railroad crossing, measured: how long the gate is closed, and how soon it is down after a train has come near.

R. Alur and D. L. Dill, A theory of timed automata, TCS 126 (1994), closing example; constants as in
`test_timed_examples.py`, ten ticks a minute.
"""

from __future__ import annotations

from interlock.analysis.extremes import Asked, Stopwatch
from interlock.analysis.result_timing import Length
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.logic.expression import FALSE
from tests.engines.plan import Plan, never
from tests.published.test_timed_examples import one_passage


def passage() -> tuple[Plan, System]:
    plan, _ = one_passage()
    return plan, plan.system(never("nothing", FALSE))


def test_the_gate_is_closed_for_over_one_minute_and_for_under_seven() -> None:
    """Down from 1 at the earliest; left before 5, raised before 6, up before 8: less than 7. Down before 2; left after
    2, raised at once, up after 3: more than 1."""
    plan, system = passage()
    measured = Stopwatch(system, Limits(), 0).measure(Asked(plan.has("gate", "down", "raising"), None))
    assert measured.earliest.length == Length(10, open=True)
    assert measured.latest.length == Length(70, open=True)


def test_the_gate_is_down_one_to_two_minutes_after_a_train_came_near() -> None:
    """The control takes just 1, the gate less than 1 after that; a train is in from 2 on."""
    plan, system = passage()
    stopwatch = Stopwatch(system, Limits(), 0)
    near, down = plan.has("train", "near"), plan.has("gate", "down")
    measured = stopwatch.measure(Asked(near, down))
    assert (measured.earliest.length, measured.latest.length) == (Length(10), Length(20, open=True))
    assert stopwatch.measure(Asked(near, plan.has("train", "in"))).earliest.length == Length(20, open=True)
