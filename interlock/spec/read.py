"""Reading: bytes or text of a YAML file, to nodes with places. Every scalar stays text.

The events of PyYAML's parser (the compiled one where it is there) are turned into nodes one by one, with an explicit
stack, so that a limit stops a hostile file at its first breach, long before all of it was read. Of YAML only the part
that people can read is taken: no anchors, aliases, merge keys, tags or second documents.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, TypeAlias

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Span
from interlock.logic.text import Text
from interlock.spec.nodes import Listing, Mapping, Node, Scalar
from interlock.spec.syntax import syntax_mistake

MAX_BYTES = 1 << 20
MAX_DEPTH = 40
MAX_NODES = 100_000
MAX_SCALAR = 10_000

_STRANGE = re.compile(
    "[^\t\n\r\x20-\x7e\xa1-\xac\xae-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"  # controls, no-break space
    "|[\u200b-\u200f\u2028-\u202f\u2060-\u206f\ufeff]"  # signs without width or that change the direction
    "|\r(?!\n)"
)


class _Stop(Exception):
    """The first breach: reading ends here. Never leaves this module."""


def read(source: str | bytes, file: str, bag: Bag, *, pure: bool = False) -> tuple[Node | None, str]:
    """The tree of a file and its text, for showing lines; the tree is None after a mistake, which is in the bag.

    `pure`: use the parser written in Python even if the compiled one is there. Cost: linear, and bounded by the limits.
    """
    text = _decode(source, file, bag)
    if text is None:
        return None, ""
    if not _plain(text, file, bag):
        return None, text
    try:
        return _Tree(text, file, bag).read(pure), text
    except _Stop:
        return None, text


def _decode(source: str | bytes, file: str, bag: Bag) -> str | None:
    start = Span(file, 1, 1, 1, 2)
    if len(source) > MAX_BYTES:
        bag.add(
            "too-large",
            f"the file is larger than {MAX_BYTES >> 20} MiB",
            start,
            "too large",
            "a spec is written by people and stays far below that; repeat equipment with `parts` and `instances`",
        )
        return None
    if isinstance(source, bytes):
        try:
            text = source.decode("utf-8")
        except UnicodeDecodeError as found:
            before = source[: found.start].decode("utf-8")
            line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
            bag.add(
                "not-unicode",
                f"the file is not UTF-8 text: byte {found.start} is 0x{source[found.start]:02x}",
                Span(file, line, column, line, column + 1),
                "not UTF-8 here",
                "save the file as UTF-8",
            )
            return None
    else:
        text = source
    return text.removeprefix("\ufeff")


def _plain(text: str, file: str, bag: Bag) -> bool:
    found = _STRANGE.search(text)
    if found:
        line, column = text.count("\n", 0, found.start()) + 1, found.start() - text.rfind("\n", 0, found.start())
        code = f"U+{ord(found.group()):04X}"
        bag.add(
            "strange-character",
            f"there is a character that cannot be seen, {code}",
            Span(file, line, column, line, column + 1),
            "here",
            "write an ordinary space" if found.group() in "\xa0\u202f" else "delete the character",
        )
        return False
    tab = re.search(r"^ *\t[ \t]*(?=\S)", text, re.M)
    if tab:
        start = text.rfind("\n", 0, tab.start() + 1) + 1 if tab.start() else 0
        begin, line = text.index("\t", tab.start()), text.count("\n", 0, tab.start()) + 1
        bag.add(
            "tab-indent",
            "the line is indented with a tab",
            Span(file, line, begin - start + 1, line, tab.end() - start + 1),
            "a tab",
            "indent with spaces: YAML does not allow tabs there",
        )
        return False
    return True


class _Tree:
    """Builds the nodes of one file from the events of the parser."""

    def __init__(self, text: str, file: str, bag: Bag) -> None:
        self.text = text
        self.lines = text.split("\n")
        self.file = file
        self.bag = bag
        self.n_nodes = 0

    def read(self, pure: bool) -> Node:
        """The root of the tree; `_Stop` after a mistake."""
        import yaml

        root: Node | None = None
        stack: list[tuple[Any, list[Node]]] = []
        documents = 0
        try:
            for event in _events(self.text, pure):
                if isinstance(event, yaml.DocumentStartEvent):
                    documents += 1
                    if documents > 1:
                        self._refuse(
                            "second-document",
                            "the file has a second document",
                            event,
                            "begins here",
                            "keep one spec a file; take the line `---` away",
                        )
                    if event.tags or event.version:
                        self._refuse(
                            "yaml-feature",
                            "the file has a YAML directive",
                            event,
                            "a directive",
                            "take the line that begins with `%` away",
                        )
                    continue
                done: Node | None = None
                if isinstance(event, yaml.NodeEvent):
                    self._check(event, len(stack))
                    if isinstance(event, yaml.ScalarEvent):
                        done = self._scalar(event)
                    else:
                        stack.append((event, []))
                        continue
                elif isinstance(event, yaml.CollectionEndEvent):
                    begun, children = stack.pop()
                    done = self._collection(begun, event, children)
                if done is None:
                    continue
                if stack:
                    stack[-1][1].append(done)
                else:
                    root = done
        except yaml.YAMLError as found:
            syntax_mistake(found, self.lines, self.file, self.bag)
            raise _Stop from None
        if root is None:
            self.bag.add(
                "empty-file",
                "the file is empty",
                Span(self.file, 1, 1, 1, 2),
                "nothing here",
                "begin with `format: interlock/1`",
            )
            raise _Stop
        return root

    def _check(self, event: Any, depth: int) -> None:
        import yaml

        self.n_nodes += 1
        if isinstance(event, yaml.AliasEvent):
            self._refuse(
                "yaml-feature",
                f"`*{event.anchor}` is a YAML alias",
                event,
                "an alias",
                "write the text out, or use `parts` for what comes more than once",
            )
        if event.anchor is not None:
            self._refuse(
                "yaml-feature",
                f"`&{event.anchor}` is a YAML anchor",
                event,
                "an anchor",
                "take it away; use `parts` for what comes more than once",
                width=len(event.anchor) + 1,
            )
        if event.tag is not None:
            self._refuse(
                "yaml-feature",
                f"`{event.tag}` is a YAML tag",
                event,
                "a tag",
                "write `not` for a negation; any other text that begins with `!` belongs in quotes",
            )
        if depth >= MAX_DEPTH:
            self._refuse(
                "too-deep",
                f"the file is nested more than {MAX_DEPTH} deep",
                event,
                "too deep",
                "a spec needs fewer than ten levels; look for a bracket that is not closed",
            )
        if self.n_nodes > MAX_NODES:
            self._refuse(
                "too-large",
                f"the file has more than {MAX_NODES} pieces",
                event,
                "too many",
                "repeat equipment with `parts` and `instances`",
            )
        if isinstance(event, yaml.ScalarEvent):
            if len(event.value) > MAX_SCALAR:
                self._refuse(
                    "too-large",
                    f"a text is longer than {MAX_SCALAR} characters",
                    event,
                    "too long",
                    "shorten it; look for a quotation mark that is not closed",
                )
            if event.value == "<<" and not event.style:
                self._refuse(
                    "yaml-feature",
                    "`<<` is a YAML merge key",
                    event,
                    "a merge key",
                    "write the keys out, or use `parts` for what comes more than once",
                )

    def _refuse(self, kind: str, headline: str, event: Any, words: str, cure: str, width: int | None = None) -> None:
        span = self._span(event)
        if width is not None:
            span = Span(span.file, span.line, span.column, span.line, span.column + width)
        elif span.end_line != span.line:
            span = Span(span.file, span.line, span.column, span.line, len(self._line(span.line)) + 1)
        self.bag.add(kind, headline, span, words, cure)
        raise _Stop

    def _line(self, line: int) -> str:
        return self.lines[line - 1] if line <= len(self.lines) else ""

    def _span(self, first: Any, last: Any = None) -> Span:
        start, end = first.start_mark, (last or first).end_mark
        return Span(self.file, start.line + 1, start.column + 1, end.line + 1, end.column + 1)

    def _scalar(self, event: Any) -> Scalar:
        style = event.style if event.style in ("'", '"', "|", ">") else None
        return Scalar(self._placed(event.value, self._span(event), style), style is not None)

    def _placed(self, value: str, span: Span, style: str | None) -> Text:
        """The text with the place of each character. On one line they follow each other; over several lines the
        characters that are not white space come in the order of the file, the white space between is folded."""
        quotes = 1 if style in ("'", '"') else 0
        if span.line == span.end_line and style not in ("|", ">"):
            exact = len(value) == span.end_column - span.column - 2 * quotes
            return Text(value, span, quotes, None, exact)
        there: list[tuple[str, int, int]] = []
        for line in range(span.line, min(span.end_line, len(self.lines)) + 1):
            content = self._line(line)
            begin = span.column - 1 + quotes if line == span.line else 0
            end = span.end_column - 1 - quotes if line == span.end_line else len(content)
            if line == span.line and style in ("|", ">"):
                continue
            there.extend((content[i], line, i + 1) for i in range(begin, min(end, len(content))))
        written = [place for place in there if not place[0].isspace()]
        wanted = [character for character in value if not character.isspace()]
        if [place[0] for place in written] != wanted:
            return Text(value, span, 0, None, False)
        places: list[tuple[int, int]] = []
        i = 0
        for character in value:
            if character.isspace():
                before = places[-1] if places else (span.line, span.column)
                places.append((before[0], before[1] + 1 if places else before[1]))
            else:
                places.append(written[i][1:])
                i += 1
        return Text(value, span, 0, tuple(places), True)

    def _collection(self, begun: Any, ended: Any, children: list[Node]) -> Node:
        import yaml

        span = self._span(begun, ended)
        if isinstance(begun, yaml.SequenceStartEvent):
            return Listing(tuple(children), span)
        entries: list[tuple[Scalar, Node]] = []
        for key, value in zip(children[::2], children[1::2], strict=True):
            if not isinstance(key, Scalar):
                self.bag.add(
                    "key-not-text",
                    "a key must be a single word",
                    key.span,
                    "not a word",
                    "a text with brackets or braces at its beginning belongs in quotes",
                )
                raise _Stop
            entries.append((key, value))
        return Mapping(tuple(self._rejoined(entries) if begun.flow_style else entries), span)

    def _rejoined(self, entries: list[tuple[Scalar, Node]]) -> list[tuple[Scalar, Node]]:
        """The entries between braces, with a text that its own commas cut into pieces put together again, and told."""
        found: list[tuple[Scalar, Node]] = []
        i = 0
        while i < len(entries):
            key, value = entries[i]
            i += 1
            last, j = value, i
            while isinstance(value, Scalar) and not value.quoted and value.text.count("(") > value.text.count(")"):
                if j == len(entries) or not _bare(entries[j]) or entries[j][0].span.line != value.span.line:
                    break
                last, j = entries[j][0], j + 1
                begin, end = value.span.column, last.span.end_column
                place = Span(self.file, value.span.line, begin, value.span.line, end)
                value = Scalar(Text(self._line(place.line)[begin - 1 : end - 1], place), False)
            if isinstance(value, Scalar) and j > i and value.text.count("(") == value.text.count(")"):
                self.bag.add(
                    "comma-in-braces",
                    f"the commas of `{key.text}` cut it into pieces: it stands between braces",
                    value.span,
                    "one text",
                    f'put quotes round it: `{key.text}: "{value.text}"`, or give it a name under `parameters`',
                )
                found.append((key, value))
                i = j
            else:
                found.append(entries[i - 1])
        return found


def _bare(entry: tuple[Scalar, Node]) -> bool:
    """Whether a key stands without a colon and a value."""
    return isinstance(entry[1], Scalar) and entry[1].empty


_Events: TypeAlias = Iterator[Any]


def _events(text: str, pure: bool) -> _Events:
    """The parser's events; the compiled parser if it is there and not refused."""
    import yaml

    loader: Any = yaml.BaseLoader if pure or not yaml.__with_libyaml__ else yaml.CBaseLoader
    return iter(yaml.parse(text, Loader=loader))
