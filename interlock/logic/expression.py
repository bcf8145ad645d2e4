"""Expressions of the core: interned, without positions, over variables by name and values by index.

Atoms are `variable has one of these value indices`; everything a spec can say (steps, arithmetic, equality of two
things) is brought to these by elaboration. Two equal expressions are the same object, so `is` compares and
dictionaries key on identity. Constructors fold only where no pin of a `Named` node could change the value: a `Named`
node is never a constant and never dropped for what stands inside it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from enum import Enum
from typing import TypeVar


class Kind(Enum):
    """The kinds of nodes."""

    CONSTANT = "constant"
    IN = "in"
    NOT = "not"
    AND = "and"
    OR = "or"
    AT_MOST = "at most"
    NAMED = "named"
    WAS = "was"


class Expression:
    """One node. Fields in use by kind: IN `name` (variable) and `values` (sorted indices); CONSTANT `values` (0 or 1);
    AT_MOST `values` (the limit) and `operands`; NAMED `name` (id) and one operand; NOT, WAS one operand; AND, OR two or
    more operands.
    """

    __slots__ = ("kind", "name", "operands", "values")

    kind: Kind
    name: str
    values: tuple[int, ...]
    operands: tuple[Expression, ...]

    def __init__(self, kind: Kind, name: str, values: tuple[int, ...], operands: tuple[Expression, ...]) -> None:
        self.kind = kind
        self.name = name
        self.values = values
        self.operands = operands

    def __repr__(self) -> str:
        inner = ", ".join(map(repr, self.operands))
        return f"{self.kind.name}({self.name!r}, {self.values}, [{inner}])"

    def __reduce__(self) -> tuple[Callable[..., Expression], tuple[object, ...]]:
        return _intern, (self.kind, self.name, self.values, self.operands)


_known: dict[tuple[Kind, str, tuple[int, ...], tuple[int, ...]], Expression] = {}


def _intern(kind: Kind, name: str, values: tuple[int, ...], operands: tuple[Expression, ...]) -> Expression:
    key = (kind, name, values, tuple(map(id, operands)))
    found = _known.get(key)
    if found is None:
        found = _known[key] = Expression(kind, name, values, operands)
    return found


FALSE = _intern(Kind.CONSTANT, "", (0,), ())
TRUE = _intern(Kind.CONSTANT, "", (1,), ())


def constant(value: bool) -> Expression:
    """The expression that is always `value`."""
    return TRUE if value else FALSE


def has(variable: str, values: Iterable[int], size: int) -> Expression:
    """`variable` (of a domain with `size` values) has one of the value indices `values`."""
    chosen = tuple(sorted(set(values)))
    if not chosen:
        return FALSE
    if len(chosen) == size:
        return TRUE
    return _intern(Kind.IN, variable, chosen, ())


def negate(operand: Expression) -> Expression:
    """Not."""
    if operand is TRUE:
        return FALSE
    if operand is FALSE:
        return TRUE
    if operand.kind is Kind.NOT:
        return operand.operands[0]
    return _intern(Kind.NOT, "", (), (operand,))


def conjunction(operands: Iterable[Expression]) -> Expression:
    """And; of nothing: true."""
    return _join(Kind.AND, operands, TRUE, FALSE)


def disjunction(operands: Iterable[Expression]) -> Expression:
    """Or; of nothing: false."""
    return _join(Kind.OR, operands, FALSE, TRUE)


def _join(kind: Kind, operands: Iterable[Expression], neutral: Expression, ruling: Expression) -> Expression:
    flat: list[Expression] = []
    for operand in operands:
        for part in operand.operands if operand.kind is kind else (operand,):
            if part is ruling:
                return ruling
            if part is not neutral and part not in flat:
                flat.append(part)
    if not flat:
        return neutral
    return flat[0] if len(flat) == 1 else _intern(kind, "", (), tuple(flat))


def at_most(limit: int, operands: Iterable[Expression]) -> Expression:
    """At most `limit` of the operands hold; operands that are written twice count twice."""
    left: list[Expression] = []
    for operand in operands:
        if operand is TRUE:
            limit -= 1
        elif operand is not FALSE:
            left.append(operand)
    if limit < 0:
        return FALSE
    if len(left) <= limit:
        return TRUE
    if limit == 0:
        return negate(disjunction(left))
    return _intern(Kind.AT_MOST, "", (limit,), tuple(left))


def named(name: str, operand: Expression) -> Expression:
    """A node that an overlay can pin, whatever stands inside it."""
    return _intern(Kind.NAMED, name, (), (operand,))


def was(operand: Expression) -> Expression:
    """The operand, read before the event."""
    if operand.kind is Kind.CONSTANT:
        return operand
    return _intern(Kind.WAS, "", (), (operand,))


def walk(*roots: Expression) -> Iterator[Expression]:
    """Every distinct node of the roots once, operands before the nodes that hold them."""
    seen: set[int] = set()
    stack: list[tuple[Expression, bool]] = [(root, False) for root in reversed(roots)]
    while stack:
        node, ready = stack.pop()
        if ready:
            yield node
        elif id(node) not in seen:
            seen.add(id(node))
            stack.append((node, True))
            stack.extend((operand, False) for operand in reversed(node.operands))


T = TypeVar("T")


def fold(root: Expression, combine: Callable[[Expression, tuple[T, ...]], T]) -> T:
    """Combine bottom-up with an explicit stack; each distinct node once. Cost: the number of distinct nodes."""
    done: dict[int, T] = {}
    for node in walk(root):
        done[id(node)] = combine(node, tuple(done[id(operand)] for operand in node.operands))
    return done[id(root)]


def rebuild(node: Expression, operands: tuple[Expression, ...]) -> Expression:
    """The node with other operands, folded anew."""
    if node.kind is Kind.NOT:
        return negate(operands[0])
    if node.kind is Kind.AND:
        return conjunction(operands)
    if node.kind is Kind.OR:
        return disjunction(operands)
    if node.kind is Kind.AT_MOST:
        return at_most(node.values[0], operands)
    if node.kind is Kind.NAMED:
        return named(node.name, operands[0])
    if node.kind is Kind.WAS:
        return was(operands[0])
    return node


def pin(root: Expression, pins: Mapping[str, bool]) -> Expression:
    """The expression with every `Named` node in `pins` replaced by its pinned value."""

    def combine(node: Expression, operands: tuple[Expression, ...]) -> Expression:
        if node.kind is Kind.NAMED and node.name in pins:
            return constant(pins[node.name])
        return rebuild(node, operands)

    return fold(root, combine)


def variables_of(*roots: Expression) -> frozenset[str]:
    """The names of the variables that the expressions read."""
    return frozenset(node.name for node in walk(*roots) if node.kind is Kind.IN)


def has_was(root: Expression) -> bool:
    """Whether the expression speaks of an event (has a `was` in it)."""
    return any(node.kind is Kind.WAS for node in walk(root))
