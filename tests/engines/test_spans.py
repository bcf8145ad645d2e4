"""Extremes of the time between two moments of one run, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from interlock.core.measuring import Span, Unlike, spans
from interlock.core.question import Ends, Moment, Question, Scenario, Timing
from interlock.core.system import Assignment, System, TickWindow
from interlock.core.timed import TimedMeaning
from interlock.engines.spans import Chain
from interlock.logic.expression import FALSE, has
from tests.engines.plan import Plan, never

ASKED = Question("nothing", Timing.DECLARED)


def counter(window: TickWindow, restarts: tuple[str, ...] = ()) -> System:
    """A counter that goes from 0 to 2 by one event, which stays enabled when it has happened once; and a button."""
    plan = Plan()
    plan.item("n", 0, 1, 2)
    plan.item("button", "up", "down")
    up = Assignment("n", ((plan.has("n", 0), 1), (plan.has("n", 1), 2)))
    plan.event("n counts", plan.has("n", 0, 1), (up,), obliged=True)
    plan.actions[-1] = replace(plan.actions[-1], window=window)
    plan.event("button goes_down", {"button": "up"}, {"button": "down"}, restarts=restarts)
    return plan.system(never("nothing", FALSE))


def run_of(*steps: tuple[str, tuple[int, int]]) -> Scenario:
    situations = ((0, 0), *(situation for _, situation in steps))
    return Scenario((), situations, tuple(event for event, _ in steps), Ends.REACHED)


TWICE = run_of(("n counts", (1, 0)), ("n counts", (2, 0)))
PRESSED = run_of(("button goes_down", (0, 1)), ("n counts", (1, 1)))


def test_what_has_happened_starts_afresh() -> None:
    chain = Chain(counter(TickWindow(2, 3)), ASKED, TWICE, waits=False)
    assert (chain.least(0, 2), chain.greatest(0, 2)) == (Moment(Fraction(4)), Moment(Fraction(6)))
    assert (chain.least(1, 2), chain.greatest(1, 2)) == (Moment(Fraction(2)), Moment(Fraction(3)))


@pytest.mark.parametrize(("restarts", "least", "greatest"), [((), 0, 3), (("n counts",), 2, 3)])
def test_what_is_restarted_starts_afresh(restarts: tuple[str, ...], least: int, greatest: int) -> None:
    chain = Chain(counter(TickWindow(2, 3), restarts), ASKED, PRESSED, waits=False)
    assert (chain.least(1, 2), chain.greatest(1, 2)) == (Moment(Fraction(least)), Moment(Fraction(greatest)))


def test_open_ends_make_open_extremes_and_a_run_as_near_as_one_likes() -> None:
    chain = Chain(counter(TickWindow(2, 3, True, True)), ASKED, TWICE, waits=False)
    assert chain.least(0, 2) == Moment(Fraction(4), open=True)
    assert chain.greatest(0, 2) == Moment(Fraction(6), open=True)
    assert 5 < chain.at_extreme(0, 2, greatest=True).run[-1] < 6
    assert 4 < chain.at_extreme(0, 2, greatest=False).run[-1] < 5


def test_where_nothing_is_obliged_there_is_no_greatest() -> None:
    chain = Chain(counter(TickWindow(2, 3)), ASKED, TWICE, waits=True)
    assert chain.greatest(2, 3) is None
    assert chain.greatest(0, 2) == Moment(Fraction(6))


@pytest.mark.parametrize(
    ("begins", "ends", "expected"),
    [
        ([1], [2], Span(Fraction(5, 2), Fraction(5))),
        ([1], [0], Span(Fraction(5, 2), None)),
        ([0, 1], [0], Span(Fraction(0), Fraction(0))),
    ],
)
def test_a_span_is_read_off_a_run_from_a_rising_to_what_ends_it(
    begins: list[int], ends: list[int], expected: Span
) -> None:
    timed = TimedMeaning(counter(TickWindow(2, 3)), ASKED)
    found = spans(timed, has("n", begins, 3), has("n", ends, 3), TWICE, (Fraction(5, 2), Fraction(5)))
    assert found == (expected,)


@pytest.mark.parametrize("run", [(Fraction(1), Fraction(4)), (Fraction(2), Fraction(6)), (Fraction(3), Fraction(2))])
def test_a_run_at_times_that_the_windows_do_not_allow_is_refused(run: tuple[Fraction, ...]) -> None:
    timed = TimedMeaning(counter(TickWindow(2, 3)), ASKED)
    with pytest.raises(Unlike):
        spans(timed, FALSE, FALSE, TWICE, run)
