"""What pictures of times show: where a deadline begins to run, when commands are given, what declared timing leaves."""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.analysis.drawing import TimesPicture
from interlock.analysis.drawing_scenario import rule_scenario
from interlock.analysis.drawing_search import NoScenario
from interlock.analysis.drawing_times import lanes_of, rule_times
from interlock.analysis.inquiry import Asked, Inquiry
from interlock.analysis.options import Options
from interlock.core.question import Question, Verdict
from interlock.pipeline import load
from interlock.spec.model import Spec

BLINKER = """\
format: interlock/1
title: A lamp that is lit again and again
equipment:
  door: {states: [open, shut], start: open, moves: {shuts: {from: open, to: shut}}}
  lamp: {states: [dark, lit], start: dark, moves: {
    lights: {from: dark, to: lit, when: command light, takes: 20 ms .. 30 ms},
    goes_out: {from: lit, to: dark, when: not command light, takes: 20 ms .. 30 ms}}}
readings: {seen: {shows: door is shut}}
logic:
  ground:
    steps:
      rest: {start: true}
      first: {drives: [light], timeout: {after: 100 ms, to: between}}
      between: {timeout: {after: 50 ms, to: second}}
      second: {drives: [light]}
    moves: {begin: {from: rest, to: first, needs: {shut: seen}}}
rules:
  twice: {possible: lamp is lit and ground is second}
  soon: {after: door is shut, within: 15 ms, must: lamp is lit}
  steady: {condition: lamp is lit, lasts: 200 ms .. never}
  never_second: {never: lamp is lit and ground is rest}
"""


def spec_of(text: str) -> Spec:
    loaded = load(text.encode(), "x.yaml")
    assert loaded.spec is not None, loaded.mistakes
    return loaded.spec


BLINKING = spec_of(BLINKER)


def drawn(rule: str, *only: str) -> TimesPicture:
    found = rule_times(BLINKING, rule, only, Options())
    assert isinstance(found, TimesPicture)
    return found


def row_of(picture: TimesPicture, says: str) -> int:
    """The row of the first event that says so."""
    return next(i for i, event in enumerate(picture.events, 1) if event.says == says)


def test_a_command_is_given_and_withdrawn_with_the_steps_that_drive_it() -> None:
    picture = drawn("twice")
    (lane,) = (lane for lane in picture.lanes if lane.kind == "command")
    assert [stretch.value for stretch in lane.stretches] == ["not given", "given", "not given", "given"]
    (steps,) = (lane for lane in picture.lanes if lane.thing == "ground")
    assert [(one.first, one.n_rows) for one in lane.stretches] == [(one.first, one.n_rows) for one in steps.stretches]
    assert [lane.thing for lane in picture.lanes] == ["ground", "command light", "door", "lamp"]


def test_each_event_has_a_row_and_the_exact_times_of_its_way() -> None:
    picture = drawn("twice")
    assert [event.number for event in picture.events] == list(range(1, len(picture.events) + 1))
    ms = {event.says: (event.at or Fraction(0)) * picture.tick_s * 1000 for event in picture.events}
    begin = ms["ground begin"]
    assert ms["ground first timeout"] - begin == 100
    assert ms["ground between timeout"] - begin == 150
    last = picture.events[-1]
    assert last.says == "lamp lights"
    assert last.earliest is not None
    assert last.earliest.ticks * picture.tick_s * 1000 >= 170


def test_a_deadline_runs_from_the_settled_situation_that_sets_it_off() -> None:
    picture = drawn("soon")
    assert picture.missed is not None
    assert picture.runs is not None
    began, ticks = picture.runs
    assert ticks * picture.tick_s * 1000 == 15
    # All logic follows the door at once, and no time passes on the way: it settles before the next wait.
    assert began >= row_of(picture, "door shuts")
    assert picture.events[began - 1].at == picture.events[row_of(picture, "door shuts") - 1].at
    assert picture.missed.limit.ticks == ticks


def test_a_time_that_is_over_too_soon_runs_from_where_it_began_to_the_least_that_it_must_last() -> None:
    picture = drawn("steady")
    assert picture.missed is None
    assert picture.runs is not None
    began, ticks = picture.runs
    assert ticks * picture.tick_s * 1000 == 200
    assert picture.events[began - 1].says == "lamp lights"
    assert picture.events[-1].says == "lamp goes_out"


def test_lanes_are_chosen_by_the_names_of_things() -> None:
    assert {"door", "lamp", "ground", "seen", "command light"} == set(lanes_of(BLINKING))
    chosen = drawn("twice", "lamp", "command light")
    assert [lane.thing for lane in chosen.lanes] == ["command light", "lamp"]
    assert chosen.n_folded == drawn("twice").n_folded + 2
    assert len(chosen.events) == len(drawn("twice").events)


def test_what_holds_has_no_picture_and_any_timing_alone_has_no_times() -> None:
    assert rule_times(BLINKING, "never_second", (), Options()) == NoScenario(
        "never_second holds without failures", limit=False
    )
    found = rule_times(BLINKING, "twice", (), Options(declared_timing=False))
    assert found == NoScenario("twice: for any timing alone there are no times", limit=True)


def test_where_the_declared_timing_stays_undecided_the_way_of_any_timing_is_drawn_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def undecided(self: Inquiry, questions: tuple[Question, ...]) -> tuple[Asked, ...]:
        return tuple(Asked(one, Verdict.UNDECIDED, True, None, "too much", "zones") for one in questions)

    monkeypatch.setattr(Inquiry, "ask_in_time", undecided)
    chart = rule_scenario(BLINKING, "twice", Options())
    assert not isinstance(chart, NoScenario)
    assert chart.unless_timing
    assert not chart.timed
    assert rule_times(BLINKING, "twice", (), Options()) == NoScenario("too much", limit=True)


def test_the_chart_of_the_same_scenario_has_the_same_times() -> None:
    chart, picture = rule_scenario(BLINKING, "twice", Options()), drawn("twice")
    assert not isinstance(chart, NoScenario)
    assert chart.timed
    rows = {event.number: event for event in picture.events}
    assert chart.events
    assert all(rows[event.number] == event for event in chart.events)


FOR_EVER = """\
format: interlock/1
equipment:
  door: {states: [open, shut], start: open, moves: {shuts: {from: open, to: shut}}}
  lamp: {states: [dark, lit], start: dark, moves: {
    lights: {from: dark, to: lit, when: true, takes: 20 ms .. 30 ms},
    goes_out: {from: lit, to: dark, when: true, takes: 20 ms .. 30 ms}}}
rules: {ends: {always_ends: door is shut and lamp is lit, from: lamp is dark}}
"""


def test_of_what_repeats_for_ever_there_are_no_times_and_the_chart_tells_that_it_does() -> None:
    spec = spec_of(FOR_EVER)
    chart = rule_scenario(spec, "ends", Options())
    assert not isinstance(chart, NoScenario)
    assert chart.loop_from is not None
    found = rule_times(spec, "ends", (), Options())
    assert isinstance(found, NoScenario)
    assert "repeats for ever" in found.why
    assert found.limit
