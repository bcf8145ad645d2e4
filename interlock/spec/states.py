"""States named in equipment and failures: a written word as a value of a declared thing, told if it is none."""

from __future__ import annotations

from interlock.diag.place import Span
from interlock.logic.formula import Value
from interlock.spec.book import Book
from interlock.spec.domains import value_in
from interlock.spec.fields import texts_of
from interlock.spec.lookup import values_of
from interlock.spec.nodes import Node, Scalar
from interlock.spec.scopes import Declared, Scope, Sort
from interlock.spec.telling import tell_no_state

_KINDS = {
    Sort.ITEM: "unknown-item",
    Sort.SEQUENCE: "unknown-sequence",
    Sort.FAILURE: "unknown-failure",
}


def state_of(scalar: Scalar | None, declared: Declared | None, book: Book) -> Value | None:
    """The value of `declared` that a scalar names; None after a mistake."""
    if scalar is None or declared is None or declared.broken:
        return None
    values = values_of(book, declared)
    if values is None:
        return None
    value = value_in(scalar.text, values)
    if value is None:
        tell_no_state(book, declared, values, scalar.text, scalar.span)
    return value


def states_of(node: Node | None, what: str, declared: Declared, book: Book) -> tuple[Value, ...]:
    """One state or a list of states."""
    found = [state_of(scalar, declared, book) for scalar in texts_of(book.bag, node, what, some=True)]
    return tuple(dict.fromkeys(value for value in found if value is not None))


def named(name: str, at: Span, sort: Sort, scope: Scope, book: Book) -> Declared | None:
    """The thing of one sort that is called `name` in a scope; told if there is none."""
    found = book.names.one(name, scope.prefixes(), (sort,))
    if found is not None:
        return found
    others = book.names.find(name, scope.prefixes())
    known: dict[str, Span | None] = {
        one.id: one.span for entries in book.names.declared.values() for one in entries if one.sort is sort
    }
    hint = f"; it is a {others[0].sort.value}" if others else ""
    book.unknown(_KINDS[sort], name, f"no {sort.value} is called `{name}`{hint}", at, known)
    return None
