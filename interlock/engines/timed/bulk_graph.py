"""The settled graph of a question over a `Bulk`, with a compiled search. The same to `refine.py` as `Graph`.

Nodes are situations by number. A search reads arrays that are made for the ends that count; a run that is found is then
followed way by way, so that the ages of all windows along it are known, not only of those that counted.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from itertools import pairwise
from math import gcd

import numpy as np
import numpy.typing as npt

from interlock.core.meaning import Meaning, State
from interlock.core.question import Bound, Question
from interlock.core.system import PropertyKind, System, Valuation
from interlock.core.timed import age_of
from interlock.engines.api import EngineFault
from interlock.engines.explicit.arrays import I64
from interlock.engines.quick.observe import speaks_of_events
from interlock.engines.timed import kernels_graph as ways
from interlock.engines.timed import kernels_zones as kernels
from interlock.engines.timed.bulk import Bulk, Truth, larger
from interlock.engines.timed.constraints import Run
from interlock.engines.timed.graph import DEADLINES, END, Node, Outcome, Stride, TooMany, TooWide, afresh_by, owners_of
from interlock.engines.timed.on_ways import ends_at_start, ends_by_way
from interlock.engines.timed.search import Counting, Told, TooManyZones, more_zones_than
from interlock.engines.timed.zones import bound
from interlock.logic.expression import Expression

MOST_CLOCKS = 30
MOST_TICKS = 1 << 26
MOST_EVENTS = 1 << 14
"""Events that a run may have."""

MOST_ON_WAY = 2048
"""Situations that one stride may pass through."""

LONG_RUNS = f"runs of more than {MOST_EVENTS - MOST_ON_WAY:,} events bear on it"

SLACK = 100_000
TURNS = 200_000


class Nodes:
    """Nodes by number, made when asked for."""

    def __init__(self, graph: BulkGraph) -> None:
        self._graph = graph
        self._known: dict[int, Node] = {}

    def __getitem__(self, number: int) -> Node:
        node = self._known.get(number)
        if node is None:
            node = self._known[number] = self._graph.node(number)
        return node


class BulkGraph:
    """The settled graph of one question over the situations of a bulk (no cuts)."""

    def __init__(self, system: System, question: Question, bulk: Bulk) -> None:
        self.meaning = Meaning(system, question)
        self.system = self.meaning.system
        self.question = question
        self.rule = self.system.property(question.property)
        self.bulk = bulk
        self.owners = owners_of(self.system)
        self.nodes = Nodes(self)
        self._afresh = afresh_by(self.system, self.owners)
        self.settled: Truth = bulk.tier == 2
        self._all_settled: I64 = np.flatnonzero(self.settled)
        deadline = self.rule.kind in DEADLINES
        closes = [one for one in (self.rule.must, self.rule.unless) if one is not None]
        self._holds = self._where_settled([self.rule.condition] if deadline else [])
        self._closes = self._where_settled(closes if self.rule.kind is PropertyKind.AFTER else [])
        on_events = speaks_of_events(self.rule)
        self._sought = self._where_settled([] if deadline or on_events else [self.rule.condition])
        if not deadline and not on_events and self.rule.passing:
            self._sought = bulk.true(self.rule.condition)
        self._ends = ends_by_way(bulk, self.rule) if on_events else np.zeros(0, np.uint8)
        self._ends_at_start = ends_at_start(bulk, self.rule) if on_events else frozenset[int]()
        self._spent = bulk.spent.astype(np.uint8)
        self._rank = (np.cumsum(self.settled) - 1).astype(np.int32)
        self._enabled: dict[int, Truth] = {}
        self._ways: dict[tuple[int, Stride], list[tuple[int, int]]] = {}
        self._before_open: tuple[I64, I64] | None = None

    def _where_settled(self, any_of: list[Expression]) -> Truth:
        """Of all situations: settled, and one of these is true there."""
        found: Truth = np.zeros(self.settled.shape, np.bool_)
        for one in any_of:
            found[self._all_settled] |= self.bulk.true(one, self._all_settled)
        return found

    def node(self, number: int) -> Node:
        """A settled situation as a node."""
        valuation, spent = self.bulk.valuation(number)
        enabled = 0
        for i, owner in enumerate(self.owners):
            if self.meaning.true(owner.guard, valuation):
                enabled |= 1 << i
        holds, closes = bool(self._holds[number]), bool(self._closes[number])
        return Node(number, spent, enabled, bool(self._sought[number]), holds, closes)

    def unpack(self, state: int) -> Valuation:
        """The valuation of a situation."""
        return self.bulk.valuation(state)[0]

    def starts(self) -> Iterator[tuple[State, Outcome, int]]:
        """All starts: the state, where it leads before time passes, the events until then."""
        for state, number in zip(self.meaning.starts(), self.bulk.starts, strict=True):
            for to, is_end, way in self._at_rest(number):
                yield state, (END if is_end else to, 0, int(self._spent[to])), len(way)

    def events_at_start(self, state: State, outcome: Outcome, length: int) -> list[tuple[int, int]]:
        """(action, situation after) of the events from a start until it settles so."""
        for other, number in zip(self.meaning.starts(), self.bulk.starts, strict=True):
            if other == state:
                for to, is_end, way in self._at_rest(number):
                    here = END if is_end else to
                    if (here, int(self._spent[to]), len(way)) == (outcome[0], outcome[2], length):
                        return way
        raise EngineFault("a start cannot be followed")

    def events_of(self, state: int, spent: int, stride: Stride) -> list[tuple[int, int]]:
        """(action, situation after) of the events of a stride from a situation."""
        return self._ways[state, stride]

    def _at_rest(self, number: int) -> Iterator[tuple[int, bool, list[tuple[int, int]]]]:
        """Where a situation at the start comes to rest, or to what is sought: there, whether to the latter, by which
        events."""
        if number in self._ends_at_start:
            yield number, True, []
            return
        work: deque[tuple[int, list[tuple[int, int]]]] = deque([(number, [])])
        seen = {number}
        while work:
            here, way = work.popleft()
            if self._sought[here] or self.settled[here]:
                yield here, bool(self._sought[here]), way
                continue
            for action, to, is_end in self._onward(here):
                if is_end:
                    yield to, True, [*way, (action, to)]
                elif to not in seen:
                    seen.add(to)
                    work.append((to, [*way, (action, to)]))

    def _onward(self, number: int) -> Iterator[tuple[int, int, bool]]:
        """The ways from a situation: action, situation after, whether this event is what is sought."""
        bulk, on_events = self.bulk, bool(self._ends.shape[0])
        for way in range(int(bulk.first[number]), int(bulk.first[number + 1])):
            yield int(bulk.by[way]), int(bulk.to[way]), on_events and bool(self._ends[way])

    # --- searching ---

    def search(self, counting: Counting, most: int, told: Told | None) -> tuple[Run | None, int]:
        """A run with the ends that count, or None; and how many zones were reached. TooManyZones, TooWide."""
        searching = self.searching(counting)
        searching.begin()
        return searching.run(most, told)

    def searching(self, counting: Counting) -> Searching:
        """A search with the ends that count, its room made. TooWide."""
        ids = sorted({one.of for one in counting.bounds})
        clocks = [i for i, owner in enumerate(self.owners) if owner.id in ids]
        if len(clocks) > MOST_CLOCKS:
            raise TooWide
        deadline = self.rule.kind in DEADLINES
        places, asked = self._places(clocks), self._asked(clocks, counting)
        begins = self.before_open() if deadline and not counting.always else None
        return Searching(self, places, asked, len(clocks) + 1 + deadline, begins)

    def before_open(self) -> tuple[I64, I64]:
        """The settled situations with a stride in which a deadline opens, and what the shortest way there costs.

        Where no age counts while no deadline is open, every situation that can be reached for any timing is reached
        then; what comes before need not be looked for again in each search. TooWide.
        """
        if self._before_open is None:
            bulk = self.bulk
            holds, opens = self._holds, self._holds & ~self._closes
            leads = np.zeros(self.settled.shape[0], np.uint8)
            while ways.rising(bulk.first, bulk.to, bulk.tier, opens, leads):
                pass
            found = np.zeros(self._all_settled.shape[0], np.int64)
            n = ways.before_rising(bulk.first, bulk.to, bulk.tier, holds, opens, leads, found)
            begins = found[:n].copy()
            events = bulk.events()[begins]
            if events.size and int(events.max()) > MOST_EVENTS - MOST_ON_WAY:
                raise TooWide(LONG_RUNS)
            costs = self._spent[begins].astype(np.int64) * MOST_EVENTS + events
            self._before_open = (begins, costs)
        return self._before_open

    def _enabled_mask(self, clocks: list[int]) -> npt.NDArray[np.uint32]:
        mask = np.zeros(self._all_settled.shape[0], np.uint32)
        for bit, i in enumerate(clocks):
            if i not in self._enabled:
                self._enabled[i] = self.bulk.true(self.owners[i].guard, self._all_settled)
            mask |= self._enabled[i].astype(np.uint32) << np.uint32(bit)
        return mask

    def _places(self, clocks: list[int]) -> kernels.Places:
        bulk = self.bulk
        return kernels.Places(
            bulk.first, bulk.to, bulk.by, bulk.tier, self._spent, self._rank, self._enabled_mask(clocks),
            self._sought.astype(np.uint8), self._holds.astype(np.uint8), self._closes.astype(np.uint8), self._ends,
        )  # fmt: skip

    def _asked(self, clocks: list[int], counting: Counting) -> kernels.Asked:
        n_actions, n_clocks = len(self.system.actions), len(clocks)
        unit = self._unit(counting)
        bit = {self.owners[i].id: c for c, i in enumerate(clocks)}
        free = kernels.FREE
        clock = np.array([bit.get(age_of(action), -1) for action in self.system.actions], np.int32)
        afresh = np.zeros(n_actions, np.uint32)
        for a, all_owners in enumerate(self._afresh):
            afresh[a] = sum(1 << c for c, i in enumerate(clocks) if all_owners >> i & 1)
        early, late = np.full((2, n_actions), free, np.int32), np.full((2, n_actions), free, np.int32)
        latest = np.full((2, n_clocks + 1), free, np.int32)
        lower, upper = np.full((2, n_clocks + 1), -1, np.int32), np.full((2, n_clocks + 1), -1, np.int32)
        in_use = np.zeros(2, np.uint32)
        for phase, counts in enumerate((counting.always, counting.bounds)):
            for a, action in enumerate(self.system.actions):
                window = action.window
                if clock[a] < 0 or window is None:
                    continue
                if Bound(age_of(action), False) in counts:
                    early[phase, a] = bound(-window.earliest // unit, window.earliest_open)
                if Bound(age_of(action), True) in counts and window.latest is not None:
                    late[phase, a] = bound(window.latest // unit, window.latest_open)
            for c, i in enumerate(clocks):
                owner, window = self.owners[i], self.owners[i].window
                assert window is not None
                if Bound(owner.id, False) in counts:
                    lower[phase, c] = window.earliest // unit
                    in_use[phase] |= np.uint32(1 << c)
                if Bound(owner.id, True) in counts and window.latest is not None:
                    upper[phase, c] = window.latest // unit
                    in_use[phase] |= np.uint32(1 << c)
                    if owner.obliged:
                        latest[phase, c] = bound(window.latest // unit, window.latest_open)
        kind = {PropertyKind.AFTER: kernels.AFTER, PropertyKind.LASTS: kernels.LASTS}.get(self.rule.kind, kernels.PLAIN)
        within = self.rule.within
        rule = np.array([kind, 0, 0, 0, n_clocks, MOST_EVENTS, self.question.budget, 0], np.int64)
        if kind != kernels.PLAIN and within is not None:
            rule[kernels.TOO_SOON] = bound(within.earliest // unit, not within.earliest_open)
            upper[:, n_clocks] = within.earliest // unit
            if within.latest is not None:
                rule[kernels.TOO_LATE] = bound(within.latest // unit, within.latest_open)
                rule[kernels.HAS_TOO_LATE] = 1
                lower[:, n_clocks] = within.latest // unit
        return kernels.Asked(clock, afresh, early, late, in_use, latest, lower, upper, rule)

    def _unit(self, counting: Counting) -> int:
        """The longest time, in ticks, of which all times that count are multiples: arrays hold them in it, and nothing
        else is different then. TooWide: some are too long for that."""
        times = [0]
        for action in self.system.actions:
            window = action.window
            if window is not None:
                ends = ((False, window.earliest), (True, window.latest or 0))
                times += [time for latest, time in ends if Bound(age_of(action), latest) in counting.bounds]
        if self.rule.within is not None:
            times += [self.rule.within.earliest, self.rule.within.latest or 0]
        unit = gcd(*times) or 1
        if max(times) // unit > MOST_TICKS:
            raise TooWide(
                f"its times are too far apart: one is over {MOST_TICKS:,} times the longest step that measures all"
            )
        return unit

    def run_of(self, zones: I64, last: int, afresh: npt.NDArray[np.uint32], only_open: bool) -> Run:
        """The run that leads to a zone, its strides followed way by way. The ways are kept for `events_of`."""
        chain = [last]
        while zones[chain[-1], kernels.CAME] >= 0:
            chain.append(int(zones[chain[-1], kernels.CAME]))
        chain.reverse()
        begin = int(zones[chain[0], kernels.NODE])
        before_open = only_open and begin & 1 == 0
        start, strides = self._way_to(begin >> 1) if before_open else (begin >> 1, [])
        here = begin >> 1
        if len(chain) == 1 and int(zones[last, kernels.HOW]) == kernels.END:
            return Run(END, ())
        for z in chain[1:]:
            row = zones[z]
            before = int(zones[row[kernels.CAME], kernels.COST])
            length = (int(row[kernels.COST]) - before) % MOST_EVENTS
            to = int(row[kernels.NODE]) >> 1
            end = int(row[kernels.HOW]) == kernels.END
            by_event = end and bool(self._ends.shape[0])
            first, over = int(row[kernels.ACTION]), int(row[kernels.AFRESH])
            way = self._followed(here, first, (to, over, length, by_event), afresh)
            ends = by_event or (end and not self.settled[to])
            strides.append(self._stride(here, way, END if ends else to))
            here = to
        how = int(zones[last, kernels.HOW])
        return Run(start, tuple(strides), how == kernels.END_TOO_LATE, how == kernels.END_TOO_SOON)

    def _way_to(self, number: int) -> tuple[int, list[Stride]]:
        """A shortest run to a settled situation: where it settles first, and its strides."""
        along = [number]
        while along[-1] > max(self.bulk.starts):
            along.append(int(self.bulk.came[along[-1]]))
        along.reverse()
        start: int | None = along[0] if self.settled[along[0]] else None
        here, strides = along[0], list[Stride]()
        way: list[tuple[int, int]] = []
        for before, after in pairwise(along):
            way.append(next((by, to) for by, to, _ in self._onward(before) if to == after))
            if not self.settled[after]:
                continue
            if start is None:
                start = after
            else:
                strides.append(self._stride(here, way, after))
            here, way = after, []
        assert start is not None
        return start, strides

    def _stride(self, here: int, way: list[tuple[int, int]], to: int) -> Stride:
        """The stride of these events, kept for `events_of`."""
        over = 0
        for action, _ in way:
            over |= self._afresh[action]
        stride = Stride(way[0][0], to, over, int(self._spent[way[-1][1]]), len(way))
        self._ways[here, stride] = way
        return stride

    def _followed(
        self, here: int, action: int, goal: tuple[int, int, int, bool], afresh: npt.NDArray[np.uint32]
    ) -> list[tuple[int, int]]:
        """The events of a stride. `goal`: where it ends, with which clocks afresh, after how many events, whether with
        one that is what is sought."""
        begin, is_end = next((then, end) for by, then, end in self._onward(here) if by == action)
        first = int(afresh[action])
        if (begin, first, 1, is_end) == goal:
            return [(action, begin)]
        work: deque[tuple[int, int, list[tuple[int, int]]]] = deque([(begin, first, [(action, begin)])])
        seen = {(begin, first)}
        while work:
            at, over, way = work.popleft()
            if (at, over, len(way), False) == goal:
                return way
            if self._sought[at] or self.settled[at]:
                continue
            for by, then, is_end in self._onward(at):
                key = (then, over | int(afresh[by]))
                if is_end:
                    if (*key, len(way) + 1, True) == goal:
                        return [*way, (by, then)]
                elif key not in seen:
                    seen.add(key)
                    work.append((*key, [*way, (by, then)]))
        raise EngineFault("a stride cannot be followed")


class Searching:
    """One search: the room it needs, and how it grows."""

    def __init__(
        self, graph: BulkGraph, places: kernels.Places, asked: kernels.Asked, n: int, begins: tuple[I64, I64] | None
    ) -> None:
        self.graph = graph
        self.places = places
        self.asked = asked
        self.n = n
        self.begins = begins
        n_begins = 0 if begins is None else begins[0].shape[0]
        self.zones = np.zeros((4 * SLACK + n_begins, 9), np.int64)
        self.numbers = np.zeros(4 * SLACK * n * n, np.int32)
        self.here = np.full(2 * int(graph.settled.sum()), -1, np.int64)
        self.waiting = np.full(((graph.question.budget + 1) * MOST_EVENTS, 2), -1, np.int64)
        self.state = np.zeros(5, np.int64)
        self.zone, self.tried, self.then = (np.zeros((n, n), np.int32) for _ in range(3))
        self.rows = np.zeros((5, n + 1), np.int64)
        self.on_way = np.zeros((MOST_ON_WAY, 3), np.int64)
        self.seen = np.zeros(graph.settled.shape[0], np.int64)

    def run(self, most: int, told: Told | None) -> tuple[Run | None, int]:
        """The run or None, and the zones reached. To be begun before."""
        while True:
            said = kernels.search(
                self.places, self.asked, self.zones, self.numbers, self.here, self.waiting, self.state, self.zone,
                self.tried, self.then, self.rows, self.on_way, self.seen, SLACK, TURNS,
            )  # fmt: skip
            reached = int(self.state[kernels.N_ZONES])
            if reached > most:
                raise TooManyZones(more_zones_than(most))
            if said == kernels.DONE:
                return None, reached
            if said == kernels.FOUND:
                last = int(self.state[kernels.END_ZONE])
                run = self.graph.run_of(self.zones, last, self.asked.afresh, self.begins is not None)
                return run, reached
            if said == kernels.FULL:
                self._grow()
            elif said == kernels.TOO_LONG:
                raise TooWide(LONG_RUNS)
            elif said != kernels.PAUSED:
                raise TooWide
            if told is not None:
                told(reached, int(self.state[kernels.AT_COST]) % MOST_EVENTS)

    def _grow(self) -> None:
        """TooManyZones: there is no memory for more, which leaves what is already known of the rule as it is."""
        try:
            self._make_room()
        except TooMany as hit:
            raise TooManyZones(str(hit)) from None

    def _make_room(self) -> None:
        if self.state[kernels.N_ZONES] + SLACK > self.zones.shape[0]:
            (self.zones,) = larger(self.zones)
        if self.state[kernels.N_NUMBERS] + SLACK * self.n**2 > self.numbers.shape[0]:
            (self.numbers,) = larger(self.numbers)

    def begin(self) -> None:
        """The zones of the starts."""
        zone, rows = self.zone, self.rows
        graph, rule = self.graph, self.graph.rule
        deadline = rule.kind in DEADLINES
        if self.begins is not None:
            self.asked.rule[kernels.ONLY_OPEN] = 1
            kernels.seeded(self.zones, self.state, self.waiting, *self.begins)
        for _, (to, _, spent), length in graph.starts():
            cost = spent * MOST_EVENTS + length
            if to == END:
                kernels.wait(self.zones, self.state, self.waiting, 0, -1, -1, 0, kernels.NO_MATRIX, cost, kernels.END)
                continue
            node = graph.nodes[to]
            is_open = deadline and node.holds and not node.closes
            if self.begins is not None and not is_open:
                continue
            zone[:] = kernels.ZERO_OR_LESS
            used = self.places.enabled[self.places.rank[to]] & self.asked.in_use[int(is_open)]
            n = kernels.in_use(used, is_open, self.asked.rule[kernels.N_CLOCKS], rows[0], rows[1])
            kernels.arrive(
                self.places, self.asked, self.zones, self.numbers, self.here, self.waiting, self.state, zone, n,
                rows[0], to, is_open, cost, -1, -1, 0,
            )  # fmt: skip
