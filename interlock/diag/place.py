"""Places in files: a span from one character to another, and the files that were read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of text in one file. Lines and columns count from 1, in code points; the end is exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"

    def within(self, start: int, end: int) -> Span:
        """The part from offset `start` to `end` of a span that lies on one line."""
        return Span(self.file, self.line, self.column + start, self.line, self.column + end)


@dataclass(frozen=True, slots=True)
class Sources:
    """The texts that were read, by the name under which positions refer to them."""

    texts: Mapping[str, str]

    def line(self, span: Span) -> str | None:
        """The line of text on which `span` starts, without its line end; None if the file is not known."""
        text = self.texts.get(span.file)
        if text is None:
            return None
        lines = text.split("\n")
        return lines[span.line - 1].rstrip("\r") if 0 < span.line <= len(lines) else None
