"""Situations merged by chosen things as DOT: boxes for combinations of values, arrows for the events between them.

In: a picture of situations. Out: DOT text. A box that runs start in has a double frame; one that only passes (never
settled) a dashed frame; an arrow that only failures make is dashed and its names are written as FAILURE.
"""

from __future__ import annotations

from interlock.analysis.drawing import Merge, MergeArrow, SituationsPicture
from interlock.report.dot_style import (
    ALARM,
    INK,
    QUIET,
    WASH,
    cell,
    html,
    row,
    sheet,
    stacked,
    table,
    text,
)
from interlock.report.words import counted, listed, with_failures

NAMES = 3
"""An arrow tells this many of its events by name and counts the rest."""


def render_situations(picture: SituationsPicture) -> str:
    """The picture as DOT text. Over `MOST_BOXES` boxes: see `dot_table`."""
    graph = sheet(picture.caption, _legend(picture), notes_of(picture))
    graph.attr("graph", ranksep="0.35", nodesep="0.35")
    for i, box in enumerate(picture.boxes):
        graph.node(f"b{i}", html(_box(picture.by, box)))
    for arrow in picture.arrows:
        failing = len(arrow.failures) == len(arrow.events)
        ink = ALARM if failing else INK
        graph.edge(
            f"b{arrow.before}",
            f"b{arrow.after}",
            label=html(_label(arrow, ink)),
            color=ink,
            style="dashed" if failing else "solid",
        )
    return str(graph.source)


def notes_of(picture: SituationsPicture) -> list[str]:
    """What is said above such a picture or table."""
    settled = sum(box.n_settled for box in picture.boxes)
    passing = sum(box.n_passing for box in picture.boxes)
    failures = with_failures(picture.n_failures)
    notes = [
        f"Merged by {listed(picture.by)}, {failures}, for any timing: the times of the spec are left out of account.",
        f"{counted(len(picture.boxes), 'combination')}: {counted(settled, 'settled situation')}, {passing:,} passing.",
    ]
    if picture.n_left_out:
        left_out = counted(picture.n_left_out, "value")
        notes.append(f"Situations of the part that can influence these; what cannot is left out ({left_out}).")
    if picture.limit is not None:
        notes.append(f"INCOMPLETE: {picture.limit}. More combinations and events may exist than are drawn.")
    return notes


def _legend(picture: SituationsPicture) -> list[tuple[str, str]]:
    entries = [
        (_box(("thing",), Merge(("value",), 4, 2, True)), "runs start here; below it: settled and passing situations"),
        (_box(("thing",), Merge(("value",), 0, 2, False)), "dashed: only in passing, never settled"),
        (text("x 5", QUIET), "how often: the situations in which the event leads this way"),
    ]
    if any(arrow.failures for arrow in picture.arrows):
        entries.append((text("FAILURE", ALARM, bold=True), "dashed arrow: only failures lead there"))
    return entries


def _box(by: tuple[str, ...], box: Merge) -> str:
    rows = [
        row(
            [
                cell(text(name, QUIET), align="left", cellpadding=1),
                cell(text(value, bold=True), align="left", cellpadding=1),
            ]
        )
        for name, value in zip(by, box.values, strict=True)
    ]
    told = text(f"{box.n_settled:,} settled, {box.n_passing:,} passing", QUIET, italic=True)
    rows.append(row([cell(told, align="left", colspan=2, cellpadding=1)]))
    inner = cell(
        table(rows, cellpadding=1, cellspacing=1),
        border=1,
        style="solid" if box.n_settled else "dashed",
        color=INK if box.n_settled else QUIET,
        bgcolor=WASH if box.n_settled else "white",
        cellpadding=3,
    )
    body = table([row([inner])])
    return table([row([cell(body, border=1, cellpadding=2, color=INK)])]) if box.start else body


def _label(arrow: MergeArrow, ink: str) -> str:
    told = []
    for name, n in arrow.events[:NAMES]:
        mark = "FAILURE " if name in arrow.failures else ""
        told.append(text(f"{mark}{name}" + (f"  x {n:,}" if n > 1 else ""), ink if mark else INK, room=34))
    rest = arrow.events[NAMES:]
    if rest:
        told.append(text(f"and {len(rest)} more  x {sum(n for _, n in rest):,}", QUIET))
    return stacked(told, cellpadding=1)
