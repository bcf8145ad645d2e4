"""Failures: at the start, riding on a move, together, repaired, and what they cost."""

from __future__ import annotations

from interlock.machine.machine import Machine
from tests.unit.machine.small_specs import possible, run, spec_of, start_of

FEEDER = """
equipment:
  current:
    states: [none, flowing]
    start: none
    moves: {flows: {from: none, to: flowing}, ends: {from: flowing, to: none}}
  handle:
    states: [released, turned]
    start: released
    moves: {turns: {from: released, to: turned}, back: {from: turned, to: released}}
  feeder:
    states: [open, closed]
    start: open
    moves:
      closes: {from: open, to: closed, when: handle is turned, takes: 30 ms .. 120 ms}
      opens: {from: closed, to: open, when: handle is released, takes: 30 ms .. 120 ms}
readings:
  closed_seen: {shows: feeder is closed}
  open_seen: {shows: feeder is open}
failures:
  welded: {of: feeder, effect: {stays: closed}, upon: {move: feeder opens, while: current is flowing}}
  stiff: {of: feeder, effect: {slow: {opens: 2 s}}, repair: any time}
  sticks_open: {of: feeder, effect: {stays: open}, only_while: current is none}
  closed_lies: {of: closed_seen, effect: {reads: true}}
  closed_frozen: {of: closed_seen, effect: {reads: frozen}, repair: any time}
  open_garbled: {of: open_seen, effect: {reads: anything}}
  both_seen: {common_cause: [closed_lies, open_garbled]}
rules:
  R1: {never: closed_seen and open_seen}
"""


def test_a_failure_happens_at_most_once_and_within_the_budget() -> None:
    machine = Machine(spec_of(FEEDER), 1)
    lies = run(machine, start_of(machine), "closed_lies happens")
    assert lies.spent == 1
    assert not any("happens" in id for id in possible(machine, lies))


def test_a_repair_gives_no_failure_back() -> None:
    machine = Machine(spec_of(FEEDER), 1)
    mended = run(machine, start_of(machine), "closed_frozen happens", "closed_frozen is repaired")
    assert (mended["closed_frozen"], mended.spent) == (False, 1)
    assert not any("happens" in id for id in possible(machine, mended))


def test_failures_at_the_start_are_made_in_the_order_of_the_file_where_they_can_be() -> None:
    machine = Machine(spec_of(FEEDER), 2, ("stiff", "sticks_open", "welded", "both_seen"))
    present = [names for _, names in machine.starts()]
    assert present == [
        (),
        ("stiff",),
        ("sticks_open",),
        ("both_seen",),
        ("stiff", "sticks_open"),
        ("stiff", "both_seen"),
        ("sticks_open", "both_seen"),
    ]


def test_a_failure_that_rides_on_a_move_is_optional_and_leaves_its_item_where_it_is_held() -> None:
    machine = Machine(spec_of(FEEDER), 1)
    closed = run(machine, start_of(machine), "current flows", "handle turns", "feeder closes starts", "feeder closes")
    opening = run(machine, closed, "handle back", "feeder opens starts")
    assert {"feeder opens", "feeder opens and welded"} <= possible(machine, opening)
    assert run(machine, opening, "feeder opens")["feeder"] == "open"
    welded = run(machine, opening, "feeder opens and welded")
    assert (welded["feeder"], welded["feeder opens"], welded["welded"]) == ("closed", "idle", True)
    again = run(machine, welded, "feeder opens starts")
    assert not any(id.startswith("feeder opens") for id in possible(machine, again))
    calm = run(machine, opening, "current ends")
    assert "feeder opens and welded" not in possible(machine, calm)


def test_a_slow_move_has_a_twin_of_its_own_while_the_failure_is_present() -> None:
    machine = Machine(spec_of(FEEDER), 1)
    closed = run(machine, start_of(machine), "handle turns", "feeder closes starts", "feeder closes")
    stiff = run(machine, closed, "stiff happens", "handle back", "feeder opens starts")
    assert {id for id in possible(machine, stiff) if id.startswith("feeder opens")} == {"feeder opens, slowly by stiff"}
    withdrawn = run(machine, stiff, "handle turns", "feeder opens is withdrawn")
    assert {id for id in possible(machine, withdrawn) if id.startswith("feeder opens")} == {
        "feeder opens though withdrawn, slowly by stiff",
        "feeder opens is dropped, slowly by stiff",
    }


def test_a_failure_waits_for_its_condition_and_for_the_state_it_holds() -> None:
    machine = Machine(spec_of(FEEDER), 1)
    assert "sticks_open happens" in possible(machine, start_of(machine))
    assert "sticks_open happens" not in possible(machine, run(machine, start_of(machine), "current flows"))
    closed = run(machine, start_of(machine), "handle turns", "feeder closes starts", "feeder closes")
    assert "sticks_open happens" not in possible(machine, closed)


def test_of_two_failures_of_one_reading_the_one_written_first_decides() -> None:
    machine = Machine(spec_of(FEEDER), 2)
    both = run(machine, start_of(machine), "closed_frozen happens", "closed_lies happens")
    assert both["closed_seen frozen by closed_frozen"] is False
    display = machine.senses.shown(spec_of(FEEDER).readings[0])
    assert display(both.situation) is False
    after = run(machine, start_of(machine), "closed_lies happens", "closed_frozen happens")
    assert after["closed_seen frozen by closed_frozen"] is True


def test_a_garbled_reading_changes_as_it_likes() -> None:
    machine = Machine(spec_of(FEEDER), 1)
    garbled = run(machine, start_of(machine), "open_garbled happens")
    assert garbled["open_seen garbled by open_garbled"] is True
    wrong = run(machine, garbled, "open_seen shows false by open_garbled")
    assert "open_seen shows true by open_garbled" in possible(machine, wrong)


def test_a_common_cause_costs_one_and_happens_only_if_it_is_named() -> None:
    unnamed = Machine(spec_of(FEEDER), 2)
    assert "both_seen happens" not in possible(unnamed, start_of(unnamed))
    machine = Machine(spec_of(FEEDER), 1, ("both_seen",))
    both = run(machine, start_of(machine), "both_seen happens")
    assert (both["closed_lies"], both["open_garbled"], both.spent) == (True, True, 1)


def test_a_common_cause_needs_one_member_that_can_still_happen() -> None:
    machine = Machine(spec_of(FEEDER), 3, ("both_seen", "closed_lies", "open_garbled"))
    one = run(machine, start_of(machine), "closed_lies happens")
    both = run(machine, one, "both_seen happens")
    assert (both["open_garbled"], both.spent) == (True, 2)
    assert "both_seen happens" not in possible(machine, both)


def test_an_assumption_keeps_a_failure_away_at_the_start_too() -> None:
    text = (
        FEEDER
        + """
assumptions:
  A1: {words: nobody leans on it, strengthens: [stiff], with: handle is turned, owner: operator}
"""
    )
    machine = Machine(spec_of(text), 1, ("stiff",))
    assert [present for _, present in machine.starts()] == [()]
    assert "stiff happens" not in possible(machine, start_of(machine))
    assert "stiff happens" in possible(machine, run(machine, start_of(machine), "handle turns", "feeder closes starts"))
