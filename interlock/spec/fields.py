"""Taking a mapping apart: which keys it may and must have, what sort of node stands under each; every slip told."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from interlock.diag.diagnostic import Bag, Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.operators import RESERVED
from interlock.spec.nodes import Listing, Mapping, Node, Scalar

_WORD = re.compile(r"[^\W\d]\w*")


def peek(node: Node | None, key: str) -> Node | None:
    """What stands under a key, or under one that was likely meant to be it; without a word about anything else."""
    if not isinstance(node, Mapping):
        return None
    for name, value in node.entries:
        if name.text == key:
            return value
    for name, value in node.entries:
        if abs(len(name.text) - len(key)) <= 2 and near(name.text, (key,)):
            return value
    return None


def sort_of(node: Node) -> str:
    """What a node is, in words."""
    if isinstance(node, Mapping):
        return "a mapping of keys"
    if isinstance(node, Listing):
        return "a list"
    return "nothing" if node.empty else "a single text"


def first_line(node: Node) -> Span:
    """The place of a node; of one over several lines, its first character."""
    span = node.span
    if span.line == span.end_line:
        return Span(span.file, span.line, span.column, span.line, max(span.end_column, span.column + 1))
    return Span(span.file, span.line, span.column, span.line, span.column + 1)


def wrong_type(bag: Bag, node: Node, what: str, wanted: str, *helps: str) -> None:
    """Tell that a node is of another sort than is needed."""
    bag.add("wrong-type", f"{what} must be {wanted}, not {sort_of(node)}", first_line(node), sort_of(node), *helps)


class Fields:
    """The entries of one mapping by key. Asking for a key that is not there gives None."""

    def __init__(self, entries: dict[str, tuple[Scalar, Node]], at: Span, what: str, strange: bool = False) -> None:
        self.entries = entries
        self.at = at
        self.what = what
        self.strange = strange  # a key was not understood: perhaps it was one that is missed

    def __contains__(self, key: str) -> bool:
        return key in self.entries

    def __getitem__(self, key: str) -> Node | None:
        entry = self.entries.get(key)
        return None if entry is None else entry[1]

    def key(self, key: str) -> Span:
        """Where the key itself stands; where the mapping is said to stand if it has no such key."""
        entry = self.entries.get(key)
        return self.at if entry is None else entry[0].span


def entries_of(bag: Bag, node: Node | None, what: str) -> Iterator[tuple[Scalar, Node]]:
    """The entries of a mapping, each key once (a second one is told); nothing if there is no mapping."""
    if node is None:
        return
    if not isinstance(node, Mapping):
        if not (isinstance(node, Scalar) and node.empty):
            wrong_type(bag, node, what, "a mapping of keys")
        return
    seen: dict[str, Span] = {}
    for key, value in node.entries:
        if key.text in seen:
            bag.add(
                "duplicate-key",
                f"{what} has the key `{key.text}` twice",
                key.span,
                "written again",
                "keep one of the two, or give one another name",
                also=(Mark(seen[key.text], "written first"),),
            )
            continue
        seen[key.text] = key.span
        yield key, value


def fields(
    bag: Bag,
    node: Node,
    what: str,
    at: Span,
    required: Collection[str] = (),
    optional: Collection[str] = (),
) -> Fields | None:
    """The fields of `what`; unknown, missing and double keys are told. `at`: where to tell that a key is missing. None
    if the node is no mapping."""
    if not isinstance(node, Mapping):
        if isinstance(node, Scalar) and node.empty:
            if required:
                _missing(bag, what, sorted(required), at)
                return None
            return Fields({}, at, what)
        wrong_type(bag, node, what, "a mapping of keys", "its keys: " + ", ".join([*required, *optional]))
        return None
    known = [*required, *optional]
    found: dict[str, tuple[Scalar, Node]] = {}
    written = {key.text for key, _ in node.entries}
    free = [key for key in known if key not in written]
    strangers: list[Scalar] = []
    for key, value in entries_of(bag, node, what):
        if key.text in known:
            found[key.text] = (key, value)
        elif guess := near(key.text, free):
            told = f"{what} has no key `{key.text}`"
            bag.add("unknown-key", told, key.span, "not known here", f"did you mean `{guess}`?")
            found.setdefault(guess, (key, value))
        else:
            strangers.append(key)
    missing = [key for key in required if key not in found]
    for key in strangers:
        cure = "its keys: " + ", ".join(known)
        if missing:
            cure = f"`{missing[0]}` is missing here: was it meant?"
        told = f"{what} has no key `{key.text}`"
        bag.add("unknown-key", told, key.span, "not known here", _spaced(key.text) or cure)
    if missing and not strangers:
        _missing(bag, what, missing, at)
    return None if missing else Fields(found, at, what, bool(strangers))


def _spaced(text: str) -> str:
    """The cure for a key that is two words with a colon but no space between them."""
    key, colon, value = text.partition(":")
    return f"write a space after the colon: `{key}: {value}`" if colon and value else ""


def _missing(bag: Bag, what: str, missing: list[str], at: Span) -> None:
    keys = " and ".join(f"`{key}`" for key in missing)
    example = _EXAMPLES.get(missing[0], f"`{missing[0]}: ...`")
    bag.add("missing-key", f"{what} lacks {keys}", at, "not complete", f"add {example}")


_EXAMPLES = {
    "format": "`format: interlock/1`",
    "states": "`states: [open, closed]`, or a range such as `states: 0 .. 3`",
    "shows": "what it shows: `shows: ITEM is STATE`, or an item",
    "steps": "`steps: {NAME: {start: true}}`",
    "needs": "`needs: {NAME: EXPRESSION}`, or `needs: {}` if nothing is needed",
    "when": "`when: EXPRESSION`",
    "carries": "`carries: {NAME: EXPRESSION}`",
    "of": "what fails: `of: ITEM`, a reading, a link, a sequence, or `of: command NAME`",
    "effect": "what it does, as in `effect: {stays: closed}`",
    "happens": "`happens: EXPRESSION` over equipment",
    "within": "`within: 300 ms`",
    "lasts": "`lasts: 0 s .. 210 s`",
    "after": "`after: 5 s .. 6 s`",
}


def text_of(bag: Bag, node: Node | None, what: str, *helps: str) -> Scalar | None:
    """A scalar with something written in it; None (and told, with these cures) otherwise."""
    if node is None:
        return None
    if not isinstance(node, Scalar) or node.empty:
        wrong_type(bag, node, what, "a single text", *helps)
        return None
    return node


def words_of(bag: Bag, node: Node | None, what: str) -> str:
    """Free text for people; "" if there is none."""
    scalar = text_of(bag, node, what)
    return "" if scalar is None else " ".join(scalar.text.split())


def texts_of(bag: Bag, node: Node | None, what: str, *, some: bool = False) -> list[Scalar]:
    """One text or a list of texts, as scalars; what is not text is told. `some`: an empty list is told too."""
    if node is None:
        return []
    if isinstance(node, Listing):
        if some and not node.items:
            bag.add("empty-list", f"{what} names nothing", first_line(node), "empty", "name at least one")
        found = (text_of(bag, item, f"each entry of {what}") for item in node.items)
        return [scalar for scalar in found if scalar is not None]
    scalar = text_of(bag, node, what)
    return [] if scalar is None else [scalar]


def truth_of(bag: Bag, node: Node | None, what: str, default: bool) -> bool:
    """`true` or `false`."""
    if node is None:
        return default
    if isinstance(node, Scalar) and node.text in ("true", "false"):
        return node.text == "true"
    if isinstance(node, Scalar) and not node.empty:
        headline = f"{what} must be `true` or `false`, not `{node.text}`"
        bag.add("wrong-type", headline, first_line(node), "neither of them", "write `true` or `false`")
    else:
        wrong_type(bag, node, what, "`true` or `false`")
    return default


def count_of(bag: Bag, node: Node | None, what: str, least: int = 0, most: int = 1000) -> int | None:
    """A whole number from `least` to `most`; None if there is none or it is not one (told)."""
    if node is None:
        return None
    scalar = text_of(bag, node, what)
    if scalar is None:
        return None
    if re.fullmatch(r"-?\d{1,9}", scalar.text, re.ASCII):
        number = int(scalar.text)
        if least <= number <= most:
            return number
        side = f"at least {least}" if number < least else f"at most {most}"
        bag.add(
            "number-out-of-range",
            f"{what} must be {side}, not {number}",
            first_line(scalar),
            "out of range",
            f"write a whole number from {least} to {most}",
        )
        return None
    bag.add("wrong-type", f"{what} must be a whole number, not `{scalar.text}`", first_line(scalar), "not a number")
    return None


def choice_of(bag: Bag, node: Node | None, what: str, choices: Collection[str], default: str) -> str:
    """One of a few words."""
    if node is None:
        return default
    scalar = text_of(bag, node, what)
    if scalar is None:
        return default
    if scalar.text in choices:
        return scalar.text
    guess = near(scalar.text, list(choices))
    listed = " or ".join(f"`{choice}`" for choice in choices)
    bag.add(
        "unknown-word",
        f"{what} cannot be `{scalar.text}`",
        first_line(scalar),
        "not one of the words for it",
        f"did you mean `{guess}`?" if guess else f"write {listed}",
    )
    return default


def is_word(text: str) -> bool:
    """Whether a text can be a name."""
    return _WORD.fullmatch(text) is not None and text not in RESERVED


def check_name(bag: Bag, key: Scalar, what: str) -> bool:
    """Whether a key can be a name; told if not."""
    if is_word(key.text):
        return True
    if key.text in RESERVED:
        headline = f"`{key.text}` is a word of the language and cannot name {what}"
        helps = [f"choose another name, such as `{key.text}_`"]
    else:
        headline = f"`{key.text}` cannot name {what}"
        repaired = re.sub(r"\W+", "_", key.text).strip("_")
        helps = [_spaced(key.text)] if _spaced(key.text) else [f"write `{repaired}`"] if is_word(repaired) else []
        helps.append("names are made of letters, digits and `_`, and begin with a letter")
    bag.add("bad-name", headline, first_line(key), "not a name", *helps)
    return False


def named_entries(bag: Bag, node: Node | None, what: str, each: str) -> Iterator[tuple[Scalar, Node]]:
    """The entries of a mapping whose keys are names given by the author (`each`: what they name)."""
    for key, value in entries_of(bag, node, what):
        if check_name(bag, key, each):
            yield key, value
