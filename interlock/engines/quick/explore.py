"""Exploring everything that can be reached, layer by layer of failures spent, each by depth.

In: events, starts, what is sought. Out: the sets of packed situations of each layer, and where something was found.

The idea: whole levels at a time, as sets, in no order. Order matters only for the scenario, which is looked for again
when something was found. Questions that differ only in their rule or budget share one exploration: a question with a
smaller budget has its answer when its layers are done. At each depth, in this order: what was found there, then the
limit, then the events (the same order as the reference engine, so that all hit a limit at the same question).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TypeAlias

from interlock.engines.api import Limits
from interlock.engines.quick.clusters import Cluster
from interlock.engines.quick.events import TIERS, Events

Seek: TypeAlias = Callable[[list[int], list[int]], bool]
"""Given the unsettled and the settled situations of a level: whether what is sought is among them."""

Tiers: TypeAlias = tuple[list[int], list[int], list[int]]
"""Situations by the tier that may act."""

CHUNK = 1 << 15
"""Situations that are stepped together, so that lists stay small."""

SLACK = 500_000
"""A single level that goes this far beyond twice the limit is broken off, to save memory."""


GROUPED = 6
"""From so many situations for each combination a cluster knows, those that are alike to it are stepped together."""


@dataclass(slots=True)
class Sought:
    """Something that is looked for within a budget; `found_with` is the least number of failures.

    `seek` None: the ends that observers see are meant if `by_watch`, else nothing is sought and everything explored.
    `beyond`: the limit was hit first; then `found_with` may be known from a failure that leads straight to an end.
    """

    budget: int
    seek: Seek | None = None
    by_watch: bool = False
    found_with: int | None = None
    beyond: bool = False
    open: bool = True


@dataclass(slots=True)
class Layer:
    """What can be reached with exactly so many failures spent. `n_settled` and `n_passing` count what no lower layer
    has; `unsettled` is kept on request."""

    states: set[int] = field(default_factory=set)
    cut: set[int] = field(default_factory=set)
    unsettled: set[int] = field(default_factory=set)
    n_settled: int = 0
    n_passing: int = 0
    n_free: int = 0
    n_costly: int = 0
    waiting: dict[int, set[int]] = field(default_factory=dict)
    ends: set[int] = field(default_factory=set)


@dataclass(slots=True)
class Exploration:
    """One exploration. `events` tells tiers, `watched` makes the steps (the same object if nothing watches).

    `cut_any`, `cut_settled`: situations, settled ones, at which runs are cut; these are not among the reached.
    """

    events: Events
    watched: Events
    budget: int
    limits: Limits
    cut_settled: Callable[[int], bool] | None = None
    cut_any: Callable[[int], bool] | None = None
    keep_unsettled: bool = False
    layers: list[Layer] = field(default_factory=list)
    n_known: int = 0

    def run(self, starts: Iterable[tuple[int, int, bool]], sought: list[Sought]) -> None:
        """Explore from (situation, failures spent, whether an end) until all that is sought has its answer."""
        self.layers = [Layer() for _ in range(self.budget + 1)]
        for state, spent, is_end in starts:
            if spent <= self.budget:
                self._put(spent, 0, {state}, is_end)
        for spent, layer in enumerate(self.layers):
            while layer.waiting:
                depth = min(layer.waiting)
                self._level(spent, depth, sought)
                if not any(one.open for one in sought):
                    return
            for one in sought:
                one.open = one.open and one.budget > spent

    def _put(self, spent: int, depth: int, states: set[int], is_end: bool) -> None:
        if states or is_end:
            self.layers[spent].waiting.setdefault(depth, set()).update(states)
        if is_end:
            self.layers[spent].ends.add(depth)

    def _level(self, spent: int, depth: int, sought: list[Sought]) -> None:
        layer = self.layers[spent]
        level = layer.waiting.pop(depth).difference(layer.states, layer.cut)
        tiers = self._split(layer, level)
        self._judge(tiers, spent, depth in layer.ends, sought)
        self._take(spent, tiers)
        if self.n_known > self.limits.states:
            self._stop(spent, sought)
            return
        if self.limits.progress is not None:
            self.limits.progress(self.n_known, depth)
        if not any(one.open for one in sought):
            return
        after: set[int] = set()
        failing: set[int] = set()
        end = end_failing = False
        for tier in TIERS:
            for begin in range(0, len(tiers[tier]), CHUNK):
                part = tiers[tier][begin : begin + CHUNK]
                n_events, hit = self._step(self.watched.free[tier], part, after)
                layer.n_free += n_events
                end = end or hit
                if spent < self.budget:
                    n_events, hit = self._step(self.watched.costly[tier], part, failing)
                    layer.n_costly += n_events
                    end_failing = end_failing or hit
                if self.n_known + len(after) + len(failing) > 2 * self.limits.states + SLACK:
                    self._stop(spent, sought)
                    return
        self._put(spent, depth + 1, after, end)
        if spent < self.budget:
            self._put(spent + 1, depth + 1, failing, end_failing)

    def _split(self, layer: Layer, level: set[int]) -> Tiers:
        """The level by tier; situations at which runs are cut are taken out and remembered."""
        if self.cut_any is not None:
            cut = set(filter(self.cut_any, level))
            layer.cut |= cut
            level = level.difference(cut)
        tiers = self.events.by_tier(list(level))
        if self.cut_settled is not None:
            cut = set(filter(self.cut_settled, tiers[2]))
            if cut:
                layer.cut |= cut
                tiers = (tiers[0], tiers[1], [state for state in tiers[2] if state not in cut])
        return tiers

    def _judge(self, tiers: Tiers, spent: int, end: bool, sought: list[Sought]) -> None:
        unsettled = tiers[0] + tiers[1]
        for one in sought:
            if one.open and spent <= one.budget:
                hit = end if one.by_watch else one.seek is not None and one.seek(unsettled, tiers[2])
                if hit:
                    one.found_with = spent
                    one.open = False

    def _take(self, spent: int, tiers: Tiers) -> None:
        """The situations of a level become known, and are counted."""
        layer = self.layers[spent]
        for states in tiers:
            layer.states.update(states)
            self.n_known += len(states)
        passing = tiers[0] + tiers[1]
        if self.keep_unsettled:
            layer.unsettled.update(passing)
        lower = [self.layers[j].states for j in range(spent)]
        layer.n_settled += len(set(tiers[2]).difference(*lower)) if lower else len(tiers[2])
        layer.n_passing += len(set(passing).difference(*lower)) if lower else len(passing)

    def _step(self, clusters: tuple[Cluster, ...], states: list[int], after: set[int]) -> tuple[int, bool]:
        """Add what follows; gives the number of events, and whether an observer saw an end."""
        n_events = 0
        end = False
        for cluster in clusters:
            if len(states) > cluster.n_known * GROUPED:
                for deltas, alike in cluster.grouped(states):
                    n_events += len(deltas) * len(alike)
                    for delta in deltas:
                        after.update(map(delta.__xor__, alike))
            else:
                entries = cluster.deltas(states)
                n_events += sum(map(len, entries))
                after.update([state ^ delta for state, deltas in zip(states, entries, strict=True) for delta in deltas])
            if not end and cluster.ending:
                end = self._ends(cluster, states)
        return n_events, end

    def _ends(self, cluster: Cluster, states: list[int]) -> bool:
        """Whether the observer calls an event of a cluster an end, other than one at which the run is cut."""
        return any(
            is_end and not self.is_cut(state ^ delta)
            for key, state in zip(cluster.keys(states), states, strict=True)
            if key in cluster.ending
            for _, delta, is_end in cluster.events(state)
        )

    def is_cut(self, state: int) -> bool:
        """Whether a run that comes to this situation is cut there."""
        if self.cut_any is not None and self.cut_any(state):
            return True
        return self.cut_settled is not None and self.cut_settled(state) and self.events.settled(state)

    def _stop(self, spent: int, sought: list[Sought]) -> None:
        """The limit is hit. An end that a failure leads to straight from what is known counts still."""
        waiting = [one for one in sought if one.open]
        for j in range(spent, self.budget + 1):
            layer = self.layers[j]
            level: set[int] = set().union(*layer.waiting.values())
            ends = any(depth in layer.ends for depth in layer.waiting)
            self._judge(self._split(layer, level - layer.states - layer.cut), j, ends, sought)
        for one in waiting:
            one.beyond = True
            one.open = False
