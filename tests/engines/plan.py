"""Small systems written by hand in tests: a plan collects items and events, and makes a core of them.

plan = Plan()
plan.item("door", "open", "shut")
plan.free("door shuts", {"door": "open"}, {"door": "shut"})
system = plan.system(never("never shut", plan.at(door="shut")))
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import product

from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Assignment,
    Mode,
    Origin,
    Property,
    PropertyKind,
    System,
    TickWindow,
    Tier,
    Valuation,
    Variable,
    VariableKind,
)
from interlock.logic.expression import TRUE, Expression, conjunction, has, negate, walk
from interlock.logic.expression import Kind as ExpressionKind

Value = str | int | bool
When = Expression | Mapping[str, object]
"""A condition: an expression, or values (or tuples of values) by item, all of which must hold."""


class Plan:
    """Items and events of a system in the making, in their order."""

    def __init__(self) -> None:
        self.variables: list[Variable] = []
        self.actions: list[Action] = []
        self.modes: list[Mode] = []
        self.first: dict[str, tuple[Value, ...]] = {}

    def item(self, name: str, *values: Value, start: Value | tuple[Value, ...] | None = None) -> None:
        """An item; it starts in its first value, in `start`, or in any of several."""
        self.variables.append(Variable(name, values, VariableKind.ITEM))
        begins = values[0] if start is None else start
        self.first[name] = begins if isinstance(begins, tuple) else (begins,)

    def domain(self, name: str) -> tuple[Value, ...]:
        """The values of an item."""
        return next(v.values for v in self.variables if v.name == name)

    def has(self, name: str, *values: object) -> Expression:
        """The item has one of these values."""
        domain = self.domain(name)
        return has(name, [domain.index(v) for v in values], len(domain))

    def at(self, _: Mapping[str, object] | None = None, **values: object) -> Expression:
        """All of these items have these values (a tuple: one of them)."""
        return conjunction(
            self.has(name, *(value if isinstance(value, tuple) else (value,)))
            for name, value in {**(_ or {}), **values}.items()
        )

    def when(self, condition: When) -> Expression:
        """A condition as an expression."""
        return condition if isinstance(condition, Expression) else self.at(condition)

    def to(self, changes: Mapping[str, object]) -> tuple[Assignment, ...]:
        """An update that sets items to values."""
        return tuple(Assignment(name, ((TRUE, self.domain(name).index(value)),)) for name, value in changes.items())

    def event(
        self,
        id: str,
        when: When,
        changes: Mapping[str, object] | tuple[Assignment, ...],
        *,
        kind: ActionKind = ActionKind.FREE,
        tier: Tier = Tier.OTHER,
        obliged: bool | None = None,
        owner: str | None = None,
        restarts: tuple[str, ...] = (),
        modes: tuple[str, ...] = (),
        cost: int = 0,
    ) -> None:
        """Any event. Of tier 0 and 1 it is obliged, of tier 2 as told (not, if not told)."""
        bound = (tier is not Tier.OTHER and not cost) if obliged is None else obliged
        window = None if tier is not Tier.OTHER else TickWindow(0, 1) if bound else ANY_AGE
        update = changes if isinstance(changes, tuple) else self.to(changes)
        whose = owner or id.split()[0]
        self.actions.append(
            Action(id, whose, id, kind, tier, self.when(when), update, window, bound, restarts, modes, cost)
        )

    def free(self, id: str, when: When, changes: Mapping[str, object]) -> None:
        """A free move: the world makes it when it likes, perhaps never."""
        self.event(id, when, changes)

    def bound(self, id: str, when: When, changes: Mapping[str, object], restarts: tuple[str, ...] = ()) -> None:
        """A bound move: obliged."""
        self.event(id, when, changes, kind=ActionKind.BOUND, obliged=True, restarts=restarts)

    def instant(self, id: str, when: When, changes: Mapping[str, object], restarts: tuple[str, ...] = ()) -> None:
        """An instant consequence, tier 0."""
        self.event(id, when, changes, kind=ActionKind.CONSEQUENCE, tier=Tier.CONSEQUENCE, restarts=restarts)

    def logic(self, id: str, when: When, changes: Mapping[str, object], owner: str | None = None) -> None:
        """Logic that reacts immediately, tier 1."""
        self.event(id, when, changes, kind=ActionKind.LOGIC, tier=Tier.LOGIC, owner=owner)

    def failure(
        self,
        name: str,
        changes: Mapping[str, object] | None = None,
        *,
        when: When = TRUE,
        at_start: bool = True,
        repaired: bool = False,
    ) -> None:
        """A failure mode with a variable of its own (False, True), perhaps there at the start, perhaps repaired."""
        self.variables.append(Variable(name, (False, True), VariableKind.FAILURE))
        self.first[name] = (False,)
        guard = conjunction([self.has(name, False), self.when(when)])
        update = self.to({name: True, **(changes or {})})
        self.modes.append(Mode(name, False, (), guard, update if at_start else None))
        self.event(f"{name} happens", guard, update, kind=ActionKind.FAILURE, modes=(name,), cost=1)
        if repaired:
            self.event(f"{name} is repaired", {name: True}, {name: False}, kind=ActionKind.REPAIR)

    def common_cause(self, name: str, *members: str) -> None:
        """Several failures in one event."""
        guard = negate(self.at(dict.fromkeys(members, True)))
        update = self.to(dict.fromkeys(members, True))
        self.modes.append(Mode(name, True, members, guard, update))
        self.event(f"{name} happens", guard, update, kind=ActionKind.FAILURE, modes=(name,), cost=1)

    def system(self, *properties: Property, start: tuple[Valuation, ...] | None = None) -> System:
        """The core of the plan; every combination of starts is one."""
        starts = product(*([v.values.index(x) for x in self.first[v.name]] for v in self.variables))
        named = {
            node.name for action in self.actions for node in walk(action.guard) if node.kind is ExpressionKind.NAMED
        }
        return System(
            title="a plan",
            variables=tuple(self.variables),
            start=tuple(starts) if start is None else start,
            actions=tuple(self.actions),
            modes=tuple(self.modes),
            properties=properties,
            conditions=(),
            origin={name: Origin(name, None) for name in sorted(named)},
            tick_s=Fraction(1),
        )


def never(id: str, condition: Expression, *, passing: bool = False, every_event: bool = False) -> Property:
    """A rule `never`."""
    return Property(id, PropertyKind.NEVER, False, condition, passing=passing, every_event=every_event)


def possible(id: str, condition: Expression, *, passing: bool = False) -> Property:
    """A rule `possible`."""
    return Property(id, PropertyKind.POSSIBLE, False, condition, passing=passing)


def always_possible(id: str, condition: Expression, *, passing: bool = False) -> Property:
    """A rule `always_possible`."""
    return Property(id, PropertyKind.ALWAYS_POSSIBLE, False, condition, passing=passing)


def always_ends(
    id: str, condition: Expression, start: Expression | None = None, helped_by: tuple[str, ...] = ()
) -> Property:
    """A rule `always_ends`."""
    return Property(id, PropertyKind.ALWAYS_ENDS, False, condition, start=start, helped_by=helped_by)


def before(id: str, condition: Expression, first: Expression, since: Expression | None = None) -> Property:
    """A rule `before`."""
    return Property(id, PropertyKind.BEFORE, False, condition, first=first, since=since)
