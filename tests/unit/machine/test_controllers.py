"""Sequences as machines of the `transitions` library: permissives, priority, timers, decisions, power."""

from __future__ import annotations

from transitions import Machine as StepMachine

from interlock.logic.formula import Ref, Thing
from interlock.machine.machine import Machine
from tests.unit.machine.small_specs import possible, run, settle, spec_of, start_of

GROUND = """
equipment:
  train: {states: [away, here], start: away, moves: {comes: {from: away, to: here}, goes: {from: here, to: away}}}
  stop: {states: [normal, pressed], start: normal, moves: {is_pressed: {from: normal, to: pressed}}}
  supply: {states: [present, lost], start: present, moves: {fails: {from: present, to: lost}}}
readings:
  train_seen: {shows: train is here}
  stop_seen: {shows: stop is pressed}
logic:
  ground:
    reacts: immediately
    powered_by: supply is present
    memory:
      tries: {states: 0 .. 2, start: 0, kept: true}
      cause: {states: [none, stopped], start: none}
    steps: {rest: {start: true}, charging: {drives: [close]}, tripped: {}}
    moves:
      begin: {from: rest, to: charging, needs: {train_here: train_seen, not_worn: tries < 2}, sets: {tries: tries + 1}}
      end: {from: charging, to: rest, needs: {train_gone: not train_seen}}
    trips:
      stopped: {from: [rest, charging], to: tripped, when: stop_seen, sets: {cause: stopped}}
failures:
  restarts: {of: ground, effect: {controller: restarts}}
  hangs: {of: ground, effect: {controller: stops_holding}}
  dies: {of: ground, effect: {controller: stops_dropping}}
  close_driven: {of: command close, effect: {output: driven}}
  close_silent: {of: command close, effect: {output: silent}}
rules:
  R1: {never: command close}
"""


def test_a_sequence_is_a_machine_of_the_library_with_a_trigger_for_each_change() -> None:
    controller = Machine(spec_of(GROUND), 0)._controllers[0]
    assert isinstance(controller._machine, StepMachine)
    assert set(controller._machine.states) == {"rest", "charging", "tripped"}
    assert {"ground begin", "ground end", "ground stopped"} <= set(controller._machine.events)


def test_a_move_happens_once_all_its_permissives_hold_and_sets_memory() -> None:
    machine = Machine(spec_of(GROUND), 0)
    came = run(machine, start_of(machine), "train comes")
    assert possible(machine, came) == {"ground begin"}
    begun = run(machine, came, "ground begin")
    assert (begun["ground"], begun["ground tries"]) == ("charging", 1)


def test_a_trip_goes_before_a_move() -> None:
    machine = Machine(spec_of(GROUND), 0)
    begun = run(machine, start_of(machine), "train comes", "ground begin")
    twice = run(machine, begun, "train goes", "ground end", "stop is_pressed")
    assert possible(machine, twice) == {"ground stopped"}
    assert run(machine, twice, "ground stopped")["ground cause"] == "stopped"


def test_a_move_and_a_trip_that_both_want_leave_the_trip_only() -> None:
    spec = spec_of(GROUND.replace("stop_seen: {shows: stop is pressed}", "stop_seen: {shows: train is here}"))
    machine = Machine(spec, 0)
    assert possible(machine, run(machine, start_of(machine), "train comes")) == {"ground stopped"}


def test_a_loss_of_power_puts_back_all_that_is_not_kept() -> None:
    machine = Machine(spec_of(GROUND), 0)
    charging = run(machine, start_of(machine), "train comes", "ground begin")
    lost = run(machine, charging, "supply fails")
    assert possible(machine, lost) == {"ground loses power"}
    at_rest = run(machine, lost, "ground loses power")
    assert (at_rest["ground"], at_rest["ground tries"]) == ("rest", 1)
    assert machine.settled(at_rest)


def test_a_restart_puts_back_the_step_in_the_midst_of_a_charge() -> None:
    machine = Machine(spec_of(GROUND), 1)
    charging = run(machine, start_of(machine), "train comes", "ground begin")
    again = run(machine, charging, "restarts happens")
    assert (again["ground"], again["ground tries"]) == ("rest", 1)
    assert possible(machine, again) == {"ground begin"}


def test_what_a_controller_that_stops_and_an_output_that_sticks_do_to_a_command() -> None:
    machine = Machine(spec_of(GROUND), 2)
    given = machine.senses.reader(Ref(Thing.COMMAND, "close"))
    charging = run(machine, start_of(machine), "train comes", "ground begin")
    assert given(charging.situation)
    hung = run(machine, charging, "hangs happens", "stop is_pressed")
    assert given(hung.situation)
    assert "ground stopped" not in possible(machine, hung)
    assert not given(run(machine, charging, "dies happens").situation)
    assert not given(run(machine, charging, "close_silent happens").situation)
    # Of two failures of one output the one that is written last decides.
    assert not given(run(machine, charging, "close_driven happens", "close_silent happens").situation)
    assert given(run(machine, start_of(machine), "close_driven happens").situation)


SLOW = GROUND.replace("reacts: immediately", "reacts: 0 ms .. 50 ms")


def test_slow_logic_acts_on_what_it_decided_whatever_holds_by_then() -> None:
    machine = Machine(spec_of(SLOW), 0)
    decided = run(machine, start_of(machine), "train comes", "ground decides begin")
    assert decided["ground decided"] == "begin"
    gone = run(machine, decided, "train goes", "stop is_pressed")
    assert "ground begin" in possible(machine, gone)
    assert "ground decides stopped" not in possible(machine, gone)
    acted = run(machine, gone, "ground begin")
    assert (acted["ground"], acted["ground decided"]) == ("charging", "-")


def test_slow_logic_forgets_its_decision_when_power_is_lost_or_it_restarts() -> None:
    machine = Machine(spec_of(SLOW), 1)
    decided = run(machine, start_of(machine), "train comes", "ground decides begin")
    assert settle(machine, run(machine, decided, "supply fails"))["ground decided"] == "-"
    assert run(machine, decided, "restarts happens")["ground decided"] == "-"


TIMED = """
equipment:
  shoe: {states: [up, down], start: up, moves: {falls: {from: up, to: down}, rises: {from: down, to: up}}}
readings:
  down_seen: {shows: shoe is down}
logic:
  ground:
    reacts: immediately
    steps: {rest: {start: true, timeout: {after: 5 s, to: given_up}}, ready: {}, given_up: {}}
    moves:
      be_ready: {from: rest, to: ready, needs: {proved: {condition: down_seen, for: 500 ms}}}
rules:
  R1: {never: ground is ready}
"""


def test_a_permissive_with_a_duration_needs_its_timer_done_and_is_cleared_by_a_break() -> None:
    machine = Machine(spec_of(TIMED), 0)
    timer = "ground be_ready proved timer"
    started = settle(machine, run(machine, settle(machine, start_of(machine)), "shoe falls"))
    assert started[timer] == "running"
    assert "ground be_ready" not in possible(machine, started)
    broken = run(machine, started, "shoe rises")
    assert possible(machine, broken) == {f"{timer} is cleared"}
    done = run(machine, started, f"{timer} elapses")
    assert possible(machine, done) == {"ground be_ready"}


def test_a_timeout_measures_its_step_and_is_cleared_when_that_is_left() -> None:
    machine = Machine(spec_of(TIMED), 0)
    rest = run(machine, start_of(machine), "ground rest timeout starts")
    assert possible(machine, rest) == {"shoe falls", "ground rest timeout elapses"}
    over = run(machine, rest, "ground rest timeout elapses", "ground rest timeout")
    assert over["ground"] == "given_up"
    assert possible(machine, over) == {"ground rest timeout is cleared"}
