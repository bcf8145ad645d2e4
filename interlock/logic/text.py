"""A piece of text from a spec that knows where in its file each of its characters stands."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.diag.place import Span


@dataclass(frozen=True, slots=True)
class Text:
    """The text of one scalar.

    `span`: the whole scalar as written, quotes included. `places`: line and column of each character; None on one line,
    where the text begins `offset` columns after the span. `exact` False: characters cannot be placed (escapes in
    quotes), every part is told at the whole span.
    """

    text: str
    span: Span
    offset: int = 0
    places: tuple[tuple[int, int], ...] | None = None
    exact: bool = True

    def part(self, start: int, end: int) -> Span:
        """The place of the characters from `start` to `end` (exclusive); after the end of the text: one column on."""
        if not self.exact:
            return self.span
        if self.places is None:
            return self.span.within(self.offset + start, self.offset + max(end, start + 1))
        if not self.places:
            return self.span
        last = len(self.places) - 1
        line, column = self.places[min(start, last)]
        if start > last:
            column += 1
        end_line, end_column = self.places[min(max(end - 1, start), last)]
        if (end_line, end_column) < (line, column):
            end_line, end_column = line, column
        return Span(self.span.file, line, column, end_line, end_column + 1)


def join(first: Span, last: Span) -> Span:
    """From the start of `first` to the end of `last`."""
    return Span(first.file, first.line, first.column, last.end_line, last.end_column)
