"""A scenario against time as plain text: moment by moment, what happens and what each thing goes through.

In: a picture of times, how the text is to look. Out: text.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby

from interlock.analysis.drawing import ChartEvent, TimesPicture
from interlock.report.page import Ink, Page
from interlock.report.scenario import ENDS, WHO, when
from interlock.report.words import age, short_time

ROOM = 11
"""Cells for labels, as in the text of a scenario."""


def times_text(picture: TimesPicture, *, colour: bool, width: int) -> str:
    """The picture as text, so many cells wide."""
    page = Page(colour=colour, width=width)
    caption = picture.caption
    page.paragraph(f"{caption.subject}: {caption.title}", ink=Ink.STRONG)
    revision = f"revision {caption.revision}, " if caption.revision else ""
    page.paragraph(f"{revision}from {caption.file}, digest {caption.digest}")
    page.paragraph(picture.heading)
    if picture.asked:
        page.paragraph(f"asked: {picture.asked}", hang=2)
    page.paragraph("In the declared timing: one run whose times fit together.")
    page.gap()
    for name in picture.at_start:
        page.paragraph(f"FAILURE: {name} is present at the start", ink=Ink.FAILS)
    start = [f"{lane.thing} is {lane.stretches[0].value}" for lane in picture.lanes]
    page.labelled("At start", ", ".join(start), ROOM)
    before = Fraction(0)
    for at, group in groupby(picture.events, key=lambda event: event.at):
        assert at is not None
        _moment(page, picture, at, before, list(group))
        before = at
    _end(page, picture)
    return page.text()


def _moment(page: Page, picture: TimesPicture, at: Fraction, before: Fraction, events: list[ChartEvent]) -> None:
    """What happens at one moment, and the values that each thing goes through then, in their order."""
    page.gap()
    later = f", {short_time((at - before) * picture.tick_s)} later" if at != before else ""
    page.paragraph(f"At {short_time(at * picture.tick_s)}{later}", ink=Ink.STRONG)
    for event in events:
        told = when(event.earliest, event.latest, picture.tick_s)
        said = f"{WHO.get(event.kind, event.kind)}: {event.says}" + (f" ({told})" if told else "")
        page.labelled(str(event.number), said, 6, 2)
    first, last = events[0].number, events[-1].number
    for lane in picture.lanes:
        passed = [one.value for one in lane.stretches if first <= one.first <= last]
        if passed:
            was = next(one.value for one in lane.stretches if one.first < first <= one.first + one.n_rows)
            page.paragraph(f"{lane.thing}: {' -> '.join([was, *passed])}", 8, 10)


def _end(page: Page, picture: TimesPicture) -> None:
    page.gap()
    said = f"{picture.breach} (in passing)" if picture.in_passing else picture.breach
    page.labelled(ENDS[picture.ends], said, ROOM)
    if picture.missed is not None:
        limit = age(picture.missed.limit, picture.tick_s, latest=False)
        here = short_time(picture.missed.at * picture.tick_s)
        page.labelled("", f"at the earliest {limit} after the start; in this run at {here}", ROOM)
    read = [f"{lane.thing} is {lane.stretches[-1].value}" for lane in picture.lanes if lane.stretches[-1].in_breach]
    read += [f"{change.thing} is {change.after}" for change in picture.folded]
    if read:
        page.labelled("Values", ", ".join(read), ROOM)
