"""What a question looks at while the quick engine explores: its own rule, and the rules that cut runs.

In: rules. Out: conditions on situations (`seek`, cuts), and an observer of events for rules that speak of events
(`before`, and those with `was` in them), whose flags stand in the bits above the variables.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from math import prod

from interlock.core.system import Property, PropertyKind
from interlock.engines.quick.events import Events
from interlock.engines.quick.explore import Seek
from interlock.engines.quick.layout import Condition, Layout
from interlock.logic.expression import FALSE, Expression, Kind, fold, has_was, negate, rebuild

MAX_TRIED = 4096
"""Combinations of values up to which a condition is simply tried out."""


def speaks_of_events(rule: Property) -> bool:
    """Whether a rule is judged on events, not on situations."""
    return rule.kind is PropertyKind.BEFORE or rule.every_event


class Observer:
    """The rules of one question that are judged on events: its own (or None), and those that cut."""

    def __init__(self, layout: Layout, own: Property | None, cuts: tuple[Property, ...]) -> None:
        self.cuts = [_Judge(layout, rule) for rule in cuts if speaks_of_events(rule)]
        self.own = _Judge(layout, own) if own is not None and speaks_of_events(own) else None
        self.judges = [*([self.own] if self.own is not None else []), *self.cuts]
        self.n_flags = 0
        for judge in self.judges:
            if judge.has_flag:
                judge.flag = 1 << (layout.bits + self.n_flags)
                self.n_flags += 1
        self.flags = [judge for judge in self.judges if judge.has_flag]
        self.looks_at = 0
        for judge in self.judges:
            self.looks_at |= judge.looks_at | judge.flag

    def over(self, events: Events) -> Events:
        """The events with this observer; the same object if there is nothing to observe."""
        if not self.judges:
            return events
        return events.watched(self.looks_at, self.watch, any(judge.everywhere for judge in self.judges))

    def watch(self, state: int, delta: int) -> tuple[int, bool] | None:
        """The delta with flags and whether the event is an end of the own rule; None if a run is cut at it."""
        after = state ^ delta
        for judge in self.cuts:
            if judge.hits(state, after):
                return None
        is_end = self.own is not None and self.own.hits(state, after)
        for judge in self.flags:
            delta ^= judge.flag_flips(state, after)
        return delta, is_end

    def at_start(self, state: int) -> tuple[int, bool] | None:
        """The start situation with flags and whether it is an end already; None if runs are cut there."""
        if any(judge.hits_at_start(state) for judge in self.cuts):
            return None
        is_end = self.own is not None and self.own.hits_at_start(state)
        for judge in self.flags:
            if judge.first(state):
                state |= judge.flag
        return state, is_end


class _Judge:
    """One rule that is judged on events, compiled."""

    def __init__(self, layout: Layout, rule: Property) -> None:
        self.has_flag = rule.kind is PropertyKind.BEFORE
        self.flag = 0
        expressions = rule.expressions()
        self.looks_at = layout.mask_of(name for e in expressions for name in layout.names(e))
        self._after = layout.event_condition(rule.condition)
        self._before = layout.condition(rule.condition)
        first = rule.first if rule.first is not None else FALSE
        self.first: Condition = layout.condition(first)
        # Where nothing that a `before` rule names changes, nothing rises, and a flag stays as it is: it is set already
        # wherever Y holds, unless Y speaks of the event.
        judged_still = rule.condition if not self.has_flag else first if has_was(first) else FALSE
        self.everywhere = may_hold_still(layout, judged_still)
        self._first_after = layout.event_condition(first)
        since = rule.since if rule.since is not None else FALSE
        self._since_after = layout.event_condition(since)
        self._since_before = layout.condition(since)

    def hits(self, before: int, after: int) -> bool:
        """Whether an event breaches the rule."""
        if self.has_flag:
            return not before & self.flag and self._after(after, before) and not self._before(before)
        return self._after(after, before)

    def hits_at_start(self, state: int) -> bool:
        """Whether a start situation breaches it: `was` reads the start."""
        return not self.has_flag and self._before(state)

    def flag_flips(self, before: int, after: int) -> int:
        """The flag's bit if the event changes it, else 0: cleared when Z rises, then set if Y holds."""
        flag = before & self.flag
        kept = flag and not (self._since_after(after, before) and not self._since_before(before))
        now = self.flag if kept or self._first_after(after, before) else 0
        return flag ^ now


def may_hold_still(layout: Layout, expression: Expression) -> bool:
    """Whether a condition on events can be true of one that changes nothing the condition names. False only if surely
    not."""

    def combine(node: Expression, operands: tuple[Expression, ...]) -> Expression:
        if node.kind is Kind.WAS:
            return operands[0]
        made = rebuild(node, operands)
        if made.kind is Kind.AND and any(_denies(part, made.operands) for part in made.operands):
            return FALSE
        return made

    still = fold(expression, combine)
    if still is FALSE:
        return False
    names = sorted(layout.names(still))
    if prod(layout.size[name] for name in names) > MAX_TRIED:
        return True
    condition = layout.condition(still)
    fields = [[value << layout.shift[name] for value in range(layout.size[name])] for name in names]
    return any(condition(sum(values)) for values in product(*fields))


def _denies(part: Expression, others: tuple[Expression, ...]) -> bool:
    denied = negate(part)
    if denied in others:
        return True
    return part.kind is Kind.NOT and denied.kind is Kind.AND and all(one in others for one in denied.operands)


class Remembered(dict[int, bool]):
    """A condition on situations, remembered by the bits it looks at (if these have few combinations)."""

    __slots__ = ("_condition", "_mask", "any_of", "holds")

    def __init__(self, layout: Layout, expression: Expression) -> None:
        super().__init__()
        names = layout.names(expression)
        self._mask = layout.mask_of(names)
        self._condition = layout.condition(expression)
        few = prod(layout.size[name] for name in names) <= MAX_TRIED
        self.holds: Condition = self._looked_up if few else self._condition
        self.any_of: Callable[[list[int]], bool] = self._any_looked_up if few else self._any

    def __missing__(self, part: int) -> bool:
        value = self[part] = self._condition(part)
        return value

    def _looked_up(self, state: int) -> bool:
        return self[state & self._mask]

    def _any_looked_up(self, states: list[int]) -> bool:
        return any(map(self.__getitem__, map(self._mask.__and__, states)))

    def _any(self, states: list[int]) -> bool:
        return any(map(self._condition, states))


def seek(layout: Layout, rule: Property) -> Seek:
    """A rule that is judged on situations, as a condition on levels."""
    remembered = Remembered(layout, rule.condition)
    passing = rule.passing

    def found(unsettled: list[int], settled: list[int]) -> bool:
        return remembered.any_of(settled) or (passing and remembered.any_of(unsettled))

    return found


def cut_conditions(layout: Layout, cuts: tuple[Property, ...]) -> tuple[Condition | None, Condition | None]:
    """The conditions of the cutting rules that are judged on situations: on settled ones, on all."""

    def one_of(rules: list[Property]) -> Condition | None:
        conditions = [Remembered(layout, rule.condition).holds for rule in rules]
        return (lambda state: any(condition(state) for condition in conditions)) if conditions else None

    plain = [rule for rule in cuts if not speaks_of_events(rule)]
    return one_of([r for r in plain if not r.passing]), one_of([r for r in plain if r.passing])
