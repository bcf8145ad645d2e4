"""Parts and instances: the sections of the file and of every instance of a part, as a tree of scopes."""

from __future__ import annotations

from collections.abc import Iterator

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.spec.book import Book
from interlock.spec.fields import (
    Fields,
    check_name,
    count_of,
    entries_of,
    fields,
    first_line,
    named_entries,
    text_of,
    texts_of,
    words_of,
)
from interlock.spec.nodes import Listing, Mapping, Node, Scalar
from interlock.spec.scopes import Scope

HEADING = ("format", "title", "revision", "prepared_by", "standards", "notes")
SECTIONS = (
    "equipment",
    "readings",
    "links",
    "logic",
    "conditions",
    "failures",
    "assumptions",
    "hazards",
    "rules",
    "instances",
)
WHOLE = ("stop_budget",)
"""Sections that speak of the whole file; a part has none."""

ROOT_KEYS = (*HEADING, "parameters", *SECTIONS[:-1], *WHOLE, "parts", "instances")
PART_KEYS = ("words", "parameters", "given", *SECTIONS)

MAX_INSTANCES = 500
"""How many instances a file may have in all."""

MAX_WRITTEN = 100_000
"""How many nodes the instances may have, written out."""


def size_of(root: Node) -> int:
    """How many nodes a tree has."""
    n, stack = 0, [root]
    while stack:
        node = stack.pop()
        n += 1
        if isinstance(node, Mapping):
            stack.extend(value for _, value in node.entries)
        elif isinstance(node, Listing):
            stack.extend(node.items)
    return n


def parameters_in(node: Node | None, what: str, book: Book) -> Iterator[tuple[Scalar, Node]]:
    """The parameters of a section, each with its text; where one says its `source`, that is kept in the book."""
    for key, value in named_entries(book.bag, node, what, "a parameter"):
        if not isinstance(value, Mapping):
            yield key, value
            continue
        told = f"parameter `{key.text}`"
        found = fields(book.bag, value, told, key.span, required=("value",), optional=("source",))
        text = None if found is None else found["value"]
        if found is None or text is None:
            book.broken_parameters.add(key.text)
            continue
        if source := words_of(book.bag, found["source"], f"`source` of {told}"):
            book.origins[text.span] = source
        yield key, text


class Part:
    """A part as written."""

    def __init__(self, name: Scalar, found: Fields, size: int, book: Book) -> None:
        self.name = name
        self.size = size
        self.fields = found
        self.given = {
            scalar.text: scalar
            for scalar in texts_of(book.bag, found["given"], f"`given` of part `{name.text}`")
            if check_name(book.bag, scalar, "what a part is given")
        }
        self.parameters = {
            key.text: (key, node)
            for key, node in parameters_in(found["parameters"], f"`parameters` of part `{name.text}`", book)
        }
        self.n_instances = 0


class Parts:
    """All parts of the file, and the making of their instances."""

    def __init__(self, node: Node | None, book: Book) -> None:
        self.book = book
        self.parts: dict[str, Part] = {}
        self.n_instances = 0
        self.n_written = 0
        self.full = False
        for key, value in named_entries(book.bag, node, "`parts`", "a part"):
            found = fields(book.bag, value, f"part `{key.text}`", key.span, optional=PART_KEYS)
            if found is not None:
                self.parts[key.text] = Part(key, found, size_of(value), book)

    def fill(self, scope: Scope) -> None:
        """Make the instances of a scope, and theirs."""
        for key, node in named_entries(self.book.bag, scope.sections.get("instances"), "`instances`", "instances"):
            what = f"instances `{key.text}`"
            found = fields(
                self.book.bag, node, what, key.span, required=("part",), optional=("count", "named", "with", "words")
            )
            part = None if found is None else self._part(found, what)
            if found is None or part is None:
                scope.groups[key.text] = []
                continue
            part.n_instances += 1
            scope.groups[key.text] = self._group(scope, key, found, part, what)

    def _part(self, found: Fields, what: str) -> Part | None:
        scalar = text_of(self.book.bag, found["part"], f"`part` of {what}")
        if scalar is None:
            return None
        part = self.parts.get(scalar.text)
        if part is None:
            known: dict[str, Span | None] = {name: one.name.span for name, one in self.parts.items()}
            self.book.unknown(
                "unknown-part", scalar.text, f"no part is called `{scalar.text}`", first_line(scalar), known
            )
        return part

    def _group(self, scope: Scope, key: Scalar, found: Fields, part: Part, what: str) -> list[Scope]:
        bag, name = self.book.bag, part.name.text
        chain = [one.part for one in scope.chain() if one.part]
        if name in chain:
            circle = " -> ".join(f"`{one}`" for one in [*reversed(chain[: chain.index(name) + 1]), name])
            bag.add(
                "circular-part",
                f"part `{name}` contains itself: {circle}",
                found.key("part"),
                "part of a circle",
                "take the inner instances out of the part",
            )
            return []
        heads = self._heads(found, part, key, what)
        self.n_instances += len(heads)
        self.n_written += part.size * len(heads)
        if self.full:
            return []
        if self.n_instances > MAX_INSTANCES or self.n_written > MAX_WRITTEN:
            self.full = True
            bag.add(
                "too-large",
                f"the file has more than {MAX_INSTANCES} instances of parts"
                if self.n_instances > MAX_INSTANCES
                else f"with its instances written out the file has more than {MAX_WRITTEN} pieces",
                key.span,
                "too many here",
                "every one multiplies the situations: model as few as show the point",
            )
            return []
        given = self._with(found, part, what)
        children = []
        for head, at in heads:
            child = Scope(
                scope.id(head),
                scope,
                {section: node for section in SECTIONS if (node := part.fields[section]) is not None},
                at,
                name,
            )
            for parameter, (where, node) in part.parameters.items():
                child.parameters[parameter] = (node, child, where.span)
            for word, (where, value) in given.items():
                if word in part.parameters:
                    child.parameters[word] = (value, scope, where.span)
                elif isinstance(value, Scalar):
                    child.givens[word] = (value, scope)
            child.ungiven.update(word for word in part.given if word not in child.givens)
            children.append(child)
            self.fill(child)
        return children

    def _heads(self, found: Fields, part: Part, key: Scalar, what: str) -> list[tuple[str, Span]]:
        bag, name = self.book.bag, part.name.text
        if ("count" in found) == ("named" in found):
            if found.strange:
                return []
            both = "count" in found
            bag.add(
                "count-or-named",
                f"{what} has both `count` and `named`" if both else f"{what} has neither `count` nor `named`",
                found.key("named") if both else key.span,
                "how many are there?",
                f"write `count: 2` for `{name} 1` and `{name} 2`, or `named: [front, rear]` for `front {name}` and "
                f"`rear {name}`",
            )
            return []
        if "count" in found:
            count = count_of(bag, found["count"], f"`count` of {what}", 1, MAX_INSTANCES)
            return [(f"{name} {i}", key.span) for i in range(1, (count or 0) + 1)]
        heads: dict[str, Span] = {}
        for scalar in texts_of(bag, found["named"], f"`named` of {what}", some=True):
            if not check_name(bag, scalar, "an instance"):
                continue
            if scalar.text in heads:
                bag.add(
                    "duplicate-name",
                    f"{what} names `{scalar.text}` twice",
                    scalar.span,
                    "named again",
                    "give each instance a name of its own",
                    also=(Mark(heads[scalar.text], "named first"),),
                )
            heads.setdefault(scalar.text, scalar.span)
        return [(f"{head} {name}", at) for head, at in heads.items()]

    def _with(self, found: Fields, part: Part, what: str) -> dict[str, tuple[Scalar, Node]]:
        bag, name = self.book.bag, part.name.text
        given: dict[str, tuple[Scalar, Node]] = {}
        strange = False
        known = [*part.given, *part.parameters]
        node = found["with"]
        for key, value in entries_of(bag, node, f"`with` of {what}"):
            if key.text in known:
                given[key.text] = (key, value)
                continue
            guess = near(key.text, known)
            strange = strange or not guess
            listed = ", ".join(f"`{word}`" for word in known) or "nothing"
            bag.add(
                "unknown-key",
                f"part `{name}` is given no `{key.text}`",
                key.span,
                "not known to the part",
                f"did you mean `{guess}`?" if guess else f"the part is given {listed}",
                also=(Mark(part.name.span, "the part"),),
            )
            if guess:
                given[guess] = (key, value)
        for word, where in part.given.items():
            if word not in given and not strange:
                bag.add(
                    "missing-given",
                    f"{what} does not say what `{word}` is",
                    found.key("with") if "with" in found else found.at,
                    "not complete",
                    f"add it: `with: {{{word}: ...}}`",
                    also=(Mark(where.span, f"part `{name}` is to be given it"),),
                )
            elif word in given and not isinstance(given[word][1], Scalar):
                text_of(bag, given[word][1], f"`{word}`")
        return given

    def unused(self) -> None:
        """Tell the parts that no instance is made of: nothing in them was looked at."""
        if any(kind == "unknown-part" for kind, _ in self.book.unknowns) or not self.book.bag.empty:
            return
        for part in self.parts.values():
            if not part.n_instances:
                self.book.bag.add(
                    "unused-part",
                    f"no instance is made of part `{part.name.text}`, so nothing in it says anything",
                    part.name.span,
                    "never used",
                    f"add to `instances` as in `{part.name.text}s: {{part: {part.name.text}, count: 2}}`, or delete it",
                )


def expand(root: Mapping, book: Book) -> Parts | None:
    """Fill the root scope of the book and all instances; None if the file is not even a mapping with a format."""
    found = fields(book.bag, root, "the file", _first(root), required=("format",), optional=ROOT_KEYS[1:])
    if found is None:
        return None
    book.root.sections.update(
        {section: node for section in (*HEADING, *SECTIONS, *WHOLE) if (node := found[section]) is not None}
    )
    for key, node in parameters_in(found["parameters"], "`parameters`", book):
        book.root.parameters[key.text] = (node, book.root, key.span)
    parts = Parts(found["parts"], book)
    parts.fill(book.root)
    parts.unused()
    return parts


def _first(root: Mapping) -> Span:
    return root.entries[0][0].span if root.entries else first_line(root)
