"""Items: moves, phases, what follows, what is held."""

from __future__ import annotations

import pytest

from interlock.machine.machine import Machine
from tests.unit.machine.small_specs import possible, run, spec_of, start_of

VALVE = """
equipment:
  lever:
    states: [back, pulled]
    start: back
    moves: {is_pulled: {from: back, to: pulled}, goes_back: {from: pulled, to: back}}
  valve:
    states: [shut, open]
    start: shut
    moves:
      opens: {from: shut, to: open, when: lever is pulled, takes: 1 s .. 2 s}
  lamp: {states: [dark, lit], follows: valve is open}
failures:
  jams: {of: valve, effect: {stuck: true}}
  bursts: {of: valve, effect: {goes: open}}
  lamp_out: {of: lamp, effect: {stays: dark}}
rules:
  R1: {never: valve is open}
"""


def test_a_condition_starts_a_bound_move_at_once_and_its_end_withdraws_it() -> None:
    machine = Machine(spec_of(VALVE), 0)
    pulled = run(machine, start_of(machine), "lever is_pulled")
    assert possible(machine, pulled) == {"valve opens starts"}
    moving = run(machine, pulled, "valve opens starts")
    assert moving["valve opens"] == "running"
    let_go = run(machine, moving, "lever goes_back", "valve opens is withdrawn")
    assert possible(machine, let_go) == {"lever is_pulled", "valve opens though withdrawn", "valve opens is dropped"}
    assert run(machine, let_go, "valve opens is dropped")["valve opens"] == "idle"
    again = run(machine, let_go, "lever is_pulled", "valve opens resumes")
    assert possible(machine, again) == {"lever goes_back", "valve opens after resuming"}


def test_a_completed_move_leaves_its_phase_idle_and_what_follows_turns_before_all_else() -> None:
    machine = Machine(spec_of(VALVE), 0)
    opened = run(machine, start_of(machine), "lever is_pulled", "valve opens starts", "valve opens")
    assert (opened["valve"], opened["valve opens"]) == ("open", "idle")
    assert possible(machine, opened) == {"lamp becomes lit"}


def test_a_move_that_completes_is_never_withdrawn() -> None:
    machine = Machine(spec_of(VALVE.replace("takes: 1 s .. 2 s", "takes: 1 s .. 2 s, withdrawn: completes")), 0)
    let_go = run(machine, start_of(machine), "lever is_pulled", "valve opens starts", "lever goes_back")
    assert possible(machine, let_go) == {"lever is_pulled", "valve opens"}


def test_a_stuck_item_keeps_its_state_while_its_phase_goes_on() -> None:
    machine = Machine(spec_of(VALVE), 1)
    stuck = run(machine, start_of(machine), "jams happens", "lever is_pulled", "valve opens starts")
    assert possible(machine, stuck) == {"lever goes_back"}
    assert run(machine, stuck, "lever goes_back", "valve opens is withdrawn")["valve opens"] == "withdrawn"


def test_a_failure_sets_an_item_that_another_failure_holds() -> None:
    machine = Machine(spec_of(VALVE), 2)
    assert run(machine, start_of(machine), "jams happens", "bursts happens")["valve"] == "open"


def test_an_item_that_follows_can_be_held() -> None:
    machine = Machine(spec_of(VALVE), 2)
    dark = run(machine, start_of(machine), "lamp_out happens", "bursts happens")
    assert dark["lamp"] == "dark"
    assert machine.settled(dark)


def test_a_failure_that_sets_an_item_ends_its_phases() -> None:
    machine = Machine(spec_of(VALVE), 1)
    moving = run(machine, start_of(machine), "lever is_pulled", "valve opens starts", "bursts happens")
    assert moving["valve opens"] == "idle"


def test_also_moves_the_other_item_in_the_same_event_unless_that_is_held() -> None:
    spec = spec_of("""
equipment:
  train: {states: [here, away], start: here, moves: {leaves: {from: here, to: away, also: {film: absent}}}}
  film: {states: [present, absent], start: present}
failures:
  frozen_on: {of: film, effect: {stuck: true}}
rules:
  R1: {never: film is absent}
""")
    machine = Machine(spec, 1)
    assert run(machine, start_of(machine), "train leaves")["film"] == "absent"
    held = run(machine, start_of(machine), "frozen_on happens", "train leaves")
    assert (held["train"], held["film"]) == ("away", "present")


def test_a_pulse_that_no_settled_situation_sees_still_arms_a_move() -> None:
    spec = spec_of("""
equipment:
  button: {states: [up, pressed], start: up, moves: {is_pressed: {from: up, to: pressed}}}
  bolt:
    states: [drawn, shot]
    start: drawn
    moves: {shoots: {from: drawn, to: shot, when: command shoot, takes: 1 s .. 2 s}}
readings:
  pressed: {shows: button is pressed}
logic:
  ground:
    reacts: immediately
    steps: {rest: {start: true}, pulse: {drives: [shoot]}, over: {}}
    moves:
      give: {from: rest, to: pulse, needs: {pressed: pressed}}
      end: {from: pulse, to: over, needs: {}}
rules:
  R1: {never: bolt is shot}
""")
    machine = Machine(spec, 0)
    pulse = run(machine, start_of(machine), "button is_pressed", "ground give", "bolt shoots starts", "ground end")
    assert pulse["bolt shoots"] == "running"
    assert possible(machine, pulse) == {"bolt shoots is withdrawn"}
    assert "bolt shoots though withdrawn" in possible(machine, run(machine, pulse, "bolt shoots is withdrawn"))


def test_every_combination_of_start_states_is_a_start() -> None:
    spec = spec_of("""
equipment:
  a: {states: [x, y, z], start: "any of [x, z]"}
  b: {states: [x, y], start: "any of [x, y]"}
rules:
  R1: {never: a is y}
""")
    starts = [(start["a"], start["b"]) for start in Machine(spec, 0).plain_starts()]
    assert starts == [("x", "x"), ("x", "y"), ("z", "x"), ("z", "y")]


def test_a_snapshot_is_a_frozen_mapping_that_compares_by_value() -> None:
    machine = Machine(spec_of(VALVE), 1)
    start = start_of(machine)
    assert start == start_of(Machine(spec_of(VALVE), 1))
    assert len({start, start_of(machine)}) == 1
    assert list(start)[:3] == ["lever", "valve", "valve opens"]
    assert start != run(machine, start, "jams happens")
    with pytest.raises(AttributeError):
        start.spent = 3
