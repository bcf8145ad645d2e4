"""The one table of operators: how each is written, how tightly it binds, what it means.

The grammar (`grammar.lark`), the parser, the resolver of names and the showing of formulas all go by the keys of this
table; tests assert that each of them knows every key and no other.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Arity(Enum):
    """How many operands an operator takes, and of what sort."""

    MANY = "two or more"
    ONE = "one"
    TWO = "two"
    THING_AND_VALUES = "a thing and values"
    GROUP = "a group of instances and an expression read inside each"
    NAME = "a name"


@dataclass(frozen=True, slots=True)
class Operator:
    """One operator. `precedence`: larger binds tighter. `form`: how it is written, for people and for showing."""

    key: str
    precedence: int
    arity: Arity
    form: str
    meaning: str


OPERATORS: dict[str, Operator] = {
    operator.key: operator
    for operator in (
        Operator("or", 1, Arity.MANY, "X or Y", "at least one of them holds"),
        Operator("and", 2, Arity.MANY, "X and Y", "all of them hold"),
        Operator("not", 3, Arity.ONE, "not X", "X does not hold"),
        Operator("all", 3, Arity.GROUP, "all GROUP X", "X holds inside every instance of the group"),
        Operator("any", 3, Arity.GROUP, "any GROUP X", "X holds inside at least one instance of the group"),
        Operator("at most", 3, Arity.GROUP, "at most N of GROUP X", "X holds inside no more than N instances"),
        Operator("is", 4, Arity.TWO, "A is B", "A has the state B, or the state that the thing B has"),
        Operator("is not", 4, Arity.TWO, "A is not B", "A has another state than B"),
        Operator("in", 4, Arity.THING_AND_VALUES, "A in {S, T}", "A has one of these states"),
        Operator("=", 4, Arity.TWO, "A = B", "two whole numbers are equal"),
        Operator("<", 4, Arity.TWO, "A < B", "A is less than B"),
        Operator("<=", 4, Arity.TWO, "A <= B", "A is at most B"),
        Operator("+", 5, Arity.MANY, "A + B - C", "whole numbers or quantities of one kind, added or subtracted"),
        Operator("*", 6, Arity.MANY, "A * B / C", "quantities multiplied or divided; in quantities only"),
        Operator("command", 7, Arity.NAME, "command C", "the command C is given"),
        Operator("becomes", 7, Arity.ONE, "becomes(X)", "X holds after the event and did not before"),
        Operator("was", 7, Arity.ONE, "was(X)", "X held before the event"),
    )
}

RESERVED = frozenset(
    {"or", "and", "not", "all", "any", "at", "most", "of", "is", "in", "command", "becomes", "was", "true", "false"}
)
"""Words that cannot be names."""

QUANTITY_WORDS = frozenset({"over", "under", "never", "nothing"})
"""Words with a meaning of their own in windows: they cannot name parameters."""
