"""Evaluating quantities and windows: terms to exact bounds, with parameters looked up and dimensions checked.

In: a term and the scope it is read in. Out: a quantity (with its tolerance) or a window; None after a mistake, told.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.parse import Start
from interlock.logic.term import Apply, Between, Call, Divisor, Name, Nothing, Number, Signed, Term, Tolerance
from interlock.spec.book import Book
from interlock.spec.fields import text_of
from interlock.spec.functions import FUNCTIONS, Function, Impossible
from interlock.spec.intervals import about, over, plus, times
from interlock.spec.nodes import Node
from interlock.spec.quantities import Quantity, Range, point, show_quantity, show_range
from interlock.spec.scopes import Scope
from interlock.spec.units import COUNT, UNITS, meant, unit_of

MAX_BITS = 200
"""How long the numerator and the denominator of a number may be."""

MAX_NESTED = 50
"""How many parameters (or conditions) may be defined through one another in a chain."""


def evaluate(term: Term, scope: Scope, book: Book) -> Quantity | Range | None:
    """The value of a term; None after a mistake, which is told."""
    if isinstance(term, Number):
        return _number(term, scope, book)
    if isinstance(term, Name):
        return _parameter(term, scope, book)
    if isinstance(term, Between):
        return _between(term, scope, book)
    if isinstance(term, Tolerance):
        return _tolerance(term, scope, book)
    if isinstance(term, Call):
        return _call(term, scope, book)
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


def _number(term: Number, scope: Scope, book: Book) -> Quantity | None:
    if term.unit is None:
        return point(term.value, COUNT, term.span)
    known = unit_of(term.unit)
    if known is None:
        guess = meant(term.unit)
        under = term.unit.rpartition("/")[2]
        if not guess and under != term.unit and any(under in place.parameters for place in scope.chain()):
            cure = f"to divide by the parameter `{under}`, leave blanks round the `/`"
        else:
            cure = f"write `{guess}`" if guess else "the units: " + " ".join(UNITS)
        told = f"`{term.unit}` is not a unit"
        book.unknown("unknown-unit", term.unit, told, term.unit_span or term.span, helps=(cure,), words="not a unit")
        return None
    return point(term.value * known[1], known[0], term.span)


def _parameter(term: Name, scope: Scope, book: Book) -> Quantity | Range | None:
    name = str(term)
    for place in scope.chain():
        if name in place.parameters:
            node, home, span = place.parameters[name]
            value = parameter_value(name, node, home, span, place, book)
            if isinstance(value, Quantity):
                return Quantity(value.low, value.high, value.measures, term.span, value.computed)
            if isinstance(value, Range):
                return Range(value.earliest, value.latest, value.earliest_open, value.latest_open, term.span)
            return None
    if name in book.broken_parameters:
        return None
    known: dict[str, Span | None] = {
        name: span for place in scope.chain() for name, (_, _, span) in place.parameters.items()
    }
    helps: tuple[str, ...] = ()
    if unit_of(name) is not None and near(name, known) is None:
        helps = (f"a unit stands behind a number, and one over another without blanks: `200 A/{name}`, `2e-7 /{name}`",)
    book.unknown("unknown-parameter", name, f"no parameter is called `{name}`", term.span, known, helps)
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


def plain(term: Term) -> bool:
    """Whether a term says its value itself: a number, a name, or a window of these."""
    if isinstance(term, Between):
        return plain(term.lower) and (term.upper is None or plain(term.upper))
    return isinstance(term, Number | Name)


# --- windows and single quantities ---


def single(term: Term, scope: Scope, book: Book) -> Quantity | None:
    """The value of a term where one quantity belongs: a tolerance is welcome, a window is not (told)."""
    value = evaluate(term, scope, book)
    if isinstance(value, Range):
        _no_window(term, value, book)
        return None
    return value


def _no_window(term: Term, value: Range, book: Book) -> None:
    told = f"parameter `{term}`" if isinstance(term, Name) else "this"
    latest = value.latest or value.earliest
    book.bag.add(
        "wrong-window",
        f"{told} is a window, and one quantity belongs here",
        term.span,
        "a window",
        f"write a single quantity, such as `{show_quantity(point(latest.high, latest.measures, term.span))}`",
    )


def amount_of(term: Term, scope: Scope, book: Book) -> Quantity | None:
    """The value of a term that is computed with; of a window, all that lies in it."""
    value = evaluate(term, scope, book)
    if not isinstance(value, Range):
        return value
    if value.latest is None or value.earliest_open or value.latest_open:
        book.bag.add(
            "wrong-window",
            f"nothing can be computed from the window `{show_range(value)}`",
            term.span,
            "an end is open or missing",
            "give it two ends without `over`, `under` and `never`",
        )
        return None
    if value.latest.high < value.earliest.low:
        book.bag.add(
            "impossible-window",
            f"the window `{show_range(value)}` ends before it begins",
            term.span,
            "nothing lies in it",
            "write the lesser side first",
        )
        return None
    computed = value.earliest.computed or value.latest.computed
    return Quantity(value.earliest.low, value.latest.high, value.earliest.measures, value.span, computed)


def _between(term: Between, scope: Scope, book: Book) -> Range | None:
    earliest = single(term.lower, scope, book)
    latest = None if term.upper is None else single(term.upper, scope, book)
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
            f"`{show_quantity(bare)}` has no unit beside {told.measures}",
            bare.span,
            "no unit",
            f"write its unit, as in `{show_quantity(told)}`",
        )
        return
    book.bag.add(
        "wrong-dimension",
        f"{what} are {one.measures} and {other.measures}",
        span,
        "do not go together",
        "only what measures the same goes together: look at the units of both",
        also=(Mark(one.span, str(one.measures)), Mark(other.span, str(other.measures))),
    )


# --- computing ---


def _tolerance(term: Tolerance, scope: Scope, book: Book) -> Quantity | None:
    middle, by = amount_of(term.middle, scope, book), amount_of(term.by, scope, book)
    if middle is None or by is None:
        return None
    if by.measures not in (COUNT, middle.measures):
        _differ(middle, by, term.span, "a value and its tolerance", book)
        return None
    if by.low < 0:
        book.bag.add(
            "negative-quantity", "a tolerance is negative", by.span, show_quantity(by), "write `+-` and how much"
        )
        return None
    share = about(middle, by, term.span, share=True) if by.measures == COUNT else None
    amount = about(middle, by, term.span, share=False) if by.measures == middle.measures else None
    if share is not None and amount is not None and isinstance(term.by, Number):
        share, amount = (share, None) if term.by.unit == "%" else (None, amount)
    both = [one for one in (share, amount) if one is not None]
    # What `count +- tolerance` means, where both are plain numbers and the second is not written here, is not known:
    # then everything that either may mean.
    wide = Quantity(
        min(one.low for one in both), max(one.high for one in both), middle.measures, term.span, both[0].computed
    )
    return of_this_world(wide, book)


def _sum(term: Apply, scope: Scope, book: Book) -> Quantity | None:
    total: Quantity | None = None
    failed = False
    for operand in term.operands:
        assert isinstance(operand, Signed)
        value = amount_of(operand.term, scope, book)
        if value is None:
            failed = True
        elif total is None:
            total = value
        elif value.measures != total.measures:
            _differ(total, value, term.span, "the parts of a sum", book)
            failed = True
        else:
            total = plus(total, value, term.span, minus=operand.minus)
    return None if failed or total is None else of_this_world(total, book)


def _product(term: Apply, scope: Scope, book: Book) -> Quantity | None:
    total = point(Fraction(1), COUNT, term.span)
    for operand in term.operands:
        factor = operand.term if isinstance(operand, Divisor) else operand
        value = amount_of(factor, scope, book)
        if value is None:
            return None
        product = over(total, value, term.span) if isinstance(operand, Divisor) else times(total, value, term.span)
        if product is None:
            surely = value.low == value.high
            book.bag.add(
                "division-by-zero",
                "a quantity is divided by zero" if surely else "a quantity is divided by what may be zero",
                value.span,
                show_quantity(value),
                "divide by what cannot be zero" + ("" if surely else ": look at its tolerance"),
            )
            return None
        total = product
        if of_this_world(total, book) is None:
            return None
    return total


def _call(term: Call, scope: Scope, book: Book) -> Quantity | None:
    name = str(term.function)
    function = FUNCTIONS.get(name)
    if function is None:
        guess = near(name, FUNCTIONS)
        cure = f"did you mean `{FUNCTIONS[guess].form}`?" if guess else "the functions: " + ", ".join(FUNCTIONS)
        told = f"no function is called `{name}`"
        book.unknown("unknown-function", name, told, term.function.span, helps=(cure,), words="not a function")
        return None
    n, wanted = len(term.arguments), len(function.takes)
    if n < wanted or (n > wanted and not function.more):
        some = f"at least {wanted}" if function.more else str(wanted)
        book.bag.add(
            "wrong-arguments",
            f"`{name}` takes {some} {'value' if some == '1' else 'values'}, not {n}",
            term.span,
            f"{n} given",
            f"as in `{function.form}`",
        )
        return None
    values = [amount_of(argument, scope, book) for argument in term.arguments]
    arguments = [value for value in values if value is not None]
    if len(arguments) < n or not _fit(function, arguments, book):
        return None
    try:
        return of_this_world(function.compute(arguments, term.span), book)
    except Impossible as found:
        argument = arguments[found.argument]
        book.bag.add("impossible-argument", found.headline, argument.span, show_quantity(argument), found.cure)
        return None


def _fit(function: Function, arguments: list[Quantity], book: Book) -> bool:
    """Whether every argument measures what the function asks for; the first that does not is told."""
    for i, argument in enumerate(arguments):
        name, wanted = function.takes[min(i, len(function.takes) - 1)]
        if wanted is None:
            if argument.measures != arguments[0].measures:
                _differ(arguments[0], argument, argument.span, f"values of `{function.name}`", book)
                return False
        elif argument.measures == COUNT:
            told = f"`{show_quantity(argument)}` has no unit"
            book.bag.add("bare-number", told, argument.span, "no unit", f"`{name}` is {wanted} in `{function.form}`")
            return False
        elif argument.measures != wanted:
            book.bag.add(
                "wrong-dimension",
                f"`{name}` of `{function.name}` must be {wanted}, not {argument.measures}",
                argument.span,
                str(argument.measures),
                f"it is written `{function.form}`",
            )
            return False
    return True


def of_this_world(quantity: Quantity, book: Book) -> Quantity | None:
    """The quantity, unless its number is longer than any that is measured (told)."""
    ends = (quantity.low, quantity.high)
    if max(max(end.numerator.bit_length(), end.denominator.bit_length()) for end in ends) <= MAX_BITS:
        return quantity
    book.bag.add(
        "number-out-of-range",
        "no quantity of this world has such a number",
        quantity.span,
        "too long",
        "look at the parameters it is computed from",
    )
    return None
