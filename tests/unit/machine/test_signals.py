"""Readings and links: what is in flight, what is shown, what is lost."""

from __future__ import annotations

from interlock.machine.machine import Machine
from interlock.machine.situation import Snapshot
from tests.unit.machine.small_specs import possible, run, spec_of, start_of

COUNTER = """
equipment:
  counter:
    states: 0 .. 3
    start: 0
    moves:
      to_1: {from: 0, to: 1}
      to_2: {from: 1, to: 2}
      to_3: {from: 2, to: 3}
readings:
  told: {shows: counter, late: 1 s .. 2 s, in_flight: 2}
rules:
  R1: {never: told is 3 and counter is 0}
"""


def slots(snapshot: Snapshot) -> tuple[object, ...]:
    names = ("told shown", "told in flight 1", "told in flight 2", "told newest", "told overrun")
    return tuple(snapshot[name] for name in names)


def test_values_arrive_in_the_order_in_which_they_were_sent_going_round_the_slots() -> None:
    machine = Machine(spec_of(COUNTER), 0)
    two = run(machine, start_of(machine), "counter to_1", "told sends 1", "counter to_2", "told sends 2")
    assert slots(two) == (0, 1, 2, 2, "-")
    one_left = run(machine, two, "told arrives from 1")
    assert slots(one_left) == (1, "-", 2, 2, "-")
    round_again = run(machine, one_left, "counter to_3", "told sends 3")
    assert slots(round_again) == (1, 3, 2, 1, "-")
    assert slots(run(machine, round_again, "told arrives from 2")) == (2, 3, "-", 1, "-")


def test_an_arrival_discards_what_was_sent_before_it() -> None:
    machine = Machine(spec_of(COUNTER), 0)
    two = run(machine, start_of(machine), "counter to_1", "told sends 1", "counter to_2", "told sends 2")
    assert slots(run(machine, two, "told arrives from 2")) == (2, "-", "-", 0, "-")


def test_with_too_much_in_flight_anything_is_shown_until_the_newest_arrives() -> None:
    machine = Machine(spec_of(COUNTER), 0)
    two = run(machine, start_of(machine), "counter to_1", "told sends 1", "counter to_2", "told sends 2")
    over = run(machine, two, "counter to_3", "told overruns with 3")
    assert slots(over) == (0, "-", "-", 0, 3)
    shown = {f"told shows {value} at random" for value in (1, 2, 3)}
    assert possible(machine, over) == {*shown, "told newest arrives"}
    assert slots(run(machine, over, "told shows 2 at random", "told newest arrives")) == (3, "-", "-", 0, "-")


def test_a_steady_reading_waits_and_a_value_that_goes_back_is_never_shown() -> None:
    machine = Machine(spec_of(COUNTER.replace("late: 1 s .. 2 s, in_flight: 2", "steady: 1 s .. 2 s")), 0)
    moved = run(machine, start_of(machine), "counter to_1")
    assert possible(machine, moved) == {"counter to_2", "told settles on 1"}
    assert possible(machine, run(machine, moved, "counter to_2")) == {"counter to_3", "told settles on 2"}


LINKED = """
equipment:
  door: {states: [shut, open], start: shut, moves: {opens: {from: shut, to: open}, shuts: {from: open, to: shut}}}
  lamp: {states: [dark, lit], start: dark, moves: {lights: {from: dark, to: lit, when: command light, takes: nothing}}}
links:
  line:
    carries: {door_open: door is open}
    watchdog: 1 s .. 2 s
    when_lost: {door_open: true}
logic:
  ground:
    reacts: immediately
    steps: {watching: {start: true}, alarm: {drives: [light]}}
    moves: {raise: {from: watching, to: alarm, needs: {told: line door_open}}}
failures:
  cut: {of: line, effect: {messages: lost}, repair: any time}
  hung: {of: line, effect: {messages: frozen}}
  crossed: {of: line, effect: {messages: wrong_partner}}
rules:
  R1: {never: lamp is lit}
"""


def test_a_value_without_delay_follows_at_once_until_the_link_is_stopped() -> None:
    machine = Machine(spec_of(LINKED), 1)
    carried = run(machine, start_of(machine), "door opens", "line door_open carries true")
    assert carried["line door_open shown"] is True
    hung = run(machine, start_of(machine), "hung happens", "door opens")
    assert possible(machine, hung) == {"door shuts"}


def test_only_a_lost_link_is_noticed_and_then_shows_what_was_agreed() -> None:
    machine = Machine(spec_of(LINKED), 1)
    cut = run(machine, start_of(machine), "cut happens")
    assert "line is lost" in possible(machine, cut)
    lost = run(machine, cut, "line is lost")
    assert (lost["line"], lost["line door_open shown"]) == ("lost", True)
    assert possible(machine, lost) == {"ground raise"}


def test_a_link_that_is_back_sends_what_differs() -> None:
    machine = Machine(spec_of(LINKED), 1)
    lost = run(machine, start_of(machine), "cut happens", "line is lost", "ground raise", "lamp lights")
    back = run(machine, lost, "cut is repaired", "line is back")
    assert possible(machine, back) == {"line door_open carries false"}


def test_a_wrong_partner_shows_anything_whatever_is_sent() -> None:
    machine = Machine(spec_of(LINKED), 1)
    crossed = run(machine, start_of(machine), "crossed happens")
    assert crossed["line door_open garbled by crossed"] is False
    wrong = run(machine, crossed, "line door_open shows true by crossed")
    assert possible(machine, wrong) == {"ground raise"}
