"""Looking for a run to what is sought, with some ends of windows counting and all others left out.

In: a settled graph, the ends that count. Out: a run with fewest failures, then fewest events, or None if there is none.

The idea: zones over the clocks of what is enabled and has an end that counts. Leaving an end out only allows more runs,
so "none" holds for all windows as well. For a deadline there are two sets: ends that count only while it is open, and
ends that always count; where nothing counts before, ages at its opening are anything that the windows allow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import count
from typing import TypeAlias

from interlock.core.question import Bound
from interlock.core.system import PropertyKind
from interlock.core.timed import age_of
from interlock.engines.timed.constraints import Run
from interlock.engines.timed.graph import DEADLINES, END, Graph, Stride
from interlock.engines.timed.zones import (
    AT_MOST_ZERO,
    FREE,
    UNKNOWN,
    Zone,
    bound,
    carried,
    inside,
    passed,
    tightened,
    widened,
)

Told: TypeAlias = Callable[[int, int | None], None]
"""Called with what is known and the depth, as `Limits.progress`."""


def more_zones_than(most: int) -> str:
    """That there are more zones than so many, in words."""
    return f"more than {most:,} zones of ages were reached"


class TooManyZones(Exception):
    """More zones than the limit."""


@dataclass(frozen=True, slots=True)
class Counting:
    """The ends that count: always, or only while a deadline is open."""

    always: frozenset[Bound] = frozenset()
    while_open: frozenset[Bound] = frozenset()

    @property
    def bounds(self) -> frozenset[Bound]:
        """All of them."""
        return self.always | self.while_open


@dataclass(slots=True)
class _Known:
    """A zone that was reached. `cost`: failures and events to here."""

    zone: Zone
    cost: tuple[int, int]
    node: int
    open: bool
    came: _Known | None
    stride: Stride | None
    done: bool = False
    dead: bool = False


@dataclass(frozen=True, slots=True)
class _Ends:
    """For each owner, the ends that count, in ticks; None: does not count."""

    earliest: tuple[tuple[int, bool] | None, ...]
    latest: tuple[tuple[int, bool] | None, ...]
    clocks: int

    @staticmethod
    def of(graph: Graph, counting: frozenset[Bound]) -> _Ends:
        earliest: list[tuple[int, bool] | None] = []
        latest: list[tuple[int, bool] | None] = []
        clocks = 0
        for i, owner in enumerate(graph.owners):
            window = owner.window
            assert window is not None
            early, late = Bound(owner.id, False) in counting, Bound(owner.id, True) in counting
            earliest.append((window.earliest, window.earliest_open) if early else None)
            latest.append((window.latest, window.latest_open) if late and window.latest is not None else None)
            if earliest[-1] is not None or latest[-1] is not None:
                clocks |= 1 << i
        return _Ends(tuple(earliest), tuple(latest), clocks)


def search(graph: Graph, counting: Counting, most: int, told: Told | None) -> tuple[Run | None, int]:
    """A run with the ends that count, or None; and how many zones were reached. TooManyZones; TooMany and Unsettling
    as the graph says."""
    one = Search(graph, counting, most, told)
    return one.run(), one.n_zones


class Search:
    """One search. `n_zones`: zones reached."""

    def __init__(self, graph: Graph, counting: Counting, most: int, told: Told | None) -> None:
        self.graph = graph
        self.n_zones = 0
        self._most = most
        self._told = told
        self._ends = (_Ends.of(graph, counting.always), _Ends.of(graph, counting.bounds))
        index = {owner.id: i for i, owner in enumerate(graph.owners)}
        self._owner_of = [index.get(age_of(action), -1) for action in graph.system.actions]
        self._watch = len(graph.owners)
        self._rule = graph.rule if graph.rule.kind in DEADLINES else None
        self._reached: dict[tuple[int, bool], list[_Known]] = {}
        self._waiting: list[tuple[tuple[int, int], int, _Known | Run]] = []
        self._order = count()
        self._clocks_of: dict[tuple[int, bool], list[int]] = {}
        self._limits_of: dict[tuple[int, bool], tuple[list[int], list[int], list[int]]] = {}
        self._after = graph.rule.kind is PropertyKind.AFTER

    def run(self) -> Run | None:
        """The run, or None. TooManyZones; TooMany and Unsettling as the graph says."""
        for _, (node, _, spent), length in self.graph.starts():
            if node == END:
                self._end((spent, length), Run(END, ()))
                continue
            now = self.graph.nodes[node]
            is_open = self._rule is not None and now.holds and not now.closes
            zone = [AT_MOST_ZERO] * (len(self._clocks(node, is_open)) + 1) ** 2
            self._arrive(zone, node, is_open, (spent, length), None, None)
        while self._waiting:
            cost, _, known = heappop(self._waiting)
            if isinstance(known, Run):
                return known
            if known.dead:
                continue
            known.done = True
            if self._told is not None:
                self._told(self.n_zones, cost[1])
            for stride in self.graph.strides(known.node):
                self._follow(known, stride)
        return None

    def _end(self, cost: tuple[int, int], run: Run) -> None:
        """An end waits like a zone, so that a shorter one found later goes first."""
        heappush(self._waiting, (cost, next(self._order), run))

    def _clocks(self, node: int, is_open: bool) -> list[int]:
        """The owners that have a clock here, in their order; the deadline's own last."""
        key = (self.graph.nodes[node].enabled & self._ends[is_open].clocks, is_open)
        clocks = self._clocks_of.get(key)
        if clocks is None:
            clocks = self._clocks_of[key] = [i for i in range(self._watch) if key[0] >> i & 1]
            if is_open:
                clocks.append(self._watch)
        return clocks

    def _follow(self, known: _Known, stride: Stride) -> None:
        clocks = self._clocks(known.node, known.open)
        n = len(clocks) + 1
        zone = self._happening(known, stride, clocks)
        if zone is None:
            return
        here = self.graph.nodes[known.node]
        then = None if stride.to == END else self.graph.nodes[stride.to]
        cost = (stride.spent, known.cost[1] + stride.length)
        if then is None:
            self._end(cost, self._run(known, stride))
            return
        is_open = self._opens(known.open, here.holds, then.holds, then.closes)
        if known.open and self._too_soon(zone, n, then.holds):
            self._end(cost, replace(self._run(known, stride), too_soon=True))
        goes_on = is_open and known.open and (then.holds or self._after)
        kept = []
        for owner in self._clocks(stride.to, is_open):
            if owner == self._watch:
                kept.append(clocks.index(owner) + 1 if goes_on else 0)
            elif stride.afresh >> owner & 1 or not here.enabled >> owner & 1:
                kept.append(0)
            else:
                kept.append(clocks.index(owner) + 1 if owner in clocks else UNKNOWN)
        self._arrive(carried(zone, n, kept), stride.to, is_open, cost, known, stride)

    def _opens(self, was_open: bool, held: bool, holds: bool, closes: bool) -> bool:
        """Whether the deadline is open once a settled situation is reached, as in `TimedMeaning.watch`."""
        if self._rule is None:
            return False
        if not self._after:
            return holds
        return (was_open or (holds and not held)) and not closes

    def _happening(self, known: _Known, stride: Stride, clocks: list[int]) -> Zone | None:
        """The zone of those ages at which the first event of a stride may happen; None: there are none."""
        owner = self._owner_of[stride.action]
        ends = self._ends[known.open]
        zone = list(known.zone)
        if owner not in clocks:
            return zone
        i, n = clocks.index(owner) + 1, len(clocks) + 1
        early, late = ends.earliest[owner], ends.latest[owner]
        if early is not None and not tightened(zone, n, 0, i, bound(-early[0], early[1])):
            return None
        if late is not None and not tightened(zone, n, i, 0, bound(late[0], late[1])):
            return None
        return zone

    def _too_soon(self, zone: Zone, n: int, holds: bool) -> bool:
        """Whether a condition that was to last longer may end here."""
        if self._rule is None or self._after or holds or self._rule.within is None:
            return False
        within = self._rule.within
        limit = bound(within.earliest, not within.earliest_open)
        return tightened(list(zone), n, n - 1, 0, limit)

    def _arrive(
        self, zone: Zone, node: int, is_open: bool, cost: tuple[int, int], came: _Known | None, stride: Stride | None
    ) -> None:
        clocks = self._clocks(node, is_open)
        n = len(clocks) + 1
        lower, upper, latest = self._limits(node, is_open, clocks)
        if not passed(zone, n, latest):
            return
        reached = _Known(zone, cost, node, is_open, came, stride)
        if self.graph.nodes[node].sought:
            self._end(cost, self._run_to(reached))
            return
        if is_open and self._too_late(zone, n):
            self._end(cost, replace(self._run_to(reached), too_late=True))
            return
        widened(zone, n, lower, upper)
        others = self._reached.setdefault((node, is_open), [])
        left = []
        for other in others:
            if other.cost <= cost and inside(zone, other.zone):
                return
            if not other.done and other.cost >= cost and inside(other.zone, zone):
                other.dead = True
            else:
                left.append(other)
        left.append(reached)
        self._reached[node, is_open] = left
        self.n_zones += 1
        if self.n_zones > self._most:
            raise TooManyZones(more_zones_than(self._most))
        heappush(self._waiting, (cost, next(self._order), reached))

    def _too_late(self, zone: Zone, n: int) -> bool:
        """Whether so much time may pass here that an open deadline is broken."""
        assert self._rule is not None
        within = self._rule.within
        if within is None or within.latest is None:
            return False
        return zone[(n - 1) * n] > bound(within.latest, within.latest_open)

    def _limits(self, node: int, is_open: bool, clocks: list[int]) -> tuple[list[int], list[int], list[int]]:
        """For each clock: the largest constants it is tested against from below and above (-1: none), and the bound
        beyond which time may not pass."""
        key = (self.graph.nodes[node].enabled & self._ends[is_open].clocks, is_open)
        found = self._limits_of.get(key)
        if found is None:
            found = self._limits_of[key] = self._limits_made(is_open, clocks)
        return found

    def _limits_made(self, is_open: bool, clocks: list[int]) -> tuple[list[int], list[int], list[int]]:
        ends = self._ends[is_open]
        lower, upper, latest = [], [], []
        for owner in clocks:
            if owner == self._watch:
                within = self._rule.within if self._rule is not None else None
                lower.append(-1 if within is None or within.latest is None else within.latest)
                upper.append(-1 if within is None else within.earliest)
                latest.append(FREE)
                continue
            early, late = ends.earliest[owner], ends.latest[owner]
            lower.append(-1 if early is None else early[0])
            upper.append(-1 if late is None else late[0])
            latest.append(bound(*late) if late is not None and self.graph.owners[owner].obliged else FREE)
        return lower, upper, latest

    def _run(self, known: _Known, stride: Stride) -> Run:
        before = self._run_to(known)
        return replace(before, strides=(*before.strides, stride))

    def _run_to(self, known: _Known) -> Run:
        strides: list[Stride] = []
        at = known
        while at.came is not None:
            assert at.stride is not None
            strides.append(at.stride)
            at = at.came
        return Run(at.node, tuple(reversed(strides)))
