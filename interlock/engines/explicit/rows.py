"""Rows: what can happen, cut into pieces on which it is one and the same change; and probes, cut in the same way.

In: a system under a question, its codes, the rules whose runs are observed. Out: rows and probes.

A *row* is a piece (a cube and a set of codes) of the guard of one action, on which the action makes the same assignment
everywhere. The rows of an action are disjoint, so an event is counted once. Rules that speak of events become rows too:
on one row, the situation after is a function of the one before, so that a condition on both is one on the one before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from interlock.core.meaning import Meaning
from interlock.core.system import Action, ActionKind, Assignment, Property, PropertyKind, Tier, Variable, VariableKind
from interlock.engines.api import EngineFault
from interlock.engines.explicit.codes import Change, Codes
from interlock.engines.explicit.cubes import Cube, Piece, Splitter, before_event, both, plain, without_was
from interlock.logic.expression import TRUE, Expression, disjunction, has, negate

ALL_TIERS = 7
SETTLED = 4
DECIDING = 6


@dataclass(frozen=True, slots=True)
class Row:
    """A piece of the guard of an action and what the action does there: `assigned` values of variables, a `change` of
    the code. `cut`: a run ends at this event (it is an event, but nothing follows)."""

    action: int
    tier: int
    costs: bool
    codes: int
    cube: Cube
    assigned: dict[str, int]
    change: Change
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Probe:
    """A piece on which probe `number` is true, in situations whose active tier is among `tiers` (a bit each)."""

    number: int
    tiers: int
    codes: int
    cube: Cube


@dataclass(frozen=True, slots=True)
class Flag:
    """Something that a run remembers beside the situation: a variable that each event may set.

    For a `before` rule: whether Y has happened since Z. `marks`: whether the last event was an end of its rule.
    """

    rule: Property
    variable: Variable
    marks: bool


class Rows:
    """All rows of a system. `own`: the rule whose ends need a flag (a `before` rule; a rule on events, where runs are
    cut); `cuts`: the rules at whose breach runs end; `extra`: variables that no event changes."""

    def __init__(
        self,
        meaning: Meaning,
        codes: Codes,
        own: Property | None,
        cuts: tuple[Property, ...],
        extra: tuple[Variable, ...] = (),
    ) -> None:
        self.meaning = meaning
        self.codes = codes
        self.cuts = cuts
        self.flags = tuple(_flags(own, cuts))
        present = codes.present()
        variables = (*meaning.system.variables, *(flag.variable for flag in self.flags), *extra)
        self.splitter = Splitter(variables, present)
        self._plain: dict[Expression, Expression] = {}
        self._below = codes.below(meaning.budget)
        self.rows: list[Row] = []
        for i, action in enumerate(meaning.system.actions):
            if action.cost not in (0, 1) or (action.cost == 0 and action.modes):
                raise EngineFault(f"`{action.id}` counts as {action.cost} failures")
            if meaning.may_fail(action):
                self.rows += self._observed(_merged(self._rows(i, action)))

    def plain(self, expression: Expression) -> Expression:
        """The expression without names, remembered."""
        found = self._plain.get(expression)
        if found is None:
            found = self._plain[expression] = plain(expression)
        return found

    def _rows(self, i: int, action: Action) -> list[Row]:
        codes = self._below if action.cost else self.codes.everything
        work = [(piece, dict[str, int]()) for piece in self.splitter.where(self.plain(action.guard), (codes, {}))]
        for assignment in action.update:
            work = [part for piece, assigned in work for part in self._assign(assignment, piece, assigned)]
        return [
            Row(i, action.tier.value, action.cost == 1, codes, cube, *self._change(assigned, action.cost))
            for (codes, cube), assigned in work
        ]

    def _assign(
        self, assignment: Assignment, piece: Piece, assigned: dict[str, int]
    ) -> list[tuple[Piece, dict[str, int]]]:
        """The piece split by the cases of an assignment."""
        found = []
        rest = [piece]
        for condition, value in assignment.cases:
            left = []
            for one in rest:
                true, false = self.splitter.split(self.plain(condition), one)
                found += [(part, {**assigned, assignment.variable: value}) for part in true]
                left += false
            rest = left
        return found + [(one, assigned) for one in rest]

    def _change(self, assigned: dict[str, int], cost: int) -> tuple[dict[str, int], Change]:
        bits = self.codes.bit
        on = sum(bits[name] for name, value in assigned.items() if name in bits and value)
        off = sum(bits[name] for name, value in assigned.items() if name in bits and not value)
        return {name: value for name, value in assigned.items() if name not in bits}, (on, off, cost)

    def _after(self, expression: Expression, row: Row) -> Expression:
        """An expression on the event of a row, as one on the situation before it."""
        on, off, _ = row.change
        failures = {name: int(bool(on & bit)) for name, bit in self.codes.bit.items() if (on | off) & bit}
        return before_event(self.plain(expression), {**row.assigned, **failures})

    def ends(self, rule: Property, row: Row) -> Expression:
        """Whether the event of a row breaches a rule that is judged on events, as an expression on the situation
        before."""
        if rule.kind is not PropertyKind.BEFORE:
            return self._after(rule.condition, row)
        flag = next(flag for flag in self.flags if flag.rule is rule and not flag.marks)
        return both(_unset(flag), self._rises(rule.condition, row))

    def _rises(self, expression: Expression, row: Row) -> Expression:
        return both(self._after(expression, row), negate(without_was(self.plain(expression))))

    def _observed(self, rows: list[Row]) -> list[Row]:
        """Rows split where runs are cut, and by what the flags become."""
        for cut in self.cuts:
            if on_events(cut):
                rows = [part for row in rows for part in self._cut(row, self.ends(cut, row))]
        for flag in self.flags:
            rows = [part for row in rows for part in self._flagged(flag, row)]
        return rows

    def _cut(self, row: Row, ends: Expression) -> list[Row]:
        if row.cut:
            return [row]
        true, false = self.splitter.split(ends, (row.codes, row.cube))
        return [
            *(replace(row, codes=codes, cube=cube, cut=True) for codes, cube in true),
            *(replace(row, codes=codes, cube=cube) for codes, cube in false),
        ]

    def _flagged(self, flag: Flag, row: Row) -> list[Row]:
        if row.cut:
            return [row]
        if flag.marks:
            cases = [(self.ends(flag.rule, row), 1), (TRUE, 0)]
        else:
            first, since = flag.rule.first, flag.rule.since
            assert first is not None
            cases = [(self._after(first, row), 1)]
            if since is not None:
                cases.append((self._rises(since, row), 0))
        update = Assignment(flag.variable.name, tuple(cases))
        return [
            replace(row, codes=codes, cube=cube, assigned=assigned)
            for (codes, cube), assigned in self._assign(update, (row.codes, row.cube), row.assigned)
        ]

    # --- probes ---

    def on_situations(self, number: int, tiers: int, condition: Expression) -> list[Probe]:
        """A probe that is true in situations with a condition whose active tier is among `tiers`."""
        pieces = self.splitter.where(self.plain(condition), (self.codes.everything, {}))
        return [Probe(number, tiers, codes, cube) for codes, cube in pieces]

    def on_event(self, number: int, rule: Property) -> list[Probe]:
        """A probe that is true in situations in which an event may happen that ends a rule on events; the number after
        it is for events that are a failure."""
        found = []
        for row in self.rows:
            if not row.cut:
                pieces = self.splitter.where(self.ends(rule, row), (row.codes, row.cube))
                found += [Probe(number + row.costs, 1 << row.tier, codes, cube) for codes, cube in pieces]
        return found

    def stuck(self, number: int) -> list[Probe]:
        """A probe that is true where something other than a failure or a repair may happen, in settled situations."""
        guards = [
            self.plain(action.guard)
            for action in self.meaning.system.actions
            if action.tier is Tier.OTHER and action.kind not in (ActionKind.FAILURE, ActionKind.REPAIR)
        ]
        return self.on_situations(number, SETTLED, disjunction(guards))


def on_events(rule: Property) -> bool:
    """Whether a rule is judged on events, not on situations."""
    return rule.kind is PropertyKind.BEFORE or rule.every_event


def marked(own: Property | None, cuts: tuple[Property, ...]) -> bool:
    """Whether the ends of the own rule are kept as a mark in the situation after: where an event leads to a situation
    at which runs are cut, it is no end."""
    return own is not None and on_events(own) and any(not on_events(cut) for cut in cuts)


def _flags(own: Property | None, cuts: tuple[Property, ...]) -> list[Flag]:
    rules = dict.fromkeys((*([own] if own is not None else []), *cuts))
    found = [Flag(rule, _bit(f"flag of {rule.id}"), False) for rule in rules if rule.kind is PropertyKind.BEFORE]
    if own is not None and marked(own, cuts):
        found.append(Flag(own, _bit(f"end of {own.id}"), True))
    return found


def _bit(name: str) -> Variable:
    return Variable(name, (False, True), VariableKind.MEMORY)


def _unset(flag: Flag) -> Expression:
    return has(flag.variable.name, (0,), 2)


def _merged(rows: list[Row]) -> list[Row]:
    """Rows that differ only in their codes are one."""
    found: dict[tuple[object, ...], Row] = {}
    for row in rows:
        key = (tuple(sorted(row.cube.items())), tuple(sorted(row.assigned.items())), row.change)
        same = found.get(key)
        found[key] = row if same is None else replace(same, codes=same.codes | row.codes)
    return list(found.values())
