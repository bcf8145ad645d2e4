"""What a slice drops settles by itself, or it is not known to."""

from __future__ import annotations

import pytest

from interlock.core import settling
from interlock.core.elaborate import elaborate
from interlock.core.settling import settles_by_itself
from interlock.core.slice import Slice, slice_for
from interlock.spec.loading import load_text

PLANT = """\
format: interlock/1
equipment:
  train: {states: [away, there], start: away, moves: {comes: {from: away, to: there}, goes: {from: there, to: away}}}
  lamp: {states: [dark, lit], follows: command light}
readings:
  seen: {shows: train is there, late: 10 ms .. 20 ms}
logic:
  sign:
    steps: {quiet: {start: true}, warning: {drives: [light]}}
    moves:
      warn: {from: quiet, to: warning, needs: {there: seen}}
      rest: {from: warning, to: quiet, needs: {gone: %s}}
rules:
  R1: {possible: train is there}
"""


def part(gone: str) -> Slice:
    spec, bag, _ = load_text(PLANT % gone, "plant.yaml")
    assert spec is not None, bag.sorted()
    found = slice_for(elaborate(spec), ("R1",))
    assert {"sign", "lamp", "seen shown"} <= set(found.dropped)
    return found


def test_logic_that_waits_for_what_it_does_not_change_settles() -> None:
    assert settles_by_itself(part("not seen"))


def test_logic_that_goes_round_on_one_reading_does_not() -> None:
    assert not settles_by_itself(part("seen or not seen"))


def test_what_is_too_large_to_look_at_is_not_known_to_settle(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settling, "MOST", 10)
    assert not settles_by_itself(part("not seen"))
