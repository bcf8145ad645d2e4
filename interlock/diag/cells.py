"""Text as a terminal shows it: harmless, and measured in cells.

In: any text, also of a hostile file. Out: text without control characters, how many cells wide it is, and pieces of it
that fit. A wide letter (East Asian Width W or F, Unicode Annex 11) takes two cells, a combining mark none.
"""

from __future__ import annotations

import re
import unicodedata

CUT = "…"
"""Stands where text was left out."""

_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Categories of characters that steer a terminal, turn the direction of text, or hide: controls, formats, breaks."""


def harmless(text: str) -> str:
    """The text with every character that is not simply shown written out, as `<U+001B>`."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(map(_shown, text))


def width(text: str) -> int:
    """How many cells the text takes; it must be harmless."""
    return len(text) if text.isascii() else sum(map(_cells, text))


def spread(line: str) -> list[str]:
    """What is shown for each character of a source line, in order: itself, blanks for a tab, or its number."""
    shown: list[str] = []
    at = 0
    for character in line:
        piece = " " * (4 - at % 4) if character == "\t" else _shown(character)
        shown.append(piece)
        at += width(piece)
    return shown


def wrapped(text: str, first: int, rest: int) -> list[str]:
    """The text in lines of at most `first` cells, then `rest` cells each.

    What stands in backticks is kept on one line where it fits on one; a word longer than a line is broken.
    """
    lines: list[str] = []
    line = ""
    room = first
    for word in _tokens(text, rest):
        for piece in _pieces(word, rest):
            joined = f"{line} {piece}" if line else piece
            if width(joined) <= room or (not line and not lines and width(piece) > room >= rest):
                line = joined
            else:
                lines.append(line)
                line, room = piece, rest
    return [*lines, line]


def shortened(text: str, limit: int) -> str:
    """The text, or so much of its beginning that it takes at most `limit` cells, the cut included."""
    if width(text) <= limit:
        return text
    kept = ""
    for character in text:
        if width(kept) + _cells(character) > limit - 1:
            break
        kept += character
    return kept + CUT


def _shown(character: str) -> str:
    return f"<U+{ord(character):04X}>" if unicodedata.category(character) in _UNSEEN else character


def _cells(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def _tokens(text: str, limit: int) -> list[str]:
    """The words of the text, with what stands in backticks kept together where it takes at most `limit` cells."""
    tokens: list[str] = []
    for token in re.findall(r"(?:[^\s`]*`[^`]*`[^\s`]*)+|\S+", text):
        tokens.extend([token] if width(token) <= limit else token.split())
    return tokens


def _pieces(word: str, limit: int) -> list[str]:
    """The word in pieces of at most `limit` cells."""
    pieces = [""]
    for character in word:
        if pieces[-1] and width(pieces[-1]) + _cells(character) > limit:
            pieces.append("")
        pieces[-1] += character
    return pieces
