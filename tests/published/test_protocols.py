"""Two protocols of the textbooks, their counts calculated for the model stated here."""

from __future__ import annotations

import pytest

from interlock.core.question import Verdict
from interlock.core.system import System
from tests.small_systems import Before, Event, Table, ask, avoid, counts, everything

ENGINES = ["reference", "quick", "explicit"]


def peterson(*, flag_and_turn_at_once: bool) -> System:
    """Peterson's mutual exclusion (G. L. Peterson, Myths about the mutual exclusion problem, 1981), two processes."""
    places = ("idle", "waiting", "critical") if flag_and_turn_at_once else ("idle", "flagged", "waiting", "critical")
    table = Table({"p0": places, "p1": places, "turn": (0, 1)})
    events: list[Event] = []
    for i in (0, 1):
        me, other = f"p{i}", f"p{1 - i}"
        if flag_and_turn_at_once:
            events.append((f"{me} asks", {me: ["idle"]}, {me: "waiting", "turn": 1 - i}))
        else:
            events.append((f"{me} raises its flag", {me: ["idle"]}, {me: "flagged"}))
            events.append((f"{me} gives way", {me: ["flagged"]}, {me: "waiting", "turn": 1 - i}))
        # The other has no flag up, or it is my turn: two disjoint events, so that none is counted twice.
        events.append((f"{me} enters, nobody asks", {me: ["waiting"], other: ["idle"]}, {me: "critical"}))
        busy = [place for place in places if place != "idle"]
        events.append((f"{me} enters, its turn", {me: ["waiting"], other: busy, "turn": [i]}, {me: "critical"}))
        events.append((f"{me} leaves", {me: ["critical"]}, {me: "idle"}))
    both = table.all({"p0": ["critical"], "p1": ["critical"]})
    return table.system({"p0": "idle", "p1": "idle", "turn": 0}, events, (avoid(both),))


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize(("at_once", "situations", "events"), [(True, 10, 16), (False, 20, 34)])
def test_petersons_processes_are_never_both_inside(engine: str, at_once: bool, situations: int, events: int) -> None:
    # 10 situations and 16 events with flag and turn in one step, 20 and 34 in two steps; no deadlock: CALC.
    system = peterson(flag_and_turn_at_once=at_once)
    assert ask(engine, system, "hazard").verdict is Verdict.HOLDS
    assert counts(engine, system) == (situations, events)
    assert everything(engine, system).stuck is None


def alternating_bit() -> System:
    """Our own model: a sender and a receiver, a place for one message and one for one answer, both may lose it.

    The sender puts its bit into an empty message place (again and again), the receiver takes a message, turns its
    expected bit if it matches, and puts the bit it took into the answer place if that is empty. The sender takes an
    answer and turns its bit if it matches.
    """
    table = Table({"sends": (0, 1), "expects": (0, 1), "message": ("-", 0, 1), "answer": ("-", 0, 1)})
    events: list[Event] = []
    for bit in (0, 1):
        events.append((f"send {bit}", {"sends": [bit], "message": ["-"]}, {"message": bit}))
        new: Before = {"expects": [bit], "message": [bit], "answer": ["-"]}
        old: Before = {"expects": [1 - bit], "message": [bit], "answer": ["-"]}
        events.append((f"take new {bit}", new, {"message": "-", "answer": bit, "expects": 1 - bit}))
        events.append((f"take old {bit}", old, {"message": "-", "answer": bit}))
        events.append((f"confirmed {bit}", {"sends": [bit], "answer": [bit]}, {"answer": "-", "sends": 1 - bit}))
        events.append((f"stale {bit}", {"sends": [1 - bit], "answer": [bit]}, {"answer": "-"}))
        events.append((f"lose message {bit}", {"message": [bit]}, {"message": "-"}))
        events.append((f"lose answer {bit}", {"answer": [bit]}, {"answer": "-"}))
    # The receiver may be ahead of the sender by one message, never behind: the answer 1 - bit to a sender of `bit` is
    # stale. Two messages are mixed up if the receiver expects what the sender sends next while an answer to it is due.
    return table.system({"sends": 0, "expects": 0, "message": "-", "answer": "-"}, events)


def enumerated() -> tuple[int, int, int]:
    """The same model enumerated by a program that shares nothing with the core: situations, events, and how many pairs
    of situations an event joins."""

    def following(state: tuple[object, ...]) -> list[tuple[object, ...]]:
        sends, expects, message, answer = state
        found: list[tuple[object, ...]] = []
        if message == "-":
            found.append((sends, expects, sends, answer))
        else:
            if answer == "-":
                turned = 1 - expects if message == expects else expects  # type: ignore[operator]
                found.append((sends, turned, "-", message))
            found.append((sends, expects, "-", answer))
        if answer != "-":
            turned = 1 - sends if answer == sends else sends  # type: ignore[operator]
            found.append((turned, expects, message, "-"))
            found.append((sends, expects, message, "-"))
        return found

    known = {(0, 0, "-", "-")}
    work: list[tuple[object, ...]] = list(known)
    n_events = 0
    pairs = set()
    while work:
        state = work.pop()
        for after in following(state):
            n_events += 1
            pairs.add((state, after))
            if after not in known:
                known.add(after)  # type: ignore[arg-type]
                work.append(after)
    return len(known), n_events, len(pairs)


@pytest.mark.parametrize("engine", ENGINES)
def test_the_alternating_bit_protocol_has_the_count_of_a_separate_program(engine: str) -> None:
    # 18 situations and 36 distinct steps: CALC, for one-place lossy channels both ways. An answer that is stale may be
    # dropped or lost, which are two events between the same situations.
    situations, n_events, n_pairs = enumerated()
    assert (situations, n_pairs) == (18, 36)
    assert counts(engine, alternating_bit()) == (situations, n_events)
