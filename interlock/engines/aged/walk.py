"""Walking through a system step by step: an event, or time going on to where the next age says something new.

In: a stage and a way to keep ages. Out: everything that can be reached, and a way with fewest failures, then fewest
events to an end. Time going on is no event.

How ages are kept is all that engines differ in: whole ticks, or regions. Here they are opaque.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count
from typing import Protocol, TypeAlias

from interlock.core.question import Counts
from interlock.core.system import PropertyKind, TickWindow, Valuation
from interlock.engines.aged.stage import Place, Stage
from interlock.engines.api import Limits
from interlock.engines.reference.runs import Node

Ages: TypeAlias = tuple[object, ...]
"""One entry a clock."""

WAIT = -1
"""Time going on, where an action's index stands for its event."""

BEAT = -2
"""Time going on, and one more unit of it is over."""


class Keeping(Protocol):
    """A way to keep ages. An age is asked for only while its clock runs."""

    def none(self) -> Ages:
        """No clock runs."""
        ...

    def after(self, ages: Ages, afresh: Collection[int], running: Collection[int] | None) -> Ages:
        """Ages after an event: `afresh` start afresh; then, in a settled situation, those in `running` run, from 0 if
        they did not, and no others. None: a passing situation."""
        ...

    def later(self, ages: Ages) -> Ages:
        """Ages as they are next, without an event; the same if nothing new can come of that."""
        ...

    def early(self, ages: Ages, clock: int, window: TickWindow) -> bool:
        """Whether an age lies before a window."""
        ...

    def beyond(self, ages: Ages, clock: int, window: TickWindow) -> bool:
        """Whether an age lies beyond the latest of a window."""
        ...


@dataclass(frozen=True, slots=True)
class Aged:
    """A node with ages. `was`: whether the condition of a deadline held in the settled situation before. `open`: a
    deadline runs. `owes`: of `always_ends`."""

    node: Node
    ages: Ages
    was: bool = False
    open: bool = False
    owes: bool = False

    @property
    def valuation(self) -> Valuation:
        """The situation."""
        return self.node[0]


@dataclass(frozen=True, slots=True)
class Move:
    """An event or time going on; `ends`: with it the end is there."""

    event: int
    after: Aged
    ends: bool


Owing: TypeAlias = Callable[[bool, Valuation], bool]
"""Whether a run owes an end in a situation, if it did before."""


class Walk:
    """The moves of one system under one question."""

    def __init__(self, stage: Stage, keeping: Keeping, owing: Owing | None = None) -> None:
        self.stage = stage
        self.keeping = keeping
        self._owing = owing
        self._after: dict[Node, dict[int, tuple[Node, bool]]] = {}

    def starts(self) -> Iterator[tuple[Aged, bool]]:
        """The starts, with whether they are an end already."""
        for node, ends in self.stage.runs.starts(self.stage.question.budget):
            start, _ = self._arrived(node, self.keeping.none(), frozenset(), Aged(node, ()))
            yield start, ends

    def moves(self, aged: Aged) -> Iterator[Move]:
        """Events in declaration order, then time going on."""
        stage = self.stage
        for i in self.possible(aged):
            found = self._successors(aged.node).get(i)
            if found is not None:
                node, ends = found
                after, broken = self._arrived(node, aged.ages, stage.afresh[i], aged)
                yield Move(i, after, ends or broken)
        time = self._later(aged)
        if time is not None:
            yield time

    def possible(self, aged: Aged) -> Iterator[int]:
        """Actions that may happen, whether or not the run is cut there."""
        stage = self.stage
        valuation, spent, _ = aged.node
        for edge in stage.graph.edges(valuation):
            if spent + edge.action.cost > stage.question.budget:
                continue
            clock, window = stage.clock[edge.i], edge.action.window
            if (
                clock is None
                or window is None
                or not (self.keeping.early(aged.ages, clock, window) or self.keeping.beyond(aged.ages, clock, window))
            ):
                yield edge.i

    def _successors(self, node: Node) -> dict[int, tuple[Node, bool]]:
        found = self._after.get(node)
        if found is None:
            runs = self.stage.runs
            found = {i: (after, ends) for i, after, ends in runs.successors(node, self.stage.question.budget)}
            self._after[node] = found
        return found

    def _later(self, aged: Aged) -> Move | None:
        stage, keeping = self.stage, self.keeping
        place = stage.place(aged.valuation)
        if not place.settled:
            return None
        ages = keeping.later(aged.ages)
        if any(keeping.beyond(ages, clock, window) for clock, window in place.holding):
            return None
        overdue = False
        if aged.open:
            assert stage.deadline is not None
            assert stage.rule.within is not None
            overdue = keeping.beyond(ages, stage.deadline, stage.rule.within)
        event = WAIT
        if stage.beat is not None and not keeping.early(ages, stage.beat, TickWindow(stage.unit)):
            event = BEAT
            ages = keeping.after(ages, (stage.beat,), self._running(place, aged.open))
        return Move(event, Aged(aged.node, ages, aged.was, aged.open, aged.owes), overdue)

    def _arrived(self, node: Node, ages: Ages, afresh: frozenset[int], before: Aged) -> tuple[Aged, bool]:
        """The aged situation after an event (or at the start), and whether it breaks a deadline by being too soon."""
        stage, keeping = self.stage, self.keeping
        place = stage.place(node[0])
        owes = self._owing is not None and self._owing(before.owes, node[0])
        if not place.settled:
            return Aged(node, keeping.after(ages, afresh, None), before.was, before.open, owes), False
        is_open = too_soon = False
        if stage.rule.kind is PropertyKind.LASTS:
            assert stage.deadline is not None
            assert stage.rule.within is not None
            is_open = place.holds
            too_soon = not is_open and before.open and keeping.early(ages, stage.deadline, stage.rule.within)
        elif stage.deadline is not None:
            is_open = (before.open or (place.holds and not before.was)) and not place.closes
        ages = keeping.after(ages, afresh, self._running(place, is_open))
        return Aged(node, ages, place.holds, is_open, owes), too_soon

    def _running(self, place: Place, is_open: bool) -> frozenset[int]:
        stage = self.stage
        others = [clock for clock in (stage.deadline if is_open else None, stage.beat) if clock is not None]
        return place.running.union(others)


@dataclass(frozen=True, slots=True)
class Trail:
    """Aged situations from a start to an end, and what led from one to the next."""

    states: tuple[Aged, ...]
    events: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Explored:
    """What a search came to. `came`: all that is known, with where it came from; everything that can be reached if
    there is no `trail` and it did not go `beyond` the limit."""

    came: dict[Aged, tuple[Aged, int] | None]
    happened: frozenset[tuple[Valuation, int, int]]
    trail: Trail | None
    beyond: bool

    def way_to(self, aged: Aged) -> Trail:
        """The way by which something known was reached: fewest failures, then fewest events."""
        return _trail(self.came, self.came[aged], aged)

    def counts(self, stage: Stage) -> Counts:
        """Distinct situations and events, whatever the ages."""
        valuations = {aged.valuation for aged in self.came}
        settled = sum(map(stage.graph.settled, valuations))
        return Counts(settled, len(valuations) - settled, len(self.happened))


def explore(walk: Walk, limits: Limits) -> Explored:
    """Look for an end by failures, then events; all that can be reached if there is none. `Limits.states` counts
    situations with their ages."""
    order = count()
    came: dict[Aged, tuple[Aged, int] | None] = {}
    happened: set[tuple[Valuation, int, int]] = set()
    waiting: list[tuple[int, int, int, bool, Aged, tuple[Aged, int] | None]] = []
    for start, ends in walk.starts():
        heappush(waiting, (start.node[1], 0, next(order), ends, start, None))
    while waiting:
        _, depth, _, ends, aged, before = heappop(waiting)
        if ends:
            return Explored(came, frozenset(happened), _trail(came, before, aged), False)
        if aged in came:
            continue
        came[aged] = before
        if len(came) > limits.states:
            return Explored(came, frozenset(happened), None, True)
        if limits.progress is not None and len(came) % 1_000 == 0:
            limits.progress(len(came), depth)
        valuation, spent, _ = aged.node
        happened.update((valuation, spent, i) for i in walk.possible(aged))
        for move in walk.moves(aged):
            if move.ends or move.after not in came:
                further = depth + (move.event >= 0)
                heappush(waiting, (move.after.node[1], further, next(order), move.ends, move.after, (aged, move.event)))
    return Explored(came, frozenset(happened), None, False)


def _trail(came: dict[Aged, tuple[Aged, int] | None], before: tuple[Aged, int] | None, last: Aged) -> Trail:
    states, events = [last], []
    while before is not None:
        aged, event = before
        states.append(aged)
        events.append(event)
        before = came[aged]
    return Trail(tuple(reversed(states)), tuple(reversed(events)))
