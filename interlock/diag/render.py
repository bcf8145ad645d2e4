"""Diagnostics as text for a terminal: the fact, the place, the smallest wrong piece of text, the cure.

In: diagnostics and the texts they point into. Out: text in lines that fit the width, ready to print:

    error[unknown-name]: move `energise` needs `shoe_proved`, which nothing defines
      specs/quay.yaml:141:16
        141 |           needs: shoe_proved and contact_proved
            |                  ^^^^^^^^^^^ not defined
      to cure: `shoes_proved` is defined at specs/quay.yaml:63:3; did you mean it?

Nothing is told by colour alone: the text without colour is the text with colour, less the escapes. Whatever a file
holds, no character of it steers the terminal. Places are never broken over lines, so that editors can follow them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

from interlock.diag.cells import CUT, harmless, shortened, spread, width, wrapped
from interlock.diag.diagnostic import Diagnostic, Mark, Severity
from interlock.diag.place import Sources

NARROWEST = 40
"""A narrower terminal is written to as if it had this many cells."""

LONGEST = 1000
"""No headline, cure or word at a mark is longer than this, whatever a file holds."""

_RESET = "\x1b[0m"
_COLOURS = {"error": "\x1b[1;31m", "note": "\x1b[1;36m", "strong": "\x1b[1m", "gutter": "\x1b[2m", "cure": "\x1b[32m"}


def render(diagnostics: Iterable[Diagnostic], sources: Sources, *, colour: bool = False, width: int = 80) -> str:
    """The diagnostics in their order, an empty line between them; empty text for none, else it ends with a line end."""
    printer = _Printer(sources, colour, max(width, NARROWEST))
    return "\n".join(printer.diagnostic(diagnostic) for diagnostic in diagnostics)


class _Printer:
    def __init__(self, sources: Sources, colour: bool, width: int) -> None:
        self.sources = sources
        self.colour = colour
        self.width = width

    def diagnostic(self, diagnostic: Diagnostic) -> str:
        marks = (() if diagnostic.at is None else (diagnostic.at,)) + diagnostic.also
        digits = max((len(str(mark.span.line)) for mark in marks), default=1)
        lines = self._headline(diagnostic)
        for mark in marks:
            lines += self._place(mark, digits, diagnostic.severity)
        for cure in diagnostic.helps:
            lines += self._labelled("  to cure: ", cure, "cure")
        return "".join(line.rstrip() + "\n" for line in lines)

    def _paint(self, text: str, colour: str) -> str:
        return f"{_COLOURS[colour]}{text}{_RESET}" if self.colour and text else text

    def _headline(self, diagnostic: Diagnostic) -> list[str]:
        label = harmless(f"{diagnostic.severity.value}[{diagnostic.kind}]")
        text = shortened(harmless(diagnostic.headline), LONGEST)
        first, *rest = wrapped(text, self.width - width(label) - 2, self.width - 4)
        painted = self._paint(label, diagnostic.severity.value) + self._paint(":", "strong")
        return [
            f"{painted} {self._paint(first, 'strong')}",
            *(f"    {self._paint(line, 'strong')}" for line in rest),
        ]

    def _labelled(self, label: str, text: str, colour: str) -> list[str]:
        room = self.width - len(label)
        first, *rest = wrapped(shortened(harmless(text), LONGEST), room, room)
        said = label.rstrip()
        return [self._paint(said, colour) + label[len(said) :] + first, *(" " * len(label) + line for line in rest)]

    def _place(self, mark: Mark, digits: int, severity: Severity) -> list[str]:
        """The place of a mark, its source line, and the carets under it with its words."""
        lines = [f"  {harmless(str(mark.span))}"]
        source = self.sources.line(mark.span)
        if source is None:
            return [*lines, *self._labelled("    ", mark.words, "strong")] if mark.words else lines
        room = self.width - digits - 7
        text, start, length = _excerpt(source, mark, room)
        number = self._paint(f"    {mark.span.line:>{digits}} |", "gutter")
        gutter = self._paint(f"    {'':>{digits}} |", "gutter")
        carets = " " * start + self._paint("^" * length, severity.value)
        words = shortened(harmless(mark.words), LONGEST).rstrip()
        if words and start + length + 1 + width(words) <= room:
            return [*lines, f"{number} {text}", f"{gutter} {carets} {self._paint(words, severity.value)}"]
        lines += [f"{number} {text}", f"{gutter} {carets}"]
        indent = max(min(start, room - width(words)), min(start, 4))
        for line in wrapped(words, room - indent, room - indent) if words else ():
            lines.append(f"{gutter} {' ' * indent}{self._paint(line, severity.value)}")
        return lines


def _excerpt(source: str, mark: Mark, room: int) -> tuple[str, int, int]:
    """So much of the line as fits around the mark; the cell at which the mark starts in it, and its length in cells."""
    shown = spread(source.rstrip())
    starts = [0]
    for piece in shown:
        starts.append(starts[-1] + width(piece))
    first = min(max(mark.span.column - 1, 0), len(shown))
    last = len(shown) if mark.span.end_line > mark.span.line else min(mark.span.end_column - 1, len(shown))
    length = max(starts[max(last, first)] - starts[first], 1)
    if max(starts[-1], starts[first] + 1) <= room:
        return "".join(shown), starts[first], length
    before = min(room // 3, max(room - 2 - length, room // 6))
    cell = min(starts[first] - before, starts[-1] + 2 - room)
    left = 0 if cell <= 1 else min(bisect_left(starts, cell + 1), first)
    text = CUT if left else ""
    start = width(text) + starts[first] - starts[left]
    for i in range(left, len(shown)):
        cut = 1 if i + 1 < len(shown) else 0
        if width(text) + width(shown[i]) + cut > room:
            text += CUT
            break
        text += shown[i]
    return text, start, max(min(length, width(text) - start), 1)
