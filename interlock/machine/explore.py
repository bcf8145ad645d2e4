"""Everything that can happen in a small spec, by plain search with sets.

In: a `Spec`, a budget of failures, a limit on snapshots. Out: the situations, and the events as (before, id, after),
for any timing or with ages in ticks; or which rules and hazards are ever broken.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from interlock.machine.clock import Ages, Clock, Moment
from interlock.machine.judge import Judge, Watch, largest_claim
from interlock.machine.machine import Machine
from interlock.machine.situation import Snapshot, Values
from interlock.spec.model import Spec

Happened: TypeAlias = tuple[Values, str, Values]


@dataclass(frozen=True, slots=True)
class Explored:
    """What was seen. `names`: the order of the values. `complete`: the limit was not hit; what is absent cannot be."""

    names: tuple[str, ...]
    situations: frozenset[Values]
    settled: frozenset[Values]
    events: frozenset[Happened]
    complete: bool


def explore(spec: Spec, budget: int, limit: int = 100_000, allowed: tuple[str, ...] | None = None) -> Explored:
    """Explore a spec from all its starts, breadth first; `limit` counts snapshots (situation and failures spent)."""
    machine = Machine(spec, budget, allowed)
    known: set[Snapshot] = set()
    queue: deque[Snapshot] = deque()
    settled: set[Values] = set()
    events: set[Happened] = set()
    complete = True

    def meet(snapshot: Snapshot) -> None:
        nonlocal complete
        if snapshot in known:
            return
        if len(known) >= limit:
            complete = False
            return
        known.add(snapshot)
        queue.append(snapshot)

    for start, _ in machine.starts():
        meet(start)
    while queue:
        before = queue.popleft()
        if machine.settled(before):
            settled.add(before.situation)
        for event in machine.events(before):
            after = machine.after(before, event)
            events.add((before.situation, event.id, after.situation))
            meet(after)
    return Explored(
        tuple(machine.layout.names),
        frozenset(snapshot.situation for snapshot in known),
        frozenset(settled),
        frozenset(events),
        complete,
    )


Timed: TypeAlias = tuple[Values, Ages]
TimedHappened: TypeAlias = tuple[Timed, str, Timed]


@dataclass(frozen=True, slots=True)
class TimedExplored:
    """What was seen under the declared timing: situations with ages in ticks of `tick_s` seconds, at most `oldest`.

    `ticks`: where a tick of time may pass, and where that leads. `complete`: the limit was not hit; what is absent
    cannot be.
    """

    names: tuple[str, ...]
    tick_s: Fraction
    oldest: int
    situations: frozenset[Timed]
    events: frozenset[TimedHappened]
    ticks: frozenset[tuple[Timed, Timed]]
    complete: bool


def explore_in_ticks(
    spec: Spec, budget: int, limit: int = 100_000, allowed: tuple[str, ...] | None = None
) -> TimedExplored:
    """Explore a spec within its declared windows, tick by tick; `limit` counts snapshots with ages. OpenEndError if a
    window has an open end. Cost: grows with the number of ages at once and with the longest window in ticks."""
    machine = Machine(spec, budget, allowed)
    clock = Clock(machine)
    known: set[Moment] = set()
    queue: deque[Moment] = deque()
    events: set[TimedHappened] = set()
    ticks: set[tuple[Timed, Timed]] = set()
    complete = True

    def meet(moment: Moment) -> None:
        nonlocal complete
        if moment in known:
            return
        if len(known) >= limit:
            complete = False
            return
        known.add(moment)
        queue.append(moment)

    for start, _ in clock.starts():
        meet(start)
    while queue:
        before = queue.popleft()
        if clock.may_tick(before):
            after = clock.tick(before)
            ticks.add((_timed(before), _timed(after)))
            meet(after)
        for event in clock.events(before):
            after = clock.after(before, event)
            events.add((_timed(before), event.id, _timed(after)))
            meet(after)
    return TimedExplored(
        tuple(machine.layout.names),
        clock.tick_s,
        clock.oldest,
        frozenset(map(_timed, known)),
        frozenset(events),
        frozenset(ticks),
        complete,
    )


def _timed(moment: Moment) -> Timed:
    return moment.snapshot.situation, moment.ages


@dataclass(frozen=True, slots=True)
class Judged:
    """Rules and hazards that some run breaks at what they withstand, `possible` rules that some run fulfils without a
    failure; `complete`: every run was looked at, so the others are kept, or cannot be fulfilled."""

    broken: frozenset[str]
    reached: frozenset[str]
    complete: bool


def judge_all(spec: Spec, limit: int = 100_000) -> Judged:
    """Judge a small spec along all its runs; `limit` counts snapshots with what the judge remembers."""
    machine = Machine(spec, largest_claim(spec), tuple(failure.id for failure in spec.failures))
    judge = Judge(machine)
    known: set[tuple[Snapshot, Watch]] = set()
    queue: deque[tuple[Snapshot, Watch]] = deque()
    broken: set[str] = set()
    reached: set[str] = set()
    complete = True

    def meet(before: Snapshot, after: Snapshot, watch: Watch, broke: tuple[str, ...]) -> None:
        nonlocal complete
        broken.update(broke)
        reached.update(judge.reached(watch, before, after))
        if (after, watch) in known:
            return
        if len(known) >= limit:
            complete = False
            return
        known.add((after, watch))
        queue.append((after, watch))

    for start, present in machine.starts():
        meet(start, start, *judge.begin(start, present))
    while queue:
        before, watch = queue.popleft()
        for event in machine.events(before):
            after = machine.after(before, event)
            meet(before, after, *judge.step(watch, before, event, after))
    return Judged(frozenset(broken), frozenset(reached), complete)
