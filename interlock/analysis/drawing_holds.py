"""Which hazards a set of permissives excludes at the moment when all of them are true: a check on paper.

In: a spec and permissives. Out: ids of hazards. Readings and messages are taken as true and in time, and items that
follow something as following: a formula over equipment is left of each permissive. A hazard is excluded if it cannot be
while that formula is true, or if a rule that guards against it cannot be broken while it is true. Nothing is explored
and nothing is proved by this: failures, delays and what happens afterwards are left out. It tells a reader which hazard
a permissive is there for, and is worded so on the picture.

The check goes through all values of the things that both formulas speak of, at most `MOST_CASES` combinations.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from math import prod
from typing import TypeAlias

from interlock.logic.formula import (
    And,
    AtMost,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    Not,
    Or,
    Ref,
    Same,
    Sum,
    Thing,
    Value,
    Was,
    operands_of,
    refs_of,
)
from interlock.spec.model import Hazard, Rule, RuleKind, Signal, Spec

MOST_CASES = 300_000

Atom: TypeAlias = tuple[Ref, bool]
"""A thing now, or (True) before the event."""


class TooMany(Exception):
    """More combinations than are gone through."""


@dataclass(frozen=True)
class Paper:
    """A spec with its readings and messages taken as true."""

    spec: Spec
    _atoms: dict[int, frozenset[Atom]] = field(default_factory=dict)

    @cached_property
    def domains(self) -> Mapping[Ref, tuple[Value, ...]]:
        """The values of each thing that is no signal."""
        found: dict[Ref, tuple[Value, ...]] = {Ref(Thing.ITEM, one.id): one.states for one in self.spec.items}
        for one in self.spec.sequences:
            found[Ref(Thing.STEP, one.id)] = tuple(step.name for step in one.steps)
            found.update((Ref(Thing.MEMORY, memory.id), memory.values) for memory in one.memories)
        found.update((Ref(Thing.LINK, one.id), ("up", "lost")) for one in self.spec.links)
        return found

    @cached_property
    def signals(self) -> Mapping[Ref, Signal]:
        """Readings and carried values."""
        found = {Ref(Thing.READING, one.id): one for one in self.spec.readings}
        for link in self.spec.links:
            found.update((Ref(Thing.CARRIED, one.id), one) for one in link.carries)
        return found

    @cached_property
    def conditions(self) -> Mapping[str, Formula]:
        """Named conditions."""
        return {name: formula for name, formula, _ in self.spec.conditions}

    @cached_property
    def follows(self) -> Mapping[Ref, tuple[Formula, tuple[Value, ...]]]:
        """Items that follow a formula: it, and their two states."""
        return {Ref(Thing.ITEM, one.id): (one.follows, one.states) for one in self.spec.items if one.follows}

    # --- what is excluded ---

    def excluded(self, needs: Sequence[Formula]) -> frozenset[str]:
        """Ids of the hazards that are excluded while all of `needs` are true. TooMany if that cannot be gone through.
        Nothing for needs that can never be true together."""
        if not self.can_be(needs):
            return frozenset()
        found = set()
        for hazard in self.spec.hazards:
            if self.can_be((hazard.happens,)) and not self.can_be((*needs, hazard.happens)):
                found.add(hazard.id)
        for rule in self.spec.rules:
            breach = breach_of(rule)
            if not rule.guards_against or breach is None or not self.can_be((breach,)):
                continue
            if not self.can_be((*needs, breach)):
                found.update(rule.guards_against)
        return frozenset(found)

    def can_be(self, formulas: Sequence[Formula]) -> bool:
        """Whether all the formulas can be true together. TooMany after too many combinations."""
        parts = [part for formula in formulas for part in self._conjuncts(formula)]
        choices = {
            atom: self._values(atom) for atom in sorted(self.atoms_of(parts), key=lambda one: (str(one[0]), one[1]))
        }
        for part in parts:  # a part that fixes one thing alone leaves few of its values
            if len(alone := self.atoms_of((part,))) == 1:
                (atom,) = alone
                choices[atom] = tuple(v for v in choices[atom] if self.true(part, {atom: v}))
        if prod(map(len, choices.values())) > MOST_CASES:
            raise TooMany
        names = list(choices)
        return any(
            all(self.true(part, case) for part in parts)
            for values in product(*choices.values())
            for case in (dict(zip(names, values, strict=True)),)
        )

    def equipment_of(self, formulas: Iterable[Formula]) -> frozenset[str]:
        """Ids of the items that formulas speak of, through readings, messages, conditions and what follows."""
        return frozenset(ref.id for ref, _ in self.atoms_of(formulas) if ref.thing is Thing.ITEM)

    # --- formulas ---

    def _conjuncts(self, formula: Formula) -> Iterator[Formula]:
        while isinstance(formula, Condition):
            formula = self.conditions[formula.id]
        if isinstance(formula, And):
            for operand in formula.operands:
                yield from self._conjuncts(operand)
        else:
            yield formula

    def _values(self, atom: Atom) -> tuple[Value, ...]:
        return self.domains.get(atom[0], (False, True))

    def atoms_of(self, formulas: Iterable[Formula]) -> frozenset[Atom]:
        """The things on which formulas rest in the end."""
        found: set[Atom] = set()
        for formula in formulas:
            found |= self._atoms_of(formula, False)
        return frozenset(found)

    def _atoms_of(self, formula: Formula, before: bool) -> frozenset[Atom]:
        found: set[Atom] = set()
        if isinstance(formula, Condition):
            return self._atoms_of(self.conditions[formula.id], before)
        for ref in refs_of(formula):
            found |= self._atoms_of_ref(ref, before)
        for operand in operands_of(formula):
            found |= self._atoms_of(operand, before or isinstance(formula, Was))
        return frozenset(found)

    def _atoms_of_ref(self, ref: Ref, before: bool) -> frozenset[Atom]:
        if ref in self.signals:
            shows = self.signals[ref].shows
            return self._atoms_of_ref(shows, before) if isinstance(shows, Ref) else self._atoms_of(shows, before)
        if ref in self.follows:
            return self._atoms_of(self.follows[ref][0], before)
        return frozenset({(ref, before)})

    def value(self, ref: Ref, case: Mapping[Atom, Value], before: bool) -> Value:
        """The value of a thing."""
        if ref in self.signals:
            shows = self.signals[ref].shows
            return self.value(shows, case, before) if isinstance(shows, Ref) else self.true(shows, case, before)
        if ref in self.follows:
            formula, states = self.follows[ref]
            return states[1] if self.true(formula, case, before) else states[0]
        return case[ref, before]

    def true(self, formula: Formula, case: Mapping[Atom, Value], before: bool = False) -> bool:
        """Whether a formula holds in a case."""
        match formula:
            case Const(value):
                return value
            case Is(ref, values):
                return _among(self.value(ref, case, before), values)
            case Same(left, right):
                return _among(self.value(left, case, before), (self.value(right, case, before),))
            case Compare(operator, left, right):
                one, other = self._sum(left, case, before), self._sum(right, case, before)
                return one == other if operator == "=" else one < other if operator == "<" else one <= other
            case Not(operand):
                return not self.true(operand, case, before)
            case And(operands):
                return all(self.true(one, case, before) for one in operands)
            case Or(operands):
                return any(self.true(one, case, before) for one in operands)
            case AtMost(limit, operands):
                return sum(self.true(one, case, before) for one in operands) <= limit
            case Was(operand):
                return self.true(operand, case, True)
            case Condition(id):
                return self.true(self.conditions[id], case, before)

    def _sum(self, added: Sum, case: Mapping[Atom, Value], before: bool) -> int:
        return added.constant + sum(sign * int(self.value(ref, case, before)) for sign, ref in added.parts)


def _among(value: Value, values: tuple[Value, ...]) -> bool:
    """Whether a value is one of some; 1 is not true."""
    return any(value == one and isinstance(value, bool) == isinstance(one, bool) for one in values)


def breach_of(rule: Rule) -> Formula | None:
    """What breaks a rule at one moment: of `never` its condition, of `while` A and not B, of `before` that what must
    come first is not there. None for other kinds, which no single moment breaks."""
    if rule.kind is RuleKind.NEVER:
        return rule.condition
    if rule.kind is RuleKind.WHILE and rule.must is not None:
        return And((rule.condition, Not(rule.must)))
    if rule.kind is RuleKind.BEFORE and rule.first is not None:
        return Not(rule.first)
    return None


def spoken_of(paper: Paper, hazard: Hazard) -> frozenset[str]:
    """The items that a hazard speaks of."""
    return paper.equipment_of((hazard.happens,))
