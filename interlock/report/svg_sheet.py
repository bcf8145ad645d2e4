"""Lines, boxes and texts as SVG, for pictures that are not graphs.

In: shapes with places in points, y downwards. Out: the text of an SVG, in the inks and sizes of `dot_style.py`. No text
is smaller than `SMALL`. Widths of texts are estimated, rather too wide than too narrow (after Adobe's published metrics
of Helvetica, from memory).
"""

from __future__ import annotations

from interlock.diag.cells import harmless
from interlock.diag.cells import width as cells
from interlock.report.dot_style import FONT, INK, PAPER, SMALL

LINE_PT = 10.0
"""From one line of small text to the next."""

BOLDER = 1.12
"""By how much bold letters are wider."""

_WIDTHS = {
    **dict.fromkeys("ijl", 0.28),
    "'": 0.3,
    "@": 1.02,
    **dict.fromkeys(" ftI!,./:;[]()-`\\", 0.34),
    "r": 0.39,
    **dict.fromkeys("ABCDEGHKNOPQRSUVXY&w", 0.78),
    **dict.fromkeys("mMW%", 0.95),
}


def wide(said: str, size: float = SMALL, *, bold: bool = False) -> float:
    """How wide a text is at the most, in points."""
    size *= BOLDER if bold else 1.0
    if said.isascii():
        return sum(_WIDTHS.get(letter, 0.62) for letter in said) * size
    return cells(harmless(said)) * 0.78 * size


def in_lines(said: str, room: float, size: float = SMALL, *, bold: bool = False) -> list[str]:
    """A text in lines that are no wider than `room`: broken between words, in long names after `_`, else anywhere."""
    found = [""]
    room /= BOLDER if bold else 1.0
    for word in harmless(said).split():
        for piece in _pieces(word, room, size):
            joined = f"{found[-1]} {piece}" if found[-1] else piece
            if wide(joined, size) <= room:
                found[-1] = joined
            else:
                found.append(piece)
    return found


def _pieces(word: str, room: float, size: float) -> list[str]:
    """A word in pieces that are no wider than `room`, but of one letter at least."""
    found = []
    while wide(word, size) > room and len(word) > 1:
        end = next((i for i in range(len(word) - 1, 1, -1) if wide(word[:i], size) <= room), 1)
        end = word.rfind("_", 1, end) + 1 or end
        found.append(word[:end])
        word = word[end:]
    return [*found, word]


class Sheet:
    """Collects shapes; those that came first lie below."""

    def __init__(self) -> None:
        self._shapes: list[str] = []

    def box(self, left: float, top: float, right: float, bottom: float, fill: str, line: str = "", width: float = 0.7,
            said: str = "", ink: str = INK, bold: bool = False) -> None:  # fmt: skip
        """A box, with a text in it if there is one, at its left."""
        points = f"{_n(left)},{_n(top)} {_n(right)},{_n(top)} {_n(right)},{_n(bottom)} {_n(left)},{_n(bottom)}"
        edge = f' stroke="{line}" stroke-width="{_n(width)}"' if line else ' stroke="none"'
        self._shapes.append(f'<g class="node"><polygon fill="{fill}"{edge} points="{points}"/>')
        if said:
            self.text(left + 2.5, (top + bottom) / 2 + SMALL * 0.35, said, ink, bold=bold)
        self._shapes.append("</g>")

    def line(self, x1: float, y1: float, x2: float, y2: float, ink: str, width: float = 0.7, dash: str = "") -> None:
        """A straight line; `dash`: lengths drawn and left out."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        at = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
        self._shapes.append(f'<line {at} stroke="{ink}" stroke-width="{_n(width)}"{dashed}/>')

    def dot(self, x: float, y: float, radius: float, fill: str, line: str) -> None:
        """A round dot."""
        at = f'cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"'
        self._shapes.append(f'<circle {at} fill="{fill}" stroke="{line}" stroke-width="0.9"/>')

    def shape(self, points: list[tuple[float, float]], fill: str) -> None:
        """A filled shape with straight edges."""
        told = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        self._shapes.append(f'<polygon fill="{fill}" stroke="none" points="{told}"/>')

    def text(self, x: float, y: float, said: str, ink: str = INK, *, size: float = SMALL, bold: bool = False,
             italic: bool = False, anchor: str = "start", upright: bool = False) -> None:  # fmt: skip
        """A text on the base line `y`, from `x` on, up to it (`end`) or around it (`middle`). `upright`: turned, so
        that it is read upwards from there."""
        weight = ' font-weight="bold"' if bold else ""
        style = ' font-style="italic"' if italic else ""
        at = f'x="{_n(x)}" y="{_n(y)}" font-size="{size:g}" text-anchor="{anchor}"{weight}{style}'
        if upright:
            at += f' transform="rotate(-90 {_n(x)} {_n(y)})"'
        self._shapes.append(f'<text {at} fill="{ink}">{escaped(said)}</text>')

    def svg(self, width: float, height: float, title: str, described: str) -> str:
        """Everything, on paper of so many points. `described`: the picture in words, for readers that cannot see it."""
        w, h = _n(width), _n(height)
        lines = [
            '<?xml version="1.0" encoding="UTF-8" standalone="no"?>',
            f'<svg width="{w}pt" height="{h}pt" viewBox="0 0 {w} {h}" xmlns="http://www.w3.org/2000/svg" role="img"',
            f' font-family="{FONT}, Arial, Liberation Sans, sans-serif" xml:space="preserve">',
            f"<title>{escaped(title)}</title>",
            f"<desc>{escaped(described)}</desc>",
            f'<rect width="{w}" height="{h}" fill="{PAPER}"/>',
            *self._shapes,
            "</svg>",
        ]
        return "\n".join(lines) + "\n"


def escaped(said: str) -> str:
    """A text harmless to SVG and to readers."""
    said = harmless(said)
    for character, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;")):
        said = said.replace(character, entity)
    return said


def _n(value: float) -> str:
    """A place on the page, to a hundredth of a point, never `-0.00`."""
    return f"{round(value, 2) + 0.0:.2f}"
