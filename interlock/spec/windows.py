"""Quantities and windows where a spec uses them: which end of a tolerance counts, and times rounded to whole ticks.

In: the node that says a time, rate or number. Out: one exact value or a `Window`; None if there is no node, or after a
mistake, which is told.

A value with a tolerance is used at its worse end, wherever it stands. Windows of what *happens* become wider: an
earliest takes the lower end, a latest the upper. What must be *true* becomes stricter: a deadline takes the lower end.
A computed time that is no whole number of milliseconds is rounded in that same direction. Every such choice is noted
in the book, so that it can be told.
"""

from __future__ import annotations

from enum import Enum
from fractions import Fraction

from interlock.diag.place import Span
from interlock.logic.parse import Start
from interlock.spec.book import Book
from interlock.spec.evaluate import evaluate, single
from interlock.spec.fields import first_line, text_of
from interlock.spec.model import Taken, Window
from interlock.spec.nodes import Node, Scalar
from interlock.spec.quantities import Quantity, Range, show_amount, show_quantity, show_range, show_time, to_step
from interlock.spec.scopes import Scope
from interlock.spec.units import COUNT, ENERGY, POWER, RATE, TIME, Dimension
from interlock.spec.worked_out import inputs_of, text_on_a_line, used_in

TICK_S = Fraction(1, 1000)
"""The step to which a computed time is rounded where it is used."""


PER_H = 3600
"""Rates per hour for one per second."""


class End(Enum):
    """Which end of a tolerance is the worse one."""

    LOWER = "lower"
    UPPER = "upper"


def end_of(quantity: Quantity, end: End) -> Fraction:
    """One end of a quantity; of a computed time, rounded away from the middle to a whole tick."""
    value = quantity.low if end is End.LOWER else quantity.high
    if quantity.computed and quantity.measures == TIME:
        return to_step(value, TICK_S, up=end is End.UPPER)
    return value


def quantity_of(
    node: Node | None, what: str, measures: Dimension, scope: Scope, book: Book, worse: End
) -> tuple[Fraction, Span] | None:
    """The value that a node says, in base units, at its worse end, and its place."""
    scalar = text_of(book.bag, node, what)
    term = None if scalar is None else book.term(scalar, Start.WINDOW)
    quantity = None if term is None else single(term, scope, book)
    if scalar is None or quantity is None or not _measures(quantity, measures, what, book):
        return None
    if quantity.low < 0:
        cure = "it must be zero or more: look at the parameters it is computed from"
        book.bag.add("negative-quantity", f"{what} is negative", quantity.span, show_quantity(quantity), cure)
        return None
    value = end_of(quantity, worse)
    if quantity.low != quantity.high or quantity.computed:
        rounded = value not in (quantity.low, quantity.high)
        _note(book, scalar, what, scope, show_quantity(quantity), show_amount(value, measures), rounded)
    return value, quantity.span


_EXAMPLES = {TIME: "500 ms", RATE: "1e-9 /h", COUNT: "2", POWER: "1.5 MW", ENERGY: "60 kWh"}


def _measures(value: Quantity, measures: Dimension, what: str, book: Book) -> bool:
    if value.measures == measures:
        return True
    example = _EXAMPLES.get(measures, "")
    if value.measures == COUNT:
        number = show_quantity(value)
        cure = f"write `{number} s`, `{number} ms` or `{number} min`" if measures == TIME else f"as in `{example}`"
        book.bag.add("bare-number", f"{what} needs a unit", value.span, "a bare number", cure)
    else:
        told = f"{what} must be {measures}, not {value.measures}"
        book.bag.add("wrong-dimension", told, value.span, str(value.measures), f"as in `{example}`")
    return False


def window_of(node: Node | None, what: str, scope: Scope, book: Book, *, inward: bool = False) -> Window | None:
    """The window of times that a node says; one quantity is a window of that length only.

    Outward: every time that its tolerances allow lies in it. `inward`, for what must be true: only times that they
    leave in it in any case.
    """
    scalar = text_of(book.bag, node, what)
    term = None if scalar is None else book.term(scalar, Start.WINDOW)
    if scalar is None or term is None:
        return None
    value = evaluate(term, scope, book)
    written = value if isinstance(value, Range) else None
    if isinstance(value, Quantity):
        value = Range(value, value, False, False, value.span)
    if value is None or not _measures(value.earliest, TIME, what, book):
        return None
    first, last = (End.UPPER, End.LOWER) if inward else (End.LOWER, End.UPPER)
    window = Window(
        end_of(value.earliest, first),
        None if value.latest is None else end_of(value.latest, last),
        value.earliest_open,
        value.latest_open,
        first_line(scalar),
    )
    if not possible(window, what, value.span, book, inward=inward):
        return None
    sides = [side for side in (value.earliest, value.latest) if side is not None]
    ends = (window.earliest_s, window.latest_s)
    if any(side.low != side.high or side.computed for side in sides):
        worked_out = show_quantity(value.earliest) if written is None else _sides(written)
        rounded = any(end is not None and all(end not in (side.low, side.high) for side in sides) for end in ends)
        _note(book, scalar, what, scope, worked_out, show_window(window), rounded)
    return window


def _sides(value: Range) -> str:
    """A window as worked out, each side with its tolerance."""
    if value.latest is None or value.earliest.low == value.earliest.high:
        return show_range(value)
    return f"from {show_quantity(value.earliest)} to {show_quantity(value.latest)}"


def show_window(window: Window) -> str:
    """A window as people write it."""
    over, under = "over " if window.earliest_open else "", "under " if window.latest_open else ""
    latest = "never" if window.latest_s is None else f"{under}{show_time(window.latest_s)}"
    return f"{over}{show_time(window.earliest_s)} .. {latest}"


def _note(book: Book, scalar: Scalar, what: str, scope: Scope, worked_out: str, taken: str, rounded: bool) -> None:
    where = f"{what} ({scope.prefix})" if scope.prefix else what
    term = book.term(scalar, Start.WINDOW)
    assert term is not None
    inputs, used = inputs_of(term, scope, book), used_in(term, scope, book)
    book.taken.append(
        Taken(where, text_on_a_line(scalar), worked_out, taken, rounded, inputs, used, first_line(scalar))
    )


def possible(window: Window, what: str, span: Span, book: Book, *, inward: bool = False) -> bool:
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
        cure = f"write the earlier time first: `{latest} .. {earliest}`"
        if inward:
            cure += "; what must be true takes the stricter end of each tolerance"
        book.bag.add(
            "impossible-window",
            f"{what} ends before it begins: {earliest} is later than {latest}",
            span,
            "no time lies in it",
            cure,
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
