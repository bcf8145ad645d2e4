"""Moves of items named elsewhere: `ITEM MOVE` in triggers, assumptions and helpers, `slow: {MOVE: T}` in failures."""

from __future__ import annotations

from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.spec.book import Book
from interlock.spec.fields import first_line, named_entries, peek
from interlock.spec.nodes import Node, Scalar
from interlock.spec.scopes import Declared, Scope, Sort
from interlock.spec.states import named


def move_named(scalar: Scalar | None, scope: Scope, book: Book) -> tuple[str, str, Node, Span] | None:
    """A move of an item, written `ITEM MOVE`: the item's id, the move's name, node and place; told if there is none."""
    if scalar is None:
        return None
    words = scalar.text.split()
    if len(words) < 2:
        book.bag.add(
            "unknown-move",
            f"`{scalar.text}` does not name a move of an item",
            first_line(scalar),
            "not an item and a move",
            "write the item, then the move: `feeder opens`",
        )
        return None
    item = named(
        " ".join(words[:-1]),
        scalar.written.part(0, len(scalar.text.rstrip()) - len(words[-1]) - 1),
        Sort.ITEM,
        scope,
        book,
    )
    if item is None:
        return None
    moves = moves_of(item, book)
    found = moves.get(words[-1])
    if found is None:
        tell_no_move(
            item, words[-1], moves, scalar.written.part(len(scalar.text) - len(words[-1]), len(scalar.text)), book
        )
        return None
    return item.id, words[-1], found[0], found[1]


def tell_no_move(item: Declared, name: str, moves: dict[str, tuple[Node, Span]], at: Span, book: Book) -> None:
    """Tell that an item has no move of this name."""
    guess = near(name, moves)
    helps = ("its moves: " + ", ".join(f"`{one}`" for one in moves),) if moves else ("it has no moves at all",)
    if guess:
        helps = (f"`{guess}` is defined at {moves[guess][1]}; did you mean it?",)
    told = f"item `{item.id}` has no move `{name}`"
    book.unknown("unknown-move", f"{item.id} {name}", told, at, helps=helps)


def moves_of(item: Declared, book: Book) -> dict[str, tuple[Node, Span]]:
    """The moves of an item as written, by name."""
    node = book.item_nodes.get(item.id)
    moves = None if node is None else peek(node, "moves")
    return {key.text: (entry, key.span) for key, entry in named_entries(book.bag, moves, "`moves`", "a move")}
