"""Messages with time: retransmission, two marks a bit, heartbeats. Specs against formulas of the literature.

Bounded retransmission: P. R. D'Argenio, J.-P. Katoen, T. C. Ruys and J. Tretmans, The bounded retransmission protocol
must be on time!, 1997: of the sender's time-out T1 > 2 TD, of the receiver's TR >= 2 MAX T1 + 3 TD, of the pause
before the next file SYNC >= TR, with TD the delay of a channel (from memory). Where the ends touch, and how much of
SYNC is needed, worked out by hand: of two events at the same instant either may come first.
Two marks a bit (biphase mark): J. S. Moore, A formal model of asynchronous communication and its use in mechanically
verifying a biphase mark protocol, Formal Aspects of Computing 6 (1994); the two inequalities are those of the model
below.
Heartbeats: the time to tell a crash, W. Chen, S. Toueg and M. K. Aguilera, On the quality of service of failure
detectors, IEEE Trans. Computers 51 (2002), here for a delay with bounds; worked out below.
"""

from __future__ import annotations

from itertools import product

import pytest

from interlock.core.question import Verdict
from tests.timed_texts import NEVER, between, holds, judged, verdicts

HOLDS, FAILS = Verdict.HOLDS, Verdict.FAILS

# --- bounded retransmission ---


def transfer(most: int, again: str, receiver: str, pause: str = "100 s", delay: str = "1 s") -> str:
    """A sender tries each frame `1 + most` times, then gives up and begins anew after a pause. The receiver gives up
    if no new frame comes. A frame and its answer take up to a delay each, or are lost."""
    tries = range(1, most + 2)
    waits = ", ".join(f"waits_{bit}_{k}" for bit in (0, 1) for k in tries)
    lines = [
        "equipment:",
        "  sender:",
        f"    states: [sends_0, sends_1, {waits}, given_up, anew]",
        "    start: sends_0",
    ]
    lines += ["    moves:", f"      begins_anew: {{from: given_up, to: anew, takes: {pause}}}"]
    for bit in (0, 1):
        sends = f"also: {{frame: on_way_{bit}}}"
        lines.append(f"      sends_{bit}: {{from: sends_{bit}, to: waits_{bit}_1, takes: nothing, {sends}}}")
        for k in tries[:-1]:
            to = f"from: waits_{bit}_{k}, to: waits_{bit}_{k + 1}"
            lines.append(f"      sends_again_{bit}_{k}: {{{to}, takes: {again}, {sends}}}")
        lines.append(f"      gives_up_{bit}: {{from: waits_{bit}_{most + 1}, to: given_up, takes: {again}}}")
    lines += ["  frame:", "    states: [none, on_way_0, on_way_1, there_0, there_1]", "    start: none", "    moves:"]
    lines += ["      is_lost: {from: [on_way_0, on_way_1], to: none}"]
    for bit in (0, 1):
        taken, answered = f"from: there_{bit}, to: none, takes: nothing", f"answer: on_way_{bit}"
        new = f"expects: {1 - bit}, {answered}, receiver: waits_{bit}"
        lines += [
            f"      arrives_{bit}: {{from: on_way_{bit}, to: there_{bit}, takes: 0 s .. {delay}}}",
            f"      is_new_{bit}: {{{taken}, when: expects is {bit}, also: {{{new}}}}}",
            f"      is_old_{bit}: {{{taken}, when: expects is {1 - bit}, also: {{{answered}}}}}",
        ]
    lines += ["  expects: {states: 0 .. 1, start: 0}"]
    lines += ["  answer:", "    states: [none, on_way_0, on_way_1]", "    start: none", "    moves:"]
    lines += ["      is_lost: {from: [on_way_0, on_way_1], to: none}"]
    for bit in (0, 1):
        told = f"also: {{sender: sends_{1 - bit}}}"
        lines.append(f"      arrives_{bit}: {{from: on_way_{bit}, to: none, takes: 0 s .. {delay}, {told}}}")
    lines += ["  receiver:", "    states: [idle, waits_0, waits_1, given_up]", "    start: idle", "    moves:"]
    for bit in (0, 1):
        lines.append(f"      gives_up_{bit}: {{from: waits_{bit}, to: given_up, takes: {receiver}}}")
    sent_again = ", ".join(f"waits_{bit}_{k}" for bit in (0, 1) for k in tries[1:])
    return "\n".join(
        [
            *lines,
            f'conditions: {{sent_again: "sender in {{{sent_again}}}"}}',
            "rules:",
            "  T1: {never: becomes(sent_again) and (was(frame is not none) or was(answer is not none))}",
            "  TR: {never: was(receiver is given_up) and receiver is not given_up}",
            '  SYNC: {never: "sender is anew and receiver in {waits_0, waits_1}"}',
        ]
    )


def test_nothing_is_sent_again_too_soon_just_if_the_time_out_is_longer_than_there_and_back() -> None:
    assert not holds(transfer(1, "2 s", "100 s"), "T1")
    assert holds(transfer(1, "over 2 s .. 3 s", "100 s"), "T1")
    assert holds(transfer(1, "3 s", "100 s"), "T1")
    assert holds(transfer(1, "2 s", "100 s", delay="under 1 s"), "T1")
    assert not holds(transfer(1, "1.999 s", "100 s", delay="under 1 s"), "T1")


@pytest.mark.parametrize("most", [1, 2])
def test_the_receiver_gives_up_too_soon_just_up_to_the_published_bound(most: int) -> None:
    bound = 2 * most * 3 + 3 * 1
    assert not holds(transfer(most, "3 s", f"{bound - 1} s"), "TR")
    assert not holds(transfer(most, "3 s", f"{bound} s"), "TR")
    assert holds(transfer(most, "3 s", f"over {bound} s .. {bound + 1} s"), "TR")
    assert holds(transfer(most, "3 s", f"{bound + 1} s"), "TR")


def test_the_published_pause_is_enough_and_what_is_needed_is_less() -> None:
    """The last new frame is there TD after it was sent for the last time, the sender gives up T1 after that: the
    receiver has given up TR + TD - T1 after the sender."""
    assert verdicts(transfer(1, "3 s", "10 s", "10 s")) == {"T1": HOLDS, "TR": HOLDS, "SYNC": HOLDS}
    assert holds(transfer(1, "3 s", "10 s", "9 s"), "SYNC")
    assert holds(transfer(1, "3 s", "10 s", "over 8 s .. 9 s"), "SYNC")
    assert not holds(transfer(1, "3 s", "10 s", "8 s"), "SYNC")


def test_margins_tell_the_published_bound_of_each_time() -> None:
    """2 MAX T1 + 3 TD = 9 s where the receiver waits 10: each time that comes once in it may grow by one second, and
    where the receiver waits no longer than that it breaks."""
    found = judged(transfer(1, "3 s", "10 s"), "TR", margins=True)
    told = {margin.window: margin.says for margin in found.margins or ()}
    expected = {"receiver gives_up_{}: at least 10 s": "breaks at 9 s and below"}
    expected["sender sends_again_{}_1: at most 3 s"] = "breaks from 4 s on"
    expected |= dict.fromkeys(("frame arrives_{}: at most 1 s", "answer arrives_{}: at most 1 s"), "breaks from 2 s on")
    assert told == {window.format(bit): says for window, says in expected.items() for bit in (0, 1)}


# --- two marks a bit ---


def marks(*, mark: str, cell: str, sample: str) -> str:
    """The level of a wire changes where a cell begins, and for a one again after `mark`. Who listens takes a change,
    where it waits for one, for the beginning of a cell, and looks after `sample`: has it changed again?"""
    return f"""
equipment:
  clock:
    states: [even, odd]
    start: even
    moves:
      ends_even: {{from: even, to: odd, takes: {cell}, also: {{cell: begins}}}}
      ends_odd: {{from: odd, to: even, takes: {cell}, also: {{cell: begins}}}}
  cell:
    states: [begins, zero, one, one_marked]
    start: zero
    moves:
      is_zero: {{from: begins, to: zero, takes: nothing, also: {{wire: begun}}}}
      is_one: {{from: begins, to: one, takes: nothing, also: {{wire: begun}}}}
      marks: {{from: one, to: one_marked, takes: {mark}, also: {{wire: marked}}}}
  wire:
    states: [steady, begun, marked]
    start: steady
    moves:
      is_taken:
        {{from: [begun, marked], to: steady, when: listener is waits, takes: nothing, also: {{listener: counts}}}}
      is_missed: {{from: begun, to: steady, when: listener is counts, takes: nothing, also: {{missed: true}}}}
      is_noted: {{from: marked, to: steady, when: listener is counts, takes: nothing}}
  missed: {{states: [false, true], start: false}}
  listener:
    states: [waits, counts]
    start: waits
    moves: {{looks: {{from: counts, to: waits, takes: {sample}}}}}
rules:
  not_too_early: {{never: becomes(listener is waits) and cell is one}}
  not_too_late: {{never: missed}}
"""


@pytest.mark.parametrize(("first", "more", "length"), list(product((2, 3, 4), (0, 1), (6, 7))))
def test_a_bit_is_read_right_just_if_it_is_looked_at_between_mark_and_end(first: int, more: int, length: int) -> None:
    """The latest mark at 3, the earliest end at 6 or 7. Who misses the beginning of a cell is out of step from then
    on."""
    last = first + 2 + more
    found = verdicts(marks(mark="2 s .. 3 s", cell=f"{length} s .. 8 s", sample=f"{first} s .. {last} s"))
    assert (set(found.values()) == {HOLDS}) is (first > 3 and last < length)
    if first <= 3:
        assert found["not_too_early"] is FAILS
    elif last >= length:
        assert found["not_too_late"] is FAILS


def test_where_the_moments_touch_one_open_end_is_enough() -> None:
    assert not holds(marks(mark="2 s .. 3 s", cell="6 s", sample="3 s .. 5 s"), "not_too_early")
    assert holds(marks(mark="2 s .. under 3 s", cell="6 s", sample="3 s .. 5 s"), "not_too_early")
    assert holds(marks(mark="2 s .. 3 s", cell="6 s", sample="over 3 s .. under 6 s"), "not_too_early")
    assert holds(marks(mark="2 s .. 3 s", cell="6 s", sample="over 3 s .. under 6 s"), "not_too_late")


# --- heartbeats ---


def heartbeats(*, period: str, delay: str, patience: str) -> str:
    """A heart that may stop at any time; who listens gives it up after its patience. Each beat begins it anew, so what
    waits has two states by turns."""
    return f"""
equipment:
  heart:
    states: [beats, stopped]
    start: beats
    moves: {{stops: {{from: beats, to: stopped, also: {{pulse: none}}}}}}
  pulse:
    states: [even, odd, none]
    start: even
    moves:
      sends_even: {{from: even, to: odd, takes: {period}, also: {{message: on_way}}}}
      sends_odd: {{from: odd, to: even, takes: {period}, also: {{message: on_way}}}}
  message:
    states: [none, on_way, there]
    start: none
    moves: {{arrives: {{from: on_way, to: there, takes: {delay}}}}}
  listener:
    states: [waits_first, waits_even, waits_odd, alarm]
    start: waits_first
    moves:
      hears_even:
        from: [waits_first, waits_odd]
        to: waits_even
        when: message is there
        takes: nothing
        also: {{message: none}}
      hears_odd: {{from: waits_even, to: waits_odd, when: message is there, takes: nothing, also: {{message: none}}}}
      despairs_even: {{from: waits_even, to: alarm, takes: {patience}}}
      despairs_odd: {{from: waits_odd, to: alarm, takes: {patience}}}
rules:
  no_false_alarm: {{never: listener is alarm and heart is beats}}
  told: {{after: heart is stopped, within: 7 s, must: listener is alarm, unless: listener is waits_first}}
"""


def test_a_stopped_heart_is_told_after_delay_and_patience_at_the_most() -> None:
    """Stopped just after a beat: its message is there 1 s later, and 6 s after that the alarm. Stopped just before a
    beat, 5 s after the last one, whose message took 0.5 s: 0.5 + 6 - 5 s. A heart that stops before its first message
    was sent is never told."""
    text = heartbeats(period="5 s", delay="0.5 s .. 1 s", patience="6 s")
    assert verdicts(text) == {"no_false_alarm": HOLDS, "told": HOLDS}
    assert between(text, "heart is stopped", "listener is alarm") == ("3/2 s", NEVER)
    begun = "heart is stopped and (listener is not waits_first or message is on_way)"
    assert between(text, begun, "listener is alarm") == ("3/2 s", "7 s")


def test_an_alarm_is_false_where_patience_is_no_longer_than_a_period_and_what_delays_differ_by() -> None:
    assert not holds(heartbeats(period="5 s", delay="0.5 s .. 1 s", patience="5.5 s"), "no_false_alarm")
    assert holds(heartbeats(period="5 s", delay="0.5 s .. 1 s", patience="over 5.5 s .. 6 s"), "no_false_alarm")
    assert holds(heartbeats(period="5 s", delay="over 0.5 s .. 1 s", patience="5.5 s"), "no_false_alarm")
    assert not holds(heartbeats(period="4.9 s .. 5.1 s", delay="0.5 s .. 1 s", patience="5.6 s"), "no_false_alarm")
    assert holds(heartbeats(period="4.9 s .. 5.1 s", delay="0.5 s .. 1 s", patience="5.601 s"), "no_false_alarm")
