"""A bus and a ring: response times of messages and rotation times of a token, written as specs.

The bus gives way by priority and never breaks off a message. R. I. Davis, A. Burns, R. J. Bril and J. J. Lukkien,
Controller Area Network (CAN) schedulability analysis: refuted, revisited and revised, Real-Time Systems 35 (2007):
three messages of 1 ms, every 2.5, 3.5 and 3.5 ms; the older analysis takes the lowest for 3 ms, but its second one
takes 3.5 and misses a deadline of 3.25 (from memory; worked out again below).
Token with a target rotation time: R. M. Grow, A timed token protocol for local area networks, 1982; K. C. Sevcik and
M. J. Johnson, Cycle time properties of the FDDI token ring protocol, IEEE Trans. Software Engineering 13 (1987): a
rotation takes at most twice the target, if what stations may always send, and the way round, take no more than that.
Here also the greatest rotation itself, the target and all that may always be sent, against a walk in whole
milliseconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil

import pytest

from interlock.core.question import Verdict
from tests.timed_texts import between, holds, judged

# --- the bus ---

Messages = Mapping[str, tuple[Fraction, Fraction]]
"""In the order of priority: how long each takes and how long it is at least between two of them, in ms."""

PUBLISHED: Messages = {
    "first": (Fraction(1), Fraction("2.5")),
    "second": (Fraction(1), Fraction("3.5")),
    "third": (Fraction(1), Fraction("3.5")),
}


def ms(time: Fraction) -> str:
    return f"{float(time)} ms"


def bus(messages: Messages) -> str:
    """Messages come at any time, but not sooner after the last of their kind than their time between two. The highest
    that is queued is sent as soon as the bus is free."""
    names = list(messages)
    lines = ["equipment:", "  bus:", f"    states: [idle, {', '.join(f'sends_{name}' for name in names)}]"]
    lines += ["    start: idle", "    moves:"]
    for i, name in enumerate(names):
        takes, _ = messages[name]
        highest = " and ".join([f"{name} is queued", *(f"{other} is not queued" for other in names[:i])])
        begins = f"from: idle, to: sends_{name}, when: {highest}, takes: nothing, also: {{{name}: sent}}"
        lines.append(f"      begins_{name}: {{{begins}}}")
        lines.append(f"      ends_{name}: {{from: sends_{name}, to: idle, takes: {ms(takes)}, also: {{{name}: none}}}}")
    for name, (_, apart) in messages.items():
        lines += [
            f"  {name}: {{states: [none, queued, sent, too_many], start: none}}",
            f"  source_{name}:",
            "    states: [may, rests]",
            "    start: may",
            "    moves:",
            f"      queues: {{from: may, to: rests, when: {name} is none, also: {{{name}: queued}}}}",
            f"      queues_another: {{from: may, to: rests, when: {name} is not none, also: {{{name}: too_many}}}}",
            f"      has_rested: {{from: rests, to: may, takes: {ms(apart)}}}",
        ]
    return "\n".join(lines)


def response(messages: Messages, name: str) -> Fraction:
    """The greatest response of all within the longest busy period, as the revised analysis has it."""
    names = list(messages)
    place = names.index(name)
    takes, apart = messages[name]
    blocked = max((messages[other][0] for other in names[place + 1 :]), default=Fraction(0))
    higher = [messages[other] for other in names[:place]]

    def least_fixed(base: Fraction, among: Sequence[tuple[Fraction, Fraction]], *, closed: bool) -> Fraction:
        time = base or sum((one[0] for one in among), Fraction(0))
        while True:
            # A higher message that comes just when sending could begin goes first.
            times = [(t // p + 1 if closed else ceil(t / p), c) for t, (c, p) in ((time, one) for one in among)]
            after = base + sum((n * c for n, c in times), Fraction(0))
            if after == time:
                return time
            time = after

    busy = least_fixed(blocked, [*higher, messages[name]], closed=False)
    return max(
        least_fixed(blocked + q * takes, higher, closed=True) - q * apart + takes for q in range(ceil(busy / apart))
    )


def test_the_second_message_of_the_lowest_priority_is_the_late_one() -> None:
    assert [response(PUBLISHED, name) for name in PUBLISHED] == [2, 3, Fraction("3.5")]
    for name in PUBLISHED:
        seconds = response(PUBLISHED, name) / 1000
        assert between(bus(PUBLISHED), f"{name} is queued", f"{name} is none") == ("1/1000 s", f"{seconds} s")


def test_the_published_deadline_is_missed_and_that_of_the_older_analysis_is_no_bound() -> None:
    for within, kept in (("3 ms", False), ("3.25 ms", False), ("3.5 ms", True)):
        deadline = f"\nrules: {{R: {{after: third is queued, within: {within}, must: third is none}}}}"
        assert holds(bus(PUBLISHED) + deadline, "R") is kept, within


def test_other_messages_take_what_the_revised_analysis_says() -> None:
    two: Messages = {"high": (Fraction(2), Fraction(5)), "low": (Fraction(3), Fraction(7))}
    assert [response(two, name) for name in two] == [5, 5]
    for name in two:
        found = between(bus(two), f"{name} is queued", f"{name} is none")
        assert found == (f"{two[name][0] / 1000} s", f"{response(two, name) / 1000} s")


# --- the ring ---


def ring(target: int, always: Sequence[int], walk: int) -> str:
    """Stations in a ring; `always`: for how long each may send whenever it has the token. It may send on before that
    until its timer, begun when the token came the last time, has reached the target; a new timer begins when the
    token comes."""
    stations = range(len(always))
    states = [f"{state}_{i}" for i in stations for state in ("walks", "comes", "sends_on", "sends")]
    lines = ["equipment:", "  token:", f"    states: [{', '.join(states)}]", "    start: walks_0", "    moves:"]
    for i, hold in enumerate(always):
        lines.append(f"      is_there_{i}: {{from: walks_{i}, to: comes_{i}, takes: {walk} ms}}")
        for old, new in (("x", "y"), ("y", "x")):
            came = f"from: comes_{i}, takes: nothing, when: last_{i} is {old} and {old}_{i} is"
            begins = f"last_{i}: {new}, {new}_{i}: runs"
            lines += [
                f"      early_{i}_{old}: {{to: sends_on_{i}, {came} runs, also: {{{begins}}}}}",
                f"      late_{i}_{old}: {{to: sends_{i}, {came} is_out, also: {{{begins}, {old}_{i}: off}}}}",
                f"      ends_{i}_{old}: {{from: sends_on_{i}, to: sends_{i}, when: last_{i} is {new},",
                f"          also: {{{old}_{i}: off}}}}",
                f"      must_end_{i}_{old}: {{from: sends_on_{i}, to: sends_{i}, takes: nothing,",
                f"          when: last_{i} is {new} and {old}_{i} is is_out, also: {{{old}_{i}: off}}}}",
            ]
        onwards = f"walks_{(i + 1) % len(always)}"
        lines.append(f"      passes_on_{i}: {{from: sends_{i}, to: {onwards}, takes: 0 ms .. {hold} ms}}")
    for i in stations:
        lines.append(f"  last_{i}: {{states: [x, y], start: x}}")
        for timer, start in (("x", "runs"), ("y", "off")):
            lines += [f"  {timer}_{i}:", "    states: [off, runs, is_out]", f"    start: {start}"]
            lines += [f"    moves: {{runs_out: {{from: runs, to: is_out, takes: {target} ms}}}}"]
    return "\n".join(lines)


def longest_rotation(target: int, always: Sequence[int], walk: int) -> int:
    """From one coming of the token at the first station to the next, in whole milliseconds, over all runs."""
    longest = 0
    start = (0, (walk * len(always),) * len(always))
    known, work = {start}, [start]
    while work:
        at, since = work.pop()
        if at == 0:
            longest = max(longest, since[0])
        for more in range(max(0, target - since[at]) + 1):
            for sent in range(always[at] + 1):
                took = more + sent + walk
                ages = tuple(took if i == at else min(age + took, 10 * target) for i, age in enumerate(since))
                after = ((at + 1) % len(always), ages)
                if after not in known:
                    known.add(after)
                    work.append(after)
    return longest


@pytest.mark.parametrize(
    ("target", "always", "walk"), [(8, (4, 4), 0), (8, (3, 3), 1), (8, (2, 3), 1), (8, (5, 4), 0), (6, (2, 2, 2), 0)]
)
def test_the_token_is_back_within_the_target_and_all_that_may_always_be_sent(
    target: int, always: Sequence[int], walk: int
) -> None:
    longest = longest_rotation(target, always, walk)
    assert longest == target + sum(always)
    assert between(ring(target, always, walk), "last_0 is x", "last_0 is y")[1] == f"{Fraction(longest, 1000)} s"


def test_twice_the_target_is_kept_just_where_what_is_always_sent_fits_into_it() -> None:
    twice = "\nrules: {R: {condition: last_0 is x, lasts: 0 s .. 16 ms}}"
    assert holds(ring(8, (4, 4), 0) + twice, "R")
    assert not holds(ring(8, (5, 4), 0) + twice, "R")
    never_reached = "\nrules: {R: {condition: last_0 is x, lasts: 0 s .. under 16 ms}}"
    assert not holds(ring(8, (4, 4), 0) + never_reached, "R")
    assert holds(ring(8, (3, 4), 0) + never_reached, "R")


def test_what_a_rotation_rests_on_may_grow_by_what_is_left_of_twice_the_target() -> None:
    """With 2 and 3 to send always 13 of 16 are used, so each may take 3 more. The old timer of the other station began
    when the token was there, which may be just before it came here; of the 2 + 3 only its own 3 come after it."""
    twice = "\nrules: {R: {condition: last_0 is x, lasts: 0 s .. 16 ms}}"
    found = judged(ring(8, (2, 3), 0) + twice, "R", margins=True)
    assert found.verdict is Verdict.HOLDS
    assert {margin.window: margin.says for margin in found.margins or ()} == {
        "token is_there_0: at most 0 s": "breaks beyond 3 ms",
        "token is_there_1: at most 0 s": "breaks beyond 3 ms",
        "token passes_on_0: at most 2 ms": "breaks beyond 5 ms",
        "token passes_on_1: at most 3 ms": "breaks beyond 6 ms",
        "y_0 runs_out: at most 8 ms": "breaks beyond 11 ms",
        "y_1 runs_out: at most 8 ms": "breaks beyond 13 ms",
    }
