"""One exploration of everything by the quick engine, and what it saw. In: events and probes. Out: a `Survey`."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, combinations

from interlock.core.meaning import Meaning
from interlock.core.question import Counts, Ends, Scenario
from interlock.engines.api import EngineFault, Limits, Probe, Survey, Where
from interlock.engines.components import components
from interlock.engines.quick.events import NO_WAY_KINDS, TIERS, Events
from interlock.engines.quick.explore import Exploration, Sought, Tiers
from interlock.engines.quick.observe import Remembered
from interlock.engines.quick.ways import Ground
from interlock.engines.scenario import limit_words, with_loop
from interlock.engines.shortest import LoopGround, Way, shortest_loop


class Seen:
    """What one exploration reached: `layers` by failures spent, each by tier; `tiers` all of them together."""

    def __init__(self, events: Events, meaning: Meaning, limits: Limits) -> None:
        self.events = events
        self.meaning = meaning
        pack = events.layout.pack
        self.starts = [(pack(state.valuation), state.spent, False) for state in meaning.starts()]
        exploration = Exploration(events, events, meaning.budget, limits)
        sought = Sought(meaning.budget)
        exploration.run(self.starts, [sought])
        self.beyond = sought.beyond
        self.states = [layer.states for layer in exploration.layers]
        self.layers: list[Tiers] = [events.by_tier(list(states)) for states in self.states]
        together = [set().union(*(layer[tier] for layer in self.layers)) for tier in TIERS]
        self.tiers: Tiers = (list(together[0]), list(together[1]), list(together[2]))
        self.unsettled = together[0] | together[1]
        self._onward: dict[int, list[tuple[int, int]]] | None = None
        self._order: tuple[list[int], set[int]] | None = None

    def happened(self) -> tuple[set[int], int]:
        """The actions that happened, and the number of events."""
        acts: set[int] = set()
        n_events = 0
        for spent, tiers in enumerate(self.layers):
            for tier in TIERS:
                clusters = self.events.free[tier]
                if spent < self.meaning.budget:
                    clusters += self.events.costly[tier]
                for cluster in clusters:
                    entries = cluster.acts(tiers[tier])
                    n_events += sum(map(len, entries))
                    acts.update(act for entry in set(entries) for act in entry)
        return acts, n_events

    def onward(self) -> dict[int, list[tuple[int, int]]]:
        """For each unsettled situation the events that are no failure, with what follows, in declaration order."""
        if self._onward is None:
            onward: dict[int, list[tuple[int, int]]] = {state: [] for state in self.unsettled}
            for tier in (0, 1):
                states, clusters = self.tiers[tier], self.events.free[tier]
                for cluster in clusters:
                    for state, acts, deltas in zip(states, cluster.acts(states), cluster.deltas(states), strict=True):
                        if acts:
                            onward[state] += zip(acts, map(state.__xor__, deltas), strict=True)
                if len(clusters) > 1:
                    for state in states:
                        onward[state].sort()
            self._onward = onward
        return self._onward

    def stuck(self) -> set[int]:
        """The settled situations in which nothing but failures and repairs is enabled."""
        actions = self.events.system.actions
        left = set(self.tiers[2])
        for cluster in self.events.free[2]:
            states = list(left)
            for state, acts in zip(states, cluster.acts(states), strict=True):
                if any(actions[act].kind not in NO_WAY_KINDS for act in acts):
                    left.discard(state)
        return left

    def order(self) -> tuple[list[int], set[int]]:
        """The unsettled situations, each after all that can follow it; and those left over, from which loops can be
        reached. Source: Kahn 1962, from the ends backwards."""
        if self._order is not None:
            return self._order
        onward, unsettled = self.onward(), self.unsettled
        before: dict[int, list[int]] = {}
        open_ways: dict[int, int] = {}
        for state, ways in onward.items():
            n_open = 0
            for _, after in ways:
                if after in unsettled:
                    n_open += 1
                    before.setdefault(after, []).append(state)
            open_ways[state] = n_open
        ordered = [state for state, n_open in open_ways.items() if n_open == 0]
        for state in ordered:
            for earlier in before.get(state, ()):
                open_ways[earlier] -= 1
                if open_ways[earlier] == 0:
                    ordered.append(earlier)
        self._order = ordered, unsettled.difference(ordered)
        return self._order

    def loops(self) -> dict[int, frozenset[int]]:
        """The unsettled situations on a loop of tier 0 and 1 events, each with its component."""
        onward = self.onward()
        left = self.order()[1]

        def following(state: int) -> Iterator[int]:
            return (after for _, after in onward[state] if after in left)

        found: dict[int, frozenset[int]] = {}
        for members in components(left, following):
            if len(members) > 1 or members[0] in following(members[0]):
                found.update((state, frozenset(members)) for state in members)
        return found

    def different_orders(self) -> set[int]:
        """The unsettled situations with two events of different owners such that no settled situation that can follow
        the one can follow the other, failures left out."""
        owners = [action.owner for action in self.events.system.actions]
        onward = self.onward()
        ordered, left = self.order()
        places: dict[int, frozenset[int]] = {}

        def following(state: int) -> Iterator[int]:
            return (after for _, after in onward[state] if after in left)

        found: set[int] = set()
        groups = chain(([state] for state in ordered), components(left, following))
        for members in groups:
            inside = set(members)
            settles: set[int] = set()
            for state in members:
                for _, after in onward[state]:
                    if after in self.unsettled:
                        settles.update(() if after in inside else places[after])
                    else:
                        settles.add(after)
            shared = frozenset(settles)
            for state in members:
                places[state] = shared
            if len(shared) < 2:
                continue
            for state in members:
                ways = [
                    (owners[act], places[after] if after in self.unsettled else frozenset((after,)))
                    for act, after in onward[state]
                ]
                if any(
                    owner != other and first and second and first.isdisjoint(second)
                    for (owner, first), (other, second) in combinations(ways, 2)
                ):
                    found.add(state)
        return found

    def saw(self, probe: Probe) -> bool:
        """Whether a probe was true somewhere."""
        remembered = Remembered(self.events.layout, probe.expression)
        looked_at = {Where.EVERY: (0, 1, 2), Where.DECIDING: (1, 2), Where.SETTLED: (2,)}[probe.where]
        return any(remembered.any_of(self.tiers[tier]) for tier in looked_at)

    def way(self, found: set[int] | dict[int, frozenset[int]], ends: Ends) -> tuple[Scenario, int] | None:
        """The shortest way to one of some situations, and which; None if there are none."""
        if not found:
            return None
        budget = min(spent for spent, states in enumerate(self.states) if any(s in states for s in found))
        ground = Ground(self.events, self.events, self.events.layout.bits, None)
        starts = [(state, spent, state in found) for state, spent, _ in self.starts]
        way = ground.shortest(starts, budget, lambda before, after, observed: (after, after in found))
        at = way.states[-1] & ((1 << self.events.layout.bits) - 1)
        return ground.scenario(self.meaning, way, ends), at


def survey(events: Events, meaning: Meaning, cut: tuple[str, ...], probes: tuple[Probe, ...], limits: Limits) -> Survey:
    """See `interlock.engines.api.Survey`. If the limit is hit, what was explored before is still told."""
    if cut:
        raise EngineFault("a survey explores everything: it cannot cut")
    seen = Seen(events, meaning, limits)
    acts, n_events = seen.happened()
    loops = seen.loops()
    to_stuck = seen.way(seen.stuck(), Ends.STUCK)
    to_loop = seen.way(loops, Ends.LOOP)
    to_orders = seen.way(seen.different_orders(), Ends.REACHED)
    return Survey(
        counts=Counts(len(seen.tiers[2]), len(seen.unsettled), n_events),
        happened=frozenset(events.system.actions[act].id for act in acts),
        seen=frozenset(probe.id for probe in probes if seen.saw(probe)),
        stuck=None if to_stuck is None else to_stuck[0],
        unsettling=None if to_loop is None else _with_loop(seen, *to_loop, loops),
        orders=None if to_orders is None else to_orders[0],
        limit=limit_words(limits) if seen.beyond else None,
        engine="quick",
    )


def _with_loop(seen: Seen, scenario: Scenario, at: int, loops: dict[int, frozenset[int]]) -> Scenario:
    inside = loops[at]
    loop = shortest_loop(
        at,
        LoopGround(
            successors=lambda state: [(act, after) for act, after in seen.onward()[state] if after in inside],
            enabled_if_settled=lambda state: None,
            breaks=lambda event: frozenset(),
            obliged=frozenset(),
        ),
    )
    if loop is None:
        raise EngineFault("no loop where one was found")
    unpack = seen.events.layout.unpack
    return with_loop(seen.events.system, scenario, Way(tuple(map(unpack, loop.states)), loop.events))
