"""One random walk of the machine.

In: a `Machine`, its `Judge`, coin tosses. Out: a `Run`: how it started, its events, what it broke first. The tosses
decide little: left alone, a walk prefers what has never happened, then where it has never been, so that long chains
(arrive, stop, lower, prove, energise) come about by themselves. What has been seen in earlier walks is handed in and
does not change during a walk, so that the same tosses always give the same run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection

from interlock.machine.judge import Judge
from interlock.machine.remembered import Remembered
from interlock.machine.seen import Mark, Run, Seen
from interlock.machine.situation import Event, Snapshot, Values

_REMEMBERED = 50_000
_LONGEST_CALM = 64
"""Events before the first failure of a walk, at most."""

_PATIENCE = 25
"""Events without a new stage, after which about half of the walks give up."""


class Walker:
    """Walks one machine. `toss` gives coin tosses; all of them false is the walk that follows its nose."""

    def __init__(self, remembered: Remembered, judge: Judge) -> None:
        self.remembered = remembered
        self.machine = machine = remembered.machine
        self.judge = judge
        self._starts = tuple(machine.plain_starts())
        self._failures_for_start = machine.failures_for_start()
        self._stages: dict[Snapshot, Mark] = {}

    def stage_of(self, snapshot: Snapshot) -> Mark:
        """How far the sequences have come, with the failures spent."""
        if snapshot not in self._stages:
            if len(self._stages) >= _REMEMBERED:
                self._stages.clear()
            self._stages[snapshot] = (self.machine.progress(snapshot), snapshot.spent)
        return self._stages[snapshot]

    def steps_of(self, snapshot: Snapshot) -> tuple[str | int, ...]:
        """The steps of all sequences."""
        return tuple(sequence[0] for sequence in self.machine.progress(snapshot))

    def walk(self, toss: Callable[[], bool], length: int, seen: Seen, wanted: Collection[str]) -> Run:
        """A run that goes on for at most `length` events from a start or a milestone, up to where it breaks a `wanted`
        rule or nothing can happen."""
        run = self._set_out(toss, seen, wanted)
        if run.broke:
            return run
        snapshots, watches, events = list(run.snapshots), list(run.watches), list(run.events)
        reached = set(run.reached)
        happened = Counter(event.id for event in events)
        stages = {self.stage_of(run.snapshots[-1])}
        been = {snapshot.situation for snapshot in snapshots}
        calm = _pick(toss, _LONGEST_CALM) if self.machine.budget else 0
        broke: tuple[str, ...] = ()
        patience = length if toss() else min(length, _PATIENCE)
        anew = last_new = 0
        while not broke and anew < length and anew - last_new < patience:
            before = snapshots[-1]
            event = self._choose(toss, before, seen, happened, been, anew >= calm)
            if event is None:
                break
            after = self.remembered.after(before, event)
            watch, all_broken = self.judge.step(watches[-1], before, event, after)
            broke = tuple(id for id in all_broken if id in wanted)
            reached.update(self.judge.reached(watch, before, after))
            snapshots.append(after)
            watches.append(watch)
            events.append(event)
            happened[event.id] += 1
            been.add(after.situation)
            anew += 1
            stage = self.stage_of(after)
            if stage not in stages and stage not in seen.milestones:
                stages.add(stage)
                last_new = anew
        return Run(run.present, tuple(snapshots), tuple(watches), tuple(events), anew, broke, tuple(sorted(reached)))

    def _set_out(self, toss: Callable[[], bool], seen: Seen, wanted: Collection[str]) -> Run:
        """Mostly from the most tempting milestone; now and then from a start."""
        ways = seen.tempting()
        if ways and not (toss() and toss()):
            number = 0
            while number < len(ways) - 1 and toss():
                number += 1
            return ways[number]
        start, present = self._start(toss)
        watch, all_broken = self.judge.begin(start, present)
        broke = tuple(id for id in all_broken if id in wanted)
        reached = self.judge.reached(watch, start, start)
        return Run(present, (start,), (watch,), (), 0, broke, reached)

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
        self,
        toss: Callable[[], bool],
        before: Snapshot,
        seen: Seen,
        happened: Counter[str],
        been: set[Values],
        may_fail: bool,
    ) -> Event | None:
        possible = self.remembered.events(before)
        ordinary = [event for event in possible if not event.cost]
        failing = [event for event in possible if event.cost]
        # Failures are rare, so that the ordinary course has come some way when they strike.
        if failing and (not ordinary or (may_fail and toss() and toss() and toss())):
            ordinary = failing
        if len(ordinary) < 2:
            return ordinary[0] if ordinary else None
        if toss() and toss():
            return ordinary[_pick(toss, len(ordinary))]

        def attraction(event: Event) -> tuple[bool, bool, bool, bool, int]:
            after = self.remembered.after(before, event)
            return (
                self.stage_of(after) in seen.milestones,
                event.id in seen.events or event.id in happened,
                after.situation in seen.situations or after.situation in been,
                after.situation in been,
                happened[event.id],
            )

        ranked = sorted(ordinary, key=attraction)
        # Among the most attractive ones, mostly the first.
        return ranked[min(_pick(toss, len(ranked)), _pick(toss, len(ranked)))] if toss() else ranked[0]


def _pick(toss: Callable[[], bool], count: int) -> int:
    """A number below `count`; all tosses false give 0."""
    number = 0
    for _ in range((count - 1).bit_length()):
        number = number * 2 + toss()
    return number % count
