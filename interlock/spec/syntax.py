"""Mistakes in the YAML itself, told in plain words with a likely cure.

In: the error of the YAML parser and the lines of the file. The two parsers (compiled and in Python) word their errors
differently; each line of the table below knows both.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from interlock.diag.diagnostic import Bag, Mark
from interlock.diag.place import Span


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the parser gave up (`line`, `column`), and where the piece it was in begins; both from 1."""

    line: int
    column: int
    begun: tuple[int, int] | None
    lines: list[str]
    file: str

    def text(self, line: int | None = None) -> str:
        number = self.line if line is None else line
        return self.lines[number - 1].rstrip("\r") if 0 < number <= len(self.lines) else ""

    def here(self) -> str:
        return self.text()[self.column - 1 : self.column]

    def span(self, line: int, column: int, width: int = 1) -> Span:
        return Span(self.file, line, column, line, column + width)

    def before_line(self) -> Span:
        """The last character written before the line of the place, or on it if it is the line of the bracket."""
        if self.begun is None or self.begun[0] == self.line:
            return self.last_written()
        return _Place(self.line, 1, self.begun, self.lines, self.file).last_written()

    def last_written(self) -> Span:
        """The last character before the place that is not white space or a comment."""
        for line in range(min(self.line, len(self.lines)), 0, -1):
            text = self.text(line)[: self.column - 1] if line == self.line else self.text(line)
            written = re.sub(r"(^|\s)#.*", "", text).rstrip()
            if written:
                return self.span(line, len(written))
        return self.span(self.line, self.column)


@dataclass(frozen=True, slots=True)
class _Told:
    """What is told of a syntax mistake."""

    headline: str
    span: Span
    words: str
    cure: str
    also: tuple[Mark, ...] = ()


def syntax_mistake(found: Any, lines: list[str], file: str, bag: Bag) -> None:
    """Tell what the YAML parser could not read, at the place that needs the cure."""
    mark = getattr(found, "problem_mark", None) or getattr(found, "context_mark", None)
    problem = str(getattr(found, "problem", None) or "it cannot be read")
    begun = getattr(found, "context_mark", None)
    place = _Place(
        mark.line + 1 if mark else 1,
        mark.column + 1 if mark else 1,
        (begun.line + 1, begun.column + 1) if begun else None,
        lines,
        file,
    )
    if "nesting" in problem:
        span = place.span(place.line, place.column)
        bag.add("too-deep", "the file is nested too deep", span, "too deep", "look for a bracket that is not closed")
        return
    context = str(getattr(found, "context", None) or "")
    for pattern, tell in _TELLERS:
        if re.search(pattern, f"{context}: {problem}"):
            told = tell(place)
            break
    else:
        told = _Told(
            f"this is not valid YAML: {problem}",
            place.span(place.line, place.column),
            "not understood",
            "look at the brackets, quotation marks and indentation before this place",
        )
    bag.add("yaml-syntax", told.headline, told.span, told.words, told.cure, also=told.also)


def _colon(place: _Place) -> _Told:
    before = place.text()[: place.column - 1]
    span = place.span(place.line, place.column)
    if re.search(r":\s", before):
        value = re.search(r".*?:\s+(\S.*)", place.text())
        text = (value.group(1) if value else "").replace('"', "'")
        return _Told(
            "the text of a key holds another `: `", span, "a second colon", f'put the text in quotes: `"{text}"`'
        )
    above = place.line - 1
    while above > 1 and not place.text(above).strip():
        above -= 1
    text = place.text(above)
    if re.search(r":\s", text):
        return _Told(
            "this line is indented as if it belonged to the text above it",
            place.span(place.line, len(before) - len(before.lstrip()) + 1, max(1, len(before.lstrip()))),
            "indented too far",
            f"line it up with the key in line {above}, or take the text away there",
        )
    written = text.rstrip()
    return _Told(
        f"the key `{written.strip()}` has no colon",
        place.span(above, len(written) - len(written.lstrip()) + 1, max(1, len(written.strip()))),
        "no colon after it",
        f"write `{written.strip()}:`",
    )


def _inside_braces(place: _Place) -> _Told:
    here = place.here()
    if here in ("{", "[") and place.begun is not None:
        start = max(place.text().rfind(sign, 0, place.column - 1) for sign in ("{", ",", ": ")) + 1
        whole = place.text()[start : _end_of_value(place.text(), place.column - 1)].strip()
        return _Told(
            f"an expression with `{here}` in it must be quoted when it stands inside brackets",
            place.span(place.line, place.column),
            "read as the beginning of another mapping" if here == "{" else "read as the beginning of a list",
            f'put the expression in quotes: `"{whole}"`',
        )
    opened = place.text(place.begun[0])[place.begun[1] - 1 : place.begun[1]] if place.begun else "{"
    close = {"{": "}", "[": "]"}.get(opened, "}")
    begun = place.begun or (place.line, place.column)
    if not here or here == "#" or place.line > len(place.lines) or place.line != begun[0]:
        return _Told(
            f"the bracket `{opened}` is not closed",
            place.span(*begun),
            "opened here",
            f"close it with `{close}`",
            (Mark(place.before_line(), f"`{close}` or `,` was expected after this"),),
        )
    if here in "}])":
        return _Told(
            f"the bracket `{opened}` is closed with `{here}`",
            place.span(place.line, place.column),
            "does not fit",
            f"close it with `{close}`",
            (Mark(place.span(*begun), "opened here"),),
        )
    return _Told(
        f"a comma or `{close}` is missing before `{here}`",
        place.last_written(),
        "after this",
        "put a comma between two entries, and a text with `,`, `:` or brackets in it in quotes",
        (Mark(place.span(*begun), "the bracket was opened here"),),
    )


def _end_of_value(text: str, start: int) -> int:
    """Where a value in brackets ends: before the comma or bracket that belongs to what is around it."""
    depth = 0
    for i in range(start, len(text)):
        if text[i] in "{[(":
            depth += 1
        elif text[i] in "}])":
            if depth == 0:
                return i
            depth -= 1
        elif text[i] == "," and depth == 0:
            return i
    return len(text)


def _indentation(place: _Place) -> _Told:
    here = place.here()
    if here in ("]", "}", ",") and here:
        return _Told(
            f"`{here}` stands here without a bracket to close" if here != "," else "`,` stands outside brackets",
            place.span(place.line, place.column),
            "nothing is open",
            f"take the `{here}` away, or open the bracket before it",
        )
    span = place.span(place.line, place.column)
    if place.begun is None:
        return _Told("this line is indented otherwise than its neighbours", span, "here", "line it up with them")
    before = place.text()[: place.column - 1].rstrip()
    if before.lstrip(" -"):
        apostrophe = before.endswith("'") and not place.text()[len(before) : place.column - 1]
        return _Told(
            "there is something after the end of a value",
            span,
            "too much",
            "inside single quotes an apostrophe is written twice; or use double quotes"
            if apostrophe
            else "put the whole text in quotes, or take this away",
        )
    if place.column == place.begun[1]:
        return _Told(
            "a list and keys cannot stand side by side",
            span,
            "not of the same sort",
            f"indent this line if it belongs to the one above, or write it as line {place.begun[0]} is written",
            (Mark(place.span(*place.begun), "the first of its neighbours"),),
        )
    return _Told(
        f"this line begins in column {place.column}, its neighbours in column {place.begun[1]}",
        span,
        "indented otherwise",
        f"line it up with line {place.begun[0]}, or indent it as far as the lines above it",
        (Mark(place.span(*place.begun), "the first of its neighbours"),),
    )


def _no_colon(place: _Place) -> _Told:
    line, column = place.begun or (place.line, place.column)
    written = place.text(line)[column - 1 :].rstrip()
    return _Told(
        f"the key `{written}` has no colon",
        place.span(line, column, max(1, len(written))),
        "no colon after it",
        f"write `{written}:`",
    )


def _open_quote(place: _Place) -> _Told:
    line, column = place.begun or (place.line, place.column)
    quote = place.text(line)[column - 1 : column] or '"'
    return _Told(
        f"the quotation mark `{quote}` is not closed",
        place.span(line, column),
        "opened here",
        f"close it with `{quote}`; inside single quotes an apostrophe is written twice",
    )


def _forbidden_start(place: _Place) -> _Told:
    here = place.here()
    if here == "\t":
        return _Told(
            "a tab stands where only spaces may", place.span(place.line, place.column), "a tab", "write spaces"
        )
    return _Told(
        "a text cannot begin with " + ("a backquote" if here == "`" else f"`{here}`"),
        place.span(place.line, place.column),
        "not allowed at the beginning",
        "put the whole text in quotes",
    )


def _exclamation(place: _Place) -> _Told:
    line, column = place.begun or (place.line, place.column)
    here = place.text(line)[column - 1 : column]
    cure = "write `not` for a negation; any other text that begins so belongs in quotes"
    if here != "!":
        cure = "put the whole text in quotes"
    return _Told(f"a text cannot begin with `{here}`", place.span(line, column), "not allowed at the beginning", cure)


def _escape(place: _Place) -> _Told:
    return _Told(
        "a backslash in double quotes begins a sign that YAML does not know",
        place.span(place.line, place.column),
        "here",
        "write the text in single quotes: there a backslash is just a backslash",
    )


def _dash(place: _Place) -> _Told:
    return _Told(
        "a list with `-` cannot begin in the middle of a line",
        place.span(place.line, place.column),
        "here",
        "begin it on a new line, or write `[a, b]`",
    )


def _colon_without_space(place: _Place) -> _Told:
    key = re.search(r"[\w ]*$", place.text()[: place.column - 1])
    name = key.group().strip() if key else ""
    return _Told(
        f"the colon after `{name}` has no space after it" if name else "a colon inside brackets has no space after it",
        place.span(place.line, place.column),
        "no space after it",
        f"write `{name}: ...`; a text with a colon in it belongs in quotes",
    )


_TELLERS: tuple[tuple[str, Callable[[_Place], _Told]], ...] = (
    (r"mapping values are not allowed", _colon),
    (r"expected ',' or '[}\]]'", _inside_braces),
    (r"could not find expected ':'", _no_colon),
    (r"found unexpected ':'", _colon_without_space),
    (r"quoted scalar.*unexpected end of stream", _open_quote),
    (r"cannot start any token", _forbidden_start),
    (r"undefined tag handle|scanning a tag|parsing a tag|scanning an alias|scanning an anchor", _exclamation),
    (r"unknown escape character|did not find expected hexdecimal|expected escape sequence", _escape),
    (r"sequence entries are not allowed", _dash),
    (r"did not find expected (key|'-' indicator|node content|<document start>)|expected <block end>"
     r"|expected '<document start>'|expected the node content", _indentation),
)  # fmt: skip
