"""`always_possible` and `always_ends` on packed situations.

In: what can be reached. Out: the situations at which the rule is broken; the caller finds the shortest way to one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import compress

from interlock.core.system import Property
from interlock.engines.api import Limits
from interlock.engines.components import components
from interlock.engines.quick.clusters import Cluster
from interlock.engines.quick.events import NO_WAY_KINDS, TIERS, Events
from interlock.engines.quick.explore import Exploration, Layer, Sought, Tiers
from interlock.engines.quick.observe import Remembered
from interlock.engines.shortest import LoopGround
from interlock.logic.expression import TRUE

NO_LIMIT = Limits(states=1 << 62)


def without_way(events: Events, rule: Property, reached: Tiers) -> set[int]:
    """The settled situations from which no way leads to the rule's condition without a failure or a repair.

    `reached`: all situations by tier. The idea: backward from the condition; an event is undone by flipping the bits it
    flipped, so no edges are kept. Every delta of a cluster that led to the bits at hand is a candidate; the situation
    before it must have been reached and be of the cluster's tier, and in a wide cluster the event is looked up again.
    """
    holds = Remembered(events.layout, rule.condition).holds
    good = set(filter(holds, reached[2]))
    if rule.passing:
        good.update(filter(holds, reached[0]), filter(holds, reached[1]))
    missing: list[set[int]] = [set(states) - good for states in reached]
    back = [(tier, cluster, _undone(events, cluster)) for tier in TIERS for cluster in events.free[tier]]
    level = list(good)
    while level:
        found: set[int] = set()
        for tier, cluster, undone in back:
            if missing[tier]:
                before = _before(events, cluster, undone, level, missing[tier])
                missing[tier] -= before
                found |= before
        level = list(found)
    return missing[2]


def _undone(events: Events, cluster: Cluster) -> dict[int, tuple[int, ...]]:
    """By the bits of the cluster's mask after an event: the deltas that may have led there."""
    found: dict[int, dict[int, None]] = {}
    for act, delta, part in cluster.moves():
        if events.system.actions[act].kind not in NO_WAY_KINDS:
            found.setdefault((part ^ delta) & cluster.mask, {})[delta] = None
    return {part: tuple(deltas) for part, deltas in found.items()}


def _before(
    events: Events, cluster: Cluster, undone: dict[int, tuple[int, ...]], level: list[int], missing: set[int]
) -> set[int]:
    """Which of the missing situations an event of the cluster leads from into the level."""
    get, mask = undone.get, cluster.mask
    if cluster.narrow:
        found = {state ^ delta for state in level for delta in get(state & mask, ())}
        found &= missing
        return found
    actions = events.system.actions
    return {
        before
        for state in level
        for delta in get(state & mask, ())
        if (before := state ^ delta) in missing
        and any(d == delta and actions[act].kind not in NO_WAY_KINDS for act, d, _ in cluster.events(before))
    }


@dataclass(frozen=True, slots=True)
class Unended:
    """Where runs that owe an end may stay for ever: `stuck` situations at which they may stop, `fair` components that a
    run may go round in for ever, `unsettled` components that never settle; the last two by member."""

    stuck: frozenset[int]
    fair: dict[int, frozenset[int]]
    unsettled: dict[int, frozenset[int]]

    def __contains__(self, state: int) -> bool:
        return state in self.stuck or state in self.fair or state in self.unsettled


class Ending:
    """One `always_ends` rule: B, from A. `unsettled`: all unsettled situations that can be reached. See the reference
    engine's for what owing, stopping and fair loops are; this one only works on sets."""

    def __init__(self, events: Events, rule: Property, unsettled: set[int]) -> None:
        self.events = events
        self.unsettled = unsettled
        self.begins = Remembered(events.layout, rule.start or TRUE).holds
        self.ended = Remembered(events.layout, rule.condition).holds
        actions = events.system.actions
        index = {action.id: i for i, action in enumerate(actions)}
        self.obliged = frozenset(i for i, a in enumerate(actions) if a.obliged or a.id in rule.helped_by)
        self._breaks = [frozenset({i, *(index[id] for id in a.restarts)}) for i, a in enumerate(actions)]

    def owes(self, owed: bool, state: int) -> bool:
        """Whether a run owes an end in this situation, if it did before."""
        if state in self.unsettled:
            return owed
        return (owed or self.begins(state)) and not self.ended(state)

    def owing(self, layers: list[Layer]) -> list[set[int]]:
        """By failures spent, the situations in which some run owes an end: an exploration from those in which one
        begins to owe, cut where the rule's condition holds."""
        starts = [
            (state, spent, False)
            for spent, layer in enumerate(layers)
            for state in layer.states
            if self.owes(False, state)
        ]
        again = Exploration(self.events, self.events, len(layers) - 1, NO_LIMIT, cut_settled=self.ended)
        again.run(starts, [Sought(len(layers) - 1)])
        return [layer.states for layer in again.layers]

    def unended(self, owing: set[int]) -> Unended:
        """Where runs that owe may stay for ever."""

        def onward(state: int) -> Iterator[int]:
            return (after for _, after in self._free(state) if after in owing)

        def onward_unsettled(state: int) -> Iterator[int]:
            return (after for after in onward(state) if after in self.unsettled)

        settled = [state for state in owing if state not in self.unsettled]
        may_not_stop: set[int] = set()
        for cluster in self.events.free[2]:
            may_not_stop.update(compress(settled, map(self._some_obliged, cluster.acts(settled))))
        stuck = frozenset(state for state in settled if state not in may_not_stop)
        fair: dict[int, frozenset[int]] = {}
        for found in components(owing, onward):
            if len(found) > 1 or found[0] in onward(found[0]):
                members = frozenset(found)
                if self._fair(members):
                    fair.update((state, members) for state in found)
        unsettled: dict[int, frozenset[int]] = {}
        for found in components([state for state in owing if state in self.unsettled], onward_unsettled):
            if len(found) > 1 or found[0] in onward_unsettled(found[0]):
                members = frozenset(found)
                unsettled.update((state, members) for state in found)
        return Unended(stuck, fair, unsettled)

    def _free(self, state: int) -> list[tuple[int, int]]:
        """Events that are no failure, in declaration order, with what follows."""
        tier = self.events.tier(state) if state in self.unsettled else 2
        return [(act, state ^ delta) for act, delta, _ in self.events.free_events(state, tier)]

    def _some_obliged(self, acts: tuple[int, ...]) -> bool:
        return not self.obliged.isdisjoint(acts)

    def _enabled(self, state: int) -> frozenset[int] | None:
        if state in self.unsettled:
            return None
        return self.obliged.intersection(act for act, _, _ in self.events.free_events(state, 2))

    def _fair(self, members: frozenset[int]) -> bool:
        for_ever: frozenset[int] | None = None
        for state in members:
            enabled = self._enabled(state)
            if enabled is not None:
                for_ever = enabled if for_ever is None else for_ever & enabled
                if not for_ever:
                    return True
        if for_ever is None:
            return False
        left = set(for_ever)
        for state in members:
            for act, after in self._free(state):
                if after in members and not left.isdisjoint(self._breaks[act]):
                    left -= self._breaks[act]
                    if not left:
                        return True
        return False

    def ground(self, at: int, unended: Unended) -> LoopGround[int]:
        """Where the loop through `at` may run: never settling if that can be, else fair."""
        settles = at not in unended.unsettled
        inside = unended.fair[at] if settles else unended.unsettled[at]
        return self.ground_in(inside, settles)

    def ground_in(self, inside: Iterable[int], settles: bool) -> LoopGround[int]:
        """Loops inside some situations; not `settles`: all unsettled, so that fairness is not asked."""
        within = frozenset(inside)
        return LoopGround(
            successors=lambda state: [(act, after) for act, after in self._free(state) if after in within],
            enabled_if_settled=self._enabled,
            breaks=self._breaks.__getitem__,
            obliged=self.obliged if settles else frozenset(),
        )
