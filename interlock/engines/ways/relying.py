"""`always_possible` by some ends of windows alone: whether a way leads on whatever the values of all other ends are.

In: a rule, and the ends to rely on. Out: true if it surely holds then; false if that is not known.

The idea: `whatever.py` with some ages. What is reached is looked for with the other ends left out, so nothing that any
values reach is missed. Backwards, a way may take an event at ages at which it surely may happen: the ends relied on
tell, or it has no others. While it waits for that, an obliged event whose latest is not relied on may be at its latest
at any moment, so each of these must lead to a good place from everywhere on the way there. Or a way waits until the
first of all obliged events is at its latest: then each must lead on wherever it may be that one. Where nothing is
obliged, it waits for any one event that never comes too late.

With nothing relied on this is the proof of `whatever.py`, with all ends that of `ages.py`. In between it may ask too
much: nobody chooses values so as to close all ways at once as is feared here. Source of the idea: games against time,
Maler, Pnueli and Sifakis 1995.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from interlock.core.overlay import with_overlay
from interlock.core.question import NO_OVERLAY, Bound, Question
from interlock.core.system import Action, System, TickWindow, Tier
from interlock.core.timed import age_of
from interlock.engines.api import Limits
from interlock.engines.ends import SomeEnds, ends_of, far_from, fewest, nearest, with_only
from interlock.engines.timed.graph import Graph, Stride, TooMany, Unsettling, with_windows_of
from interlock.engines.timed.search import TooManyZones
from interlock.engines.timed.zones import Zone, bound, inside, tightened
from interlock.engines.ways.ages import Ages, on_a_way
from interlock.engines.ways.sets import before_time, between, everything, held, minus
from interlock.engines.ways.whatever import holds_time_back, never_too_late

MOST_PIECES = 24
"""So many zones of ages at which all that is feared leads on are looked at in one situation; others are left out."""

ROUNDS = 20
"""So often ends are added."""


class ByEnds:
    """One rule by some ends. `limits`: for each trial; `left`: zones and situations that may still be looked at."""

    def __init__(self, system: System, question: Question, limits: Limits, left: int) -> None:
        self._system = with_overlay(system, question.overlay)
        self._question = replace(question, overlay=NO_OVERLAY)
        self._limits = limits
        self.left = left

    def fewest(self, ends: SomeEnds | None = None) -> tuple[Bound, ...] | None:
        """Ends (of these; None: of all) by which it holds whatever the others are, and this is not known by fewer of
        them. None: that was too much to find out."""
        try:
            return fewest(ends_of(self._system, ends), lambda some: self._look(some) is None)
        except (TooMany, TooManyZones, Unsettling):
            return None

    def enough(self) -> SomeEnds | None:
        """Ends by which it holds whatever the others are. None: not known. Begins with none; those that may be to blame
        for a place from where no way is known come in, the nearest to what the rule speaks of first."""
        far = far_from(self._system, self._question.property)
        there = frozenset(ends_of(self._system))
        ends: SomeEnds = frozenset()
        for _ in range(ROUNDS):
            try:
                blamed = self._look(ends)
            except (TooMany, TooManyZones, Unsettling):
                return None
            if blamed is None:
                return ends
            new = (blamed & there) - ends or there - ends
            if not new:
                return None
            ends |= nearest(new, far)
        return None

    def _look(self, ends: SomeEnds) -> SomeEnds | None:
        """None: it holds by these; else ends that may be to blame."""
        limits = replace(self._limits, states=max(1, min(self._limits.states, self.left)))
        proof = Relying(self._system, self._question, ends, limits)
        try:
            return None if proof.holds() else proof.blamed()
        finally:
            self.left -= proof.cost


class Relying:
    """One rule by some ends. `cost`: zones and situations looked at.

    `other`: the system with other values of some of these ends, `moved`. Then it is asked at any values between the
    two, which may differ from place to place: what is reached is what the widest windows reach, and ways rely on the
    narrowest.
    """

    def __init__(
        self,
        system: System,
        question: Question,
        ends: SomeEnds,
        limits: Limits,
        other: System | None = None,
        moved: SomeEnds = frozenset(),
    ) -> None:
        wide, narrow = (system, system) if other is None else _both_ways(system, other)
        self._actions = wide.actions
        self._narrow = narrow.actions
        self._ends = ends
        self._moved = moved
        graph = Graph(with_only(narrow, ends), question, limits.states)
        beside = graph.system.actions
        self._ages = Ages(with_windows_of(graph, with_only(wide, ends)), limits, beside)
        self._obliged = [i for i, one in enumerate(self._narrow) if holds_time_back(one)]
        condition = self._ages.graph.layout.condition
        self._guards = [condition(self._actions[i].guard) for i in self._obliged]
        self._waits = [never_too_late(one) for one in self._narrow]
        self._good: dict[int, list[Zone]] = {}

    @property
    def cost(self) -> int:
        """Zones and situations so far."""
        return self._ages.n_zones + len(self._ages.graph.nodes)

    def holds(self) -> bool:
        """Whether a way surely leads on from everywhere. TooMany, TooManyZones, Unsettling."""
        ages = self._ages
        ages.explore()
        nodes, strides = ages.graph.nodes, ages.graph.strides
        before: dict[int, set[int]] = {}
        onward: dict[int, list[Stride]] = {}
        for node in ages.reached:
            onward[node] = [one for one in strides(node) if on_a_way(self._actions, nodes[node].spent, one)]
            for stride in onward[node]:
                before.setdefault(stride.to, set()).add(node)
        work = []
        for node in ages.reached:
            zone = ages.sought(node)
            if zone is not None:
                self._add(node, zone)
                work.append(node)
        waiting = set(work)
        done = {node for node in work if self._covered(node)}
        while work:
            node = work.pop()
            waiting.discard(node)
            for source in sorted(before.get(node, ())):
                if source in done:
                    continue
                news = [self._add(source, zone) for zone in self._leading_on(source, onward[source])]
                if self._covered(source):
                    done.add(source)
                if any(news) and source not in waiting:
                    waiting.add(source)
                    work.append(source)
        return ages.without_a_way(self._good) is None

    def blamed(self) -> SomeEnds:
        """After it does not hold: ends by which a place without a way might not be reached, or might have one."""
        bad = self._ages.without_a_way(self._good)
        assert bad is not None
        run = bad.run()
        nodes = self._ages.graph.nodes
        happening = [self._actions[stride.action] for stride in run.strides]
        found = {Bound(age_of(action), False) for action in happening}
        for node in (run.start, *(stride.to for stride in run.strides)):
            found |= {Bound(self._actions[i].id, True) for i in self._must(nodes[node].state)}
        state = nodes[bad.node].state
        condition = self._ages.graph.layout.condition
        for action in self._actions:
            if action.tier is Tier.OTHER and condition(action.guard)(state):
                found |= {Bound(age_of(action), False), Bound(age_of(action), True)}
        return frozenset(found)

    def _must(self, state: int) -> list[int]:
        """The obliged events that are enabled."""
        return [i for i, guard in zip(self._obliged, self._guards, strict=True) if guard(state)]

    def _covered(self, node: int) -> bool:
        """Whether all ages reached in a node are known to be good: no more need be found there."""
        good = self._good.get(node, ())
        return all(any(inside(one.zone, zone) for zone in good) for one in self._ages.reached[node])

    def _add(self, node: int, zone: Zone) -> bool:
        known = self._good.setdefault(node, [])
        if any(inside(zone, other) for other in known):
            return False
        self._good[node] = [*(other for other in known if not inside(other, zone)), zone]
        self._ages.counted()
        return True

    def _leading_on(self, node: int, strides: list[Stride]) -> list[Zone]:
        """Ages in a node from which a way surely leads to what is known to be good."""
        ages = self._ages
        n = len(ages.clocks(node)) + 1
        leads: dict[int, list[Zone]] = {}
        found: list[Zone] = []
        for stride in strides:
            for zone in self._good.get(stride.to, ()):
                made = ages.before(zone, node, stride)
                if made is not None:
                    leads.setdefault(stride.action, []).append(made)
                    found += self._at_its_time(made, n, node, stride)
        must = self._must(ages.graph.nodes[node].state)
        if not leads:
            return []
        safe = [everything(n)]
        for i in must:
            if not self._known(self._actions[i], latest=True):
                safe = _all_of(safe, [*leads.get(i, ()), *self._not_yet(i, n, node)], n)
        found += self._on_waiting(found, safe, n, node)
        return found + self._at_the_last(leads, must, n, node)

    def _at_its_time(self, made: Zone, n: int, node: int, stride: Stride) -> list[Zone]:
        """Those of the ages from which a stride leads on at which it surely may begin; none or one zone."""
        action, latest = self._actions[stride.action], self._ages.latest(node)
        zone = list(made)
        early = action.tier is not Tier.OTHER or not _has_earliest(action) or self._relied(action, latest=False)
        late = self._waits[stride.action] or self._relied(action, latest=True)
        if early and late:
            surely = self._ages.in_window(zone, n, self._ages.clocks(node), stride)
            surely = surely and self._in_narrowest(zone, stride.action, n, node)
        else:
            surely = late and self._just_at_latest(zone, stride.action, n, node)
        return [zone] if surely and held(zone, n, latest) else []

    def _just_at_latest(self, zone: Zone, action: int, n: int, node: int) -> bool:
        """Leaves only those at which something obliged is at its latest, where it may happen whatever its earliest is,
        in place; False: there are none."""
        window = self._actions[action].window
        if action not in self._obliged or window is None or window.latest is None or window.latest_open:
            return False
        if not self._known(self._actions[action], latest=True):
            return False
        return tightened(zone, n, 0, self._clock(action, node), bound(-window.latest, False))

    def _not_yet(self, action: int, n: int, node: int) -> list[Zone]:
        """The ages at which something obliged is surely not at its latest; none or one zone."""
        one, zone = self._actions[action], everything(n)
        window, latest = one.window, self._narrow[action].window
        assert window is not None
        assert latest is not None
        if self._relied(one, latest=True):
            if latest.latest_open or latest.latest is None:
                return []
            short = bound(latest.latest, True)
        elif self._relied(one, latest=False):
            short = bound(window.earliest, not window.earliest_open)
        else:
            return []
        return [zone] if tightened(zone, n, self._clock(action, node), 0, short) else []

    def _on_waiting(self, ready: list[Zone], safe: list[Zone], n: int, node: int) -> list[Zone]:
        """The ages from which waiting leads into some that are ready, through safe ones alone."""
        latest = self._ages.latest(node)
        found: list[Zone] = []
        work = list(ready)
        while work:
            zone = work.pop()
            for piece in safe:
                one = _both(zone, piece, n)
                if one is None:
                    continue
                before_time(one, n)
                earlier = _both(one, piece, n)
                if earlier is None or not held(earlier, n, latest):
                    continue
                if not any(inside(earlier, other) for other in (*found, *ready)):
                    found.append(earlier)
                    if len(safe) > 1:
                        work.append(earlier)
        return found

    def _at_the_last(self, leads: dict[int, list[Zone]], must: list[int], n: int, node: int) -> list[Zone]:
        """The ages from which a way leads on by waiting as long as one can."""
        latest = self._ages.latest(node)
        here = everything(n)
        if not held(here, n, latest):
            return []
        if not must:
            return [
                zone for action, zones in leads.items() if self._waits[action] for zone in _for_ever_in(here, zones, n)
            ]
        fine = [everything(n)]
        for action in must:
            fine = _all_of(fine, [*leads.get(action, ()), *self._not_yet(action, n, node)], n)
        return _for_ever_in(here, fine, n)

    def _in_narrowest(self, zone: Zone, action: int, n: int, node: int) -> bool:
        """Leaves only ages in the narrowest window, in place; False: there are none. What never comes too late may
        happen as late as it has come to be."""
        one = self._narrow[action]
        window = one.window
        if window is None or self._moved.isdisjoint((Bound(age_of(one), False), Bound(age_of(one), True))):
            return True
        latest = None if self._waits[action] or window.latest is None else (window.latest, window.latest_open)
        return between(zone, n, self._clock(action, node), (window.earliest, window.earliest_open), latest)

    def _known(self, action: Action, *, latest: bool) -> bool:
        """Whether an end is relied on, and has one value."""
        return self._relied(action, latest=latest) and Bound(age_of(action), latest) not in self._moved

    def _relied(self, action: Action, *, latest: bool) -> bool:
        return Bound(age_of(action), latest) in self._ends

    def _clock(self, action: int, node: int) -> int:
        owners, id = self._ages.graph.owners, age_of(self._actions[action])
        return next(i for i, one in enumerate(self._ages.clocks(node), start=1) if owners[one].id == id)


def _both_ways(system: System, other: System) -> tuple[System, System]:
    """Two systems that differ in ends of windows, as one with the widest and one with the narrowest windows."""
    wide, narrow = [], []
    for one, two in zip(system.actions, other.actions, strict=True):
        if one.window is None or two.window is None:
            wide.append(one)
            narrow.append(one)
            continue
        pairs = [(window.earliest, window.earliest_open) for window in (one.window, two.window)]
        lates = [
            (inf if window.latest is None else window.latest, not window.latest_open, window.latest)
            for window in (one.window, two.window)
        ]
        for made, pick, unpick in ((wide, min, max), (narrow, max, min)):
            early, late = pick(pairs), unpick(lates)
            window = TickWindow(early[0], late[2], early[1], late[2] is not None and not late[1])
            made.append(replace(one, window=window))
    return replace(system, actions=tuple(wide), digest=""), replace(system, actions=tuple(narrow), digest="")


def _has_earliest(action: Action) -> bool:
    return action.window is not None and (action.window.earliest > 0 or action.window.earliest_open)


def _both(zone: Zone, other: Zone, n: int) -> Zone | None:
    """What lies in both; None: nothing."""
    made = list(zone)
    for at, limit in enumerate(other):
        i, j = divmod(at, n)
        if i != j and not tightened(made, n, i, j, limit):
            return None
    return made


def _all_of(zones: list[Zone], others: list[Zone], n: int) -> list[Zone]:
    """What lies in some of the one and in some of the other; not all of it where that is too many zones."""
    made: list[Zone] = []
    for zone in zones:
        for other in others:
            one = _both(zone, other, n)
            if one is not None and not any(inside(one, known) for known in made):
                made = [*(known for known in made if not inside(known, one)), one]
    return made[:MOST_PIECES]


def _for_ever_in(here: Zone, zones: list[Zone], n: int) -> list[Zone]:
    """The ages here from which all that waiting leads to here lies in some of the zones."""
    outside = [here]
    for zone in zones:
        outside = minus(outside, zone, n)
    left = [here]
    for zone in outside:
        before_time(zone, n)
        left = minus(left, zone, n)
    return left
