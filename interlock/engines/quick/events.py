"""All events of a system under one overlay and one set of allowed failures, as clusters by tier and cost.

In: a system and a question. Out: tiers of packed situations, their events in order, situations before an event.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress

from interlock.core.meaning import Meaning
from interlock.core.system import ActionKind, System
from interlock.engines.api import EngineFault
from interlock.engines.quick.clusters import Cluster, Compiled, Watch, clustered
from interlock.engines.quick.layout import Layout

TIERS = (0, 1, 2)
NO_WAY_KINDS = (ActionKind.FAILURE, ActionKind.REPAIR)


@dataclass(frozen=True, slots=True)
class Events:
    """Clusters by tier: `free` of failures, and those that cost one failure. What watches them is inside the
    clusters."""

    system: System
    layout: Layout
    free: tuple[tuple[Cluster, ...], ...]
    costly: tuple[tuple[Cluster, ...], ...]

    @staticmethod
    def of(layout: Layout, meaning: Meaning) -> Events:
        """The events of a system; the budget of the meaning is not used. EngineFault where a failure costs more than
        one or an action brings a failure for nothing: no spec says that."""
        members: dict[tuple[int, int], list[Compiled]] = {(tier, cost): [] for tier in TIERS for cost in (0, 1)}
        for i, action in enumerate(meaning.system.actions):
            if action.cost not in (0, 1) or (action.cost == 0 and action.modes):
                raise EngineFault(f"`{action.id}` counts as {action.cost} failures")
            if meaning.may_fail(action):
                members[action.tier.value, action.cost].append(Compiled.of(layout, i, action))
        made = [tuple(clustered(layout, members[tier, cost]) for tier in TIERS) for cost in (0, 1)]
        return Events(meaning.system, layout, made[0], made[1])

    def watched(self, looks_at: int, watch: Watch, everywhere: bool) -> Events:
        """The same with observers that look at some bits. `everywhere`: they care for events that change none of these
        bits too; else the clusters that change none are left as they are."""

        def put(clusters: tuple[Cluster, ...]) -> tuple[Cluster, ...]:
            return tuple(
                cluster.watched(looks_at, watch) if everywhere or cluster.writes & looks_at else cluster
                for cluster in clusters
            )

        return Events(self.system, self.layout, tuple(map(put, self.free)), tuple(map(put, self.costly)))

    def tier(self, state: int) -> int:
        """The tier whose actions may happen. Not for watched events: a cut event would be overlooked."""
        for tier in (0, 1):
            for cluster in self.free[tier]:
                if cluster.some(state):
                    return tier
        return 2

    def settled(self, state: int) -> bool:
        """Whether no action of tier 0 or 1 is enabled."""
        return self.tier(state) == 2

    def by_tier(self, states: list[int]) -> tuple[list[int], list[int], list[int]]:
        """Situations split by the tier that may act, order kept. Not for watched events."""
        found: list[list[int]] = []
        for tier in (0, 1):
            hit: set[int] = set()
            for cluster in self.free[tier]:
                hit.update(compress(states, cluster.deltas(states)))
            found.append([s for s in states if s in hit] if hit else [])
            if hit:
                states = [s for s in states if s not in hit]
        return found[0], found[1], states

    def free_events(self, state: int, tier: int) -> list[tuple[int, int, bool]]:
        """(action, delta, end) of the events of a tier that are no failure, in declaration order."""
        return _in_order(self.free[tier], state)

    def costly_events(self, state: int, tier: int) -> list[tuple[int, int, bool]]:
        """The same for failures."""
        return _in_order(self.costly[tier], state)


def _in_order(clusters: tuple[Cluster, ...], state: int) -> list[tuple[int, int, bool]]:
    if len(clusters) == 1:
        return clusters[0].events(state)
    found: list[tuple[int, int, bool]] = []
    for cluster in clusters:
        found += cluster.events(state)
    found.sort()
    return found
