"""One random run of the machine, and making a run shorter.

In: a `Machine`, its `Judge`, coin tosses. Out: a `Run`: how it started, its events, what it broke first. The tosses
decide little: left alone, a walk prefers what has never happened, then where it has never been, so that long chains
(arrive, stop, lower, prove, energise) come about by themselves. What has been seen in earlier walks is handed in and
does not change during a walk, so that the same tosses always give the same run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from interlock.machine.judge import Judge
from interlock.machine.machine import Machine
from interlock.machine.situation import Event, Snapshot, Values

_REMEMBERED = 50_000


@dataclass(slots=True)
class Seen:
    """What earlier walks have seen: how often each event happened, which situations were met, which goals reached."""

    events: Counter[str] = field(default_factory=Counter)
    situations: set[Values] = field(default_factory=set)
    reached: set[str] = field(default_factory=set)


@dataclass(frozen=True, slots=True, repr=False)
class Run:
    """A run: `snapshots[0]` with the failures `present` at the start; event i leads to snapshot i + 1."""

    present: tuple[str, ...]
    snapshots: tuple[Snapshot, ...]
    events: tuple[Event, ...]
    broke: tuple[str, ...]
    reached: tuple[str, ...]


class Walker:
    """Walks one machine. `toss` gives coin tosses; all of them false is the walk that follows its nose."""

    def __init__(self, machine: Machine, judge: Judge) -> None:
        self.machine = machine
        self.judge = judge
        self._starts = tuple(machine.plain_starts())
        self._failures_for_start = machine.failures_for_start()
        # Walks come by the same situations again and again; what may happen there is remembered.
        self._possible: dict[Snapshot, tuple[Event, ...]] = {}
        self._led_to: dict[tuple[Snapshot, str], Snapshot] = {}

    def _events(self, snapshot: Snapshot) -> tuple[Event, ...]:
        if snapshot not in self._possible:
            if len(self._possible) >= _REMEMBERED:
                self._possible.clear()
            self._possible[snapshot] = self.machine.events(snapshot)
        return self._possible[snapshot]

    def _after(self, snapshot: Snapshot, event: Event) -> Snapshot:
        key = (snapshot, event.id)
        if key not in self._led_to:
            if len(self._led_to) >= _REMEMBERED:
                self._led_to.clear()
            self._led_to[key] = self.machine.after(snapshot, event)
        return self._led_to[key]

    def walk(self, toss: Callable[[], bool], length: int, seen: Seen, wanted: Collection[str]) -> Run:
        """A run of at most `length` events; it ends where it breaks a `wanted` rule, or where nothing can happen."""
        start, present = self._start(toss)
        watch, broke = self.judge.begin(start, present)
        reached = set(self.judge.reached(watch, start, start))
        broke = tuple(id for id in broke if id in wanted)
        snapshots = [start]
        events: list[Event] = []
        happened: Counter[str] = Counter()
        been = {start.situation}
        while not broke and len(events) < length:
            before = snapshots[-1]
            event = self._choose(toss, before, seen, happened, been)
            if event is None:
                break
            after = self._after(before, event)
            watch, all_broken = self.judge.step(watch, before, event, after)
            broke = tuple(id for id in all_broken if id in wanted)
            reached.update(self.judge.reached(watch, before, after))
            snapshots.append(after)
            events.append(event)
            happened[event.id] += 1
            been.add(after.situation)
        return Run(present, tuple(snapshots), tuple(events), broke, tuple(sorted(reached)))

    def _start(self, toss: Callable[[], bool]) -> tuple[Snapshot, tuple[str, ...]]:
        start = self._starts[_pick(toss, len(self._starts))]
        present: tuple[str, ...] = ()
        names = self._failures_for_start
        while len(present) < self.machine.budget and names and toss() and toss():
            chosen = tuple(sorted({*present, names[_pick(toss, len(names))]}, key=names.index))
            if len(chosen) == len(present) or self.machine.with_failures(start, chosen) is None:
                break
            present = chosen
        snapshot = self.machine.with_failures(start, present)
        assert snapshot is not None
        return snapshot, present

    def _choose(
        self, toss: Callable[[], bool], before: Snapshot, seen: Seen, happened: Counter[str], been: set[Values]
    ) -> Event | None:
        possible = self._events(before)
        ordinary = [event for event in possible if not event.cost]
        failing = [event for event in possible if event.cost]
        # Failures are rare, so that the ordinary course has come some way when they strike.
        if failing and (not ordinary or (toss() and toss() and toss())):
            ordinary = failing
        if len(ordinary) < 2:
            return ordinary[0] if ordinary else None
        if toss() and toss():
            return ordinary[_pick(toss, len(ordinary))]

        def attraction(event: Event) -> tuple[bool, bool, bool, bool, int]:
            situation = self._after(before, event).situation
            return (
                event.id in seen.events or event.id in happened,
                situation in seen.situations or situation in been,
                situation in been,
                event.id in happened,
                happened[event.id],
            )

        ranked = sorted(ordinary, key=attraction)
        # Among the most attractive ones, mostly the first.
        return ranked[min(_pick(toss, len(ranked)), _pick(toss, len(ranked)))] if toss() else ranked[0]

    def follow(self, start: Snapshot, present: tuple[str, ...], events: tuple[Event, ...], wanted: str) -> Run | None:
        """The run along these events as far as they can happen, others left out, up to where it breaks `wanted`."""
        watch, broke = self.judge.begin(start, present)
        snapshots, done = [start], []
        for event in events:
            if wanted in broke:
                break
            before = snapshots[-1]
            if event not in self._events(before):
                continue
            after = self._after(before, event)
            watch, broke = self.judge.step(watch, before, event, after)
            snapshots.append(after)
            done.append(event)
        if wanted not in broke:
            return None
        return Run(present, tuple(snapshots), tuple(done), (wanted,), ())

    def shorten(self, run: Run, wanted: str) -> Run:
        """A run that still breaks `wanted`, with no failure and no event in it that could be left out alone.

        Cost: about the square of the length in events, times a logarithm.
        """
        while True:
            shorter = self._without_failure_at_start(run, wanted) or self._without_events(run, wanted)
            if shorter is None:
                return run
            run = shorter

    def _without_failure_at_start(self, run: Run, wanted: str) -> Run | None:
        for gone in run.present:
            present = tuple(name for name in run.present if name != gone)
            for plain in self._starts:
                start = self.machine.with_failures(plain, present)
                shorter = None if start is None else self.follow(start, present, run.events, wanted)
                if shorter is not None:
                    return shorter
        return None

    def _without_events(self, run: Run, wanted: str) -> Run | None:
        size = max(1, len(run.events) // 2)
        while size and run.events:
            for first in range(0, len(run.events), size):
                left = run.events[:first] + run.events[first + size :]
                shorter = self.follow(run.snapshots[0], run.present, left, wanted)
                if shorter is not None and len(shorter.events) < len(run.events):
                    return shorter
            size //= 2
        return None


def _pick(toss: Callable[[], bool], count: int) -> int:
    """A number below `count`; all tosses false give 0."""
    number = 0
    for _ in range((count - 1).bit_length()):
        number = number * 2 + toss()
    return number % count
