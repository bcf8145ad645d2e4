"""Readings and links: what logic can see, and what one piece of logic tells another."""

from __future__ import annotations

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.logic.formula import TRUE, Formula, Ref, Value
from interlock.spec.book import Book, SignalSource
from interlock.spec.equipment import declare
from interlock.spec.fields import (
    Fields,
    count_of,
    entries_of,
    fields,
    first_line,
    named_entries,
    peek,
    text_of,
    words_of,
)
from interlock.spec.lookup import shown_by, values_of
from interlock.spec.model import Link, Signal, Window
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.scopes import Declared, Scope, Sort
from interlock.spec.states import named, state_of
from interlock.spec.uses import CARRYING, SHOWN
from interlock.spec.windows import window_of

_LINK_KEYS = ("from", "to", "late", "in_flight", "watchdog", "when_lost", "words")

IN_FLIGHT = 2
MAX_IN_FLIGHT = 10


def declare_signals(scope: Scope, book: Book) -> None:
    """Make the readings, links and link values of a scope known."""
    for key, node in named_entries(book.bag, scope.sections.get("readings"), "`readings`", "a reading"):
        id = scope.id(key.text)
        shows = peek(node, "shows")
        written = isinstance(shows, Scalar) and not shows.empty
        declare(Declared(Sort.READING, id, key.span, None, not written), book)
        if isinstance(shows, Scalar) and written:
            book.sources.setdefault(id, SignalSource(shows, scope, SHOWN))
    for key, node in named_entries(book.bag, scope.sections.get("links"), "`links`", "a link"):
        id = scope.id(key.text)
        known = ("carries", *_LINK_KEYS)
        strange = isinstance(node, Mapping) and any(name.text not in known for name, _ in node.entries)
        watched = strange or peek(node, "watchdog") is not None
        declare(Declared(Sort.LINK, id, key.span, ("up", "lost") if watched else ("up",)), book)
        for name, value in named_entries(book.bag, peek(node, "carries"), f"`carries` of `{id}`", "a value"):
            shows = value if isinstance(value, Scalar) else peek(value, "shows")
            written = isinstance(shows, Scalar) and not shows.empty
            declare(Declared(Sort.CARRIED, f"{id} {name.text}", name.span, None, not written), book)
            if isinstance(shows, Scalar) and written:
                book.sources.setdefault(f"{id} {name.text}", SignalSource(shows, scope, CARRYING))


def define_readings(scope: Scope, book: Book) -> list[Signal]:
    """The readings of a scope."""
    signals: list[Signal] = []
    for key, node in named_entries(book.bag, scope.sections.get("readings"), "`readings`", "a reading"):
        what = f"reading `{key.text}`"
        if isinstance(node, Scalar) and not node.empty:
            book.bag.add(
                "wrong-type",
                f"{what} must be a mapping of keys, not a single text",
                first_line(node),
                "a single text",
                f"write `{key.text}: {{shows: {node.text}}}`",
            )
            continue
        found = fields(
            book.bag, node, what, key.span, required=("shows",), optional=("late", "steady", "in_flight", "words")
        )
        declared = book.names.one(scope.id(key.text), ("",), (Sort.READING,))
        if found is None or declared is None:
            continue
        text_of(book.bag, found["shows"], f"`shows` of {what}")
        late = window_of(found["late"], f"`late` of {what}", scope, book)
        steady = window_of(found["steady"], f"`steady` of {what}", scope, book)
        in_flight = _in_flight(found, "late" in found, IN_FLIGHT, what, book)
        signals.append(_signal(declared, steady, late, in_flight, found, what, book))
    return signals


def _in_flight(found: Fields, late: bool, default: int, what: str, book: Book) -> int:
    if "in_flight" not in found:
        return default
    if not late:
        book.bag.add(
            "in-flight-without-late",
            f"{what} is not late, so nothing of it is in flight",
            found.key("in_flight"),
            "says nothing here",
            "take it away, or say how late it is: `late: 10 ms .. 50 ms`",
        )
    return count_of(book.bag, found["in_flight"], f"`in_flight` of {what}", 1, MAX_IN_FLIGHT) or default


def _signal(
    declared: Declared, steady: Window | None, late: Window | None, in_flight: int, found: Fields, what: str, book: Book
) -> Signal:
    shown: Formula | Ref | None = shown_by(book, declared.id)
    values = values_of(book, declared)
    words = words_of(book.bag, found["words"], f"`words` of {what}")
    return Signal(
        declared.id,
        values or (False, True),
        TRUE if shown is None else shown,
        steady,
        late,
        in_flight,
        words,
        declared.span,
    )


def define_links(scope: Scope, book: Book) -> list[Link]:
    """The links of a scope."""
    links = (
        _link(key, node, scope, book)
        for key, node in named_entries(book.bag, scope.sections.get("links"), "`links`", "a link")
    )
    return [link for link in links if link is not None]


def _link(key: Scalar, node: Node, scope: Scope, book: Book) -> Link | None:
    what = f"link `{key.text}`"
    found = fields(book.bag, node, what, key.span, required=("carries",), optional=_LINK_KEYS)
    if found is None:
        return None
    id = scope.id(key.text)
    late = window_of(found["late"], f"`late` of {what}", scope, book)
    in_flight = _in_flight(found, _any_late(found), IN_FLIGHT, what, book)
    carries: list[Signal] = []
    for name, value in named_entries(book.bag, found["carries"], f"`carries` of {what}", "a value"):
        declared = book.names.one(f"{id} {name.text}", ("",), (Sort.CARRIED,))
        if declared is not None:
            carries.append(_carried(declared, name, value, late, in_flight, scope, book))
    if not carries and isinstance(found["carries"], Mapping) and not found["carries"].entries:
        book.bag.add("missing-key", f"{what} carries nothing", found.key("carries"), "empty", "name what it carries")
    watchdog = window_of(found["watchdog"], f"`watchdog` of {what}", scope, book)
    return Link(
        id,
        _end(found, "from", what, scope, book),
        _end(found, "to", what, scope, book),
        tuple(carries),
        watchdog,
        _when_lost(found, id, what, book),
        words_of(book.bag, found["words"], f"`words` of {what}"),
        key.span,
    )


def _any_late(found: Fields) -> bool:
    if "late" in found:
        return True
    carries = found["carries"]
    return isinstance(carries, Mapping) and any(peek(value, "late") is not None for _, value in carries.entries)


def _end(found: Fields, key: str, what: str, scope: Scope, book: Book) -> str | None:
    scalar = text_of(book.bag, found[key], f"`{key}` of {what}")
    if scalar is None:
        return None
    declared = named(scalar.text, scalar.span, Sort.SEQUENCE, scope, book)
    return None if declared is None else declared.id


def _carried(
    declared: Declared, key: Scalar, node: Node, late: Window | None, in_flight: int, scope: Scope, book: Book
) -> Signal:
    what = f"link value `{declared.id}`"
    if isinstance(node, Scalar):
        text_of(book.bag, node, f"what {what} shows")
        return _signal(declared, None, late, in_flight, Fields({}, key.span, what), what, book)
    found = fields(
        book.bag, node, what, key.span, required=("shows",), optional=("late", "in_flight", "words")
    ) or Fields({}, key.span, what)
    own = window_of(found["late"], f"`late` of {what}", scope, book) if "late" in found else late
    number = _in_flight(found, "late" in found or late is not None, in_flight, what, book)
    return _signal(declared, None, own, number, found, what, book)


def _when_lost(found: Fields, id: str, what: str, book: Book) -> tuple[tuple[str, Value], ...]:
    bag = book.bag
    carries = found["carries"]
    if found.strange or not isinstance(carries, Mapping) or not carries.entries:
        return ()
    if ("watchdog" in found) != ("when_lost" in found):
        has, lacks = ("watchdog", "when_lost") if "watchdog" in found else ("when_lost", "watchdog")
        bag.add(
            "watchdog-and-when-lost",
            f"{what} has `{has}` but not `{lacks}`",
            found.key(has),
            "only one of the two",
            "say what each value is taken for: `when_lost: {ready: false}`"
            if lacks == "when_lost"
            else "say after how long without news it is lost: `watchdog: 900 ms .. 1 s`",
        )
        return ()
    carried = {
        name.text: book.names.one(f"{id} {name.text}", ("",), (Sort.CARRIED,))
        for name, _ in named_entries(bag, found["carries"], f"`carries` of {what}", "a value")
    }
    taken: dict[str, Value] = {}
    for key, node in entries_of(bag, found["when_lost"], f"`when_lost` of {what}"):
        if key.text not in carried:
            guess = near(key.text, carried)
            bag.add(
                "unknown-link-value",
                f"{what} carries no `{key.text}`",
                key.span,
                "not carried",
                f"did you mean `{guess}`?" if guess else "it carries " + ", ".join(f"`{name}`" for name in carried),
            )
            if guess:
                taken.setdefault(guess, "")
            continue
        scalar = text_of(bag, node, f"`when_lost` of `{id} {key.text}`")
        value = state_of(scalar, carried[key.text], book)
        taken[key.text] = "" if value is None else value
    missing = [name for name in carried if name not in taken]
    if missing and "when_lost" in found:
        bag.add(
            "missing-key",
            f"{what} does not say what " + " and ".join(f"`{name}`" for name in missing) + " is taken for once lost",
            found.key("when_lost"),
            "not complete",
            f"add `{missing[0]}: false`" if _truth(carried[missing[0]], book) else f"add `{missing[0]}: ...`",
            also=(Mark(found.key("carries"), "carried"),),
        )
    return tuple((f"{id} {name}", taken[name]) for name in carried if name in taken)


def _truth(declared: Declared | None, book: Book) -> bool:
    return declared is not None and values_of(book, declared) == (False, True)
