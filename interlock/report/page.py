"""A page of plain text for a terminal: headings, paragraphs, labelled lines, tables, all within a width.

In: pieces of text and what they mean. Out: one text with LF line ends. Colour only repeats what the words say: the page
without colour is the page with colour, less the escapes. Text from a spec cannot steer the terminal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import zip_longest

from interlock.diag.cells import harmless, width, wrapped

GAP = "  "


class Ink(Enum):
    """What a colour repeats; the value is the sequence that a terminal knows it by."""

    PLAIN = ""
    HOLDS = "36"
    FAILS = "1;31"
    UNDECIDED = "33"
    STRONG = "1"
    FAINT = "2"


@dataclass(frozen=True, slots=True)
class Piece:
    """Text of one cell of a table, and its ink."""

    text: str
    ink: Ink = Ink.PLAIN


class Page:
    """Collects lines; `text` gives them all."""

    def __init__(self, *, colour: bool = False, width: int = 80) -> None:
        self.colour = colour
        self.width = max(width, 60)
        self._lines: list[str] = []

    def text(self) -> str:
        """Everything so far; each line ends with LF."""
        return "".join(line.rstrip() + "\n" for line in self._lines)

    def gap(self) -> None:
        """One empty line, never two and none at the top."""
        if self._lines and self._lines[-1]:
            self._lines.append("")

    def line(self, text: str, ink: Ink = Ink.PLAIN) -> None:
        """Text that stays on one line, however long: the verdict, for readers that take the first line."""
        self._lines.append(self._inked(harmless(text), ink))

    def heading(self, text: str) -> None:
        """A heading with an empty line before it."""
        self.gap()
        self.paragraph(text, ink=Ink.STRONG)

    def paragraph(self, text: str, indent: int = 0, hang: int | None = None, ink: Ink = Ink.PLAIN) -> None:
        """Wrapped text. `hang`: the indent of all lines but the first (None: the same)."""
        hang = indent if hang is None else hang
        for i, line in enumerate(wrapped(harmless(text), self.width - indent, self.width - hang)):
            self._lines.append(" " * (hang if i else indent) + self._inked(line, ink))

    def labelled(self, label: str, text: str, room: int, indent: int = 0) -> None:
        """A label, then wrapped text from cell `indent + room` on; a longer label has a line of its own."""
        text = harmless(text)
        left = indent + room
        lines = wrapped(text, self.width - left, self.width - left)
        label = harmless(label)
        if width(label) >= room:
            self.paragraph(label, indent)
            label = ""
        for i, line in enumerate(lines):
            said = label if i == 0 else ""
            self._lines.append(" " * indent + said + " " * (room - width(said)) + line)

    def block(self, text: str, indent: int = 0) -> None:
        """Lines that are laid out already."""
        self._lines.extend(" " * indent + line if line else "" for line in text.rstrip("\n").split("\n"))

    def row(self, pieces: Sequence[Piece], widths: Sequence[int], indent: int = 2) -> None:
        """One row of a table: each piece wrapped within its width."""
        columns = []
        for piece, room in zip(pieces, widths, strict=True):
            lines = wrapped(harmless(piece.text), room, room)
            columns.append(
                [self._inked(line, piece.ink) + " " * (room - width(line)) for line in lines] if piece.text else []
            )
        blank = [" " * room for room in widths]
        for cells in zip_longest(*columns):
            self._lines.append(
                " " * indent + GAP.join(c if c is not None else b for c, b in zip(cells, blank, strict=True))
            )

    def _inked(self, text: str, ink: Ink) -> str:
        return f"\x1b[{ink.value}m{text}\x1b[0m" if self.colour and ink.value and text else text


def fitted(texts: Iterable[str], most: int) -> int:
    """The width of a column for these texts, at most `most` cells."""
    return min(max((width(harmless(text)) for text in texts), default=0), most)
