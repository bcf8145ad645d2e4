"""Situations packed into integers, and conditions over them compiled to functions.

In: variables; expressions and updates over them. Out: `pack`, `unpack`, and functions from a packed situation to a
truth value or to a *delta*: the bits that an event flips (situation after = situation before ^ delta).

The idea: a field of bits for each variable, its value index inside. A compiled condition looks only at the bits of the
variables that it names, so it may be given a *part* of a situation, everything else zero.

Python puts an integer into a set by its lowest bits, and situations differ in few of them, all over the number: they
would crowd into few places. So the lowest `MIXED_BITS` bits hold a mixture of all others: the exclusive or of one
pattern for each bit that is set. Such a mixture flips along with a delta, whatever the situation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeAlias

from interlock.core.system import Assignment, Valuation, Variable
from interlock.logic.expression import Expression, Kind, variables_of, walk

Condition: TypeAlias = Callable[[int], bool]
EventCondition: TypeAlias = Callable[[int, int], bool]
Change: TypeAlias = Callable[[int], int]


MIXED_BITS = 20
"""Lowest bits of a packed situation, which spread situations in sets and mean nothing."""


def _pattern(bit: int) -> int:
    """A pattern of `MIXED_BITS` bits, different enough for each bit (steps of the golden ratio)."""
    return ((bit + 1) * 0x9E3779B97F4A7C15 >> 37) & ((1 << MIXED_BITS) - 1)


class Mixed(dict[int, int]):
    """From a delta or a situation to the same with its lowest bits filled in; remembered, for deltas are few."""

    __slots__ = ()

    def __missing__(self, bits: int) -> int:
        mixture = 0
        rest = bits >> MIXED_BITS
        while rest:
            lowest = rest & -rest
            mixture ^= _pattern(lowest.bit_length())
            rest ^= lowest
        made = self[bits] = bits | mixture
        return made


class Layout:
    """Where each variable stands in a packed situation of `bits` bits. Compiled conditions are kept: equal
    expressions are one object."""

    def __init__(self, variables: tuple[Variable, ...]) -> None:
        self.shift: dict[str, int] = {}
        self.mask: dict[str, int] = {}
        self.size: dict[str, int] = {v.name: len(v.values) for v in variables}
        self._fields: list[tuple[int, int]] = []
        bits = MIXED_BITS
        for variable in variables:
            width = (len(variable.values) - 1).bit_length()
            self.shift[variable.name] = bits
            self.mask[variable.name] = ((1 << width) - 1) << bits
            self._fields.append((bits, (1 << width) - 1))
            bits += width
        self.bits = bits
        self._mixed = Mixed()
        self._conditions: dict[Expression, Condition] = {}
        self._event_conditions: dict[Expression, EventCondition] = {}
        self._names: dict[Expression, frozenset[str]] = {}

    def pack(self, valuation: Valuation) -> int:
        """The packed situation of a valuation."""
        packed = 0
        for (shift, _), value in zip(self._fields, valuation, strict=True):
            packed |= value << shift
        return Mixed()[packed]

    def unpack(self, packed: int) -> Valuation:
        """The valuation of a packed situation; bits above those of the variables are ignored."""
        return tuple((packed >> shift) & mask for shift, mask in self._fields)

    def names(self, expression: Expression) -> frozenset[str]:
        """The variables an expression names."""
        found = self._names.get(expression)
        if found is None:
            found = self._names[expression] = variables_of(expression)
        return found

    def mask_of(self, names: Iterable[str]) -> int:
        """The bits of some variables."""
        mask = 0
        for name in names:
            mask |= self.mask[name]
        return mask

    def condition(self, expression: Expression) -> Condition:
        """The compiled expression; what stands under `was` is read like everything else (as at the start)."""
        found = self._conditions.get(expression)
        if found is None:
            for node in walk(expression):
                if node not in self._conditions:
                    self._conditions[node] = self._compiled(node)
            found = self._conditions[expression]
        return found

    def _compiled(self, node: Expression) -> Condition:
        if node.kind is Kind.CONSTANT:
            value = node.values[0] == 1
            return lambda s: value
        if node.kind is Kind.IN:
            mask, shift = self.mask[node.name], self.shift[node.name]
            if len(node.values) == 1:
                wanted = node.values[0] << shift
                return lambda s: s & mask == wanted
            among = frozenset(v << shift for v in node.values)
            return lambda s: s & mask in among
        parts = tuple(self._conditions[operand] for operand in node.operands)
        if node.kind in (Kind.NAMED, Kind.WAS):
            return parts[0]
        if node.kind is Kind.NOT:
            only = parts[0]
            return lambda s: not only(s)
        if node.kind is Kind.AT_MOST:
            limit = node.values[0]
            return lambda s: sum(part(s) for part in parts) <= limit
        if node.kind is Kind.AND:
            return self._all(node)
        return _any(parts)

    def _all(self, node: Expression) -> Condition:
        """A conjunction; its operands that fix one value each are one comparison."""
        mask = wanted = 0
        others: list[Condition] = []
        for operand in node.operands:
            if operand.kind is Kind.IN and len(operand.values) == 1 and not mask & self.mask[operand.name]:
                mask |= self.mask[operand.name]
                wanted |= operand.values[0] << self.shift[operand.name]
            else:
                others.append(self._conditions[operand])
        rest = tuple(others)
        if not rest:
            return lambda s: s & mask == wanted
        if len(rest) == 1:
            only = rest[0]
            return lambda s: s & mask == wanted and only(s)

        def both(s: int) -> bool:
            if s & mask != wanted:
                return False
            for part in rest:  # noqa: SIM110 a loop is faster than all() over a generator
                if not part(s):
                    return False
            return True

        return both

    def event_condition(self, expression: Expression) -> EventCondition:
        """The compiled expression as a function of the situations after and before an event."""
        found = self._event_conditions.get(expression)
        if found is None:
            for node in walk(expression):
                if node not in self._event_conditions:
                    self._event_conditions[node] = self._event_compiled(node)
            found = self._event_conditions[expression]
        return found

    def _event_compiled(self, node: Expression) -> EventCondition:
        if node.kind in (Kind.CONSTANT, Kind.IN):
            plain = self.condition(node)
            return lambda after, before: plain(after)
        if node.kind is Kind.WAS:
            earlier = self.condition(node.operands[0])
            return lambda after, before: earlier(before)
        parts = tuple(self._event_conditions[operand] for operand in node.operands)
        if node.kind is Kind.NAMED:
            return parts[0]
        if node.kind is Kind.NOT:
            return lambda after, before: not parts[0](after, before)
        if node.kind is Kind.AND:
            return lambda after, before: all(part(after, before) for part in parts)
        if node.kind is Kind.OR:
            return lambda after, before: any(part(after, before) for part in parts)
        limit = node.values[0]
        return lambda after, before: sum(part(after, before) for part in parts) <= limit

    def change(self, update: tuple[Assignment, ...]) -> Change:
        """The compiled update: from a situation to the bits it flips."""
        fields = tuple(
            (
                self.mask[assignment.variable],
                tuple(
                    (self.condition(condition), value << self.shift[assignment.variable])
                    for condition, value in assignment.cases
                ),
            )
            for assignment in update
        )

        mixed = self._mixed

        def delta(s: int) -> int:
            flipped = 0
            for mask, cases in fields:
                for condition, value in cases:
                    if condition(s):
                        flipped = (flipped & ~mask) | ((s & mask) ^ value)
                        break
            return mixed[flipped]

        return delta


def _any(parts: tuple[Condition, ...]) -> Condition:
    if len(parts) == 2:
        first, second = parts
        return lambda s: first(s) or second(s)

    def some(s: int) -> bool:
        for part in parts:  # noqa: SIM110 a loop is faster than any() over a generator
            if part(s):
                return True
        return False

    return some
