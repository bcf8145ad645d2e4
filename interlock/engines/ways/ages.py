"""Forwards to all that can be reached, backwards from what is sought, and whether the first lies within the second.

In: the settled graph of an `always_possible` rule. Out: a place from which no way leads on, with a run to it; or none.

The idea: a way on is an event or waiting, so the ages with a way on are found backwards from the condition, as sets of
zones, until nothing new comes. Forward zones are widened and may take in each other: ages beyond all constants of their
clock allow the same events after the same waits, so a widened zone has a member without a way only if what was reached
has one too. (Zones with inclusion as such would decide nothing here: they tell that a place is reached, not from where
one gets on.) Sources: the backward fixpoint, Henzinger, Nicollin, Sifakis and Yovine 1994; widening by the largest
constants, Bouyer 2004.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count

from interlock.core.question import Times
from interlock.core.system import Action, ActionKind
from interlock.core.timed import age_of, has_age
from interlock.engines.api import EngineFault, Limits
from interlock.engines.timed.constraints import Difference, Run, differences, times
from interlock.engines.timed.graph import Graph, Stride
from interlock.engines.timed.search import TooManyZones
from interlock.engines.timed.zones import AT_MOST_ZERO, FREE, Zone, bound, carried, inside, passed, widened
from interlock.engines.ways.sets import Limit, before_event, before_time, between, everything, held, minus

NOT_ON_A_WAY = (ActionKind.FAILURE, ActionKind.REPAIR)


def on_a_way(actions: tuple[Action, ...], before: int, stride: Stride) -> bool:
    """Whether a way may take a stride from a node that has spent `before`: no failure and no repair in it."""
    return stride.spent == before and actions[stride.action].kind not in NOT_ON_A_WAY


@dataclass(frozen=True, slots=True)
class Reached:
    """A zone that was reached. `cost`: failures and events to here."""

    node: int
    zone: Zone
    cost: tuple[int, int]
    came: Reached | None
    stride: Stride | None

    def run(self) -> Run:
        """How it was reached."""
        strides: list[Stride] = []
        at = self
        while at.came is not None:
            assert at.stride is not None
            strides.append(at.stride)
            at = at.came
        return Run(at.node, tuple(reversed(strides)))


class Ages:
    """One settled graph with the ages of all that is enabled. `beside`: the same events with other windows, whose ends
    are to be told apart as well."""

    def __init__(self, graph: Graph, limits: Limits, beside: tuple[Action, ...] = ()) -> None:
        self.graph = graph
        self.n_zones = 0
        self._limits = limits
        self._actions = graph.system.actions
        index = {owner.id: i for i, owner in enumerate(graph.owners)}
        self._owner = [index[age_of(one)] if has_age(one) else -1 for one in self._actions]
        self._largest = [0] * len(graph.owners)
        for action in (*self._actions, *beside):
            owner = index.get(age_of(action))
            if owner is not None and action.window is not None:
                ends = (action.window.earliest, action.window.latest or 0)
                self._largest[owner] = max(self._largest[owner], *ends)
        for action, owner in zip(self._actions, self._owner, strict=True):
            if owner >= 0 and action.obliged and age_of(action) != action.id:
                raise EngineFault(f"{action.id} is obliged and has the age of another")
        self.reached: dict[int, list[Reached]] = {}

    def clocks(self, node: int) -> list[int]:
        """The owners enabled in a node, in their order."""
        enabled = self.graph.nodes[node].enabled
        return [i for i in range(len(self.graph.owners)) if enabled >> i & 1]

    def latest(self, node: int) -> list[Limit | None]:
        """For each clock of a node how far time may go on, None: as far as one likes."""
        found: list[Limit | None] = []
        for owner in self.clocks(node):
            action = self.graph.owners[owner]
            window = action.window if action.obliged else None
            found.append(None if window is None or window.latest is None else (window.latest, window.latest_open))
        return found

    # --- forwards ---

    def explore(self) -> None:
        """Everything that can be reached. TooManyZones; TooMany and Unsettling as the graph says."""
        order = count()
        waiting: list[tuple[tuple[int, int], int, Reached]] = []

        def arrive(zone: Zone, node: int, cost: tuple[int, int], came: Reached | None, stride: Stride | None) -> None:
            here = self._passed(zone, node)
            if here is None:
                return
            known = self.reached.setdefault(node, [])
            if any(inside(here, other.zone) for other in known):
                return
            one = Reached(node, here, cost, came, stride)
            known.append(one)
            self.counted()
            heappush(waiting, (cost, next(order), one))

        for _, (node, _, spent), length in self.graph.starts():
            arrive([AT_MOST_ZERO] * (len(self.clocks(node)) + 1) ** 2, node, (spent, length), None, None)
        while waiting:
            cost, _, one = heappop(waiting)
            if self._limits.progress is not None:
                self._limits.progress(self.n_zones, cost[1])
            for stride in self.graph.strides(one.node):
                then = self._happening(one, stride)
                if then is not None:
                    arrive(then, stride.to, (stride.spent, cost[1] + stride.length), one, stride)

    def counted(self) -> None:
        """One zone more. TooManyZones."""
        self.n_zones += 1
        if self.n_zones > self._limits.states:
            raise TooManyZones

    def _passed(self, zone: Zone, node: int) -> Zone | None:
        latest = [FREE if limit is None else bound(*limit) for limit in self.latest(node)]
        largest = [self._largest[owner] for owner in self.clocks(node)]
        n = len(latest) + 1
        if not passed(zone, n, latest):
            return None
        widened(zone, n, largest, largest)
        return zone

    def _happening(self, one: Reached, stride: Stride) -> Zone | None:
        """The ages after a stride; None: it cannot happen."""
        clocks = self.clocks(one.node)
        n = len(clocks) + 1
        zone = list(one.zone)
        if not self.in_window(zone, n, clocks, stride):
            return None
        return carried(zone, n, self.kept(one.node, stride))

    def kept(self, node: int, stride: Stride) -> list[int]:
        """For each clock after a stride which clock before it goes on from; 0: none."""
        clocks = self.clocks(node)
        return [
            0 if stride.afresh >> owner & 1 or owner not in clocks else clocks.index(owner) + 1
            for owner in self.clocks(stride.to)
        ]

    def in_window(self, zone: Zone, n: int, clocks: list[int], stride: Stride) -> bool:
        """Leaves only ages at which a stride may begin, in place; False: there are none."""
        owner, window = self._owner[stride.action], self._actions[stride.action].window
        if owner < 0 or window is None:
            return True
        latest = None if window.latest is None else (window.latest, window.latest_open)
        return between(zone, n, clocks.index(owner) + 1, (window.earliest, window.earliest_open), latest)

    # --- backwards ---

    def sought(self, node: int) -> Zone | None:
        """The ages at which a node is what is sought; None: none."""
        return everything(len(self.clocks(node)) + 1) if self.graph.nodes[node].sought else None

    def time_passes(self, node: int) -> Zone | None:
        """The ages at which some time can pass in a node: nothing obliged is at its latest; None: none."""
        latest = self.latest(node)
        zone = everything(len(latest) + 1)
        short_of: list[Limit | None] = [None if limit is None else (limit[0], True) for limit in latest]
        return zone if held(zone, len(latest) + 1, short_of) else None

    def with_a_way(self, to: Callable[[int], Zone | None]) -> dict[int, list[Zone]]:
        """For each node reached, the ages from which a way leads to some of those that `to` tells of each node."""
        before: dict[int, list[tuple[int, Stride]]] = {}
        for node in self.reached:
            spent = self.graph.nodes[node].spent
            for stride in self.graph.strides(node):
                if stride.to in self.reached and on_a_way(self._actions, spent, stride):
                    before.setdefault(stride.to, []).append((node, stride))
        good: dict[int, list[Zone]] = {}
        work: list[tuple[int, Zone]] = []

        def add(node: int, zone: Zone) -> None:
            known = good.setdefault(node, [])
            if any(inside(zone, other) for other in known):
                return
            good[node] = [*(other for other in known if not inside(other, zone)), zone]
            self.counted()
            work.append((node, zone))

        for node in self.reached:
            begin = to(node)
            if begin is not None:
                add(node, begin)
        while work:
            node, zone = work.pop()
            for source, stride in before.get(node, ()):
                found = self._before(zone, source, stride)
                if found is not None:
                    add(source, found)
        return good

    def before(self, zone: Zone, source: int, stride: Stride) -> Zone | None:
        """The ages from which a stride leads into a zone, windows left out of account; None: there are none."""
        n = len(self.clocks(source)) + 1
        made = before_event(zone, len(self.clocks(stride.to)) + 1, self.kept(source, stride), n)
        return None if made is None or made[0] < AT_MOST_ZERO else made

    def _before(self, zone: Zone, source: int, stride: Stride) -> Zone | None:
        """The ages from which waiting and then a stride lead into a zone."""
        clocks = self.clocks(source)
        n = len(clocks) + 1
        made = self.before(zone, source, stride)
        if made is None or not self.in_window(made, n, clocks, stride) or not held(made, n, self.latest(source)):
            return None
        before_time(made, n)
        return made

    # --- both ---

    def without_a_way(self, good: dict[int, list[Zone]], among: int = 0) -> Reached | None:
        """A place reached with fewest failures, then events, with ages from which no way leads on; None: there is
        none. `good`: the ages with a way. `among`: only where one of these owners (bits) is enabled; 0: anywhere."""
        everywhere = sorted(
            (one for known in self.reached.values() for one in known), key=lambda one: (one.cost, one.node)
        )
        nodes = self.graph.nodes
        return next(
            (
                one
                for one in everywhere
                if (not among or nodes[one.node].enabled & among) and self._left(one.zone, one.node, good)
            ),
            None,
        )

    def _left(self, zone: Zone, node: int, good: dict[int, list[Zone]]) -> list[Zone]:
        n = len(self.clocks(node)) + 1
        left = [zone]
        for taken in good.get(node, ()):
            left = minus(left, taken, n)
        return left

    def timed(self, bad: Reached, good: dict[int, list[Zone]]) -> tuple[Run, Times]:
        """The run to a place without a way, and its times: of its events, and of a moment when no way is left."""
        run = bad.run()
        zone: Zone | None = [AT_MOST_ZERO] * (len(self.clocks(run.start)) + 1) ** 2
        here = run.start
        for stride in (*run.strides, None):
            assert zone is not None
            latest = [FREE if limit is None else bound(*limit) for limit in self.latest(here)]
            passed(zone, len(latest) + 1, latest)
            if stride is not None:
                zone = self._happening(Reached(here, zone, (0, 0), None, None), stride)
                here = stride.to
        assert zone is not None
        left = self._left(zone, here, good)
        if not left:
            raise EngineFault(f"a place without a way cannot be come to, {self.graph.rule.id}")
        found = differences(self.graph, run)
        end = len(run.strides) + 1
        since = self._since(run)
        found.append(Difference(end - 1, end, 0, False, None))
        found += _said_of(left[0], since, end)
        return run, times(found, end + 1)

    def _since(self, run: Run) -> list[int]:
        """At the end of a run: since which moment each clock has run. Moment i is that of event i, 0 the start."""
        here = run.start
        since = [0] * len(self.clocks(here))
        for moment, stride in enumerate(run.strides, start=1):
            before = [moment, *since]
            since = [before[source] for source in self.kept(here, stride)]
            here = stride.to
        return since


def _said_of(zone: Zone, since: list[int], end: int) -> list[Difference]:
    """A zone of ages at a moment as differences of moments."""
    n = len(since) + 1
    # An age is the time from `since` to `end`; the zero clock is that moment itself.
    at = [end, *since]
    found = []
    for i in range(n):
        for j in range(n):
            limit = zone[i * n + j]
            if i != j and limit < FREE and at[i] != at[j]:
                found.append(Difference(at[j], at[i], limit >> 1, not limit & 1, None))
    return found
