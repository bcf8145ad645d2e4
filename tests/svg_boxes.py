"""Where the texts of a picture stand: boxes measured from an SVG, to see whether any two lie on each other.

In: the bytes of an SVG as the renderer writes it. Out: pairs of texts that overlap, and texts that leave the box of
their node. Widths are those of the letters of Helvetica (Adobe's published metrics of the standard fonts), in which the
renderer lays out too; a font that is drawn instead and is wider would need more room than is measured here.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass

SVG = "{http://www.w3.org/2000/svg}"

NARROW = {
    **dict.fromkeys("ijl", 222), **dict.fromkeys("'", 191), **dict.fromkeys(" ftI!,./:;[]\\", 278),
    **dict.fromkeys("r()-`", 333), **dict.fromkeys("{}", 334), **dict.fromkeys('"', 355), **dict.fromkeys("*", 389),
    **dict.fromkeys("ckszxvyJ", 500), **dict.fromkeys("FTZ", 611), **dict.fromkeys("ABEKPSVXY&", 667),
    **dict.fromkeys("CDHNRUw", 722), **dict.fromkeys("GOQ", 778), **dict.fromkeys("mM", 833), "W": 944, "%": 889,
    "@": 1015, "|": 260, **dict.fromkeys("+<=>~", 584), "^": 469,
}  # fmt: skip
"""Widths in thousandths of the size; letters not named: 556."""

BOLD = {
    **dict.fromkeys("il", 278), "j": 278, **dict.fromkeys(" ,./I\\", 278), **dict.fromkeys("ft()-:;!'[]`", 333),
    "r": 389, "z": 500, **dict.fromkeys("bdghnopquFTLZ", 611), **dict.fromkeys("EPSVXY", 667), "w": 778,
    **dict.fromkeys("ABCDHKNRU&", 722), **dict.fromkeys("GOQ", 778), "M": 833, "m": 889, "W": 944,
}  # fmt: skip

SLACK_PT = 0.75
"""Boxes that touch by less than this do not overlap."""


@dataclass(frozen=True)
class Box:
    """A text and where it stands, upright ones too; `y` grows downwards."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        return (
            min(self.right, other.right) - max(self.left, other.left) > SLACK_PT
            and min(self.bottom, other.bottom) - max(self.top, other.top) > SLACK_PT
        )


def width(text: str, size: float, bold: bool) -> float:
    """How wide a text is."""
    table = BOLD if bold else NARROW
    return sum(table.get(letter, 556) for letter in text) * size / 1000


def texts(svg: bytes) -> list[Box]:
    """The boxes of all texts: from the base line up by the height of capitals, down by that of a comma."""
    return [_box(one) for one in ET.fromstring(svg).iter(f"{SVG}text")]


def _box(one: ET.Element) -> Box:
    text = "".join(one.itertext())
    size = float(one.get("font-size", "14"))
    wide = width(text, size, one.get("font-weight") == "bold")
    x, y = float(one.get("x", "0")), float(one.get("y", "0"))
    if one.get("transform", "").startswith("rotate(-90 "):
        return Box(text, x - 0.72 * size, y - wide, x + 0.2 * size, y)
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[one.get("text-anchor", "start")]
    return Box(text, left, y - 0.72 * size, left + wide, y + 0.2 * size)


def clashes(svg: bytes) -> list[tuple[str, str]]:
    """Pairs of texts that lie on each other."""
    boxes = sorted((one for one in texts(svg) if one.text.strip()), key=lambda one: one.top)
    found = []
    for i, box in enumerate(boxes):
        for other in boxes[i + 1 :]:
            if other.top > box.bottom:
                break
            if box.overlaps(other):
                found.append((box.text, other.text))
    return found


def spilled(svg: bytes) -> list[str]:
    """Texts of a node that reach beyond the picture, or beyond every frame of the node that holds where they begin."""
    root = ET.fromstring(svg)
    found = []
    for node in root.iter(f"{SVG}g"):
        if node.get("class") != "node":
            continue
        frames = [_frame(shape) for shape in node.iter(f"{SVG}polygon")]
        for one in node.iter(f"{SVG}text"):
            box = _box(one)
            around = [
                frame
                for frame in frames
                if frame.left - SLACK_PT <= box.left <= frame.right and frame.top <= box.bottom - 1 <= frame.bottom
            ]
            if around and not any(box.right <= frame.right + SLACK_PT for frame in around):
                found.append(box.text)
    return found


def _frame(shape: ET.Element) -> Box:
    points = [tuple(map(float, one.split(","))) for one in (shape.get("points") or "").split()]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Box("", min(xs), min(ys), max(xs), max(ys))
