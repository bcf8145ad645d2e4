"""Equipment: items, their states and moves."""

from __future__ import annotations

import re

from interlock.diag.diagnostic import Mark
from interlock.diag.place import Span
from interlock.logic.formula import TRUE, Formula, Value
from interlock.spec.book import Book
from interlock.spec.domains import domain_of, show_value
from interlock.spec.fields import Fields, choice_of, entries_of, fields, named_entries, peek, text_of, words_of
from interlock.spec.model import Item, Move
from interlock.spec.nodes import Node, Scalar
from interlock.spec.resolve import Resolver
from interlock.spec.scopes import Declared, Scope, Sort
from interlock.spec.states import named, state_of, states_of
from interlock.spec.uses import MOVE
from interlock.spec.windows import window_of

_ITEM_KEYS = ("words", "start", "moves", "follows")
_MOVE_KEYS = ("words", "when", "takes", "also", "withdrawn")


def declare_items(scope: Scope, book: Book) -> None:
    """Make the items of a scope known, with their states."""
    for key, node in named_entries(book.bag, scope.sections.get("equipment"), "`equipment`", "an item"):
        values = domain_of(peek(node, "states"), f"item `{key.text}`", key.span, scope, book)
        declare(Declared(Sort.ITEM, scope.id(key.text), key.span, values, values is None), book)
        book.item_nodes.setdefault(scope.id(key.text), node)


def declare(one: Declared, book: Book) -> None:
    """Make a thing known; a second one of the same name is told."""
    others = [other for other in book.names.declared.get(one.id, ()) if other.sort is not Sort.STEP]
    if others:
        same(one.sort.value, one.id, one.span, others[0].sort.value, others[0].span, book)
        others[0].broken = True
        return
    book.names.add(one)


def same(sort: str, id: str, span: Span, other: str, place: Span, book: Book) -> None:
    """Tell that two things have one name."""
    article = "another" if other == sort else "the"
    book.bag.add(
        "duplicate-name",
        f"the {sort} `{id}` has the name of {article} {other}",
        span,
        "the name again",
        "every thing needs a name of its own: give one of them another",
        also=(Mark(place, f"the {other}"),),
    )


def define_items(scope: Scope, book: Book) -> list[Item]:
    """The items of a scope."""
    items = (
        _item(key, node, scope, book)
        for key, node in named_entries(book.bag, scope.sections.get("equipment"), "`equipment`", "an item")
    )
    return [item for item in items if item is not None]


def _item(key: Scalar, node: Node, scope: Scope, book: Book) -> Item | None:
    what = f"item `{key.text}`"
    found = fields(book.bag, node, what, key.span, required=("states",), optional=_ITEM_KEYS)
    declared = book.names.one(scope.id(key.text), ("",), (Sort.ITEM,))
    if found is None or declared is None:
        return None
    follows = None
    if "follows" in found:
        follows = Resolver(book, scope, MOVE).read(text_of(book.bag, found["follows"], f"`follows` of {what}"))
        _check_follows(found, declared, what, book)
    start = _start(found, declared, what, book)
    moves = tuple(
        move
        for name, entry in named_entries(book.bag, found["moves"], f"`moves` of {what}", "a move")
        if (move := _move(name, entry, declared, scope, book)) is not None
    )
    words = words_of(book.bag, found["words"], f"`words` of {what}")
    return Item(declared.id, declared.values or (), start, moves, follows, words, key.span)


def _check_follows(found: Fields, declared: Declared, what: str, book: Book) -> None:
    if "moves" in found:
        book.bag.add(
            "follows-and-moves",
            f"{what} follows an expression, so it has no moves of its own",
            found.key("moves"),
            "not beside `follows`",
            "take the moves away, or say in them what `follows` says",
            also=(Mark(found.key("follows"), "follows"),),
        )
    if declared.values is not None and len(declared.values) != 2:
        book.bag.add(
            "follows-two-states",
            f"{what} follows an expression, so it needs exactly two states, not {len(declared.values)}",
            found.key("states"),
            "the first while it does not hold, the second while it does",
            "as in `states: [dead, live]`",
        )


def _start(found: Fields, declared: Declared, what: str, book: Book) -> tuple[Value, ...]:
    node = found["start"]
    if node is None:
        if "follows" not in found and declared.values:
            book.bag.add(
                "missing-key",
                f"{what} does not say how it starts",
                found.at,
                "no `start`",
                f"add `start: {show_value(declared.values[0])}`, or several: `start: any of "
                f"[{', '.join(map(show_value, declared.values[:2]))}]`",
            )
        return (declared.values or ())[:1]
    return starts_of(node, f"`start` of {what}", declared, book)


def starts_of(node: Node, what: str, declared: Declared, book: Book) -> tuple[Value, ...]:
    """One state, `any of [A, B]`, or a list of states: each a possible start."""
    if isinstance(node, Scalar) and (several := re.fullmatch(r"any\s+of\s*\[([^\[\]]*)\]", node.text)):
        values: list[Value] = []
        for piece in re.finditer(r"[^,\s][^,]*?(?=\s*(?:,|$))", several.group(1)):
            span = node.written.part(several.start(1) + piece.start(), several.start(1) + piece.end())
            text = Scalar(type(node.written)(piece.group(), span), False)
            value = state_of(text, declared, book)
            if value is not None and value not in values:
                values.append(value)
        return tuple(values)
    return states_of(node, what, declared, book)


def _move(key: Scalar, node: Node, declared: Declared, scope: Scope, book: Book) -> Move | None:
    bag = book.bag
    what = f"move `{key.text}` of `{declared.id}`"
    found = fields(bag, node, what, key.span, required=("from", "to"), optional=_MOVE_KEYS)
    if found is None:
        return None
    sources = states_of(found["from"], f"`from` of {what}", declared, book)
    target_text = text_of(bag, found["to"], f"`to` of {what}")
    to = state_of(target_text, declared, book)
    if to is not None and to in sources and target_text is not None:
        bag.add(
            "move-to-itself",
            f"{what} leads from `{show_value(to)}` to `{show_value(to)}`",
            target_text.span,
            "also among `from`",
            "take the state out of `from`, or write another `to`",
            also=(Mark(found.key("from"), "from here"),),
        )
    when: Formula = TRUE
    if "when" in found:
        when = Resolver(book, scope, MOVE).read(text_of(bag, found["when"], f"`when` of {what}"))
    takes_node = found["takes"]
    instant = isinstance(takes_node, Scalar) and takes_node.text == "nothing"
    takes = None if instant else window_of(takes_node, f"`takes` of {what}", scope, book)
    withdrawn = choice_of(bag, found["withdrawn"], f"`withdrawn` of {what}", ("abandoned", "completes"), "abandoned")
    if "withdrawn" in found and ("takes" not in found or instant or "when" not in found):
        lacks = "a `when`" if "when" not in found else "a `takes` of some length"
        bag.add(
            "withdrawn-without-when",
            f"{what} cannot be withdrawn: it needs {lacks} for that",
            found.key("withdrawn"),
            "says nothing here",
            "take it away",
        )
    return Move(
        key.text,
        sources,
        to if to is not None else "",
        when,
        takes,
        instant,
        _also(found, declared, what, scope, book),
        withdrawn == "completes",
        words_of(bag, found["words"], f"`words` of {what}"),
        key.span,
    )


def _also(found: Fields, declared: Declared, what: str, scope: Scope, book: Book) -> tuple[tuple[str, Value], ...]:
    changes: list[tuple[str, Value]] = []
    for key, node in entries_of(book.bag, found["also"], f"`also` of {what}"):
        other = named(key.text, key.span, Sort.ITEM, scope, book)
        value = state_of(text_of(book.bag, node, f"`also: {key.text}` of {what}"), other, book)
        if other is None:
            continue
        if other is declared:
            book.bag.add(
                "also-itself",
                f"{what} changes `{other.id}` twice",
                key.span,
                "the item of the move",
                "`to` says what becomes of it; name other items under `also`",
            )
        elif other.id in book.followers:
            book.bag.add(
                "set-follower",
                f"`{other.id}` follows an expression, so no move can set it",
                key.span,
                "not set by moves",
                "take it away: it follows by itself",
                also=(Mark(other.span, "it follows"),),
            )
        elif value is not None:
            changes.append((other.id, value))
    return tuple(changes)


def followers(scope: Scope, book: Book) -> None:
    """Note which items of a scope follow an expression."""
    for key, node in named_entries(book.bag, scope.sections.get("equipment"), "`equipment`", "an item"):
        if peek(node, "follows") is not None:
            book.followers.add(scope.id(key.text))
