"""Runs, and what earlier walks have seen: events, situations, and milestones from which to go on.

A milestone is the first (or shortest) run to a new stage (the steps of all sequences and how much of what their next
moves need is there), or to an event that had never happened. Later walks set out from milestones as well as from the
start, and so get far along a chain of permissives.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from typing import TypeAlias

from interlock.machine.judge import Watch
from interlock.machine.situation import Event, Snapshot, Values

Mark: TypeAlias = Hashable
"""What makes a milestone: an event id, or a stage with the failures spent."""


@dataclass(frozen=True, slots=True, repr=False)
class Run:
    """A run: `snapshots[0]` with the failures `present` at the start; event i leads to snapshot i + 1.

    `watches`: what the judge remembers at each snapshot. `anew`: how many of the events were walked, not taken over
    from a milestone.
    """

    present: tuple[str, ...]
    snapshots: tuple[Snapshot, ...]
    watches: tuple[Watch, ...]
    events: tuple[Event, ...]
    anew: int
    broke: tuple[str, ...]
    reached: tuple[str, ...]

    def up_to(self, n_events: int) -> Run:
        """The first events of the run."""
        end = n_events + 1
        return Run(self.present, self.snapshots[:end], self.watches[:end], self.events[:n_events], 0, (), ())


@dataclass(slots=True)
class Milestone:
    """A way to a mark, and how often a walk set out from its end."""

    way: Run
    chosen: int = 0


@dataclass(slots=True)
class Seen:
    """What walks have seen so far. `stage_of`: the stage of a situation; `steps_of`: the steps of its sequences."""

    stage_of: Callable[[Snapshot], Mark]
    steps_of: Callable[[Snapshot], Hashable]
    events: Counter[str] = field(default_factory=Counter)
    situations: set[Values] = field(default_factory=set)
    reached: set[str] = field(default_factory=set)
    milestones: dict[Mark, Milestone] = field(default_factory=dict)

    def learn(self, runs: Iterable[Run]) -> None:
        """Take in what some walks have seen."""
        for run in runs:
            self.reached.update(run.reached)
            first_new = len(run.events) - run.anew
            for index, snapshot in enumerate(run.snapshots):
                self.situations.add(snapshot.situation)
                if index > first_new:
                    event = run.events[index - 1].id
                    if event not in self.events:
                        self._keep(event, run, index)
                    self.events[event] += 1
                self._keep(self.stage_of(snapshot), run, index)
            self._count_choice(run, first_new)

    def _keep(self, mark: Mark, run: Run, n_events: int) -> None:
        known = self.milestones.get(mark)
        if known is None:
            self.milestones[mark] = Milestone(run.up_to(n_events))
        elif len(known.way.events) > n_events:
            known.way = run.up_to(n_events)

    def _count_choice(self, run: Run, n_events: int) -> None:
        end = run.snapshots[n_events]
        for milestone in self.milestones.values():
            if milestone.way.snapshots[-1] == end:
                milestone.chosen += 1

    def tempting(self) -> list[Run]:
        """The ways to all milestones, the most tempting first: rarely chosen and with few failures spent; then where
        few other milestones have the sequences in the same steps; then the latest found."""
        latest_first = list(reversed(self.milestones.values()))
        steps = {id(milestone): self.steps_of(milestone.way.snapshots[-1]) for milestone in latest_first}
        crowd = Counter(steps.values())

        def staleness(milestone: Milestone) -> tuple[int, int]:
            return milestone.chosen + milestone.way.snapshots[-1].spent, crowd[steps[id(milestone)]]

        return [milestone.way for milestone in sorted(latest_first, key=staleness)]
