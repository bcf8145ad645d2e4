"""The look that all pictures share: inks, sizes, cells of text, the frame with title and legend.

In: pieces of text. Out: labels and graphs of the DOT language, made through the `graphviz` package. No file is opened
and nothing is laid out here. Nothing is told by colour alone: every ink has a word, a shape or a line style beside it.
All text is `SMALL` or larger, so that a picture that fits an A3 sheet can be read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap

from graphviz import Digraph

from interlock.analysis.drawing import Caption
from interlock.diag.cells import harmless

INK = "#16242c"
QUIET = "#55636b"
LINE = "#9aa7ad"
WASH = "#eaf1f2"
DEEP = "#0d5560"
ALARM = "#94261a"
PALE = "#fbeeea"
PAPER = "#ffffff"

FONT = "Helvetica"
SMALL = 8
"""The least size of any text, in points."""
LEVEL = '<font point-size="1"> </font>'
"""After plain text: Graphviz sets text of one kind higher or lower than text with markup; so all is set alike."""
TITLE = 15
HEAD = 10

MOST_BOXES = 150
"""A picture with more boxes than this is a table instead."""


def text(
    said: str, ink: str = INK, *, size: float = SMALL, bold: bool = False, italic: bool = False, room: int = 0
) -> str:
    """A piece of text, harmless to the DOT language and to readers. `room`: broken into lines of so many characters."""
    pieces = broken(harmless(said), room) if room else [harmless(said)]
    told = "<br/>".join(map(_escaped, pieces or [" "]))
    if italic:
        told = f"<i>{told}</i>"
    if bold:
        told = f"<b>{told}</b>"
    told = f'<font point-size="{size:g}" color="{ink}">{told}</font>'
    return told if bold or italic else told + LEVEL


def broken(said: str, room: int) -> list[str]:
    """Lines of so many characters: broken between words, in long names after `_`, else anywhere."""
    found: list[str] = []
    for line in wrap(said, room, break_long_words=False, break_on_hyphens=False) or [""]:
        rest = line
        while len(rest) > room:
            at = rest.rfind("_", 0, room) + 1 or room
            found.append(rest[:at])
            rest = rest[at:]
        found.append(rest)
    return found


def _escaped(said: str) -> str:
    for character, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        said = said.replace(character, entity)
    return said or " "


def stacked(pieces: Iterable[str], **attributes: object) -> str:
    """Pieces of text below each other, flush left, each a row of its own."""
    return table([row([cell(piece, align="left", balign="left", **attributes)]) for piece in pieces])


def cell(content: str = "", **attributes: object) -> str:
    """A cell of a table. Attributes as in the DOT language, an underscore at the end is left out."""
    if attributes.get("align") == "left":
        attributes.setdefault("balign", "left")
    told = "".join(f' {name.rstrip("_")}="{value}"' for name, value in attributes.items())
    return f"<td{told}>{content}</td>"


def row(cells: Iterable[str]) -> str:
    """A row of a table."""
    return f"<tr>{''.join(cells)}</tr>"


def table(rows: Iterable[str], **attributes: object) -> str:
    """A table without lines of its own, unless the attributes say otherwise."""
    usual: dict[str, object] = {"border": 0, "cellborder": 0, "cellspacing": 0, "cellpadding": 0}
    told = "".join(f' {name.rstrip("_")}="{value}"' for name, value in {**usual, **attributes}.items())
    return f"<table{told}>{''.join(rows)}</table>"


def html(label: str) -> str:
    """A label that is markup."""
    return f"<{label}>"


def sheet(caption: Caption, entries: Sequence[tuple[str, str]], notes: Sequence[str] = ()) -> Digraph:
    """An empty picture with its title above: the subject, the spec, its revision and file; beside it the legend, pairs
    of a drawn sample and what it means; below both `notes`, a sentence each."""
    graph = Digraph(name=f"{caption.subject}: {caption.title}")
    graph.attr(
        "graph",
        rankdir="TB",
        fontname=FONT,
        fontsize=str(SMALL),
        bgcolor=PAPER,
        pad="0.1",
        nodesep="0.2",
        ranksep="0.07",
        labelloc="t",
        labeljust="l",
        label=html(_title(caption, entries, notes)),
        outputorder="edgesfirst",
        charset="UTF-8",
    )
    graph.attr("node", shape="plain", fontname=FONT, fontsize=str(SMALL), fontcolor=INK, color=INK)
    graph.attr(
        "edge",
        fontname=FONT,
        fontsize=str(SMALL),
        fontcolor=INK,
        color=INK,
        penwidth="1.1",
        arrowsize="0.6",
        arrowhead="normal",
    )
    return graph


def _title(caption: Caption, entries: Sequence[tuple[str, str]], notes: Sequence[str]) -> str:
    revision = f"revision {caption.revision}, " if caption.revision else ""
    source = f"{revision}from {caption.file}, digest {caption.digest}"
    told = [
        text(caption.subject, DEEP, size=HEAD, bold=True),
        text(caption.title, size=TITLE, bold=True, room=52),
        text(source, QUIET),
        *(text(note, QUIET, room=90) for note in notes),
    ]
    named = [
        cell(sample, align="left") + cell(text(meaning, QUIET, room=46), align="left", balign="left", cellpadding=3)
        for sample, meaning in entries
    ]
    half = (len(named) + 1) // 2
    pairs = [[*named[i : i + 1], *named[half + i : half + i + 1]] for i in range(half)]
    cells = [cell(stacked(told, cellpadding=2), align="left", valign="top")]
    if named:
        cells.append(cell(table(map(row, pairs), cellpadding=1), align="left", valign="top", cellpadding=6))
    return table([row(cells)])
