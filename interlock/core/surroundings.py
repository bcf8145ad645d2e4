"""A rule seen with what is near it alone: all around that is free to do anything, at any moment.

In: a system, a rule judged on situations, the variables that are *kept*. Out: a smaller system in which the kept ones
change as before; what their events read beside them, and what the rule reads, is *free*; all else is left out.

The idea: every run of the whole is one of the smaller system, at the same times, if only what is kept and free is
looked at. So what no run of the smaller one breaks, no run of the whole does; a run of the smaller one says nothing.
For each run of the whole to be there, what is free must be able to change wherever anything else changes: within a
consequence, within logic, between. One variable more says whether the surroundings are astir. While they are, what is
free changes, as a consequence; coming to rest is one too, so that they hold up neither logic nor time for longer than
they wish. They stir at the start, with every kept event (what the whole does after it), and whenever all is settled.
What is kept is enabled exactly where it is in the whole, as its guards read kept and free variables alone; so ages,
which look at settled situations, are those of the whole. An event is kept too if it owns or restarts the age of a kept
one.

A failure that a kept event reads is kept, with its events: so the limit on failures stays. Failures that nothing kept
reads are part of what is free, and cost nothing.

What flickers between two settled situations, so that nobody who looks at settled ones sees it, spoils most lines that
are late. So a free variable may be said to change *once* at the most until all is settled again, which must then be
shown of the whole (`flickers`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import prod

from interlock.core.slice import kept_mode, slice_on
from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Assignment,
    Property,
    PropertyKind,
    System,
    Tier,
    Variable,
    VariableKind,
    changed_by,
    read_by,
)
from interlock.core.timed import age_of, has_age
from interlock.logic.expression import FALSE, TRUE, Expression, conjunction, disjunction, has, negate, variables_of

ASTIR = "(surroundings)"
"""The name of the variable that is added; no spec can write it."""

QUIET, STIRRING = 0, 1
FLICKERS = "(flickers)"


@dataclass(frozen=True, slots=True)
class Nearby:
    """What is kept and what is free, in names. `size`: how many valuations there could be, `n_free` of what is free."""

    kept: frozenset[str]
    free: frozenset[str]
    size: int
    n_free: int


@dataclass(frozen=True, slots=True)
class _Reach:
    """What events and modes change and read."""

    system: System
    failures: frozenset[str]
    by_variable: dict[str, frozenset[str]]
    reads: dict[str, frozenset[str]]
    beside: dict[str, frozenset[str]]

    @classmethod
    def of(cls, system: System) -> _Reach:
        by_variable: dict[str, set[str]] = {}
        reads, beside = {}, {}
        owners = {age_of(action) for action in system.actions if has_age(action)}
        for action in system.actions:
            for name in changed_by(action):
                by_variable.setdefault(name, set()).add(action.id)
            reads[action.id] = read_by(action)
            beside[action.id] = frozenset((age_of(action),))
        for action in system.actions:
            for id in {age_of(action), *action.restarts} & owners:
                beside[id] |= {action.id}
        failures = frozenset(v.name for v in system.variables if v.kind is VariableKind.FAILURE)
        return cls(system, failures, {name: frozenset(ids) for name, ids in by_variable.items()}, reads, beside)

    def events(self, kept: frozenset[str]) -> frozenset[str]:
        """The events that are kept with these variables."""
        found: set[str] = set()
        work = [id for name in kept for id in self.by_variable.get(name, ())]
        while work:
            id = work.pop()
            if id not in found:
                found.add(id)
                work.extend(self.beside[id])
        return frozenset(found)

    def modes(self, kept: frozenset[str]) -> frozenset[str]:
        """The modes that are kept: those that change a kept variable, or that a kept event brings."""
        events = self.events(kept)
        brought = {mode for action in self.system.actions if action.id in events for mode in action.modes}
        changing = {mode.id for mode in self.system.modes if any(one.variable in kept for one in mode.at_start or ())}
        return frozenset(brought | changing)

    def read_by(self, kept: frozenset[str]) -> frozenset[str]:
        """What the kept events and modes read."""
        modes = self.modes(kept)
        conditions = [
            condition
            for mode in self.system.modes
            if mode.id in modes
            for condition in (mode.guard, *(case for one in mode.at_start or () for case, _ in one.cases))
        ]
        return variables_of(*conditions).union(*(self.reads[id] for id in self.events(kept)))


@dataclass(frozen=True, slots=True)
class Surroundings:
    """A rule of a system, and what lies around it."""

    system: System
    rule: Property
    reach: _Reach

    @classmethod
    def of(cls, system: System, rule: Property) -> Surroundings:
        """Of a rule that is judged on situations."""
        return cls(system, rule, _Reach.of(system))

    def near(self, names: Iterable[str]) -> Nearby:
        """What is kept if these variables are, and what is free then."""
        kept = frozenset(names)
        while True:
            read = self.reach.read_by(kept) | variables_of(*self.rule.expressions())
            failures = read & self.reach.failures - kept
            if not failures:
                return Nearby(kept, read - kept, self._size(kept | read), self._size(read - kept))
            kept |= failures

    def _size(self, names: frozenset[str]) -> int:
        return prod(len(variable.values) for variable in self.system.variables if variable.name in names)

    def growing(self, largest: int) -> Iterator[Nearby]:
        """Ever more of the system: one variable more at a time, that which makes it the least larger, as long as there
        could be no more than `largest` valuations and something is free. What makes a deadline run comes last: the
        answer to it is what has to be shown."""
        order = {variable.name: i for i, variable in enumerate(self.system.variables)}
        asks = variables_of(self.rule.condition) if self.rule.must is not None else frozenset[str]()
        here = self.near(())
        while here.free:
            names = sorted(here.free - asks or here.free, key=order.__getitem__)
            here = min((self.near(here.kept | {name}) for name in names), key=lambda one: one.size)
            if not here.free or here.size > largest:
                return
            yield here

    def freed(self, near: Nearby, once: frozenset[str]) -> System:
        """The smaller system, with this rule alone. `once`: those of the free ones that change once at the most until
        all is settled."""
        seen = near.kept | near.free
        places = [i for i, variable in enumerate(self.system.variables) if variable.name in seen]
        variables = tuple(self.system.variables[i] for i in places)
        changed = tuple(_flag(v.name) for v in variables if v.name in once)
        ids, modes = self.reach.events(near.kept), self.reach.modes(near.kept)
        begins = (_to(ASTIR, STIRRING), *(_to(flag.name, 0) for flag in changed))
        kept = [
            replace(
                action,
                update=(
                    *(one for one in action.update if one.variable in seen),
                    *(begins if action.tier is Tier.OTHER else begins[:1]),
                ),
                restarts=tuple(id for id in action.restarts if id in ids),
            )
            for action in self.system.actions
            if action.id in ids
        ]
        is_astir = has(ASTIR, (STIRRING,), 2)
        around = [
            _event("stir", Tier.OTHER, has(ASTIR, (QUIET,), 2), begins),
            _event("come to rest", Tier.CONSEQUENCE, is_astir, (_to(ASTIR, QUIET),)),
        ]
        for variable in variables:
            if variable.name in near.free:
                around += _changes(variable, is_astir, variable.name in once)
        anything = [range(len(v.values)) if v.name in near.free else None for v in variables]
        starts = dict.fromkeys(
            (*values, STIRRING, *(0 for _ in changed))
            for start in self.system.start
            for values in product(*(free or (start[i],) for i, free in zip(places, anything, strict=True)))
        )
        return replace(
            self.system,
            variables=(*variables, Variable(ASTIR, ("quiet", "astir"), VariableKind.ITEM), *changed),
            start=tuple(starts),
            actions=(*kept, *around),
            modes=tuple(kept_mode(mode, seen) for mode in self.system.modes if mode.id in modes),
            properties=(replace(self.rule, trigger=None),),
            conditions=(),
            digest="",
        )


def flickers(system: System, name: str) -> System:
    """What can influence a variable, with one rule, `FLICKERS`: the variable never changes twice before all is settled.

    Whatever else there is in the whole, what happens here until all is settled happens there within one such time.
    """
    part = slice_on(system, (name,)).system
    size = next(len(v.values) for v in part.variables if v.name == name)
    count = Variable(f"(changes) {name}", (0, 1, 2), VariableKind.ITEM)
    was_none, was_some = has(count.name, (0,), 3), has(count.name, (1, 2), 3)

    def counting(action: Action) -> Action:
        changes = disjunction(
            conjunction((*(negate(earlier) for earlier, _ in one.cases[:i]), case, negate(has(name, (value,), size))))
            for one in action.update
            if one.variable == name
            for i, (case, value) in enumerate(one.cases)
        )
        if action.tier is Tier.OTHER:
            cases = ((changes, 1), (TRUE, 0))
        else:
            cases = ((conjunction((changes, was_none)), 1), (conjunction((changes, was_some)), 2))
        told = Assignment(count.name, tuple(case for case in cases if case[0] is not FALSE))
        return replace(action, update=(*action.update, told)) if told.cases else action

    rule = Property(FLICKERS, PropertyKind.NEVER, False, has(count.name, (2,), 3), passing=True)
    return replace(
        part,
        variables=(*part.variables, count),
        start=tuple((*start, 0) for start in part.start),
        actions=tuple(counting(action) for action in part.actions),
        properties=(rule,),
    )


def _flag(name: str) -> Variable:
    return Variable(f"(changed) {name}", (False, True), VariableKind.ITEM)


def _changes(variable: Variable, is_astir: Expression, once: bool) -> Iterator[Action]:
    """The events that change a free variable."""
    flag = _flag(variable.name)
    guard = conjunction((is_astir, has(flag.name, (0,), 2))) if once else is_astir
    for value in range(len(variable.values)):
        update = (_to(variable.name, value), *((_to(flag.name, 1),) if once else ()))
        yield _event(f"make {variable.name} {value}", Tier.CONSEQUENCE, guard, update)


def _to(variable: str, value: int) -> Assignment:
    return Assignment(variable, ((TRUE, value),))


def _event(name: str, tier: Tier, guard: Expression, update: tuple[Assignment, ...]) -> Action:
    at_once = tier is Tier.CONSEQUENCE
    kind = ActionKind.CONSEQUENCE if at_once else ActionKind.FREE
    return Action(f"{ASTIR} {name}", ASTIR, name, kind, tier, guard, update, None if at_once else ANY_AGE, at_once)
