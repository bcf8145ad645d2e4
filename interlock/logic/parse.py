"""Parsing: the text of an expression, a quantity or a window, to a `Term` in which every piece knows its place.

The grammar stands in `grammar.lark` and is read by lark (LALR, contextual lexer), which builds the terms while it
parses. A mistake goes to the bag with the wrong word marked and a cure; the answer is then None.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import Enum
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, cast

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Span
from interlock.logic.operators import RESERVED
from interlock.logic.term import Apply, Between, Name, Nothing, Number, Quantified, Signed, Term, Truth
from interlock.logic.text import Text, join

if TYPE_CHECKING:
    from lark import Lark, Token

MAX_DEPTH = 50
"""How deep an expression may be nested."""


class Start(Enum):
    """What a text is read as."""

    FORMULA = "formula"
    WINDOW = "window"


class _Mistake(Exception):
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
    from lark import UnexpectedCharacters, UnexpectedEOF, UnexpectedToken

    parser, builder = _parser()
    builder.text = text
    try:
        if not text.text.strip():
            raise _Mistake("expression-syntax", "nothing is written here", text.span, _wanted(start))
        return cast("Term", parser.parse(text.text, start=start.value))
    except UnexpectedCharacters as found:
        mistake = _unexpected(text, found.pos_in_stream, found.pos_in_stream + 1, start)
    except UnexpectedToken as found:
        if found.token.type == "$END":
            mistake = _ended(text, start)
        else:
            begin = cast("int", found.token.start_pos)
            mistake = _unexpected(text, begin, begin + len(found.token), start)
    except UnexpectedEOF:
        mistake = _ended(text, start)
    except _Mistake as found:
        mistake = found
    finally:
        builder.forget()
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


def _unexpected(text: Text, begin: int, end: int, start: Start) -> _Mistake:
    """The mistake of a word or character that cannot stand where it stands."""
    rest = text.text[begin:]
    if start is Start.FORMULA:
        for written, headline, cure in _CURES:
            around = text.text[begin - 1 : begin - 1 + len(written)] if begin else ""
            if rest.startswith(written) or (len(written) > 1 and around == written):
                at = begin if rest.startswith(written) else begin - 1
                return _Mistake(
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
            helps = ("quantities are added with `+` and multiplied with `*`, windows written `2 s .. 4 s`",)
    return _Mistake("expression-syntax", headline, text.part(begin, end), "not understood", *helps)


def _ended(text: Text, start: Start) -> _Mistake:
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
    return _Mistake(
        "expression-syntax", f"the text ends too early, after `{word}`", span, "something is missing", *helps
    )


@cache
def _parser() -> tuple[Lark, _Builder]:
    from lark import Lark

    builder = _Builder()
    grammar = files("interlock.logic").joinpath("grammar.lark").read_text(encoding="utf-8")
    return (
        Lark(
            grammar,
            parser="lalr",
            start=[start.value for start in Start],
            transformer=builder,
            propagate_positions=False,
            maybe_placeholders=False,
        ),
        builder,
    )


Piece = object


class _Builder:
    """Builds terms, one method for each alias of the grammar. Tokens that carry no meaning are skipped."""

    def __init__(self) -> None:
        self.text: Text | None = None
        self._depth: dict[int, int] = {}
        self._kept: list[Term] = []

    def forget(self) -> None:
        """Drop what belongs to one text."""
        self.text = None
        self._depth.clear()
        self._kept.clear()

    def _at(self, token: Token) -> Span:
        assert self.text is not None
        return self.text.part(cast("int", token.start_pos), cast("int", token.end_pos))

    def _deeper(self, term: Term, *below: Term) -> Term:
        depth = 1 + max((self._depth.get(id(operand), 0) for operand in below), default=0)
        if depth > MAX_DEPTH:
            raise _Mistake(
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
        return self._deeper(Apply(operator, tuple(operands), span, at), *operands)

    def _many(self, operator: str, children: list[Piece]) -> Term:
        operands = [cast("Term", child) for child in children[::2]]
        at = self._at(cast("Token", children[1]))
        return self._apply(operator, operands, at, join(operands[0].span, operands[-1].span))

    def disjunction(self, children: list[Piece]) -> Term:
        return self._many("or", children)

    def conjunction(self, children: list[Piece]) -> Term:
        return self._many("and", children)

    def product(self, children: list[Piece]) -> Term:
        return self._many("*", children)

    def negation(self, children: list[Piece]) -> Term:
        at, operand = self._at(cast("Token", children[0])), cast("Term", children[1])
        return self._apply("not", [operand], at, join(at, operand.span))

    def quantified(self, children: list[Piece]) -> Term:
        token, group, body = cast("Token", children[0]), cast("Token", children[1]), cast("Term", children[2])
        return self._quantified(str(token), self._at(token), None, group, body)

    def limited(self, children: list[Piece]) -> Term:
        token, limit, _, group, body = children
        at = self._at(cast("Token", token))
        return self._quantified("at most", at, cast("Term", limit), cast("Token", group), cast("Term", body))

    def _quantified(self, operator: str, at: Span, limit: Term | None, group: Token, body: Term) -> Term:
        name = cast("Name", self.word([group]))
        return self._deeper(Quantified(operator, limit, name, body, join(at, body.span)), body)

    def limit(self, children: list[Piece]) -> Piece:
        return children[0]

    def comparison(self, children: list[Piece]) -> Term:
        left, token, right = cast("Term", children[0]), cast("Token", children[1]), cast("Term", children[2])
        operator = " ".join(str(token).split())
        return self._apply(operator, [left, right], self._at(token), join(left.span, right.span))

    def membership(self, children: list[Piece]) -> Term:
        left, token, close = cast("Term", children[0]), cast("Token", children[1]), cast("Token", children[-1])
        values = [cast("Term", child) for child in children[2:-1]]
        return self._apply("in", [left, *values], self._at(token), join(left.span, self._at(close)))

    def sum(self, children: list[Piece]) -> Term:
        first = cast("Term", children[0])
        signed: list[Term] = [Signed(False, first, first.span)]
        for sign, child in zip(children[1::2], children[2::2], strict=True):
            term, token = cast("Term", child), cast("Token", sign)
            signed.append(Signed(token == "-", term, join(self._at(token), term.span)))
        span = join(first.span, signed[-1].span)
        operands = [cast("Term", child) for child in children[::2]]
        return self._deeper(Apply("+", tuple(signed), span, self._at(cast("Token", children[1]))), *operands)

    def integer(self, children: list[Piece]) -> Term:
        token = cast("Token", children[0])
        return Number(str(token), self._exact(token), self._at(token))

    def number(self, children: list[Piece]) -> Term:
        token, rest = cast("Token", children[0]), [cast("Token", child) for child in children[1:]]
        span = self._at(token)
        if not rest:
            return Number(str(token), self._exact(token), span)
        unit_span = join(self._at(rest[0]), self._at(rest[-1]))
        unit = "".join(map(str, rest))
        return Number(str(token), self._exact(token), join(span, unit_span), unit, unit_span)

    def _exact(self, token: Token) -> Fraction:
        exponent = re.search(r"[eE]([+-]?\d+)$", token)
        if len(token) > 30 or (exponent and abs(int(exponent.group(1))) > 30):
            raise _Mistake(
                "number-too-long", "the number is longer than any that is measured", self._at(token), "too long"
            )
        return Fraction(str(token))

    def truth(self, children: list[Piece]) -> Term:
        token = cast("Token", children[0])
        return Truth(token == "true", self._at(token))

    def word(self, children: list[Piece]) -> Term:
        return self.name(children)

    def name(self, children: list[Piece]) -> Term:
        tokens = [cast("Token", child) for child in children]
        for token in tokens:
            if token in RESERVED:
                raise _Mistake(
                    "expression-syntax",
                    f"`{token}` is a word of the language and cannot stand here",
                    self._at(token),
                    "not a name",
                )
        span = join(self._at(tokens[0]), self._at(tokens[-1]))
        return Name(tuple(str(int(token)) if token.isdigit() else str(token) for token in tokens), span)

    def command(self, children: list[Piece]) -> Term:
        token, name = cast("Token", children[0]), cast("Term", children[1])
        return self._apply("command", [name], self._at(token), join(self._at(token), name.span))

    def speaking_of_events(self, children: list[Piece]) -> Term:
        token, operand, close = cast("Token", children[0]), cast("Term", children[1]), cast("Token", children[-1])
        return self._apply(str(token), [operand], self._at(token), join(self._at(token), self._at(close)))

    def nothing(self, children: list[Piece]) -> Term:
        return Nothing(self._at(cast("Token", children[0])))

    def lower(self, children: list[Piece]) -> Piece:
        return (len(children) == 2, children[-1], self._at(cast("Token", children[0])) if len(children) == 2 else None)

    def upper(self, children: list[Piece]) -> Piece:
        last = children[-1]
        if getattr(last, "type", None) == "NEVER":
            return (False, None, self._at(cast("Token", last)))
        return (len(children) == 2, last, cast("Term", last).span)

    def between(self, children: list[Piece]) -> Term:
        lower_open, lower, over = cast("tuple[bool, Term, Span | None]", children[0])
        upper_open, upper, end = cast("tuple[bool, Term | None, Span]", children[1])
        return Between(lower, upper, lower_open, upper_open, join(over or lower.span, end))


ALIASES: frozenset[str] = frozenset(
    name for name, value in vars(_Builder).items() if not name.startswith("_") and name != "forget" and callable(value)
)
"""The aliases of the grammar that the builder handles; a test holds them against the grammar."""

_Handler = Callable[[list[Piece]], Piece]
