"""The least and the greatest time between two moments of one run, exact, whatever its other times are.

In: a system under a question, a scenario. Out: for two of its moments, by how much they can lie apart, whether that is
reached, and times of all events at which they do.

Moment 0 is the start, moment i the time of event i, and, where the run ends with waiting, one more. Each end of a
window that the run meets says t[of] - t[minus] <= ticks, or <; the extremes of a difference are then shortest paths
(Bellman and Ford; any textbook). A strict end counts as an amount so small that all of them together stay below one
tick. This reads `core/timed.py` and nothing of an engine: what one finds is measured by other means than it was found.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.core.question import Moment, Question, Scenario, Times
from interlock.core.system import Property, PropertyKind, System, TickWindow, Tier
from interlock.core.timed import TimedMeaning, age_of, has_age
from interlock.logic.expression import FALSE

NEVER = 1 << 200


@dataclass(frozen=True, slots=True)
class Edge:
    """t[of] - t[minus] <= weight, in ticks times the scale of the chain."""

    of: int
    minus: int
    weight: int


class Chain:
    """The moments of one run and what the windows say about them. Cost: events times actions."""

    def __init__(self, system: System, question: Question, scenario: Scenario, *, waits: bool) -> None:
        self.timed = TimedMeaning(system, question)
        self.scenario = scenario
        self.moments = 1 + len(scenario.events) + waits
        self.scale = self.moments + 2
        self._since: dict[str, int] = {}
        self._obliged = tuple(
            action
            for action in self.timed.actions.values()
            if action.tier is Tier.OTHER and action.obliged and has_age(action)
        )
        self.edges = self._edges(waits)

    def _edges(self, waits: bool) -> list[Edge]:
        found: list[Edge] = []
        self._settle(0)
        for moment, id in enumerate(self.scenario.events, start=1):
            action = self.timed.actions[id]
            found += self._until(moment)
            if action.window is not None and has_age(action):
                found += self._inside(action.window, self._since[age_of(action)], moment)
            for afresh in (age_of(action), *action.restarts):
                self._since.pop(afresh, None)
            self._settle(moment)
        if waits:
            found += self._until(self.moments - 1)
        return found

    def _settle(self, moment: int) -> None:
        valuation = self.scenario.situations[moment]
        if self.timed.plain.settled(valuation):
            enabled = [one.id for one in self.timed.owners if self.timed.plain.true(one.guard, valuation)]
            self._since = {id: self._since.get(id, moment) for id in enabled}

    def _until(self, moment: int) -> list[Edge]:
        """Time passes from one moment to the next: not backwards, not in passing, not beyond what is obliged."""
        before = self.scenario.situations[moment - 1]
        found = [Edge(moment - 1, moment, 0)]
        if not self.timed.plain.settled(before):
            return [*found, Edge(moment, moment - 1, 0)]
        for action in self._obliged:
            window = action.window
            if window is not None and window.latest is not None and self.timed.plain.true(action.guard, before):
                weight = self._weight(window.latest, window.latest_open)
                found.append(Edge(moment, self._since[age_of(action)], weight))
        return found

    def _inside(self, window: TickWindow, since: int, moment: int) -> list[Edge]:
        found = [Edge(since, moment, self._weight(-window.earliest, window.earliest_open))]
        if window.latest is not None:
            found.append(Edge(moment, since, self._weight(window.latest, window.latest_open)))
        return found

    def _weight(self, ticks: int, strict: bool) -> int:
        return ticks * self.scale - strict

    # --- extremes ---

    def greatest(self, begin: int, end: int) -> Moment | None:
        """The greatest t[end] - t[begin]; None: as much as one likes."""
        distance = self._shortest(self.edges, begin)[end]
        return None if distance == NEVER else self._moment(distance)

    def least(self, begin: int, end: int) -> Moment:
        """The least t[end] - t[begin], for moments in their order."""
        found = self._moment(self._shortest(self.edges, end)[begin])
        return Moment(-found.ticks, found.open)

    def at_extreme(self, begin: int, end: int, *, greatest: bool) -> Times:
        """Times of all moments after the first, with t[end] - t[begin] at its extreme, or so near to it as strict ends
        are kept apart. `earliest` and `latest` are so too, unless the extreme is open: then they are those of any run
        through these events. Without a greatest: any times."""
        edges = list(self.edges)
        distance = self._shortest(edges, begin)[end] if greatest else self._shortest(edges, end)[begin]
        if distance != NEVER:
            held = Edge(begin, end, -distance) if greatest else Edge(end, begin, -distance)
            edges.append(held)
        open_end = distance == NEVER or distance % self.scale != 0
        spread = self.edges if open_end else edges
        never = tuple(None if latest == NEVER else self._moment(latest) for latest in self._shortest(spread, 0)[1:])
        return Times(
            tuple(Moment(-one.ticks, one.open) for one in map(self._moment, self._longest(spread))),
            never,
            tuple(Fraction(-one, self.scale) for one in self._longest(edges)),
        )

    def _longest(self, edges: list[Edge]) -> list[int]:
        """For every moment after the first, t[0] - t[moment] at the most."""
        return self._shortest([Edge(e.minus, e.of, e.weight) for e in edges], 0)[1:]

    def _moment(self, distance: int) -> Moment:
        ticks = -(-distance // self.scale)
        return Moment(Fraction(ticks), ticks * self.scale != distance)

    def _shortest(self, edges: list[Edge], begin: int) -> list[int]:
        distance = [NEVER] * self.moments
        distance[begin] = 0
        for _ in range(self.moments):
            changed = False
            for edge in edges:
                reached = distance[edge.minus] + edge.weight
                if distance[edge.minus] != NEVER and reached < distance[edge.of]:
                    distance[edge.of] = reached
                    changed = True
            if not changed:
                break
        return distance


def opened_at(timed: TimedMeaning, rule: Property, scenario: Scenario) -> int | None:
    """Since which moment the deadline `rule` is open at the end of a scenario, or was until its last event closed it;
    None: it never was. The same as `TimedMeaning.watch`, in moments."""
    since: int | None = None
    held = False
    for moment, valuation in enumerate(scenario.situations):
        if not timed.plain.settled(valuation):
            continue
        holds = timed.plain.true(rule.condition, valuation)
        closes = any(timed.plain.true(one or FALSE, valuation) for one in (rule.must, rule.unless))
        last = moment == len(scenario.situations) - 1
        if rule.kind is PropertyKind.LASTS:
            if holds and not held:
                since = moment
            elif not holds and not last:
                since = None
        elif closes and not last:
            since = None
        elif holds and not held and since is None:
            since = moment
        held = holds
    return since
