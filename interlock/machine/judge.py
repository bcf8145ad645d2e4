"""Rules and hazards judged along a run of the machine, by observers of its own.

In: a `Machine`. Out: after each event, which rules and hazards it broke and which `possible` ones it reached. What a
rule says is in section 6 of specs/MEANING.md; rules that one run cannot break are named with the reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from interlock.logic.formula import And, Condition, Formula, Not, Was, operands_of
from interlock.machine.machine import Machine
from interlock.machine.senses import Judgement
from interlock.machine.situation import Event, Snapshot
from interlock.spec.model import Rule, RuleKind, Spec

_NEEDS_TIME = "speaks of durations; walks know no clock"
_NOT_BY_ONE_RUN = "no single run can break it"


@dataclass(frozen=True, slots=True)
class Watch:
    """What is remembered along a run: one flag for each `before` rule, and whether a common cause has happened."""

    flags: tuple[bool, ...]
    common_cause: bool


@dataclass(frozen=True, slots=True)
class _Ban:
    """Something that must not be. `every_event`: it speaks of events; `passing`: unsettled situations count too."""

    id: str
    bad: Judgement
    every_event: bool
    passing: bool
    withstands: int
    even_common_cause: bool


@dataclass(frozen=True, slots=True)
class _Order:
    """X only after Y since Z."""

    id: str
    x: Judgement
    y: Judgement
    z: Judgement | None
    withstands: int
    even_common_cause: bool


_Observer: TypeAlias = _Ban | _Order


class Judge:
    """All rules and hazards of a spec that runs can break."""

    def __init__(self, machine: Machine) -> None:
        spec = machine.spec
        self._machine = machine
        self._conditions = {name: formula for name, formula, _ in spec.conditions}
        self._common_causes = frozenset(failure.id for failure in spec.failures if failure.common_cause)
        self._bans: list[_Ban] = []
        self._orders: list[_Order] = []
        self._goals: list[_Ban] = []
        self.not_judged: list[tuple[str, str]] = []
        for rule in spec.rules:
            self._take_rule(rule)
        for hazard in spec.hazards:
            if hazard.longer_than_s is not None:
                self.not_judged.append((hazard.id, _NEEDS_TIME))
            else:
                withstands = withstood(spec, hazard.id)
                self._bans.append(self._ban(hazard.id, hazard.happens, hazard.passing, withstands, False))

    @property
    def judged(self) -> tuple[str, ...]:
        """Ids of the rules and hazards that a run can break."""
        return (*(ban.id for ban in self._bans), *(order.id for order in self._orders))

    @property
    def goals(self) -> tuple[str, ...]:
        """Ids of the rules that a run can fulfil (`possible`)."""
        return tuple(goal.id for goal in self._goals)

    def _take_rule(self, rule: Rule) -> None:
        withstands, common = rule.withstands, rule.even_common_cause
        if rule.kind is RuleKind.NEVER:
            self._bans.append(self._ban(rule.id, rule.condition, rule.passing, withstands, common))
        elif rule.kind is RuleKind.WHILE:
            assert rule.must is not None
            bad = And((rule.condition, Not(rule.must)))
            self._bans.append(self._ban(rule.id, bad, rule.passing, withstands, common))
        elif rule.kind is RuleKind.BEFORE:
            assert rule.first is not None
            judge = self._machine.senses.judgement
            x, y = judge(rule.condition), judge(rule.first)
            z = None if rule.since is None else judge(rule.since)
            self._orders.append(_Order(rule.id, x, y, z, withstands, common))
        elif rule.kind is RuleKind.POSSIBLE:
            self._goals.append(self._ban(rule.id, rule.condition, rule.passing, 0, False))
            self.not_judged.append((rule.id, _NOT_BY_ONE_RUN))
        elif rule.kind in (RuleKind.AFTER, RuleKind.LASTS):
            self.not_judged.append((rule.id, _NEEDS_TIME))
        else:
            self.not_judged.append((rule.id, _NOT_BY_ONE_RUN))

    def _ban(self, id: str, bad: Formula, passing: bool, withstands: int, common: bool) -> _Ban:
        eventful = self._speaks_of_events(bad)
        return _Ban(id, self._machine.senses.judgement(bad), eventful, passing, withstands, common)

    def _speaks_of_events(self, formula: Formula) -> bool:
        if isinstance(formula, Condition):
            return self._speaks_of_events(self._conditions[formula.id])
        return isinstance(formula, Was) or any(self._speaks_of_events(part) for part in operands_of(formula))

    # --- along a run ---

    def begin(self, start: Snapshot, present: tuple[str, ...]) -> tuple[Watch, tuple[str, ...]]:
        """What is remembered at a start with these failures present, and what is broken there already."""
        now = start.situation
        flags = tuple(order.y(now, now) for order in self._orders)
        watch = Watch(flags, not self._common_causes.isdisjoint(present))
        return watch, self._bad(watch, start, start)

    def step(self, watch: Watch, before: Snapshot, event: Event, after: Snapshot) -> tuple[Watch, tuple[str, ...]]:
        """What is remembered after an event, and what it broke."""
        then, now = before.situation, after.situation
        common_cause = watch.common_cause or not self._common_causes.isdisjoint(event.modes)
        broken, flags = [], []
        for order, flag in zip(self._orders, watch.flags, strict=True):
            if not flag and order.x(now, then) and not order.x(then, then):
                broken.append(order)
            cleared = order.z is not None and order.z(now, then) and not order.z(then, then)
            flags.append((flag and not cleared) or order.y(now, then))
        watch = Watch(tuple(flags), common_cause)
        counting = tuple(order.id for order in broken if self._counts(order, watch, after))
        return watch, (*self._bad(watch, before, after), *counting)

    def _bad(self, watch: Watch, before: Snapshot, after: Snapshot) -> tuple[str, ...]:
        return tuple(ban.id for ban in self._bans if self._counts(ban, watch, after) and self._true(ban, before, after))

    def _true(self, ban: _Ban, before: Snapshot, after: Snapshot) -> bool:
        if not ban.bad(after.situation, before.situation):
            return False
        return ban.every_event or ban.passing or self._machine.settled(after)

    def _counts(self, observer: _Observer, watch: Watch, after: Snapshot) -> bool:
        """Whether the rule claims to hold with the failures so far."""
        return after.spent <= observer.withstands and (observer.even_common_cause or not watch.common_cause)

    def reached(self, watch: Watch, before: Snapshot, after: Snapshot) -> tuple[str, ...]:
        """The `possible` rules that an event fulfils, without any failure."""
        return tuple(g.id for g in self._goals if self._counts(g, watch, after) and self._true(g, before, after))


def largest_claim(spec: Spec) -> int:
    """The largest number of failures that some rule or hazard claims to withstand."""
    claims = [rule.withstands for rule in spec.rules] + [withstood(spec, hazard.id) for hazard in spec.hazards]
    return max(claims, default=0)


def withstood(spec: Spec, hazard: str) -> int:
    """How many failures a hazard must be out of reach for: its own word, else the largest of its rules', else 0."""
    for candidate in spec.hazards:
        if candidate.id == hazard and candidate.withstands is not None:
            return candidate.withstands
    return max((rule.withstands for rule in spec.rules if hazard in rule.guards_against), default=0)
