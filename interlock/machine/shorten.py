"""Making a run that breaks a rule shorter, after Hypothesis has done what it can with the tosses.

In: a `Machine`, its `Judge`, a `Run`, the rule. Out: a run that still breaks it, in which no failure and no event can
be left out alone, and no detour made straight by a few other events. Hypothesis shortens what decides a walk; here
events themselves are left out, and what cannot happen then is skipped. The result need not be a shortest run.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from interlock.machine.judge import Judge
from interlock.machine.remembered import Remembered
from interlock.machine.seen import Run
from interlock.machine.situation import Event, Snapshot

_STRAIGHT = 6
"""Events of a straight way that replaces a detour, at most."""

_LOOKED_AT = 400
"""Snapshots looked at for one straight way, at most."""


class Shortener:
    """Shortens runs of one machine."""

    def __init__(self, remembered: Remembered, judge: Judge) -> None:
        self.remembered = remembered
        self.machine = machine = remembered.machine
        self.judge = judge
        self._starts = tuple(machine.plain_starts())

    def shorten(self, run: Run, wanted: str) -> Run:
        """A run that still breaks `wanted`, with no failure and no event in it that could be left out alone.

        Cost: about the square of the length in events, times a logarithm, and `_LOOKED_AT` snapshots an event.
        """
        while True:
            shorter = (
                self._without_failure_at_start(run, wanted)
                or self._without_events(run, wanted)
                or self._without_detour(run, wanted)
            )
            if shorter is None:
                return run
            run = shorter

    def follow(self, start: Snapshot, present: tuple[str, ...], events: tuple[Event, ...], wanted: str) -> Run | None:
        """The run along these events up to where it breaks `wanted`, those that cannot happen left out; None if it does
        not break it."""
        watch, broke = self.judge.begin(start, present)
        snapshots, watches = [start], [watch]
        done: list[Event] = []
        for event in events:
            if wanted in broke:
                break
            before = snapshots[-1]
            if event not in self.remembered.events(before):
                continue
            after = self.remembered.after(before, event)
            watch, broke = self.judge.step(watches[-1], before, event, after)
            snapshots.append(after)
            watches.append(watch)
            done.append(event)
        if wanted not in broke:
            return None
        return Run(present, tuple(snapshots), tuple(watches), tuple(done), len(done), (wanted,), ())

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

    def _without_detour(self, run: Run, wanted: str) -> Run | None:
        """The run with some part replaced by a shorter way between the same two snapshots."""
        last_place = {snapshot: place for place, snapshot in enumerate(run.snapshots)}
        for first in range(len(run.events)):
            for way, end in self._ways_from(run.snapshots[first]):
                then = last_place.get(end, 0)
                if then - first > len(way):
                    events = (*run.events[:first], *way, *run.events[then:])
                    shorter = self.follow(run.snapshots[0], run.present, events, wanted)
                    if shorter is not None and len(shorter.events) < len(run.events):
                        return shorter
        return None

    def _ways_from(self, start: Snapshot) -> Iterator[tuple[tuple[Event, ...], Snapshot]]:
        """Short ways from a snapshot, the shortest first."""
        known = {start}
        ways: deque[tuple[tuple[Event, ...], Snapshot]] = deque([((), start)])
        while ways and len(known) < _LOOKED_AT:
            way, here = ways.popleft()
            yield way, here
            if len(way) == _STRAIGHT:
                continue
            for event in self.remembered.events(here):
                there = self.remembered.after(here, event)
                if there not in known:
                    known.add(there)
                    ways.append(((*way, event), there))
