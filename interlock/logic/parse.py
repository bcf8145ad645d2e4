"""Parsing: the text of an expression, a quantity or a window, to a `Term` in which every piece knows its place.

The grammar stands in `grammar.lark`; the tables that lark makes of it are driven by `tables.py`, and the terms are
built while it parses. A mistake goes to the bag with the wrong word marked and a cure; the answer is then None.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import Enum
from fractions import Fraction
from typing import Any

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Span
from interlock.logic.operators import RESERVED
from interlock.logic.tables import Token, Unexpected, run
from interlock.logic.term import (
    Apply,
    Between,
    Call,
    Divisor,
    Name,
    Nothing,
    Number,
    Quantified,
    Signed,
    Term,
    Tolerance,
    Truth,
)
from interlock.logic.text import Text, join

MAX_DEPTH = 50
"""How deep an expression may be nested."""


class Start(Enum):
    """What a text is read as."""

    FORMULA = "formula"
    WINDOW = "window"


class Mistake(Exception):
    """A mistake that the builder of terms finds; never leaves this module."""

    def __init__(self, kind: str, headline: str, span: Span, words: str, *helps: str) -> None:
        super().__init__(headline)
        self.kind = kind
        self.headline = headline
        self.span = span
        self.words = words
        self.helps = helps


def parse(text: Text, start: Start, bag: Bag) -> Term | None:
    """The term that `text` says; None after a mistake, which is then in the bag. Cost: linear in the text."""
    builder = Builder(text)
    try:
        if not text.text.strip():
            raise Mistake(
                "expression-syntax",
                "nothing is written here",
                text.part(0, 1),
                _wanted(start),
                "write it, or take the key away",
            )
        term: Term = run(start.value, text.text, builder.call)
        return term
    except Unexpected as found:
        if found.start is None or found.end is None:
            mistake = _ended(text, start)
        else:
            mistake = _unexpected(text, found.start, found.end, start)
    except Mistake as found:
        mistake = found
    bag.add(mistake.kind, mistake.headline, mistake.span, mistake.words, *mistake.helps)
    return None


def _wanted(start: Start) -> str:
    return "an expression belongs here" if start is Start.FORMULA else "a quantity or window belongs here"


_CURES: tuple[tuple[str, str, str], ...] = (
    ("==", "`==` is not an operator", "write `=` for whole numbers, `is` for states"),
    ("!=", "`!=` is not an operator", "write `A is not B` for states, `not A = B` for whole numbers"),
    (">=", "`>=` is not an operator", "turn it round: `B <= A`"),
    ("=<", "`=<` is not an operator", "write `<=`"),
    (">", "`>` is not an operator", "turn it round: `B < A`"),
    ("&&", "`&&` is not an operator", "write `and`"),
    ("&", "`&` is not an operator", "write `and`"),
    ("||", "`||` is not an operator", "write `or`"),
    ("|", "`|` is not an operator", "write `or`"),
    ("!", "`!` is not an operator", "write `not`"),
    ("~", "`~` is not an operator", "write `not`"),
)


def _unexpected(text: Text, begin: int, end: int, start: Start) -> Mistake:
    """The mistake of a word or character that cannot stand where it stands."""
    rest = text.text[begin:]
    if start is Start.FORMULA:
        for written, headline, cure in _CURES:
            around = text.text[begin - 1 : begin - 1 + len(written)] if begin else ""
            if rest.startswith(written) or (len(written) > 1 and around == written):
                at = begin if rest.startswith(written) else begin - 1
                return Mistake(
                    "expression-syntax", headline, text.part(at, at + len(written)), "not an operator here", cure
                )
    word = text.text[begin:end]
    before = text.text[:begin].rstrip()
    previous = re.search(r"\w+$|[^\w\s]+$", before)
    after = f" after `{previous.group()}`" if previous else " at the beginning"
    headline = f"`{word}` cannot stand here{after}"
    helps: tuple[str, ...] = ()
    if start is Start.FORMULA:
        if word == ")" and before.count("(") <= before.count(")"):
            helps = ("take this bracket away, or open one before it",)
        elif word == "." or re.match(r"[.\-:/]", word):
            helps = ("the words of a name are separated by spaces, and names are made of letters, digits and `_`",)
        elif word in ("=", "<", "<=", "is", "in"):
            helps = ("compare two things at a time and join the comparisons with `and`",)
        elif word in RESERVED:
            helps = (f"`{word}` is a word of the language and cannot be (part of) a name here",)
        elif word[:1].isdigit():
            helps = ("put `and` or `or` between two expressions",)
    else:
        if word == ",":
            helps = ("write decimals with a point: `1.5 s`",)
        elif word == "-":
            helps = ("a window is written `2 s .. 4 s`; a quantity cannot begin with a minus",)
        elif word == ".":
            helps = (
                "a window is written with two points: `2 s .. 4 s`; a decimal has digits on both sides of its point",
            )
        elif word == "..":
            helps = ("a window has two sides: `2 s .. 4 s`, `2 s .. never`",)
        elif word[:1].isalpha() or word[:1].isdigit():
            helps = ("quantities are joined with `+ - * /`, windows written `2 s .. 4 s`",)
    return Mistake("expression-syntax", headline, text.part(begin, end), "not understood", *helps)


def _ended(text: Text, start: Start) -> Mistake:
    """The mistake of a text that breaks off."""
    written = text.text.rstrip()
    last = re.search(r"\w+$|[^\w\s]+$", written)
    begin = last.start() if last else 0
    span = text.part(begin, len(written))
    word = last.group() if last else written
    helps: tuple[str, ...] = ()
    if text.text.count("(") > text.text.count(")"):
        helps = ("a bracket `(` is not closed: add `)`",)
    elif start is Start.FORMULA:
        helps = (f"finish what `{word}` begins, or take it away",)
    return Mistake(
        "expression-syntax", f"the text ends too early, after `{word}`", span, "something is missing", *helps
    )


class Builder:
    """Builds the terms of one text, one method for each alias of the grammar."""

    def __init__(self, text: Text) -> None:
        self.text = text
        self._depth: dict[int, int] = {}
        self._kept: list[Term] = []

    def call(self, alias: str, children: list[Any]) -> Any:
        """The value of a reduction."""
        return getattr(self, f"_on_{alias}")(children)

    def _at(self, token: Token) -> Span:
        return self.text.part(token.start, token.end)

    def _deeper(self, term: Term, below: Iterable[Term]) -> Term:
        depth = 1 + max((self._depth.get(id(operand), 0) for operand in below), default=0)
        if depth > MAX_DEPTH:
            raise Mistake(
                "too-deep",
                f"the expression is nested more than {MAX_DEPTH} deep",
                term.span,
                "too deep",
                "give parts of it names under `conditions`",
            )
        self._depth[id(term)] = depth
        self._kept.append(term)
        return term

    def _apply(self, operator: str, operands: list[Term], at: Span, span: Span) -> Term:
        return self._deeper(Apply(operator, tuple(operands), span, at), operands)

    def _many(self, operator: str, children: list[Any]) -> Term:
        operands: list[Term] = children[::2]
        return self._apply(operator, operands, self._at(children[1]), join(operands[0].span, operands[-1].span))

    def _on_disjunction(self, children: list[Any]) -> Term:
        return self._many("or", children)

    def _on_conjunction(self, children: list[Any]) -> Term:
        return self._many("and", children)

    def _on_product(self, children: list[Any]) -> Term:
        operands: list[Term] = children[::2]
        factors = [operands[0]]
        for sign, term in zip(children[1::2], operands[1:], strict=True):
            factors.append(term if sign.text == "*" else Divisor(term, join(self._at(sign), term.span)))
        span = join(operands[0].span, operands[-1].span)
        return self._deeper(Apply("*", tuple(factors), span, self._at(children[1])), operands)

    def _on_tolerance(self, children: list[Any]) -> Term:
        middle, _, by = children
        return self._deeper(Tolerance(middle, by, join(middle.span, by.span)), (middle, by))

    def _on_call(self, children: list[Any]) -> Term:
        function, *arguments, close = children
        span = join(self._at(function), self._at(close))
        return self._deeper(Call(self._name([function]), tuple(arguments), span), arguments)

    def _on_negation(self, children: list[Any]) -> Term:
        at, operand = self._at(children[0]), children[1]
        return self._apply("not", [operand], at, join(at, operand.span))

    def _on_quantified(self, children: list[Any]) -> Term:
        token, group, body = children
        return self._quantified(token.text, self._at(token), None, group, body)

    def _on_limited(self, children: list[Any]) -> Term:
        token, limit, _, group, body = children
        return self._quantified("at most", self._at(token), limit, group, body)

    def _quantified(self, operator: str, at: Span, limit: Term | None, group: Token, body: Term) -> Term:
        return self._deeper(Quantified(operator, limit, self._name([group]), body, join(at, body.span)), (body,))

    def _on_comparison(self, children: list[Any]) -> Term:
        left, token, right = children
        operator = " ".join(token.text.split())
        return self._apply(operator, [left, right], self._at(token), join(left.span, right.span))

    def _on_membership(self, children: list[Any]) -> Term:
        left, token, *values, close = children
        return self._apply("in", [left, *values], self._at(token), join(left.span, self._at(close)))

    def _on_sum(self, children: list[Any]) -> Term:
        operands: list[Term] = children[::2]
        first = operands[0]
        signed: list[Term] = [Signed(False, first, first.span)]
        for sign, term in zip(children[1::2], operands[1:], strict=True):
            signed.append(Signed(sign.text == "-", term, join(self._at(sign), term.span)))
        span = join(first.span, signed[-1].span)
        return self._deeper(Apply("+", tuple(signed), span, self._at(children[1])), operands)

    def _on_integer(self, children: list[Any]) -> Term:
        return self._on_number(children)

    def _on_number(self, children: list[Any]) -> Term:
        token, *unit = children
        number, span = self._exact(token), self._at(token)
        if not unit:
            return Number(token.text, number, span)
        place = join(self._at(unit[0]), self._at(unit[-1]))
        return Number(token.text, number, join(span, place), "".join(part.text for part in unit), place)

    def _exact(self, token: Token) -> Fraction:
        exponent = re.search(r"[eE]([+-]?\d+)$", token.text)
        if len(token.text) > 30 or (exponent and abs(int(exponent.group(1))) > 30):
            raise Mistake(
                "number-out-of-range",
                "no quantity of this world has such a number",
                self._at(token),
                "too long",
                "write it with fewer digits, in a unit that suits it",
            )
        return Fraction(token.text)

    def _on_truth(self, children: list[Any]) -> Term:
        return Truth(children[0].text == "true", self._at(children[0]))

    def _on_word(self, children: list[Any]) -> Term:
        return self._name(children)

    def _on_name(self, children: list[Any]) -> Term:
        return self._name(children)

    def _name(self, tokens: list[Token]) -> Name:
        for token in tokens:
            if token.text in RESERVED:
                raise Mistake(
                    "expression-syntax",
                    f"`{token.text}` is a word of the language and cannot stand here",
                    self._at(token),
                    "not a name",
                )
        words = tuple(str(int(token.text)) if token.type == "INT" else token.text for token in tokens)
        return Name(words, join(self._at(tokens[0]), self._at(tokens[-1])))

    def _on_command(self, children: list[Any]) -> Term:
        token, name = children
        return self._apply("command", [name], self._at(token), join(self._at(token), name.span))

    def _on_speaking_of_events(self, children: list[Any]) -> Term:
        token, operand, close = children
        return self._apply(token.text, [operand], self._at(token), join(self._at(token), self._at(close)))

    def _on_nothing(self, children: list[Any]) -> Term:
        return Nothing(self._at(children[0]))

    def _on_lower(self, children: list[Any]) -> tuple[bool, Term, Span]:
        """Whether the side is open, the side, and where it begins."""
        side: Term = children[-1]
        is_open = len(children) == 2
        return is_open, side, self._at(children[0]) if is_open else side.span

    def _on_upper(self, children: list[Any]) -> tuple[bool, Term | None, Span]:
        """Whether the side is open, the side (None: never), and where it ends."""
        side: Term | Token = children[-1]
        if isinstance(side, Token):
            return False, None, self._at(side)
        return len(children) == 2, side, side.span

    def _on_between(self, children: list[Any]) -> Term:
        (lower_open, lower, begin), _, (upper_open, upper, end) = children
        return Between(lower, upper, lower_open, upper_open, join(begin, end))


ALIASES: frozenset[str] = frozenset(name.removeprefix("_on_") for name in vars(Builder) if name.startswith("_on_"))
"""The aliases of the grammar that the builder handles; a test holds them against the grammar."""
