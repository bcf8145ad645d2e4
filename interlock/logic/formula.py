"""Formulas: expressions whose names are resolved. Both meanings of a spec (core and machine) start from these.

A formula speaks of *things* by `Ref`: an item's state, a sequence's step, a memory, what a reading or link value shows,
whether a failure is present, whether a link is lost, whether a command is given. Quantifiers over instances are already
written out, `becomes(X)` is written as `X and not was(X)`, the names of conditions are kept (`Condition`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TypeAlias

from interlock.diag.place import Span

Value: TypeAlias = str | int | bool
"""A value of a domain: a state or step by name, a small integer, or a truth value."""


class Thing(Enum):
    """What a `Ref` refers to."""

    ITEM = "item"
    STEP = "step"  # the step of a sequence; the id is the sequence's
    MEMORY = "memory"  # id "SEQUENCE MEMORY"
    READING = "reading"  # what logic sees, failures of the reading included
    CARRIED = "carried"  # id "LINK VALUE", what the receiver sees
    LINK = "link"  # values "up", "lost"
    FAILURE = "failure"  # present or not (bool)
    COMMAND = "command"  # given or not (bool), failures of the output included


@dataclass(frozen=True, slots=True)
class Ref:
    """A thing of the spec and the id it has there."""

    thing: Thing
    id: str


@dataclass(frozen=True, slots=True)
class Const:
    """Always true or always false."""

    value: bool
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Is:
    """The thing has one of these values."""

    ref: Ref
    values: tuple[Value, ...]
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Same:
    """Two things of the same domain have the same value."""

    left: Ref
    right: Ref
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Sum:
    """A small integer: a constant plus things of integer domain, each added (+1) or subtracted (-1)."""

    constant: int
    parts: tuple[tuple[int, Ref], ...]


@dataclass(frozen=True, slots=True)
class Compare:
    """`left` is equal to (`=`), less than (`<`) or at most (`<=`) `right`."""

    operator: str
    left: Sum
    right: Sum
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Not:
    """The operand is false."""

    operand: Formula
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class And:
    """All operands are true."""

    operands: tuple[Formula, ...]
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Or:
    """At least one operand is true."""

    operands: tuple[Formula, ...]
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class AtMost:
    """At most `limit` of the operands are true."""

    limit: int
    operands: tuple[Formula, ...]
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Was:
    """The operand, read before the event; only in rules, hazards and conditions used by them."""

    operand: Formula
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Condition:
    """A named condition of the spec; its formula stands in `Spec.conditions`."""

    id: str
    span: Span | None = None


Formula: TypeAlias = Const | Is | Same | Compare | Not | And | Or | AtMost | Was | Condition

TRUE = Const(True)


def operands_of(formula: Formula) -> tuple[Formula, ...]:
    """The formulas directly below `formula`; a condition's own formula is not among them."""
    if isinstance(formula, And | Or | AtMost):
        return formula.operands
    if isinstance(formula, Not | Was):
        return (formula.operand,)
    return ()


def refs_of(formula: Formula) -> tuple[Ref, ...]:
    """The things named directly in this node (not below it)."""
    if isinstance(formula, Is):
        return (formula.ref,)
    if isinstance(formula, Same):
        return (formula.left, formula.right)
    if isinstance(formula, Compare):
        return tuple(ref for _, ref in formula.left.parts + formula.right.parts)
    return ()
