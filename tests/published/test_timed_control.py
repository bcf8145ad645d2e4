"""Control with time, written as specs: teaching examples and rules of thumb with the numbers that are known.

Light switch: pressed once it is dim, pressed again soon it is bright (any course on timed automata).
Gas burner: A. P. Ravn, H. Rischel and K. M. Hansen, Specifying and verifying requirements of real-time systems, IEEE
Trans. Software Engineering 19 (1993): a leak is stopped within 1 s and none begins within 30 s of another (from
memory).
Trains on one bridge: W. Yi, P. Pettersson and M. Daniels, Automatic verification of real-time communicating systems
by constraint-solving, 1994: a train can be stopped for 10 after it has come near (from memory).
Boiler: J.-R. Abrial, Steam-boiler control specification problem, 1996: a pump delivers 5 s after it was started,
levels are told every 5 s (from memory). Guards and light curtains: ISO 13855, the time of the whole is that of the
guard and that of the machine. Crossing roads: the red of all lights, any handbook of traffic engineering.
"""

from __future__ import annotations

import pytest

from interlock.core.question import Verdict
from tests.timed_texts import NEVER, between, find, holds, judged

# --- a light switch ---

SWITCH = """
equipment:
  lamp:
    states: [off, just_dim, dim, bright]
    start: off
    moves:
      is_pressed: {from: off, to: just_dim}
      is_pressed_again: {from: just_dim, to: bright}
      stays: {from: just_dim, to: dim, takes: 5 s}
      is_pressed_late: {from: [dim, bright], to: off}
"""


def test_a_light_is_bright_only_if_it_is_pressed_again_within_five_seconds() -> None:
    assert between(SWITCH, "lamp is just_dim", "lamp is bright") == ("0 s", NEVER)
    within = "\nrules: {R: {condition: lamp is just_dim, lasts: 0 s .. WITHIN}}"
    assert holds(SWITCH + within.replace("WITHIN", "5 s"), "R")
    assert not holds(SWITCH + within.replace("WITHIN", "under 5 s"), "R")
    found = find(SWITCH, "lamp is bright")
    assert found.cells[0].scenario is not None
    assert [one.action for one in found.cells[0].scenario.events] == ["lamp is_pressed", "lamp is_pressed_again"]


# --- a gas burner ---


def burner(*, lights: str, shuts: str, waits: str) -> str:
    """Gas that does not burn leaks. It has so long to light, then it is shut off, as when the flame fails; the next
    time it is let in after `waits`."""
    return f"""
equipment:
  gas:
    states: [off, on]
    start: off
    moves:
      opens: {{from: off, to: on, when: command let_in, takes: nothing}}
      shuts: {{from: on, to: off, when: not command let_in, takes: {shuts}, also: {{flame: none}}}}
  flame:
    states: [none, burns]
    start: none
    moves:
      lights: {{from: none, to: burns, when: gas is on and command let_in}}
      fails: {{from: burns, to: none}}
  leak: {{states: [none, leaks], follows: gas is on and flame is none}}
readings: {{lit: {{shows: flame is burns}}}}
logic:
  control:
    steps:
      rests: {{start: true, timeout: {{after: {waits}, to: lights}}}}
      lights: {{drives: [let_in], timeout: {{after: {lights}, to: rests}}}}
      burns: {{drives: [let_in]}}
    moves: {{burns: {{from: lights, to: burns, needs: {{lit: lit}}}}}}
    trips: {{is_out: {{from: burns, to: rests, when: not lit}}}}
rules:
  stopped: {{condition: leak is leaks, lasts: 0 s .. 1 s}}
"""


def test_a_leak_lasts_no_longer_than_a_second_and_rest_keeps_the_next_one_thirty_seconds_off() -> None:
    text = burner(lights="600 ms", shuts="0 s .. 400 ms", waits="30.4 s")
    assert holds(text, "stopped")
    assert between(text, "leak is leaks", "leak is none") == ("0 s", "1 s")
    assert not holds(burner(lights="600 ms", shuts="0 s .. 401 ms", waits="30.4 s"), "stopped")
    # At rest the gas is shut off within 0.4 of the 30.4 s, and at once if it was not on.
    assert between(text, "control is rests and leak is none", "leak is leaks") == ("30 s", "152/5 s")


# --- trains on a bridge ---


def bridge(*, stops: str, starts: str) -> str:
    """Two trains and a bridge. A train that has come near can be stopped for 10 s. The control stops the one as long as
    the other is near or on the bridge and came first."""
    trains = ("east", "west")
    lines = ["equipment:"]
    lines += [
        f"""
  {me}:
    states: [far, near, cannot_stop, stopped, starts, on_bridge]
    start: far
    moves:
      comes_near: {{from: far, to: near}}
      stops: {{from: near, to: stopped, when: command stop_{me}, takes: {stops}}}
      is_past_stopping: {{from: near, to: cannot_stop, takes: 10 s}}
      crosses: {{from: cannot_stop, to: on_bridge, takes: 0 s .. 10 s}}
      goes: {{from: stopped, to: starts, when: not command stop_{me}, takes: nothing}}
      crosses_from_stop: {{from: starts, to: on_bridge, takes: {starts}}}
      leaves: {{from: on_bridge, to: far, takes: 3 s .. 5 s}}
"""
        for me in trains
    ]
    lines.append("""
readings: {east_there: {shows: east is not far}, west_there: {shows: west is not far}}
logic:
  control:
    steps:
      free: {start: true}
      east_first: {drives: [stop_west]}
      west_first: {drives: [stop_east]}
    moves:
      let_east: {from: free, to: east_first, needs: {there: east_there}}
      let_west: {from: free, to: west_first, needs: {there: west_there}}
      then_west: {from: east_first, to: west_first, needs: {gone: east_there is false, there: west_there}}
      then_east: {from: west_first, to: east_first, needs: {gone: west_there is false, there: east_there}}
      none_is_left: {from: [east_first, west_first], to: free, needs: {none: not (east_there or west_there)}}
    priority: [let_east, let_west]
rules:
  alone: {never: east is on_bridge and west is on_bridge}
""")
    return "\n".join(lines)


def test_two_trains_are_never_both_on_the_bridge_if_each_stops_before_it_no_longer_can() -> None:
    assert holds(bridge(stops="0 s .. under 10 s", starts="7 s .. 15 s"), "alone")
    assert not holds(bridge(stops="0 s .. 10 s", starts="7 s .. 15 s"), "alone")
    # Stopped just as the other one leaves: it starts, 7, and crosses, 3. At the most it waits for one that was let go
    # while it stopped: that has stopped in under 10, starts, 15, and crosses, 5; then it starts and crosses itself.
    text = bridge(stops="0 s .. under 10 s", starts="7 s .. 15 s")
    assert between(text, "west is near", "west is far") == ("10 s", "under 50 s")


# --- a boiler ---


def boiler(*, told: str, delivers: str, dries: str) -> str:
    return f"""
equipment:
  level:
    states: [enough, low, dry]
    start: enough
    moves:
      sinks: {{from: enough, to: low}}
      is_dry: {{from: low, to: dry, takes: {dries}}}
      rises: {{from: low, to: enough, when: pump is delivers, takes: nothing}}
  pump:
    states: [stands, starts, delivers]
    start: stands
    moves:
      is_started: {{from: stands, to: starts, when: command pump, takes: nothing}}
      delivers: {{from: starts, to: delivers, takes: {delivers}}}
      is_stopped: {{from: [starts, delivers], to: stands, when: not command pump, takes: nothing}}
readings: {{low_seen: {{shows: level is low, late: {told}}}}}
logic:
  control:
    steps: {{waits: {{start: true}}, pumps: {{drives: [pump]}}}}
    moves:
      begin: {{from: waits, to: pumps, needs: {{low: low_seen}}}}
      end: {{from: pumps, to: waits, needs: {{enough: low_seen is false}}}}
rules:
  never_dry: {{never: level is dry}}
"""


@pytest.mark.parametrize(
    ("dries", "kept"), [("10 s .. 20 s", False), ("over 10 s .. 20 s", True), ("10.001 s .. 20 s", True)]
)
def test_a_boiler_runs_dry_just_if_that_takes_no_longer_than_telling_and_the_pump(dries: str, kept: bool) -> None:
    assert holds(boiler(told="0 s .. 5 s", delivers="5 s", dries=dries), "never_dry") is kept


# --- a light curtain ---


def curtain(*, guard: str, machine: str, hand: str) -> str:
    return f"""
equipment:
  hand:
    states: [away, in_curtain, at_blade]
    start: away
    moves:
      reaches: {{from: away, to: in_curtain}}
      is_at_blade: {{from: in_curtain, to: at_blade, takes: {hand}}}
      goes_back: {{from: [in_curtain, at_blade], to: away}}
  blade:
    states: [stands, turns]
    start: stands
    moves:
      starts: {{from: stands, to: turns, when: command run}}
      stops: {{from: turns, to: stands, when: not command run, takes: {machine}}}
readings: {{free: {{shows: hand is away, late: {guard}}}}}
logic:
  control:
    steps: {{runs: {{start: true, drives: [run]}}, stopped: {{}}}}
    trips: {{broken: {{from: runs, to: stopped, when: not free}}}}
hazards:
  cut: {{words: a hand at the turning blade, happens: hand is at_blade and blade is turns}}
"""


def test_a_hand_must_need_longer_than_guard_and_machine_together() -> None:
    """30 and 170 ms: 200. The margin of each time is what the hand needs more."""
    times = {"guard": "10 ms .. 30 ms", "machine": "50 ms .. 170 ms"}
    assert not holds(curtain(**times, hand="200 ms .. never"), "cut")
    assert holds(curtain(**times, hand="over 200 ms .. never"), "cut")
    found = judged(curtain(**times, hand="250 ms .. never"), "cut", margins=True)
    assert found.verdict is Verdict.HOLDS
    assert {margin.says for margin in found.margins or ()} == {
        "breaks at 200 ms and below",
        "breaks from 220 ms on",
        "breaks from 80 ms on",
    }


# --- bouncing contacts ---


def bounces(*, filters: str) -> str:
    """A contact that bounces: each time it is open for 2 ms at the most, and made for 1 ms at the least between."""
    return f"""
equipment:
  contact:
    states: [open, made, made_a_while]
    start: open
    moves:
      closes: {{from: open, to: made, takes: 0 ms .. 2 ms}}
      holds: {{from: made, to: made_a_while, takes: 1 ms}}
      bounces: {{from: made_a_while, to: open}}
readings: {{made_seen: {{shows: contact is not open, steady: {filters}}}}}
rules:
  never_open: {{never: was(made_seen) and not made_seen}}
  seen: {{possible: made_seen}}
"""


def test_a_filter_longer_than_a_bounce_never_shows_it() -> None:
    assert holds(bounces(filters="over 2 ms .. 3 ms"), "never_open")
    assert holds(bounces(filters="3 ms"), "seen")
    assert not holds(bounces(filters="2 ms"), "never_open")


# --- crossing roads ---


def lights(*, red: str, clears: str, reaches: str) -> str:
    """Two roads by turns: green, 3 s of yellow, red for both. A car that still enters at the end of yellow is in the
    middle for `clears`; one that starts at green reaches the middle after `reaches`."""
    roads = ("north", "east")
    lines = [
        "equipment:",
        "  lights:",
        f"    states: [{', '.join(f'{s}_{r}' for r in roads for s in ('g', 'y', 'r'))}]",
    ]
    lines += ["    start: r_east", "    moves:"]
    for me, other in (roads, roads[::-1]):
        lines += [
            f"      yellow_{me}: {{from: g_{me}, to: y_{me}, takes: 20 s .. 60 s}}",
            f"      red_{me}: {{from: y_{me}, to: r_{me}, takes: 3 s}}",
            f"      green_{other}: {{from: r_{me}, to: g_{other}, takes: {red}}}",
        ]
    for me in roads:
        lines += [
            f"  {me}:",
            "    states: [none, waits, starts, middle]",
            "    start: none",
            "    moves:",
            "      comes: {from: none, to: waits}",
            f"      starts: {{from: waits, to: starts, when: lights is g_{me}}}",
            f"      reaches: {{from: starts, to: middle, takes: {reaches}}}",
            f"      drives_in: {{from: none, to: middle, when: lights is y_{me}}}",
            f"      clears: {{from: middle, to: none, takes: {clears}}}",
        ]
    return "\n".join([*lines, "rules:", "  alone: {never: north is middle and east is middle}"])


@pytest.mark.parametrize(
    ("red", "kept"), [("2 s", False), ("over 2 s .. 3 s", True), ("1.999 s", False), ("3 s", True)]
)
def test_cars_meet_just_if_one_can_still_be_in_the_middle_when_the_other_reaches_it(red: str, kept: bool) -> None:
    """In for up to 3 s after yellow, the other there after 1 s of green: red for 2 s is just too short."""
    assert holds(lights(red=red, clears="1 s .. 3 s", reaches="1 s .. 2 s"), "alone") is kept
