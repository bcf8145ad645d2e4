"""Everything that can happen in a small spec, by plain search with sets.

In: a `Spec`, a budget of failures, a limit on snapshots. Out: the situations, and the events as (before, id, after).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TypeAlias

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
