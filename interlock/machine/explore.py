"""Everything that can happen in a small spec, by plain search with sets.

In: a `Spec`, a budget of failures, a limit on snapshots. Out: the situations, and the events as (before, id, after),
for any timing or with ages in ticks; or which rules and hazards are ever broken.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias, TypeVar

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
    settled: set[Values] = set()
    events: set[Happened] = set()

    def onward(before: Snapshot) -> Iterator[Snapshot]:
        if machine.settled(before):
            settled.add(before.situation)
        for event in machine.events(before):
            after = machine.after(before, event)
            events.add((before.situation, event.id, after.situation))
            yield after

    known, complete = _reached((start for start, _ in machine.starts()), onward, limit)
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
    events: set[TimedHappened] = set()
    ticks: set[tuple[Timed, Timed]] = set()

    def onward(before: Moment) -> Iterator[Moment]:
        if clock.may_tick(before):
            after = clock.tick(before)
            ticks.add((_timed(before), _timed(after)))
            yield after
        for event in clock.events(before):
            after = clock.after(before, event)
            events.add((_timed(before), event.id, _timed(after)))
            yield after

    known, complete = _reached((start for start, _ in clock.starts()), onward, limit)
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
    broken: set[str] = set()
    reached: set[str] = set()

    def met(before: Snapshot, after: Snapshot, watch: Watch, broke: tuple[str, ...]) -> tuple[Snapshot, Watch]:
        broken.update(broke)
        reached.update(judge.reached(watch, before, after))
        return after, watch

    def onward(known: tuple[Snapshot, Watch]) -> Iterator[tuple[Snapshot, Watch]]:
        before, watch = known
        for event in machine.events(before):
            after = machine.after(before, event)
            yield met(before, after, *judge.step(watch, before, event, after))

    starts = (met(start, start, *judge.begin(start, present)) for start, present in machine.starts())
    _, complete = _reached(starts, onward, limit)
    return Judged(frozenset(broken), frozenset(reached), complete)


T = TypeVar("T", bound=Hashable)


def _reached(starts: Iterable[T], onward: Callable[[T], Iterable[T]], limit: int) -> tuple[set[T], bool]:
    """All that can be reached, breadth first, at most `limit`; and whether that is everything."""
    known: set[T] = set()
    queue: deque[T] = deque()
    complete = True

    def meet(one: T) -> None:
        nonlocal complete
        if one in known:
            return
        if len(known) >= limit:
            complete = False
            return
        known.add(one)
        queue.append(one)

    for start in starts:
        meet(start)
    while queue:
        for after in onward(queue.popleft()):
            meet(after)
    return known, complete
