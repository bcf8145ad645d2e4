"""Evaluating quantities and windows: terms to exact numbers, with parameters looked up and units checked."""

from __future__ import annotations

from fractions import Fraction

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.parse import Start
from interlock.logic.term import Apply, Between, Name, Nothing, Number, Signed, Term
from interlock.spec.book import Book
from interlock.spec.fields import first_line, text_of
from interlock.spec.model import Window
from interlock.spec.nodes import Node
from interlock.spec.quantities import COUNT, SPELLINGS, UNITS, Quantity, Range, show_quantity, show_time
from interlock.spec.scopes import Scope

MAX_BITS = 200
"""How long the numerator and the denominator of a number may be."""

MAX_NESTED = 50
"""How many parameters (or conditions) may be defined through one another in a chain."""


def evaluate(term: Term, scope: Scope, book: Book) -> Quantity | Range | None:
    """The value of a term; None after a mistake, which is told."""
    if isinstance(term, Number):
        return _number(term, book)
    if isinstance(term, Name):
        return _parameter(term, scope, book)
    if isinstance(term, Between):
        return _between(term, scope, book)
    if isinstance(term, Apply) and term.operator == "+":
        return _sum(term, scope, book)
    if isinstance(term, Apply) and term.operator == "*":
        return _product(term, scope, book)
    if isinstance(term, Nothing):
        book.bag.add(
            "wrong-window",
            "`nothing` is only for what a move `takes`",
            term.span,
            "not here",
            "write a quantity or a window such as `2 s .. 4 s`",
        )
        return None
    raise AssertionError(term)


def _number(term: Number, book: Book) -> Quantity | None:
    if term.unit is None:
        return Quantity(term.value, COUNT, term.span)
    known = UNITS.get(term.unit)
    if known is None:
        guess = SPELLINGS.get(term.unit) or near(term.unit, UNITS)
        cure = f"write `{guess}`" if guess else "the units: " + " ".join(UNITS)
        told = f"`{term.unit}` is not a unit"
        book.unknown("unknown-unit", term.unit, told, term.unit_span or term.span, helps=(cure,), words="not a unit")
        return None
    return Quantity(term.value * known[1], known[0], term.span)


def _parameter(term: Name, scope: Scope, book: Book) -> Quantity | Range | None:
    name = str(term)
    for place in scope.chain():
        if name in place.parameters:
            node, home, span = place.parameters[name]
            value = parameter_value(name, node, home, span, place, book)
            if isinstance(value, Quantity):
                return Quantity(value.value, value.measures, term.span)
            if isinstance(value, Range):
                return Range(value.earliest, value.latest, value.earliest_open, value.latest_open, term.span)
            return None
    known: dict[str, Span | None] = {
        name: span for place in scope.chain() for name, (_, _, span) in place.parameters.items()
    }
    book.unknown("unknown-parameter", name, f"no parameter is called `{name}`", term.span, known)
    return None


def parameter_value(
    name: str, node: Node, home: Scope, span: Span, owner: Scope, book: Book
) -> Quantity | Range | None:
    """The value of a parameter of `owner`, whose text is read in `home`."""
    key = (id(owner), name)
    if key in book.parameter_values:
        return book.parameter_values[key]
    if key in book.opening_parameters:
        chain = book.opening_parameters[book.opening_parameters.index(key) :]
        if book.circles.isdisjoint(chain):
            circle = " -> ".join(f"`{one}`" for one in [*(entry[1] for entry in chain), name])
            book.bag.add(
                "circular-parameter",
                f"parameter `{name}` is computed from itself: {circle}",
                span,
                "part of a circle",
                "give one of them a value that does not need the others",
            )
        book.circles.update(chain)
        return None
    if len(book.opening_parameters) >= MAX_NESTED:
        told = f"more than {MAX_NESTED} parameters are computed from one another"
        book.bag.add("too-deep", told, span, "too deep", "give some of them values of their own")
        return None
    scalar = text_of(book.bag, node, f"parameter `{name}`")
    if scalar is None:
        return None
    term = book.term(scalar, Start.WINDOW)
    if term is None:
        return None
    book.opening_parameters.append(key)
    try:
        value = evaluate(term, home, book)
    finally:
        book.opening_parameters.pop()
    book.parameter_values[key] = value
    return value


def _side(term: Term, scope: Scope, book: Book) -> Quantity | None:
    value = evaluate(term, scope, book)
    if isinstance(value, Range):
        told = f"parameter `{term}`" if isinstance(term, Name) else "this"
        latest = value.latest or value.earliest
        book.bag.add(
            "wrong-window",
            f"{told} is a window, and one quantity belongs here",
            term.span,
            "a window",
            f"write a single quantity, such as `{show_quantity(latest)}`",
        )
        return None
    return value


def _between(term: Between, scope: Scope, book: Book) -> Range | None:
    earliest = _side(term.lower, scope, book)
    latest = None if term.upper is None else _side(term.upper, scope, book)
    if earliest is None or (term.upper is not None and latest is None):
        return None
    if latest is not None and latest.measures != earliest.measures:
        _differ(earliest, latest, term.span, "the two sides of a window", book)
        return None
    return Range(earliest, latest, term.lower_open, term.upper_open, term.span)


def _differ(one: Quantity, other: Quantity, span: Span, what: str, book: Book) -> None:
    if COUNT in (one.measures, other.measures):
        bare = one if one.measures == COUNT else other
        told = other if bare is one else one
        book.bag.add(
            "bare-number",
            f"`{show_quantity(bare)}` has no unit beside a {told.measures}",
            bare.span,
            "no unit",
            f"write its unit, as in `{show_quantity(told)}`",
        )
        return
    book.bag.add(
        "wrong-dimension",
        f"{what} are a {one.measures} and a {other.measures}",
        span,
        "do not go together",
        also=(Mark(one.span, f"a {one.measures}"), Mark(other.span, f"a {other.measures}")),
    )


def _sum(term: Apply, scope: Scope, book: Book) -> Quantity | None:
    total: Quantity | None = None
    failed = False
    for operand in term.operands:
        assert isinstance(operand, Signed)
        value = _side(operand.term, scope, book)
        if value is None:
            failed = True
        elif total is None:
            total = value
        elif value.measures != total.measures:
            _differ(total, value, term.span, "the parts of a sum", book)
            failed = True
        else:
            signed = -value.value if operand.minus else value.value
            total = Quantity(total.value + signed, total.measures, term.span)
    return None if failed or total is None else _of_this_world(total, book)


def _product(term: Apply, scope: Scope, book: Book) -> Quantity | None:
    total = Quantity(Fraction(1), COUNT, term.span)
    for operand in term.operands:
        value = _side(operand, scope, book)
        if value is None:
            return None
        if COUNT not in (total.measures, value.measures):
            book.bag.add(
                "wrong-dimension",
                f"a {total.measures} cannot be multiplied by a {value.measures}",
                term.span,
                "only a number may stand on one side of `*`",
            )
            return None
        total = Quantity(
            total.value * value.value, value.measures if total.measures == COUNT else total.measures, term.span
        )
        if _of_this_world(total, book) is None:
            return None
    return total


def _of_this_world(quantity: Quantity, book: Book) -> Quantity | None:
    """The quantity, unless its number is longer than any that is measured (told)."""
    value = quantity.value
    if max(value.numerator.bit_length(), value.denominator.bit_length()) <= MAX_BITS:
        return quantity
    book.bag.add(
        "number-out-of-range",
        "no quantity of this world has such a number",
        quantity.span,
        "too long",
        "look at the parameters it is computed from",
    )
    return None


def quantity_of(node: Node | None, what: str, measures: str, scope: Scope, book: Book) -> Quantity | None:
    """The quantity that a node says; None if there is no node, or after a mistake."""
    scalar = text_of(book.bag, node, what)
    term = None if scalar is None else book.term(scalar, Start.WINDOW)
    value = None if term is None else _side(term, scope, book)
    if value is None or not _measures(value, measures, what, book):
        return None
    if value.value < 0:
        cure = "it must be zero or more: look at the parameters it is computed from"
        book.bag.add("negative-quantity", f"{what} is negative", value.span, show_quantity(value), cure)
        return None
    return value


_EXAMPLES = {"time": "500 ms", "rate": "1e-9 /h", COUNT: "2"}


def _measures(value: Quantity, measures: str, what: str, book: Book) -> bool:
    if value.measures == measures:
        return True
    example = _EXAMPLES.get(measures, "")
    if value.measures == COUNT:
        number = show_quantity(value)
        cure = f"write `{number} s`, `{number} ms` or `{number} min`" if measures == "time" else f"as in `{example}`"
        book.bag.add("bare-number", f"{what} needs a unit", value.span, "a bare number", cure)
    else:
        wanted = "a plain number" if measures == COUNT else f"a {measures}"
        book.bag.add(
            "wrong-dimension",
            f"{what} must be {wanted}, not a {value.measures}",
            value.span,
            f"a {value.measures}",
            f"as in `{example}`",
        )
    return False


def window_of(node: Node | None, what: str, scope: Scope, book: Book) -> Window | None:
    """The window of times that a node says; one quantity is a window of that length only."""
    scalar = text_of(book.bag, node, what)
    term = None if scalar is None else book.term(scalar, Start.WINDOW)
    if scalar is None or term is None:
        return None
    value = evaluate(term, scope, book)
    if isinstance(value, Quantity):
        value = Range(value, value, False, False, value.span)
    if value is None or not _measures(value.earliest, "time", what, book):
        return None
    window = Window(
        value.earliest.value,
        None if value.latest is None else value.latest.value,
        value.earliest_open,
        value.latest_open,
        first_line(scalar),
    )
    return window if possible(window, what, value.span, book) else None


def possible(window: Window, what: str, span: Span, book: Book) -> bool:
    """Whether there is a time in the window; told if not."""
    if window.earliest_s < 0 or (window.latest_s is not None and window.latest_s < 0):
        negative = window.earliest_s if window.earliest_s < 0 else window.latest_s or Fraction(0)
        cure = "a time counts from the moment a thing became possible: look at the parameters it is computed from"
        book.bag.add("impossible-window", f"{what} lies before zero", span, show_time(negative), cure)
        return False
    if window.latest_s is None:
        return True
    if window.latest_s < window.earliest_s:
        earliest, latest = show_time(window.earliest_s), show_time(window.latest_s)
        book.bag.add(
            "impossible-window",
            f"{what} ends before it begins: {earliest} is later than {latest}",
            span,
            "no time lies in it",
            f"write the earlier time first: `{latest} .. {earliest}`",
        )
        return False
    if window.latest_s == window.earliest_s and (window.earliest_open or window.latest_open):
        book.bag.add(
            "impossible-window",
            f"{what} is empty: no time is both past and not past {show_time(window.earliest_s)}",
            span,
            "no time lies in it",
            "make it longer, or take `over` and `under` away",
        )
        return False
    return True
