"""Named conditions, and the expressions handed to instances of parts, which are conditions too."""

from __future__ import annotations

from interlock.diag.place import Span
from interlock.logic.formula import TRUE, Formula
from interlock.spec.book import Book
from interlock.spec.equipment import declare
from interlock.spec.fields import named_entries, text_of
from interlock.spec.lookup import footprint_of
from interlock.spec.scopes import Declared, Scope, Sort


def declare_conditions(scope: Scope, book: Book) -> None:
    """Make the conditions of a scope known."""
    for name, (scalar, where) in scope.givens.items():
        declare(Declared(Sort.CONDITION, scope.id(name), scalar.span, broken=scalar.empty), book)
        if not scalar.empty:
            book.pending.setdefault(scope.id(name), (scalar, where))
    for name in sorted(scope.ungiven):
        book.names.add(Declared(Sort.CONDITION, scope.id(name), scope.at, broken=True))
    for key, node in named_entries(book.bag, scope.sections.get("conditions"), "`conditions`", "a condition"):
        scalar_or_none = text_of(book.bag, node, f"condition `{key.text}`")
        declare(Declared(Sort.CONDITION, scope.id(key.text), key.span, broken=scalar_or_none is None), book)
        if scalar_or_none is not None:
            book.pending.setdefault(scope.id(key.text), (scalar_or_none, scope))


def define_conditions(scope: Scope, book: Book) -> list[tuple[str, Formula, Span]]:
    """The conditions of a scope."""
    found: list[tuple[str, Formula, Span]] = []
    places = {name: scalar.span for name, (scalar, _) in scope.givens.items()}
    section = scope.sections.get("conditions")
    places |= {key.text: key.span for key, _ in named_entries(book.bag, section, "`conditions`", "a condition")}
    for name, span in places.items():
        footprint_of(book, scope.id(name))
        found.append((scope.id(name), book.conditions.get(scope.id(name), TRUE), span))
    return found
