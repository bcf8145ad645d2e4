"""Domains: the values a thing can have, read from `states`, and a written word as a value of a domain."""

from __future__ import annotations

import re

from interlock.diag.diagnostic import Mark
from interlock.diag.place import Span
from interlock.logic.formula import Value
from interlock.logic.parse import Start
from interlock.logic.term import Between
from interlock.spec.book import Book
from interlock.spec.evaluate import evaluate
from interlock.spec.fields import check_name, first_line, text_of, wrong_type
from interlock.spec.nodes import Listing, Node, Scalar
from interlock.spec.quantities import Range
from interlock.spec.scopes import Scope

MAX_VALUES = 200
"""How many values a domain may have."""


def boolean(values: tuple[Value, ...] | None) -> bool:
    """Whether the domain is that of truth values."""
    return values is not None and len(values) == 2 and all(isinstance(value, bool) for value in values)


def whole(values: tuple[Value, ...] | None) -> bool:
    """Whether the domain is one of whole numbers."""
    return values is not None and all(isinstance(value, int) and not isinstance(value, bool) for value in values)


def show_value(value: Value) -> str:
    """A value as it is written in a spec."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def value_in(text: str, values: tuple[Value, ...]) -> Value | None:
    """The value of the domain that is written so; None if there is none."""
    for value in values:
        if show_value(value) == text:
            return value
    if text.isdecimal() and whole(values):
        number = int(text)
        return number if number in values else None
    return None


def same_domain(one: tuple[Value, ...], other: tuple[Value, ...]) -> bool:
    """Whether two domains have the same values."""
    return set(map(show_value, one)) == set(map(show_value, other)) and boolean(one) == boolean(other)


def domain_of(node: Node | None, what: str, at: Span, scope: Scope, book: Book) -> tuple[Value, ...] | None:
    """The values that `states` says: a list of names, or `0 .. 3`; None after a mistake, which is told."""
    bag = book.bag
    if node is None:
        return None
    if isinstance(node, Listing):
        found: dict[str, Scalar] = {}
        sound = True
        numbers = all(isinstance(item, Scalar) and item.text.isdecimal() for item in node.items)
        for item in node.items:
            scalar = text_of(bag, item, f"each state of {what}")
            if scalar is None:
                sound = False
                continue
            truth = scalar.text in ("true", "false")
            if not (numbers or truth or check_name(bag, scalar, f"a state of {what}")):
                sound = False
            if scalar.text in found:
                bag.add(
                    "duplicate-state",
                    f"{what} has the state `{scalar.text}` twice",
                    scalar.span,
                    "written again",
                    "take one away",
                    also=(Mark(found[scalar.text].span, "written first"),),
                )
                continue
            found[scalar.text] = scalar
        if not sound:
            return None
        if not found:
            bag.add("no-states", f"{what} has no states", first_line(node), "empty", "as in `states: [open, closed]`")
            return None
        texts = list(found)
        if not _sensible(len(texts), what, first_line(node), book):
            return None
        if numbers:
            return tuple(int(text) for text in texts)
        truths = [text for text in texts if text in ("true", "false")]
        if truths and (len(texts) != 2 or len(truths) != 2):
            _mixed(found[truths[0]], what, book)
            return None
        return tuple(text == "true" for text in texts) if truths else tuple(texts)
    if isinstance(node, Scalar) and re.search(r"\.\.", node.text):
        return _range(node, what, scope, book)
    wrong_type(bag, node, f"`states` of {what}", "a list of names or a range such as `0 .. 3`")
    return None


def _mixed(scalar: Scalar, what: str, book: Book) -> None:
    book.bag.add(
        "bad-name",
        f"`{scalar.text}` cannot be a state of {what} beside other states",
        scalar.span,
        "a truth value",
        "either the states are just `[false, true]`, or none of them is",
    )


def _sensible(n: int, what: str, span: Span, book: Book) -> bool:
    if n <= MAX_VALUES:
        return True
    book.bag.add(
        "too-large",
        f"{what} has {n} states, more than {MAX_VALUES}",
        span,
        "too many",
        "keep only the differences that matter to a rule",
    )
    return False


def _range(node: Scalar, what: str, scope: Scope, book: Book) -> tuple[Value, ...] | None:
    term = book.term(node, Start.WINDOW)
    value = evaluate(term, scope, book) if isinstance(term, Between) else None
    if not isinstance(value, Range):
        return None
    low, high = value.earliest, value.latest
    if high is None or not low.whole or not high.whole or value.earliest_open or value.latest_open:
        book.bag.add(
            "bad-range",
            f"`states` of {what} is not a range of whole numbers",
            first_line(node),
            "not whole numbers",
            "as in `states: 0 .. 3`",
        )
        return None
    if high.value < low.value:
        book.bag.add(
            "bad-range",
            f"`states` of {what} ends before it begins",
            first_line(node),
            "no number lies in it",
            f"write `{high.value} .. {low.value}`",
        )
        return None
    n = int(high.value - low.value) + 1
    return tuple(range(int(low.value), int(high.value) + 1)) if _sensible(n, what, node.span, book) else None
