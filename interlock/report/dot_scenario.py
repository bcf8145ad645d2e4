"""A scenario as DOT: a chart read downwards, one row an event, one lane for each thing that changes.

In: a picture of a scenario. Out: DOT text, one table. A block of a lane is a value and lasts as long as the thing has
it; blocks that the broken expression reads at the end are framed and marked in words.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby

from interlock.analysis.drawing import ScenarioPicture, Stretch
from interlock.analysis.result import Missed
from interlock.core.question import Ends
from interlock.report.dot_style import (
    ALARM,
    DEEP,
    HEAD,
    INK,
    LINE,
    PALE,
    PAPER,
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
from interlock.report.scenario import ENDS, WHO, when
from interlock.report.words import age, counted, short_time

LANE_ROOM = 11
EVENT_ROOM = 40
WHEN_ROOM = 26


def render_scenario(picture: ScenarioPicture) -> str:
    """The picture as DOT text."""
    notes = [picture.heading]
    if picture.asked:
        notes.append(f"asked: {picture.asked}")
    if picture.unless_timing:
        notes.append("The times of the spec are left out of account: this is a way unless timing forbids it.")
    if picture.timed:
        notes.append(
            "In the declared timing. Times are since the start; `when` is the earliest and the latest on this way, "
            "`one run` are times that fit together."
        )
    graph = sheet(picture.caption, _legend(picture), notes)
    graph.node("chart", html(_chart(picture)))
    graph.node("end", html(_end(picture)))
    graph.edge("chart", "end", style="invis")
    return str(graph.source)


def _legend(picture: ScenarioPicture) -> list[tuple[str, str]]:
    line = table([row([cell(width=44, height=1, fixedsize="true", bgcolor=QUIET)])])
    entries = [
        (_sample(False, picture.ends), "a value, as long as the thing has it"),
        (line, "settled: what stands between two lines happens at once, one event after the other"),
    ]
    if any(stretch.in_breach for lane in picture.lanes for stretch in lane.stretches):
        what = "what is reached" if picture.ends is Ends.REACHED else "what is broken"
        told = f"a value that {what} reads at the end; the whole expression stands below"
        entries.insert(1, (_sample(True, picture.ends), told))
    return entries


def _sample(in_breach: bool, ends: Ends) -> str:
    return table([row([_block(Stretch("value", 1, 1, in_breach), True, ends)])])


def _chart(picture: ScenarioPicture) -> str:
    sorts = [cell()] * (5 if picture.timed else 3)
    for kind, lanes in groupby(picture.lanes, key=lambda lane: lane.kind):
        sorts.append(cell(text(kind, QUIET, italic=True), align="left", cellpadding=2, colspan=len(list(lanes))))
    heads = [cell(), cell(text("by", QUIET, bold=True), align="left", valign="bottom", cellpadding=2)]
    heads.append(cell(text("event", QUIET, bold=True), align="left", valign="bottom", cellpadding=2))
    heads += [
        cell(text(name, QUIET, bold=True), align="left", valign="bottom", cellpadding=2)
        for name in (("when", "one run") if picture.timed else ())
    ]
    for lane in picture.lanes:
        name = text(lane.thing, bold=True, room=LANE_ROOM)
        heads.append(cell(name, align="left", balign="left", valign="bottom", cellpadding=3))
    rows = [row(sorts), row(heads)] if picture.lanes else [row(heads)]
    starts = [{stretch.first: stretch for stretch in lane.stretches} for lane in picture.lanes]
    for i in range(len(picture.events) + 1):
        cells = _start(picture) if i == 0 else _event(picture, i)
        for lane, blocks in zip(picture.lanes, starts, strict=True):
            if i in blocks:
                cells.append(_block(blocks[i], lane.stretches.index(blocks[i]) % 2 == 1, picture.ends))
        rows.append(row(cells))
    return table(rows)


def _block(stretch: Stretch, shaded: bool, ends: Ends) -> str:
    mark = DEEP if ends is Ends.REACHED else ALARM
    told = text(stretch.value, mark if stretch.in_breach else INK, bold=True, room=LANE_ROOM)
    if stretch.in_breach:
        told += "<br/>" + text("read here", mark, italic=True)
    return cell(
        told,
        align="left",
        balign="left",
        valign="top",
        cellpadding=1,
        border=2 if stretch.in_breach else 1,
        color=mark if stretch.in_breach else LINE,
        bgcolor=PAPER
        if stretch.in_breach and mark is DEEP
        else PALE
        if stretch.in_breach
        else WASH
        if shaded
        else PAPER,
        rowspan=stretch.n_rows,
    )


def _start(picture: ScenarioPicture) -> list[str]:
    told = [text(f"FAILURE: {name} is present", ALARM, bold=True, room=EVENT_ROOM) for name in picture.at_start]
    said = stacked(told or [text("start", QUIET, italic=True)])
    left = [cell(), cell(), cell(said, align="left", balign="left", valign="top", cellpadding=1)]
    return left + [cell()] * 2 if picture.timed else left


def _event(picture: ScenarioPicture, i: int) -> list[str]:
    event = picture.events[i - 1]
    failed = event.kind == "failure"
    ink = ALARM if failed else INK
    said = text(event.says, ink, bold=failed, room=EVENT_ROOM)
    if picture.loop_from == event.number:
        said = stacked([text("from here on for ever:", ALARM, bold=True), said])
    place: dict[str, object] = {"valign": "top", "align": "left", "balign": "left", "cellpadding": 1}
    if event.from_settled:
        place |= {"border": 1, "sides": "T", "color": QUIET}
    told = [
        cell(text(str(event.number), DEEP, bold=True), **place),
        cell(text(WHO.get(event.kind, event.kind), ink if failed else QUIET), **place),
        cell(said, **place),
    ]
    if picture.timed:
        at = "" if event.at is None else short_time(event.at * picture.tick_s)
        told.append(cell(text(when(event.earliest, event.latest, picture.tick_s), room=WHEN_ROOM), **place))
        told.append(cell(text(at), **place))
    return told


def _end(picture: ScenarioPicture) -> str:
    reached = picture.ends is Ends.REACHED
    said = f"{picture.breach} (in passing)" if picture.in_passing else picture.breach
    ink = DEEP if reached else ALARM
    label = "BREACH" if picture.ends is Ends.BREACH else ENDS[picture.ends]
    mark = cell(text(label, ink, bold=True, size=HEAD), border=2, color=ink, cellpadding=4)
    what = cell(text(said, ink, bold=True, room=110), align="left", balign="left", cellpadding=6)
    told = [text(missed_text(picture.missed, picture.tick_s), ink)] if picture.missed is not None else []
    told += [text(f"unchanged, and read at the end: {one.thing} is {one.after}", QUIET) for one in picture.folded]
    if picture.n_folded:
        told.append(text(folded_text(picture.n_folded, picture.timed), QUIET))
    if picture.left_out:
        numbers = ", ".join(map(str, picture.left_out))
        told.append(text(f"Without a row, as they change nothing drawn here: events {numbers}.", QUIET, room=150))
    return stacked([table([row([mark, what])]), *told], cellpadding=2)


def missed_text(missed: Missed, tick_s: Fraction) -> str:
    """When a deadline is missed."""
    limit = age(missed.limit, tick_s, latest=False)
    return f"at the earliest {limit} after the start; in the one run at {short_time(missed.at * tick_s)}"


def folded_text(n_folded: int, timed: bool) -> str:
    """What is not drawn, with its number."""
    sorts = "items, steps, memories, links, late readings"
    others = counted(n_folded, "other thing")
    if timed:
        return f"Folded away: {others} ({sorts}) that do not change, or that happen beside this."
    return f"Folded away: {others} ({sorts}) that do not change."
