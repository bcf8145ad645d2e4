"""Which hazards a set of permissives excludes at the moment when all of them are true: a check on paper.

In: a spec and permissives. Out: ids of hazards. Readings and messages are taken as true and in time, and items that
follow something as following: a formula over equipment is left of each permissive. A hazard is excluded if it cannot be
while that formula is true, or if a rule that guards against it cannot be broken while it is true. Nothing is explored
and nothing is proved by this: failures, delays and what happens afterwards are left out. It tells a reader which hazard
a permissive is there for, and is worded so on the picture.

The check tries values of the things that the formulas speak of, going back where a formula is false already; after
`MOST_CASES` cases it says that it cannot tell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
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

MOST_CASES = 20_000

Atom: TypeAlias = tuple[Ref, bool]
"""A thing now, or (True) before the event."""


class TooMany(Exception):
    """More combinations than are gone through."""


@dataclass(frozen=True)
class Paper:
    """A spec with its readings and messages taken as true."""

    spec: Spec

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
        found: set[str] = set()
        speaks = self.atoms_of(needs)
        for formula, hazards in self.evils:
            # What speaks of other things altogether can be true beside the needs.
            if not speaks.isdisjoint(self.atoms_of((formula,))) and not self.can_be((*needs, formula)):
                found.update(hazards)
        return frozenset(found)

    @cached_property
    def evils(self) -> tuple[tuple[Formula, tuple[str, ...]], ...]:
        """What must not be and can be true: hazards, and breaches of rules that guard against hazards, with these."""
        told: list[tuple[Formula, tuple[str, ...]]] = [(one.happens, (one.id,)) for one in self.spec.hazards]
        for rule in self.spec.rules:
            breach = breach_of(rule)
            if rule.guards_against and breach is not None:
                told.append((breach, rule.guards_against))
        return tuple((formula, hazards) for formula, hazards in told if self.can_be((formula,)))

    def can_be(self, formulas: Sequence[Formula]) -> bool:
        """Whether all the formulas can be true together. Gives the things one value after the other, those that decide
        most first, and goes back where a formula is false already. TooMany after `MOST_CASES` cases."""
        parts = [part for formula in formulas for part in self._conjuncts(formula)]
        speaks = [self.atoms_of((part,)) for part in parts]
        order = sorted({atom for atoms in speaks for atom in atoms}, key=lambda one: (str(one[0]), one[1]))
        order.sort(key=lambda atom: min(len(atoms) for atoms in speaks if atom in atoms))
        left = [MOST_CASES]

        def search(case: dict[Atom, Value], open_parts: list[Formula], at: int) -> bool:
            left[0] -= 1
            if left[0] < 0:
                raise TooMany
            still = []
            for part in open_parts:
                known = self.known(part, case)
                if known is False:
                    return False
                if known is None:
                    still.append(part)
            if not still:
                return True
            atom = order[at]
            return any(search({**case, atom: value}, still, at + 1) for value in self._values(atom))

        return search({}, parts, 0)

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

    def value(self, ref: Ref, case: Mapping[Atom, Value], before: bool) -> Value | None:
        """The value of a thing; None if the case does not say."""
        if ref in self.signals:
            shows = self.signals[ref].shows
            return self.value(shows, case, before) if isinstance(shows, Ref) else self.known(shows, case, before)
        if ref in self.follows:
            formula, states = self.follows[ref]
            known = self.known(formula, case, before)
            return None if known is None else states[known]
        return case.get((ref, before))

    def known(self, formula: Formula, case: Mapping[Atom, Value], before: bool = False) -> bool | None:
        """Whether a formula holds; None if the case does not say yet."""
        match formula:
            case Const(value):
                return value
            case Is(ref, values):
                shown = self.value(ref, case, before)
                return None if shown is None else _among(shown, values)
            case Same(left, right):
                one, other = self.value(left, case, before), self.value(right, case, before)
                return None if one is None or other is None else _among(one, (other,))
            case Compare(operator, left, right):
                return _compared(operator, self._sum(left, case, before), self._sum(right, case, before))
            case Not(operand):
                inner = self.known(operand, case, before)
                return None if inner is None else not inner
            case And(operands):
                return _all(self.known(one, case, before) for one in operands)
            case Or(operands):
                none = _all(_opposite(self.known(one, case, before)) for one in operands)
                return _opposite(none)
            case AtMost(limit, operands):
                told = [self.known(one, case, before) for one in operands]
                if told.count(True) > limit:
                    return False
                return True if told.count(True) + told.count(None) <= limit else None
            case Was(operand):
                return self.known(operand, case, True)
            case Condition(id):
                return self.known(self.conditions[id], case, before)

    def _sum(self, added: Sum, case: Mapping[Atom, Value], before: bool) -> int | None:
        total = added.constant
        for sign, ref in added.parts:
            value = self.value(ref, case, before)
            if value is None:
                return None
            total += sign * int(value)
        return total


def _all(told: Iterable[bool | None]) -> bool | None:
    """And over truths of which some are not known: false as soon as one is."""
    open_still = False
    for one in told:
        if one is False:
            return False
        open_still = open_still or one is None
    return None if open_still else True


def _opposite(known: bool | None) -> bool | None:
    return None if known is None else not known


def _compared(operator: str, one: int | None, other: int | None) -> bool | None:
    if one is None or other is None:
        return None
    return one == other if operator == "=" else one < other if operator == "<" else one <= other


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
