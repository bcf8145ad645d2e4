"""Looking up: what a name stands for where it is written, and whether it may be spoken of there.

Domains of readings and link values, and what conditions speak of, are found on demand and kept in the book; so names
may be used before they are defined, and circles are noticed.
"""

from __future__ import annotations

from collections.abc import Mapping

from interlock.diag.diagnostic import Mark
from interlock.diag.place import Span
from interlock.logic.formula import TRUE, Condition, Formula, Ref, Thing, Value, operands_of, refs_of
from interlock.logic.term import Name
from interlock.spec.book import Book, Footprint
from interlock.spec.evaluate import MAX_NESTED, parameter_value
from interlock.spec.nodes import Scalar
from interlock.spec.quantities import Quantity
from interlock.spec.scopes import BOOLEAN, Declared, Scope, Sort
from interlock.spec.telling import tell_unknown
from interlock.spec.uses import Use, plural


class Lookup:
    """The names that can be seen from one place: a scope, perhaps a sequence in it, under a use.

    `things`, `event`: what was spoken of so far.
    """

    def __init__(self, book: Book, scope: Scope, use: Use, sequence: str | None = None) -> None:
        self.book = book
        self.scope = scope
        self.use = use
        self.prefixes = scope.prefixes() if sequence is None else (sequence, *scope.prefixes())
        self.things: dict[Thing, tuple[str, Span]] = {}
        self.event: Span | None = None
        self.depth = 0

    def _find(self, name: Name, *, quiet: bool = False, no_step: bool = False) -> Declared | None:
        """What a name stands for; told if nothing or several things. `no_step`: a step is not meant if something else
        is."""
        found = self.book.names.find(str(name), self.prefixes)
        if no_step and len(found) > 1:
            found = [one for one in found if one.sort is not Sort.STEP] or found
        if not found:
            if not quiet:
                tell_unknown(self.book, self.prefixes, name)
            return None
        if len(found) > 1:
            ids = [
                f"`{one.ref.id} is {one.step}`" if one.sort is Sort.STEP else f"the {one.sort.value} `{one.id}`"
                for one in found
            ]
            if not quiet:
                cure = "give one of them another name, or write a step with its sequence: `SEQUENCE is STEP`"
                if all(one.sort is Sort.STEP for one in found):
                    cure = "say which: write " + " or ".join(ids)
                self.book.unknown(
                    "ambiguous-name",
                    str(name),
                    f"`{name}` can mean several things: " + " or ".join(ids),
                    name.span,
                    helps=(cure,),
                    words="which one?",
                    also=tuple(Mark(one.span, f"the {one.sort.value}") for one in found),
                )
            return None
        if found[0].sort is Sort.COMMON_CAUSE and not found[0].broken:
            if not quiet:
                self._not_boolean(
                    name.span,
                    f"`{name}` is a common cause, which is not itself present or absent",
                    "name the failures it causes",
                )
            return None
        if not found[0].broken:
            self._note(found[0], name)
        return found[0]

    def _note(self, declared: Declared, name: Name) -> None:
        if declared.sort is Sort.CONDITION:
            footprint = footprint_of(self.book, declared.id)
            self.depth = max(self.depth, footprint.depth)
            for thing, (example, place) in footprint.things.items():
                self._touch(thing, str(name), name.span, Mark(place, f"`{example}` here"))
            if footprint.event is not None:
                self.event = self.event or name.span
                if not self.use.events:
                    self.book.bag.add(
                        "event-not-here",
                        f"{self.use.where} cannot speak of an event, as condition `{name}` does",
                        name.span,
                        "only in rules and hazards",
                        also=(Mark(footprint.event, "the event"),),
                    )
        else:
            self._touch(declared.ref.thing, str(name), name.span, None)

    def _touch(self, thing: Thing, name: str, span: Span, through: Mark | None) -> None:
        self.things.setdefault(thing, (name, span))
        if thing in self.use.allowed:
            return
        also = () if through is None else (through,)
        via = "" if through is None else f", as condition `{name}` does"
        headline = f"{self.use.where} cannot speak of {plural(thing)}{via}"
        helps = [f"it may speak of {self.use.listed()}: {self.use.because}"]
        if thing is Thing.ITEM and Thing.READING in self.use.allowed:
            helps = [f"{self.use.because}: name one that shows it, or add one under `readings`"]
            readings = readings_of(self.book, self.book.names.find(name, self.prefixes)) if through is None else []
            if readings:
                listed = " and ".join(f"`{one.id}` at {one.span}" for one in readings[:3])
                helps = [f"{self.use.because}; it is shown by {listed}"]
        self.book.bag.add("not-seen-here", headline, span, "not allowed here", *helps, also=also)

    def _parameter(self, name: Name, span: Span, *, quiet: bool = False) -> int | None:
        """The whole number that a parameter stands for; None if it is none."""
        word = str(name)
        for scope in self.scope.chain():
            if word in scope.parameters:
                node, home, place = scope.parameters[word]
                value = parameter_value(word, node, home, place, scope, self.book)
                if isinstance(value, Quantity) and value.whole:
                    return int(value.value)
                if value is not None and not quiet:
                    self.book.bag.add(
                        "not-a-number",
                        f"parameter `{word}` is not a whole number",
                        span,
                        "not one",
                        "compare with a plain number",
                    )
                return 0 if quiet else None
        return None

    def _not_boolean(self, span: Span, headline: str, *helps: str) -> Formula:
        self.book.bag.add("not-true-or-false", headline, span, "not true or false", *helps)
        return TRUE


def values_of(book: Book, declared: Declared) -> tuple[Value, ...] | None:
    """The domain of a declared thing; readings and link values take it from what they show. None: not known, because of
    a mistake told elsewhere."""
    if declared.sort not in (Sort.READING, Sort.CARRIED):
        return declared.values
    shown = shown_by(book, declared.id)
    if shown is None:
        return None
    if isinstance(shown, Ref):
        owner = book.names.owners.get(shown)
        return None if owner is None else values_of(book, owner)
    return BOOLEAN


def readings_of(book: Book, things: list[Declared]) -> list[Declared]:
    """The readings that show one of these things."""
    ids = {one.id for one in things if one.sort is Sort.ITEM}
    found: list[Declared] = []
    for entries in list(book.names.declared.values()):
        for one in entries:
            shown = shown_by(book, one.id) if one.sort is Sort.READING else None
            if isinstance(shown, Ref):
                if shown.id in ids:
                    found.append(one)
            elif shown is not None and any(ref.id in ids for ref in refs_in(shown, book.conditions)):
                found.append(one)
    return found


def refs_in(formula: Formula, conditions: Mapping[str, Formula]) -> tuple[Ref, ...]:
    """The things a formula speaks of, each once, conditions opened."""
    found: dict[Ref, None] = {}
    opened: set[str] = set()
    stack: list[Formula] = [formula]
    while stack:
        node = stack.pop()
        if isinstance(node, Condition) and node.id not in opened:
            opened.add(node.id)
            stack.append(conditions.get(node.id, TRUE))
        found.update(dict.fromkeys(refs_of(node)))
        stack.extend(operands_of(node))
    return tuple(found)


def shown_by(book: Book, id: str) -> Formula | Ref | None:
    """What the reading or link value shows, resolved once."""
    if id not in book.shown:
        source = book.sources.get(id)
        book.shown[id] = None
        if source is not None:
            book.shown[id] = book.show(book, source)
    return book.shown[id]


def footprint_of(book: Book, id: str) -> Footprint:
    """What a condition speaks of; resolves the condition if that was not done yet. A circle is told."""
    if id in book.footprints:
        return book.footprints[id]
    nothing = Footprint({}, None)
    source = book.pending.get(id)
    if source is None:
        return nothing
    scalar, scope = source
    if id in book.opening:
        chain = [*book.opening[book.opening.index(id) :], id]
        book.bag.add(
            "circular-condition",
            f"condition `{id}` is defined through itself: " + " -> ".join(f"`{one}`" for one in chain),
            scalar.span,
            "part of a circle",
            "say one of them without the others",
        )
        return nothing
    if len(book.opening) >= MAX_NESTED:
        _too_deep(book, scalar)
        return nothing
    book.opening.append(id)
    try:
        book.conditions[id], found = book.read_condition(book, scalar, scope)
    finally:
        book.opening.pop()
    if found.depth > MAX_NESTED:
        _too_deep(book, scalar)
        found = nothing
    book.footprints[id] = found
    return found


def _too_deep(book: Book, scalar: Scalar) -> None:
    book.bag.add(
        "too-deep",
        f"more than {MAX_NESTED} conditions are defined through one another",
        scalar.span,
        "too deep",
        "say some of them without the others",
    )
