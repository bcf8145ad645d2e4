"""Expressions, quantities and windows: what they are read as, and where each piece stands."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Span
from interlock.logic import operators, tables
from interlock.logic.parse import ALIASES, Builder, Mistake, Start, parse
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
from interlock.logic.text import Text


def placed(text: str) -> Text:
    return Text(text, Span("f", 1, 1, 1, len(text) + 1))


def read(text: str, start: Start = Start.FORMULA) -> Term:
    bag = Bag()
    term = parse(placed(text), start, bag)
    assert term is not None, bag.sorted()
    return term


def shape(term: Term | None) -> Any:
    """A term without its places, as nested tuples."""
    if isinstance(term, Name):
        return str(term)
    if isinstance(term, Number):
        return term.value if term.unit is None else (term.value, term.unit)
    if isinstance(term, Truth):
        return term.value
    if isinstance(term, Apply):
        return (term.operator, *map(shape, term.operands))
    if isinstance(term, Signed):
        return ("-" if term.minus else "+", shape(term.term))
    if isinstance(term, Divisor):
        return ("/", shape(term.term))
    if isinstance(term, Call):
        return (f"{term.function}()", *map(shape, term.arguments))
    if isinstance(term, Tolerance):
        return ("+-", shape(term.middle), shape(term.by))
    if isinstance(term, Quantified):
        return (term.operator, shape(term.limit), shape(term.group), shape(term.body))
    if isinstance(term, Between):
        sides = ("over" if term.lower_open else "from", "under" if term.upper_open else "to")
        return (sides[0], shape(term.lower), sides[1], shape(term.upper))
    return "nothing" if isinstance(term, Nothing) else None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a or b and c or d", ("or", "a", ("and", "b", "c"), "d")),
        ("not a and b", ("and", ("not", "a"), "b")),
        ("not (a and b)", ("not", ("and", "a", "b"))),
        ("all shoes contact is made and b", ("and", ("all", None, "shoes", ("is", "contact", "made")), "b")),
        ("any shoes not down", ("any", None, "shoes", ("not", "down"))),
        ("at most 2 of berths rail is live", ("at most", 2, "berths", ("is", "rail", "live"))),
        ("at  most limit of berths x", ("at most", "limit", "berths", "x")),
        ("all berths all shoes x", ("all", None, "berths", ("all", None, "shoes", "x"))),
        ("front shoe contact is not made", ("is not", "front shoe contact", "made")),
        ("berth 1 rail is berth 02 rail", ("is", "berth 1 rail", "berth 2 rail")),
        ("train in {away, leaving}", ("in", "train", "away", "leaving")),
        ("tries + 1 - used <= 3", ("<=", ("+", ("+", "tries"), ("+", 1), ("-", "used")), 3)),
        ("a = b", ("=", "a", "b")),
        ("a < 2", ("<", "a", 2)),
        ("becomes(x is y) and was(z)", ("and", ("becomes", ("is", "x", "y")), ("was", "z"))),
        ("command front shoe lower or x", ("or", ("command", "front shoe lower"), "x")),
        ("true", True),
        ("isle is notable", ("is", "isle", "notable")),
        ("inner and order", ("and", "inner", "order")),
        ("overdue is neverland", ("is", "overdue", "neverland")),
        ("(((a)))", "a"),
        ("Gleis_1 is grün", ("is", "Gleis_1", "grün")),
    ],
)
def test_an_expression_is_read_by_the_precedence_of_the_operator_table(text: str, expected: Any) -> None:
    assert shape(read(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("500 ms", (500, "ms")),
        ("1.5 s", (Fraction(3, 2), "s")),
        ("2e-7 /h", (Fraction(2, 10**7), "/h")),
        ("12", 12),
        ("30 ms .. 120 ms", ("from", (30, "ms"), "to", (120, "ms"))),
        ("over 2 s .. under 5 s", ("over", (2, "s"), "under", (5, "s"))),
        ("2 s .. never", ("from", (2, "s"), "to", None)),
        ("0 .. 3", ("from", 0, "to", 3)),
        ("0..3", ("from", 0, "to", 3)),
        ("nothing", "nothing"),
        ("travel", "travel"),
        ("2 * travel + 500 ms", ("+", ("+", ("*", 2, "travel")), ("+", (500, "ms")))),
        ("200 A/s", (200, "A/s")),
        ("10 %", (10, "%")),
        ("energy / 60 kW", ("*", "energy", ("/", (60, "kW")))),
        ("energy/power * 2", ("*", "energy", ("/", "power"), 2)),
        ("10 V / s", ("*", (10, "V"), ("/", "s"))),
        ("10 V/s/tau", ("*", (10, "V/s"), ("/", "tau"))),
        ("(1 V)/2", ("*", (1, "V"), ("/", 2))),
        ("10 kohm +- 5 %", ("+-", (10, "kohm"), (5, "%"))),
        ("10 kohm ± 500 ohm", ("+-", (10, "kohm"), (500, "ohm"))),
        ("2 * (a +- b)", ("*", 2, ("+-", "a", "b"))),
        ("min(a, 2 s)", ("min()", "a", (2, "s"))),
        ("0 s .. f(a + 1 s)", ("from", (0, "s"), "to", ("f()", ("+", ("+", "a"), ("+", (1, "s")))))),
        (
            "f((2 s .. 4 s), 3 s .. 5 s)",
            ("f()", ("from", (2, "s"), "to", (4, "s")), ("from", (3, "s"), "to", (5, "s"))),
        ),
        ("stop - (lower + lift)", ("+", ("+", "stop"), ("-", ("+", ("+", "lower"), ("+", "lift"))))),
    ],
)
def test_a_quantity_or_window_is_read(text: str, expected: Any) -> None:
    assert shape(read(text, Start.WINDOW)) == expected


def test_numbers_are_exact() -> None:
    number = read("0.1 s", Start.WINDOW)
    assert isinstance(number, Number)
    assert number.value == Fraction(1, 10)


def test_every_piece_knows_its_place() -> None:
    text = "all shoes contact is made and not rail is live"
    term = read(text)
    assert isinstance(term, Apply)
    assert (term.span.column, term.span.end_column) == (1, len(text) + 1)
    assert text[term.at.column - 1 : term.at.end_column - 1] == "and"
    quantified, negation = term.operands
    assert isinstance(quantified, Quantified)
    assert isinstance(negation, Apply)
    assert text[quantified.group.span.column - 1 : quantified.group.span.end_column - 1] == "shoes"
    assert text[quantified.span.column - 1 : quantified.span.end_column - 1] == "all shoes contact is made"
    inner = negation.operands[0]
    assert text[inner.span.column - 1 : inner.span.end_column - 1] == "rail is live"


@pytest.mark.parametrize(
    ("text", "wrong", "cure"),
    [
        ("a == b", "==", "`is`"),
        ("a >= b", ">=", "`B <= A`"),
        ("a && b", "&&", "`and`"),
        ("a || b", "||", "`or`"),
        ("!a", "!", "`not`"),
        ("a and", "and", "finish"),
        ("(a or b", "b", "add `)`"),
        ("a) and b", ")", "bracket"),
        ("a.b is c", ".", "spaces"),
        ("a is b is c", "is", "join"),
        ("a or or b", "or", ""),
        ("not is a", "is", ""),
        ("a, b", ",", ""),
    ],
)
def test_the_smallest_wrong_text_is_marked(text: str, wrong: str, cure: str) -> None:
    bag = Bag()
    assert parse(placed(text), Start.FORMULA, bag) is None
    (mistake,) = bag.sorted()
    assert mistake.at is not None
    assert text[mistake.at.span.column - 1 : mistake.at.span.end_column - 1] == wrong
    assert cure in " ".join(mistake.helps)


def test_the_parse_tables_were_made_of_the_grammar_that_is_kept(repository: Path) -> None:
    import json
    from hashlib import sha256

    stored = json.loads((repository / "interlock/logic/tables.json").read_text(encoding="utf-8"))
    assert stored["grammar"] == sha256(tables.grammar_text().encode()).hexdigest()
    assert list(stored["starts"]) == list(tables.STARTS) == [start.value for start in Start]


def test_the_builder_knows_the_aliases_of_the_grammar_and_no_others() -> None:
    called = {rule.calls for rule in tables.kept_tables().rules if rule.calls}
    assert called == ALIASES


def test_the_operator_table_knows_the_operators_of_the_language_and_no_others() -> None:
    """One text for each operator; their keys together are the table."""
    texts = [
        "a or b", "a and b", "not a", "all g x", "any g x", "at most 1 of g x", "a is b", "a is not b", "a in {b}",
        "a = b", "a < b", "a <= b", "a + b <= c", "command c", "becomes(a)", "was(a)",
    ]  # fmt: skip
    keys: set[str] = set()
    pending = [*(read(text) for text in texts), read("2 * a", Start.WINDOW)]
    while pending:
        term = pending.pop()
        if isinstance(term, Apply):
            keys.add(term.operator)
            pending += term.operands
        elif isinstance(term, Quantified):
            keys.add(term.operator)
        elif isinstance(term, Signed):
            pending.append(term.term)
    assert keys == set(operators.OPERATORS)
    assert {word for key in keys for word in key.split() if word.isalpha()} <= operators.RESERVED


# --- the kept tables against lark itself ---


def _by_lark(text: str, start: Start) -> Any:
    """The shape of what lark's own parser and lexer make of a text, with our builder; None where they refuse it."""
    from lark.exceptions import LarkError

    builder = Builder(placed(text))

    def built(piece: Any) -> Any:
        if hasattr(piece, "data"):
            return builder.call(str(piece.data), [built(child) for child in piece.children])
        return tables.Token(piece.type, str(piece), piece.start_pos, piece.end_pos)

    try:
        return shape(built(_lark().parse(text, start=start.value)))
    except (LarkError, Mistake):
        return None


@cache
def _lark() -> Any:
    from lark import Lark

    starts = [start.value for start in Start]
    return Lark(tables.grammar_text(), parser="lalr", start=starts, maybe_placeholders=False)


WORDS = [
    *sorted(operators.RESERVED | operators.QUANTITY_WORDS),
    *("a", "shoes", "rail", "ms", "isnot", "a3", "3a", "1", "2", "0.5", "at  most", "is  not"),
    *"(){},+-*/=<>!%±",
    *("..", "<=", "+-", "/h", "/a3", "f("),
]

NAMES = st.sampled_from(["a", "front shoe contact", "berth 1 rail", "tries"])
SUMS = st.lists(st.one_of(NAMES, st.sampled_from(["1", "2"])), min_size=1, max_size=3).map(" + ".join)
ATOMS = st.one_of(
    NAMES,
    st.builds("{} is {}".format, NAMES, NAMES),
    st.builds("{} is not {}".format, NAMES, NAMES),
    st.builds("{} in {{{}, b}}".format, NAMES, NAMES),
    st.builds("{} <= {}".format, SUMS, SUMS),
    st.builds("command {}".format, NAMES),
)
FORMULAS = st.recursive(
    ATOMS,
    lambda inner: st.one_of(
        st.builds("{} and {}".format, inner, inner),
        st.builds("{} or {}".format, inner, inner),
        st.builds("not {}".format, inner),
        st.builds("({})".format, inner),
        st.builds("all shoes {}".format, inner),
        st.builds("at most 1 of shoes {}".format, inner),
        st.builds("becomes({})".format, inner),
    ),
    max_leaves=8,
)


@given(FORMULAS)
def test_an_expression_of_the_language_is_read_as_lark_reads_it(text: str) -> None:
    bag = Bag()
    assert shape(parse(placed(text), Start.FORMULA, bag)) == _by_lark(text, Start.FORMULA) is not None


@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=9).map(" ".join), st.sampled_from(list(Start)))
def test_any_row_of_words_is_read_or_refused_as_lark_does(text: str, start: Start) -> None:
    bag = Bag()
    assert shape(parse(placed(text), start, bag)) == (expected := _by_lark(text, start))
    assert bag.empty == (expected is not None)


@given(st.text(max_size=30), st.sampled_from(list(Start)))
def test_any_text_is_read_or_told_and_never_raises(text: str, start: Start) -> None:
    bag = Bag()
    assert (parse(placed(text), start, bag) is None) == (not bag.empty)
