"""A scenario told step by step."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from interlock.analysis.result import Age, Missed, ToldScenario
from interlock.core.question import Ends
from interlock.core.system import ActionKind
from interlock.report.page import Page
from interlock.report.scenario import ENDS, WHO, summary, tell_scenario, unless_timing_forbids
from tests.made_results import BREACH, LOOP, event

MS = Fraction(1, 1000)


def told(scenario: ToldScenario) -> str:
    page = Page()
    tell_scenario(page, scenario, MS)
    return page.text()


def test_a_breach_is_told_from_the_start_to_the_values_that_broke_it() -> None:
    assert (
        told(BREACH)
        == """\
  At start   FAILURE: hold_fails is present
             train is away, ground is idle
  1  world    train arrives                     train: away -> standing
  2  logic    ground begin                      ground: idle -> charging
  3  at once  feeder closes                     feeder: open -> closed, rail:
                                                dead -> live
              settled
  4  FAILURE  feeder_welded happens
  5  world    train leaves (between 0 s and     train: standing -> away
              just before 2 s)
  Broken     rail is live and train is away
  Values     train is away (was standing), rail is live
"""
    )


def test_a_loop_says_from_where_on_it_repeats() -> None:
    assert (
        told(LOOP)
        == """\
  At start   key is rest
              from here on for ever:
  1  world    key turns                         key: rest -> turned
  2  world    key turns_back                    key: turned -> rest
  No end     this can repeat for ever without: ground is idle
"""
    )


def test_a_breach_in_a_passing_situation_says_so() -> None:
    passing = replace(BREACH, events=BREACH.events[:2])
    assert "Broken     rail is live and train is away (in passing)\n" in told(passing)


def test_a_breach_at_the_very_start_has_no_events() -> None:
    at_once = replace(BREACH, events=(), at_start=())
    assert told(at_once).startswith("  At start   train is away, ground is idle\n  Broken     rail")


@pytest.mark.parametrize(
    ("earliest", "latest", "words"),
    [
        (Age(30, False), Age(30, False), "(at 30 ms)"),
        (Age(30, False), None, "(from 30 ms on)"),
        (Age(30, True), Age(1500, False), "(between just after 30 ms and 1.5 s)"),
        (None, None, "train leaves  "),
    ],
)
def test_the_times_of_an_event_are_told_where_they_are_known(
    earliest: Age | None, latest: Age | None, words: str
) -> None:
    only = event("train leaves", "free", ("train", "in", "out"), earliest=earliest, latest=latest)
    page = Page(width=150)
    tell_scenario(page, replace(LOOP, loop_from=None, events=(only,)), MS)
    assert words in page.text()


def test_one_run_is_told_in_which_all_times_fit_together_and_when_the_deadline_is_missed() -> None:
    times = (Fraction(0), Fraction(0), Fraction(7, 2), Fraction(4), Fraction(2000))
    events = tuple(replace(one, at=at) for one, at in zip(BREACH.events, times, strict=True))
    timed = replace(BREACH, events=events)
    assert "  One run    events 1 to 2 at 0 s, 3 at 3.5 ms, 4 at 4 ms, 5 at 2 s\n" in told(timed)
    late = Missed(Age(2100, True), Fraction(2101))
    assert " 5 at 2 s, broken at 2.101 s " in " ".join(told(replace(timed, missed=late)).split())
    assert "  One run    broken at 2.101 s\n" in told(replace(BREACH, events=(), missed=late))
    assert "One run" not in told(BREACH)


def test_every_kind_of_event_and_every_end_has_words_of_its_own() -> None:
    assert set(WHO) == {kind.value for kind in ActionKind}
    assert len(set(WHO.values())) == len(WHO)
    assert set(ENDS) == set(Ends)


def test_a_summary_names_the_failures_and_counts_the_events() -> None:
    assert summary(BREACH) == "hold_fails (at the start) and feeder_welded, in 5 events"
    assert summary(LOOP) == "in 2 events"
    assert summary(replace(LOOP, events=())) == "at the start"


def test_what_timing_may_forbid_is_a_breach_or_a_way() -> None:
    assert unless_timing_forbids(BREACH) == "This breaks it, unless timing forbids:"
    assert unless_timing_forbids(replace(BREACH, ends=Ends.REACHED)) == "There is a way, unless timing forbids it:"


def test_numbers_of_events_stay_under_each_other() -> None:
    many = replace(LOOP, loop_from=None, events=LOOP.events * 6)
    lines = told(many).split("\n")
    assert lines[1].index("world") == lines[12].index("world")
