"""The plain meaning of a system for any timing: what one event is, written to be read and obviously right, not fast.

Every engine is held against these few functions. Windows are dropped, tiers stay in force. The declared timing adds
ages to the same events and is given beside the engine that explores it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from interlock.core.overlay import with_overlay
from interlock.core.question import Question
from interlock.core.system import Action, Assignment, Property, System, Tier, Valuation
from interlock.logic.expression import Expression, Kind


@dataclass(frozen=True, slots=True)
class State:
    """A valuation and how many failures have happened on the way to it. Only the valuation is a situation."""

    valuation: Valuation
    spent: int


class Meaning:
    """One system under one question's overlay, budget and allowed modes. Every method reads the text directly."""

    def __init__(self, system: System, question: Question) -> None:
        self.system = with_overlay(system, question.overlay)
        self.budget = question.budget
        usual = tuple(mode.id for mode in system.modes if not mode.common_cause)
        self.allowed = frozenset(usual if question.allowed is None else question.allowed)
        self.index: Mapping[str, int] = {v.name: i for i, v in enumerate(self.system.variables)}

    def true(self, expression: Expression, now: Valuation, before: Valuation | None = None) -> bool:
        """The value of an expression in `now`; what stands under `was` is read in `before` (None, the start: `now`)."""
        kind = expression.kind
        if kind is Kind.CONSTANT:
            return expression.values[0] == 1
        if kind is Kind.IN:
            return now[self.index[expression.name]] in expression.values
        if kind is Kind.NOT:
            return not self.true(expression.operands[0], now, before)
        if kind is Kind.AND:
            return all(self.true(operand, now, before) for operand in expression.operands)
        if kind is Kind.OR:
            return any(self.true(operand, now, before) for operand in expression.operands)
        if kind is Kind.AT_MOST:
            return sum(self.true(operand, now, before) for operand in expression.operands) <= expression.values[0]
        if kind is Kind.NAMED:
            return self.true(expression.operands[0], now, before)
        then = now if before is None else before
        return self.true(expression.operands[0], then, then)

    def apply(self, update: tuple[Assignment, ...], valuation: Valuation) -> Valuation:
        """The valuation after all assignments at once, their conditions read before."""
        after = list(valuation)
        for assignment in update:
            for condition, value in assignment.cases:
                if self.true(condition, valuation):
                    after[self.index[assignment.variable]] = value
                    break
        return tuple(after)

    def starts(self) -> Iterator[State]:
        """The start states: each start valuation, with every set of failures that can be there, fewest failures first,
        then in declaration order. `start_failures` tells which."""
        for state, _ in self.starts_with_failures():
            yield state

    def starts_with_failures(self) -> Iterator[tuple[State, tuple[str, ...]]]:
        """The start states with the modes present in each."""
        modes = [mode for mode in self.system.modes if mode.id in self.allowed and mode.at_start is not None]
        for count in range(self.budget + 1):
            for valuation in self.system.start:
                for chosen in combinations(modes, count):
                    state: Valuation | None = valuation
                    for mode in chosen:
                        if state is not None:
                            possible = self.true(mode.guard, state)
                            state = self.apply(mode.at_start or (), state) if possible else None
                    if state is not None:
                        yield State(state, count), tuple(mode.id for mode in chosen)

    def tier_of(self, valuation: Valuation) -> Tier:
        """The lowest tier that has an action whose guard is true; failures that only ride on another event left out.

        A situation is settled if this is tier 2 (also when nothing at all is enabled).
        """
        for tier in (Tier.CONSEQUENCE, Tier.LOGIC):
            if any(
                action.tier is tier and action.cost == 0 and self.true(action.guard, valuation)
                for action in self.system.actions
            ):
                return tier
        return Tier.OTHER

    def settled(self, valuation: Valuation) -> bool:
        """Whether no action of tier 0 or 1 is enabled."""
        return self.tier_of(valuation) is Tier.OTHER

    def enabled(self, state: State) -> tuple[Action, ...]:
        """What may happen: guard true, no action of a lower tier enabled, failures allowed and within the budget."""
        tier = self.tier_of(state.valuation)
        return tuple(
            action
            for action in self.system.actions
            if action.tier is tier
            and state.spent + action.cost <= self.budget
            and self.may_fail(action)
            and self.true(action.guard, state.valuation)
        )

    def may_fail(self, action: Action) -> bool:
        """Whether the failures that this action brings are allowed by the question."""
        return all(mode in self.allowed for mode in action.modes)

    def after(self, action: Action, state: State) -> State:
        """The state after an enabled action."""
        return State(self.apply(action.update, state.valuation), state.spent + action.cost)

    # --- before: X, first: Y, since: Z ---

    def flag_at_start(self, rule: Property, valuation: Valuation) -> bool:
        """The flag of a `before` rule at the start: set if Y holds there."""
        assert rule.first is not None
        return self.true(rule.first, valuation)

    def flag_after(self, rule: Property, flag: bool, before: Valuation, after: Valuation) -> bool:
        """The flag after an event: cleared when Z rises, then set if Y holds after the event."""
        assert rule.first is not None
        cleared = rule.since is not None and self.rises(rule.since, before, after)
        return (flag and not cleared) or self.true(rule.first, after, before)

    def rises(self, expression: Expression, before: Valuation, after: Valuation) -> bool:
        """Whether an event makes the expression true that was false before it."""
        return self.true(expression, after, before) and not self.true(expression, before)

    def breaks_order(self, rule: Property, flag_before: bool, before: Valuation, after: Valuation) -> bool:
        """Whether an event raises X while the flag, as it stood before the event, is not set."""
        return not flag_before and self.rises(rule.condition, before, after)
