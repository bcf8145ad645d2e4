"""Terms: what is written in an expression, a quantity or a window, with the place of every piece, names unresolved."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from interlock.diag.place import Span


@dataclass(frozen=True, slots=True)
class Name:
    """One or more words that name something: `front shoe contact`."""

    words: tuple[str, ...]
    span: Span

    def __str__(self) -> str:
        return " ".join(self.words)


@dataclass(frozen=True, slots=True)
class Number:
    """A number, exact, with its unit if one is written (only in quantities and windows)."""

    text: str
    value: Fraction
    span: Span
    unit: str | None = None
    unit_span: Span | None = None


@dataclass(frozen=True, slots=True)
class Truth:
    """`true` or `false`."""

    value: bool
    span: Span


@dataclass(frozen=True, slots=True)
class Apply:
    """An operator (key of the operator table) on its operands. `at`: the place of the operator's own word.

    `is`, `is not`: thing, value. `in`: thing, then the values. `+`: the operands are `Signed`.
    `*`: those by which is divided are `Divisor`. The rest as one expects.
    """

    operator: str
    operands: tuple[Term, ...]
    span: Span
    at: Span


@dataclass(frozen=True, slots=True)
class Signed:
    """A summand: added, or subtracted if `minus`."""

    minus: bool
    term: Term
    span: Span


@dataclass(frozen=True, slots=True)
class Divisor:
    """A factor by which a product is divided."""

    term: Term
    span: Span


@dataclass(frozen=True, slots=True)
class Call:
    """A function of quantities: `discharge_time(resistor, capacitance, 900 V, 60 V)`."""

    function: Name
    arguments: tuple[Term, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A value that may be off by so much to either side: `10 kohm +- 5 %`."""

    middle: Term
    by: Term
    span: Span


@dataclass(frozen=True, slots=True)
class Quantified:
    """`all GROUP X`, `any GROUP X`, `at most N of GROUP X`; `limit` only for the last."""

    operator: str
    limit: Term | None
    group: Name
    body: Term
    span: Span


@dataclass(frozen=True, slots=True)
class Between:
    """A window `LOWER .. UPPER`; `upper` None: never. `over`, `under`: that side is open."""

    lower: Term
    upper: Term | None
    lower_open: bool
    upper_open: bool
    span: Span


@dataclass(frozen=True, slots=True)
class Nothing:
    """The window `nothing`."""

    span: Span


Term: TypeAlias = Name | Number | Truth | Apply | Signed | Divisor | Call | Tolerance | Quantified | Between | Nothing
