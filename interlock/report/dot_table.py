"""Tables where a drawing would have too many boxes to be read: the same content in rows.

In: a picture of sequences or of situations. Out: DOT text, tables of `ROWS` rows side by side, `ACROSS` of them in a
row of a sheet. The first line says that it is a table, and why.
"""

from __future__ import annotations

from collections.abc import Sequence

from interlock.analysis.drawing import Caption, DrawnChange, SequencesPicture, SituationsPicture
from interlock.report.dot_sequences import n_boxes, render_sequences
from interlock.report.dot_situations import notes_of, render_situations
from interlock.report.dot_style import INK, LINE, MOST_BOXES, QUIET, WASH, cell, html, row, sheet, table, text

ROWS = 70
ACROSS = 2


def sequences_or_table(picture: SequencesPicture) -> tuple[str, int | None]:
    """The sequences as DOT text, and how many boxes were too many (None: they are drawn)."""
    count = n_boxes(picture)
    if count <= MOST_BOXES:
        return render_sequences(picture), None
    rows = []
    for sequence in picture.sequences:
        for step in sequence.steps:
            name = f"{sequence.id} {step.name}" + (" (start)" if step.start else "")
            ways = [one for one in sequence.changes if step.name in one.from_steps]
            driven = ", ".join(step.drives)
            rows += [(name, driven, _way(one), one.to) for one in ways[:1]] or [(name, driven, "nothing leads on", "")]
            rows += [("", "", _way(one), one.to) for one in ways[1:]]
    return _table(
        picture.caption, [_instead(count)], ("step", "drives", "left by, with what it needs", "to"), rows
    ), count


def situations_or_table(picture: SituationsPicture) -> tuple[str, int | None]:
    """The situations as DOT text, and how many boxes were too many (None: they are drawn)."""
    count = len(picture.boxes)
    if count <= MOST_BOXES:
        return render_situations(picture), None
    rows = []
    for i, box in enumerate(picture.boxes):
        values = ", ".join(f"{name} {value}" for name, value in zip(picture.by, box.values, strict=True))
        name = f"{i + 1}: {values}" + (" (start)" if box.start else "")
        counts = f"{box.n_settled:,} settled, {box.n_passing:,} passing"
        ways = [one for one in picture.arrows if one.before == i]
        told = [(", ".join(f"{event} x {n:,}" for event, n in one.events), str(one.after + 1)) for one in ways]
        rows += [(name, counts, *told[0])] if told else [(name, counts, "nothing leads on", "")]
        rows += [("", "", *way) for way in told[1:]]
    notes = [_instead(count), *notes_of(picture)]
    return _table(picture.caption, notes, ("combination", "situations", "left by", "to"), rows), count


def _instead(count: int) -> str:
    return f"A table instead of a drawing: it would have {count:,} boxes, more than the {MOST_BOXES} that can be read."


def _way(change: DrawnChange) -> str:
    if change.kind == "timeout":
        return f"timeout after {change.after}"
    if change.kind == "trip":
        return f"trip {change.name}"
    return f"{change.name}: {', '.join(need.name for need in change.needs) or 'nothing needed'}"


def _table(caption: Caption, notes: Sequence[str], headings: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    graph = sheet(caption, [], notes)
    heads = row([cell(text(one, QUIET, bold=True), align="left", cellpadding=3, bgcolor=WASH) for one in headings])
    blocks = [rows[i : i + ROWS] for i in range(0, len(rows), ROWS)]
    for i, block in enumerate(blocks):
        told = [heads]
        for cells in block:
            line: dict[str, object] = {"border": 1, "sides": "T", "color": INK if cells[0] else LINE}
            told.append(
                row(
                    [
                        cell(
                            text(one, bold=j == 0, room=48) if one else "",
                            align="left",
                            balign="left",
                            valign="top",
                            cellpadding=2,
                            **line,
                        )
                        for j, one in enumerate(cells)
                    ]
                )
            )
        graph.node(f"t{i}", html(table(told)))
        if i >= ACROSS:
            graph.edge(f"t{i - ACROSS}", f"t{i}", style="invis")
    return str(graph.source)
