"""How a value was worked out, for the reviewer: the parameters in its text, the functions and the ends that count.

In: a term that was evaluated without a mistake. Out: words and numbers for people; nothing is computed from them.
"""

from __future__ import annotations

from collections.abc import Iterator

from interlock.diag.place import Span
from interlock.logic.parse import Start
from interlock.logic.term import Apply, Between, Call, Divisor, Name, Signed, Term, Tolerance
from interlock.spec.book import Book
from interlock.spec.evaluate import amount_of, evaluate, parameter_value, plain
from interlock.spec.functions import FUNCTIONS
from interlock.spec.model import Used, WorkedOut
from interlock.spec.nodes import Scalar
from interlock.spec.quantities import Quantity, brief, show_amount, show_quantity, show_range
from interlock.spec.scopes import Scope


def parameters_worked_out(book: Book) -> tuple[WorkedOut, ...]:
    """Look at every parameter once, used or not; those that are worth telling."""
    told: dict[tuple[Span, str, tuple[tuple[str, str], ...]], WorkedOut] = {}
    for scope in book.root.all():
        for name, (node, home, span) in scope.parameters.items():
            value = parameter_value(name, node, home, span, scope, book)
            if value is None or not isinstance(node, Scalar):
                continue
            term = book.term(node, Start.WINDOW)
            source = book.origins.get(node.span, "")
            if term is None or (plain(term) and not source):
                continue
            shown = show_quantity(value) if isinstance(value, Quantity) else show_range(value)
            inputs, used = inputs_of(term, home, book), used_in(term, home, book)
            # The like in another instance of a part is told once.
            one = WorkedOut(scope.id(name), text_on_a_line(node), shown, source, inputs, used, span)
            told.setdefault((node.span, shown, inputs), one)
    return tuple(told.values())


def text_on_a_line(scalar: Scalar) -> str:
    """What is written, on one line."""
    return " ".join(scalar.text.split())


def inputs_of(term: Term, scope: Scope, book: Book) -> tuple[tuple[str, str], ...]:
    """The parameters in a term, each once, with their values."""
    found: dict[str, str] = {}
    for one in _within(term):
        if isinstance(one, Name) and str(one) not in found:
            value = evaluate(one, scope, book)
            if value is not None:
                found[str(one)] = show_quantity(value) if isinstance(value, Quantity) else show_range(value)
    return tuple(found.items())


def used_in(term: Term, scope: Scope, book: Book) -> tuple[Used, ...]:
    """The functions in a term that have a formula, inner ones too."""
    return tuple(
        used for one in _within(term) if isinstance(one, Call) and (used := _used(one, scope, book)) is not None
    )


def _used(call: Call, scope: Scope, book: Book) -> Used | None:
    function = FUNCTIONS.get(str(call.function))
    values = [amount_of(argument, scope, book) for argument in call.arguments]
    result = evaluate(call, scope, book)
    if function is None or not function.formula or not isinstance(result, Quantity) or None in values:
        return None
    names = [name for name, _ in function.takes]
    ends = [value for value in values if value is not None]
    least, greatest = (
        tuple(
            (name, _end(value, upper=rises is at_greatest))
            for name, value, rises in zip(names, ends, function.rises, strict=True)
        )
        for at_greatest in (False, True)
    )
    return Used(function.name, function.formula, show_quantity(result), function.source, least, greatest)


def _end(value: Quantity, *, upper: bool) -> str:
    return show_amount(brief(value.high if upper else value.low, up=upper), value.measures)


def _within(term: Term | None) -> Iterator[Term]:
    """A term and all terms in it, from left to right; the name of a function is none."""
    if term is None:
        return
    yield term
    inner: tuple[Term | None, ...] = ()
    if isinstance(term, Apply):
        inner = term.operands
    elif isinstance(term, Signed | Divisor):
        inner = (term.term,)
    elif isinstance(term, Call):
        inner = term.arguments
    elif isinstance(term, Tolerance):
        inner = (term.middle, term.by)
    elif isinstance(term, Between):
        inner = (term.lower, term.upper)
    for one in inner:
        yield from _within(one)
