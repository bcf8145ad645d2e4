"""Failures: modes with their effects, triggers and rates; common causes."""

from __future__ import annotations

from fractions import Fraction

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.formula import TRUE, Formula
from interlock.spec.book import Book, nearby
from interlock.spec.effects import Target, effects_of
from interlock.spec.equipment import declare
from interlock.spec.fields import Fields, choice_of, fields, named_entries, peek, text_of, texts_of, words_of
from interlock.spec.model import Failure, Trigger
from interlock.spec.moves import move_named
from interlock.spec.nodes import Node, Scalar
from interlock.spec.resolve import Resolver
from interlock.spec.scopes import BOOLEAN, Declared, Scope, Sort
from interlock.spec.states import named
from interlock.spec.telling import command_id
from interlock.spec.units import COUNT, RATE, TIME
from interlock.spec.uses import FAILING
from interlock.spec.windows import PER_H, End, quantity_of

_STATED = ("rate", "probability", "source", "found", "words")
_MODE_KEYS = ("upon", "only_while", "repair", *_STATED)
_TARGETS = (Sort.ITEM, Sort.READING, Sort.LINK, Sort.SEQUENCE)


def declare_failures(scope: Scope, book: Book) -> None:
    """Make the failures of a scope known. A common cause is no name in expressions: it is not itself present."""
    for key, node in named_entries(book.bag, scope.sections.get("failures"), "`failures`", "a failure"):
        id = scope.id(key.text)
        common = peek(node, "common_cause") is not None
        declare(Declared(Sort.COMMON_CAUSE if common else Sort.FAILURE, id, key.span, BOOLEAN), book)
        if peek(node, "upon") is not None:
            book.triggered[id] = key.span


def define_failures(scope: Scope, book: Book) -> list[Failure]:
    """The failures of a scope."""
    failures = (
        _failure(key, node, scope, book)
        for key, node in named_entries(book.bag, scope.sections.get("failures"), "`failures`", "a failure")
    )
    return [failure for failure in failures if failure is not None]


def _failure(key: Scalar, node: Node, scope: Scope, book: Book) -> Failure | None:
    bag, what = book.bag, f"failure `{key.text}`"
    if peek(node, "common_cause") is not None:
        found = fields(bag, node, what, key.span, required=("common_cause",), optional=_STATED)
        if found is None:
            return None
        return _stated(key, found, scope, book, members=_members(found, what, scope, book))
    found = fields(bag, node, what, key.span, required=("of", "effect"), optional=_MODE_KEYS)
    if found is None:
        return None
    target = target_of(text_of(bag, found["of"], f"`of` of {what}"), scope, book)
    only_while = _while(found["only_while"], f"`only_while` of {what}", scope, book)
    trigger = _trigger(found, what, scope, book)
    effect = found["effect"]
    effects = effects_of(effect, found.key("effect"), target, what, scope, book) if effect is not None else ()
    failure = _stated(key, found, scope, book)
    repair = choice_of(bag, found["repair"], f"`repair` of {what}", ("never", "any time"), "never")
    return Failure(
        failure.id, effects, (), trigger, only_while, failure.rate_per_h, failure.probability, failure.source,
        failure.found_by, failure.found_within_s, repair == "any time", failure.words, failure.span,
    )  # fmt: skip


def _while(node: Node | None, what: str, scope: Scope, book: Book) -> Formula:
    return TRUE if node is None else Resolver(book, scope, FAILING).read(text_of(book.bag, node, what))


def _stated(key: Scalar, found: Fields, scope: Scope, book: Book, members: tuple[str, ...] = ()) -> Failure:
    bag, what = book.bag, f"failure `{key.text}`"
    if "rate" in found and "probability" in found:
        bag.add(
            "rate-and-probability",
            f"{what} has both a rate and a probability",
            found.key("probability"),
            "one too many",
            "keep `rate` for what happens in time, `probability` for what happens each time it is asked to work",
            also=(Mark(found.key("rate"), "the rate"),),
        )
    rate = quantity_of(found["rate"], f"`rate` of {what}", RATE, scope, book, End.UPPER)
    probability = quantity_of(found["probability"], f"`probability` of {what}", COUNT, scope, book, End.UPPER)
    if probability is not None and probability[0] > 1:
        bag.add("number-out-of-range", f"`probability` of {what} is more than 1", probability[1], "out of range")
    found_by, within = "", None
    if (node := found["found"]) is not None:
        entry = fields(bag, node, f"`found` of {what}", found.key("found"), required=("by",), optional=("within",))
        if entry is not None:
            found_by = words_of(bag, entry["by"], f"`by` of {what}")
            within = quantity_of(entry["within"], f"`within` of {what}", TIME, scope, book, End.UPPER)
    return Failure(
        scope.id(key.text), (), members, None, TRUE, _value(rate, PER_H), _value(probability),
        words_of(bag, found["source"], f"`source` of {what}"), found_by, _value(within), False,
        words_of(bag, found["words"], f"`words` of {what}"), key.span,
    )  # fmt: skip


def _value(quantity: tuple[Fraction, Span] | None, size: int = 1) -> Fraction | None:
    return None if quantity is None else quantity[0] * size


def _members(found: Fields, what: str, scope: Scope, book: Book) -> tuple[str, ...]:
    members: dict[str, Span] = {}
    for scalar in texts_of(book.bag, found["common_cause"], f"`common_cause` of {what}", some=True):
        name = " ".join(scalar.text.split())
        declared = named(name, scalar.span, Sort.FAILURE, scope, book)
        if declared is None:
            continue
        if declared.id in book.triggered:
            book.bag.add(
                "triggered-member",
                f"`{name}` happens only upon a move, so it cannot be part of a common cause",
                scalar.span,
                "happens only upon a move",
                "name failures that happen by themselves",
                also=(Mark(declared.span, "has `upon`"),),
            )
        elif declared.id in members:
            book.bag.add(
                "duplicate-name",
                f"{what} names `{name}` twice",
                scalar.span,
                "again",
                "take one away",
                also=(Mark(members[declared.id], "named first"),),
            )
        else:
            members[declared.id] = scalar.span
    return tuple(members)


def target_of(scalar: Scalar | None, scope: Scope, book: Book) -> Target | None:
    """What a failure is of: a command (`command NAME`), or an item, reading, link or sequence by name."""
    if scalar is None:
        return None
    words = scalar.text.split()
    if words[0] == "command" and len(words) > 1:
        id = command_id(book, scope, " ".join(words[1:]), scalar.span)
        return None if id is None else Target(None, id, scalar)
    name = " ".join(words)
    declared = book.names.one(name, scope.prefixes(), _TARGETS)
    if declared is not None:
        return Target(declared, declared.id, scalar)
    others = book.names.find(name, scope.prefixes())
    driven = any((f"{prefix} {name}" if prefix else name) in book.names.driven for prefix in scope.prefixes())
    if others or driven:
        sort = "command" if driven else others[0].sort.value
        cure = f"write `of: command {name}`" if driven else "name an item, reading, link, command or sequence"
        if others and others[0].sort is Sort.CARRIED:
            cure = f"name the link: `of: {others[0].id.rsplit(' ', 1)[0]}`"
        book.bag.add(
            "wrong-target", f"`{name}` is a {sort}; it does not fail by itself", scalar.span, f"a {sort}", cure
        )
        return None
    everything = [one for entries in book.names.declared.values() for one in entries if one.sort in _TARGETS]
    known = nearby(everything, scope.prefixes())
    guess = near(name, known)
    book.unknown(
        "unknown-target", name, f"nothing that can fail is called `{name}`", scalar.span,
        {guess: known[guess]} if guess else {},
    )  # fmt: skip
    return None


def _trigger(found: Fields, what: str, scope: Scope, book: Book) -> Trigger | None:
    node = found["upon"]
    if node is None:
        return None
    entry = fields(book.bag, node, f"`upon` of {what}", found.key("upon"), required=("move",), optional=("while",))
    if entry is None:
        return None
    move = move_named(text_of(book.bag, entry["move"], f"`move` of {what}"), scope, book)
    condition = _while(entry["while"], f"`while` of {what}", scope, book)
    return None if move is None else Trigger(move[0], move[1], condition)
