"""Expressions as disjoint cubes. In: an expression, and where it is looked at. Out: disjoint pieces that cover just
where it is true.

A *cube* maps variables to sets of value indices (bits of an integer); variables that are not named may have any value.
A *piece* is a cube together with a set of codes (`codes.py`: which failures are present), again bits of an integer.

The idea: branch on one variable after the other, as in a decision diagram; values that leave the same expression stay
together. Expressions are interned, so "the same" is identity.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

from interlock.core.system import Variable
from interlock.logic.expression import (
    FALSE,
    TRUE,
    Expression,
    Kind,
    conjunction,
    constant,
    fold,
    negate,
    rebuild,
    walk,
)

Cube: TypeAlias = dict[str, int]
Piece: TypeAlias = tuple[int, Cube]


def plain(expression: Expression) -> Expression:
    """The expression without names of conditions, so that parts that say the same are the same."""

    def combine(node: Expression, operands: tuple[Expression, ...]) -> Expression:
        return operands[0] if node.kind is Kind.NAMED else rebuild(node, operands)

    return fold(expression, combine)


def before_event(expression: Expression, assigned: Mapping[str, int]) -> Expression:
    """An expression on an event, as one on the situation before it: what the event assigns is put in, `was` goes."""

    def combine(node: Expression, operands: tuple[tuple[Expression, Expression], ...]) -> tuple[Expression, Expression]:
        if node.kind is Kind.IN:
            value = assigned.get(node.name)
            return (node if value is None else constant(value in node.values)), node
        then = tuple(pair[1] for pair in operands)
        if node.kind in (Kind.WAS, Kind.NAMED):
            return then[0] if node.kind is Kind.WAS else operands[0][0], then[0]
        return rebuild(node, tuple(pair[0] for pair in operands)), rebuild(node, then)

    return fold(expression, combine)[0]


def without_was(expression: Expression) -> Expression:
    """The expression at the start, where `was` reads the start itself."""
    return before_event(expression, {})


def rising(expression: Expression) -> tuple[Expression, Expression]:
    """What must be true after an event, and what before it, for the event to make the expression true."""
    return expression, negate(without_was(expression))


class Splitter:
    """Splits pieces by expressions. Remembers what it worked out.

    `present`: for each failure variable that codes stand for, the codes in which it is true; these never occur in
    cubes.
    """

    def __init__(self, variables: tuple[Variable, ...], present: Mapping[str, int]) -> None:
        self._full = {v.name: (1 << len(v.values)) - 1 for v in variables}
        self._present = present
        self._restricted: dict[tuple[Expression, str, int], Expression] = {}
        self._order = {name: i for i, name in enumerate(present)}
        self._named: dict[Expression, frozenset[str]] = {}
        self._next_failure: dict[Expression, str | None] = {}

    def where(self, expression: Expression, piece: Piece) -> list[Piece]:
        """Disjoint pieces that cover the part of a piece in which a plain expression (without `was`) is true."""
        codes, cube = piece
        found: list[Piece] = []
        for left, among in self._by_codes(expression, codes).items():
            found += [(among, part) for part in self._cubes(left, cube)]
        return found

    def split(self, expression: Expression, piece: Piece) -> tuple[list[Piece], list[Piece]]:
        """Where the expression is true, and where it is false."""
        if expression is TRUE:
            return [piece], []
        if expression is FALSE:
            return [], [piece]
        return self.where(expression, piece), self.where(negate(expression), piece)

    def _by_codes(self, expression: Expression, codes: int) -> dict[Expression, int]:
        """What is left of the expression, with the codes for which it is that."""
        found: dict[Expression, int] = {}
        work = [(expression, codes)]
        while work:
            node, among = work.pop()
            name = self._failure_in(node)
            if name is None:
                if node is not FALSE:
                    found[node] = found.get(node, 0) | among
                continue
            with_it = among & self._present[name]
            without = among & ~self._present[name]
            if with_it:
                work.append((self._restrict(node, name, 1), with_it))
            if without:
                work.append((self._restrict(node, name, 0), without))
        return found

    def _failure_in(self, node: Expression) -> str | None:
        if node not in self._next_failure:
            named = self._names(node) & self._present.keys()
            self._next_failure[node] = min(named, key=self._order.__getitem__) if named else None
        return self._next_failure[node]

    def _cubes(self, expression: Expression, cube: Cube) -> list[Cube]:
        found: list[Cube] = []
        work = [(expression, cube)]
        while work:
            node, within = work.pop()
            simple = self._conjunction_of_literals(node, within)
            if simple is not None:
                found += simple
                continue
            name = _first_variable(node)
            allowed = within.get(name, self._full[name])
            groups: dict[Expression, int] = {}
            rest, value = allowed, 0
            while rest:
                if rest & 1:
                    left = self._restrict(node, name, value)
                    groups[left] = groups.get(left, 0) | 1 << value
                rest >>= 1
                value += 1
            for left, values in groups.items():
                if left is not FALSE:
                    work.append((left, within if values == allowed else {**within, name: values}))
        return found

    def _conjunction_of_literals(self, node: Expression, within: Cube) -> list[Cube] | None:
        """The one cube (or none) of a conjunction of literals; None if it is no such thing."""
        if node is TRUE:
            return [within]
        if node is FALSE:
            return []
        parts = node.operands if node.kind is Kind.AND else (node,)
        cube = dict(within)
        for part in parts:
            if part.kind is Kind.IN:
                values = sum(1 << value for value in part.values)
            elif part.kind is Kind.NOT and part.operands[0].kind is Kind.IN:
                part = part.operands[0]
                values = self._full[part.name] & ~sum(1 << value for value in part.values)
            else:
                return None
            cube[part.name] = cube.get(part.name, self._full[part.name]) & values
            if not cube[part.name]:
                return []
        return [cube]

    def _names(self, node: Expression) -> frozenset[str]:
        found = self._named.get(node)
        if found is None:
            own = frozenset((node.name,)) if node.kind is Kind.IN else frozenset()
            found = self._named[node] = own.union(*map(self._names, node.operands))
        return found

    def _restrict(self, expression: Expression, name: str, value: int) -> Expression:
        """The expression where a variable has a value. Parts that do not name the variable are not looked into."""
        if name not in self._names(expression):
            return expression
        key = (expression, name, value)
        found = self._restricted.get(key)
        if found is None:
            if expression.kind is Kind.IN:
                found = constant(value in expression.values)
            else:
                operands = tuple(self._restrict(operand, name, value) for operand in expression.operands)
                found = rebuild(expression, operands)
            self._restricted[key] = found
        return found


def _first_variable(node: Expression) -> str:
    return next(n.name for n in walk(node) if n.kind is Kind.IN)


def both(first: Expression, second: Expression) -> Expression:
    """Both hold."""
    return conjunction((first, second))
