"""Which ends move together: those of events whose windows are made of one window of the spec."""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.analysis.margins import together
from interlock.analysis.telling import margin_text
from interlock.core.elaborate import elaborate
from interlock.core.question import Bound, Margin, Moment
from interlock.core.system import System
from interlock.spec import load_text

SPEC = """\
format: interlock/1
title: A pole, a reading and slow logic
equipment:
  contact:
    states: [made, none]
    start: made
    moves: {is_lost: {from: made, to: none}}
  pole:
    states: [closed, open]
    start: closed
    moves:
      opens: {from: closed, to: open, when: command open_pole, takes: 30 ms .. 120 ms}
      closes: {from: open, to: closed, when: not command open_pole, takes: 30 ms .. 120 ms}
readings:
  touches: {shows: contact is made, steady: 40 ms .. 40 ms, late: 10 ms .. 40 ms}
logic:
  ground:
    reacts: 5 ms .. 20 ms
    steps: {charging: {start: true}, opening: {drives: [open_pole]}}
    trips: {contact_lost: {from: [charging], to: opening, when: not touches}}
failures:
  worn: {of: pole, effect: {slow: {opens: 120 ms}}}
rules:
  cut: {after: contact is none, within: 1 s, must: pole is open}
"""


@pytest.fixture(scope="module")
def system() -> System:
    spec, bag, _ = load_text(SPEC.encode(), "pole.yaml")
    assert spec is not None, bag.sorted()
    return elaborate(spec)


def moving(system: System, of: str, *, latest: bool) -> list[str]:
    """The events whose ends move with that of one."""
    found = together(system, Bound(of, latest))
    assert all(one.latest is latest for one in found)
    return sorted(one.of for one in found)


def test_all_events_by_which_a_move_ends_share_its_latest(system: System) -> None:
    # The other move takes the same time, and a failure makes the first as slow: these are times of their own.
    expected = ["pole opens", "pole opens after resuming", "pole opens is dropped", "pole opens though withdrawn"]
    assert moving(system, "pole opens", latest=True) == expected
    assert moving(system, "pole opens is dropped", latest=True) == expected


def test_an_earliest_moves_alone_where_the_other_events_have_none(system: System) -> None:
    assert moving(system, "pole opens", latest=False) == ["pole opens"]


def test_how_long_a_reading_is_late_and_steady_are_two_times_though_they_are_alike(system: System) -> None:
    assert moving(system, "touches arrives from 1", latest=True) == [
        "touches arrives from 1", "touches arrives from 2", "touches newest arrives"
    ]  # fmt: skip
    assert moving(system, "touches settles on false", latest=True) == [
        "touches settles on false", "touches settles on true"
    ]  # fmt: skip


def test_logic_decides_and_acts_within_one_time(system: System) -> None:
    expected = ["ground contact_lost", "ground decides contact_lost"]
    assert moving(system, "ground contact_lost", latest=True) == expected


@pytest.mark.parametrize(
    ("latest", "breaks", "limit", "says"),
    [
        (True, Moment(Fraction(52)), None, "breaks from 5.2 s on"),
        (True, Moment(Fraction(52), True), None, "breaks beyond 5.2 s"),
        (False, Moment(Fraction(12)), None, "breaks at 1.2 s and below"),
        (False, Moment(Fraction(12), True), None, "breaks below 1.2 s"),
        (True, None, None, "no change of it alone breaks it"),
        (True, None, "a limit", "margin not known: a limit"),
        (True, Moment(Fraction(52)), "a limit", "breaks from 5.2 s on, perhaps with less: a limit"),
        (False, Moment(Fraction(12)), "a limit", "breaks at 1.2 s and below, perhaps with less: a limit"),
    ],
)
def test_a_margin_is_told_with_its_unit_and_whether_it_is_reached(
    latest: bool, breaks: Moment | None, limit: str | None, says: str
) -> None:
    assert margin_text(Margin((Bound("pole opens", latest),), breaks, limit), Fraction(1, 10)) == says
