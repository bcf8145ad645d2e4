"""Changes to a tree of nodes: take something away, put something else in its place, add something.

In: the tree of a spec and the changes that a draft lists. Out: the tree with all of them made, in their order; what is
not touched stays the same node, so that every place still points into the file that holds the text.

A place is named by the keys on the way to it, `logic ground moves lift needs contact_proved`. An element of a list is
named by its text, which ends the way and so may be of several words: `logic ground steps lifting
drives near earth lift`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from interlock.diag.diagnostic import Bag, Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.text import Text
from interlock.spec.fields import fields, first_line, sort_of, text_of, wrong_type
from interlock.spec.instances import HEADING
from interlock.spec.nodes import Listing, Mapping, Node, Scalar

VERBS = ("remove", "replace", "add")

MAX_CHANGES = 200
"""How many changes a draft may have. Nobody sees any more what so many of them come to."""

_LISTED = 8
"""So many names are listed where none is near."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change as written. `words`: the path, each word with where it begins and ends in the text of `path`; `value`:
    what stands under `with`."""

    verb: str
    path: Scalar
    words: tuple[tuple[str, int, int], ...]
    value: Node | None

    @property
    def at(self) -> Span:
        """The place of the path."""
        return first_line(self.path)

    def part(self, first: int, last: int | None = None) -> Span:
        """The place of the words from `first` to `last`, the last one included."""
        return self.path.written.part(self.words[first][1], self.words[first if last is None else last][2])

    def text(self, first: int = 0, end: int | None = None) -> str:
        """The words from `first` to before `end`."""
        return " ".join(word for word, _, _ in self.words[first:end])


def read_changes(bag: Bag, node: Node, at: Span) -> list[Change]:
    """The changes that a list holds; every slip in how they are written is told. `at`: the key above."""
    if not isinstance(node, Listing):
        wrong_type(bag, node, "`changes`", "a list", "begin each change with `- `, as in `- remove: PATH`")
        return []
    if not node.items:
        bag.add(
            "empty-list", "the draft changes nothing", first_line(node), "empty", "say what differs: `- remove: PATH`"
        )
    if len(node.items) > MAX_CHANGES:
        headline = f"the draft has more than {MAX_CHANGES} changes"
        bag.add("too-large", headline, at, "too many", "write a spec of its own instead")
        return []
    found = [change for item in node.items if (change := _read_change(bag, item)) is not None]
    return found


def _read_change(bag: Bag, node: Node) -> Change | None:
    if not isinstance(node, Mapping):
        cure = "write what to do and where, as in `- remove: logic ground trips train_gone`"
        wrong_type(bag, node, "a change", "a mapping of keys", cure)
        return None
    written = {key.text for key, _ in node.entries}
    verb = next((verb for verb in VERBS if verb in written), None) or _meant(written)
    if verb is None:
        cure = "a change begins with `remove: PATH`, `replace: PATH` or `add: PATH`"
        bag.add("missing-key", "the change lacks `remove`, `replace` or `add`", first_line(node), "what is done?", cure)
        return None
    required = ("replace", "with") if verb == "replace" else (verb,)
    found = fields(bag, node, "the change", first_line(node), required, ("with",) if verb == "add" else ())
    path = None if found is None else text_of(bag, found[verb], f"what to {verb}", _AS_TEXT)
    if found is None or path is None:
        return None
    words = tuple((word[0], word.start(), word.end()) for word in re.finditer(r"\S+", path.text))
    if not words:
        wrong_type(bag, Scalar(Text("", path.span), False), f"what to {verb}", "a path", _AS_TEXT)
        return None
    return Change(verb, path, words, found["with"])


_AS_TEXT = "write the keys on the way one after another, as in `logic ground moves lift needs`"


def _meant(written: Iterable[str]) -> str | None:
    return next((guess for word in sorted(written) if (guess := near(word, VERBS)) is not None), None)


def changed(tree: Mapping, changes: Sequence[Change], bag: Bag) -> Mapping | None:
    """The tree with all changes made; None if one of them cannot be made, or has no effect in the end."""
    made: list[tuple[Change, tuple[str, ...]]] = []
    sound = True
    for change in changes:
        done = _made(tree, change, bag)
        if done is None:
            sound = False
            continue
        tree, place = done
        for earlier, there in made if change.verb != "add" else ():
            if there[: len(place)] == place:
                bag.add(
                    "change-without-effect",
                    f"what is done to `{earlier.text()}` is undone by a later change",
                    earlier.at,
                    "undone later",
                    "take this change away",
                    also=(Mark(change.at, "the later change"),),
                )
                sound = False
        made.append((change, place))
    return tree if sound else None


def _made(tree: Mapping, change: Change, bag: Bag) -> tuple[Mapping, tuple[str, ...]] | None:
    """The tree after one change, and the place as keys; None and told if it cannot be made."""
    way: list[tuple[Mapping | Listing, int]] = []
    node: Node = tree
    i = 0
    while i < len(change.words):
        if isinstance(node, Scalar) and not (node.empty and change.verb == "add"):
            _nothing_within(node, i, change, bag)
            return None
        if isinstance(node, Listing):
            wanted = change.text(i)
            index = _element(node, wanted)
            end = len(change.words)
        else:
            wanted = change.words[i][0]
            entries = node.entries if isinstance(node, Mapping) else ()
            index = next((n for n, (key, _) in enumerate(entries) if key.text == wanted), None)
            end = i + 1
        if index is None:
            if change.verb != "add" or end < len(change.words):
                _no_such_place(node, i, wanted, end, change, bag)
                return None
            new = _with_more(node, i, wanted, change, bag)
            return None if new is None else (_rebuilt(way, new), (*_keys(way), wanted))
        if isinstance(node, Scalar):
            return None  # cannot be: nothing is found in a text
        way.append((node, index))
        node = node.items[index] if isinstance(node, Listing) else node.entries[index][1]
        i = end
    return _at_the_place(way, node, change, bag)


def _at_the_place(
    way: list[tuple[Mapping | Listing, int]], node: Node, change: Change, bag: Bag
) -> tuple[Mapping, tuple[str, ...]] | None:
    """The change where its whole path exists."""
    place = _keys(way)
    if change.verb == "add":
        helps = [f"write `replace: {change.text()}` to put something else there"]
        if isinstance(node, Listing):
            helps = [f"to add to the list, write the element too: `add: {change.text()} ELEMENT`"]
        there = Mark(_whereabouts(way), "here")
        bag.add(
            "already-there", f"there is a `{change.text()}` already", change.at, "there already", *helps, also=(there,)
        )
        return None
    container, index = way.pop()
    if change.verb == "replace":
        assert change.value is not None
        if _said(node) == _said(change.value):
            bag.add(
                "change-without-effect",
                f"`{change.text()}` is replaced with what is there already",
                first_line(change.value),
                "the same",
                "write what it is to be, or take this change away",
                also=(Mark(first_line(node), "as here"),),
            )
            return None
    new: Mapping | Listing
    if isinstance(container, Listing):
        items = (change.value,) if change.value is not None else ()
        new = replace(container, items=(*container.items[:index], *items, *container.items[index + 1 :]))
    else:
        key = container.entries[index][0]
        entries = ((key, change.value),) if change.value is not None else ()
        new = replace(container, entries=(*container.entries[:index], *entries, *container.entries[index + 1 :]))
    return _rebuilt(way, new), place


def _with_more(node: Node, i: int, wanted: str, change: Change, bag: Bag) -> Mapping | Listing | None:
    """A mapping or list with what `add` adds at its end."""
    span = change.part(i, len(change.words) - 1)
    exact = span.line == span.end_line and span.end_column - span.column == len(wanted)
    key = Scalar(Text(wanted, span, exact=exact), False)
    if isinstance(node, Listing):
        if change.value is not None:
            bag.add(
                "unknown-key",
                f"`{change.text(0, i)}` is a list: the element is named by the path alone, without `with`",
                first_line(change.value),
                "not wanted here",
                f"leave `with` out; the element is `{wanted}`",
                also=(Mark(first_line(node), "the list"),),
            )
            return None
        return replace(node, items=(*node.items, key))
    if change.value is None:
        headline = f"the change does not say what `{wanted}` is to be"
        bag.add("missing-key", headline, span, "not complete", "add `with: ...`")
        return None
    entries = node.entries if isinstance(node, Mapping) else ()
    return Mapping((*entries, (key, change.value)), node.span)


def _rebuilt(way: list[tuple[Mapping | Listing, int]], node: Mapping | Listing) -> Mapping:
    """The whole tree, with `node` where the way leads."""
    for container, index in reversed(way):
        if isinstance(container, Listing):
            node = replace(container, items=(*container.items[:index], node, *container.items[index + 1 :]))
        else:
            entry = (container.entries[index][0], node)
            node = replace(container, entries=(*container.entries[:index], entry, *container.entries[index + 1 :]))
    assert isinstance(node, Mapping)
    return node


def _keys(way: list[tuple[Mapping | Listing, int]]) -> tuple[str, ...]:
    return tuple(
        _element_text(container.items[index]) if isinstance(container, Listing) else container.entries[index][0].text
        for container, index in way
    )


def _element(node: Listing, text: str) -> int | None:
    return next((n for n, item in enumerate(node.items) if _element_text(item) == text), None)


def _element_text(node: Node) -> str:
    return " ".join(node.text.split()) if isinstance(node, Scalar) else ""


def _said(node: Node) -> object:
    """What a node says, its places left out."""
    if isinstance(node, Mapping):
        return tuple((key.text, _said(value)) for key, value in node.entries)
    if isinstance(node, Listing):
        return [_said(item) for item in node.items]
    return node.text, node.empty


# --- places that do not exist ---


def _whereabouts(way: list[tuple[Mapping | Listing, int]]) -> Span:
    """The key or element at the end of a way, or the beginning of the file."""
    if not way:
        return Span("", 1, 1, 1, 2)
    container, index = way[-1]
    return first_line(container.items[index]) if isinstance(container, Listing) else container.entries[index][0].span


def _nothing_within(node: Scalar, i: int, change: Change, bag: Bag) -> None:
    path = change.text(0, i)
    cure = f"the path ends before this word: `{change.verb}: {path}`"
    if change.verb == "add" and not node.empty:
        cure = f"to have several, write them all: `replace: {path}`, `with: [{node.text}, {change.text(i)}]`"
    bag.add(
        "no-such-place",
        f"`{path}` is {sort_of(node)}, so there is no `{change.text(i)}` in it",
        change.part(i, len(change.words) - 1),
        "not there",
        cure,
        also=(Mark(first_line(node), sort_of(node)),),
    )


def _no_such_place(node: Node, i: int, wanted: str, end: int, change: Change, bag: Bag) -> None:
    before = change.text(0, i)
    inside = f"`{before}`" if i else "the file beneath"
    bag.add(
        "no-such-place",
        f"{inside} has no `{wanted}`",
        change.part(i, end - 1),
        "not there",
        _cure(node, before, wanted),
        also=() if i == 0 else (Mark(first_line(node), "looked for here"),),
    )


def _cure(node: Node, before: str, wanted: str) -> str:
    """The name that was meant; else a step that was left out; else the names that there are."""
    if not before and wanted in HEADING:
        return f"write it as a key of the draft itself: `{wanted}: ...`"
    if isinstance(node, Mapping):
        known = [key.text for key, _ in node.entries]
        below = [key.text for key, value in node.entries if isinstance(value, Mapping) and _has(value, wanted)]
        if len(below) == 1:
            return f"did you mean `{' '.join(part for part in (before, below[0], wanted) if part)}`?"
    else:
        known = [_element_text(item) for item in node.items] if isinstance(node, Listing) else []
    guess = near(wanted, known)
    if guess is not None:
        return f"did you mean `{guess}`?"
    if not known:
        return "it is empty; name a place that exists"
    more = f" and {len(known) - _LISTED} more" if len(known) > _LISTED else ""
    return f"there is {', '.join(f'`{one}`' for one in known[:_LISTED])}{more}"


def _has(node: Mapping, word: str) -> bool:
    return any(key.text == word for key, _ in node.entries)
