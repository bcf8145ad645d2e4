"""A scenario against time as SVG: an axis, a lane for each thing that changes, when each event can happen at all.

In: a picture of times. Out: SVG. Events at one moment stand beside each other, in their order, on a grey ground; time
passes between the grounds. A lane is one band where the names of its values find room in it, else a row for each value.
Of several widths of the page the one is taken whose text is largest when printed on A3.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from interlock.analysis.drawing import Lane, Stretch, TimesPicture
from interlock.core.question import Ends
from interlock.report.dot_style import ALARM, DEEP, INK, LINE, PALE, PAPER, QUIET, WASH
from interlock.report.svg_sheet import LINE_PT, Sheet, in_lines, wide
from interlock.report.svg_times_around import Around, draw_gap
from interlock.report.times_axis import Axis, axis
from interlock.report.times_spread import Group, can_happen, name_of, spread
from interlock.report.words import short_time
from interlock.spec.quantities import show_time

WIDTHS = (700.0, 820.0, 920.0, 1120.0, 1300.0)
"""Widths of the page that are tried."""
A3 = (1162.2, 813.5)
"""The sides of an A3 sheet within its margins."""
MARGIN, BAND, ROW = 12.0, 12.0, 10.0
AFTER = 26.0
"""How far lanes go on after the end."""
NAME_ROOM = 130.0
SPREAD_ROOM = 165.0
READ, AXIS = "read here", "time in this run"
GROUND = "#dde4e6"


def render_times(picture: TimesPicture) -> str:
    """The picture as SVG, on the page on which it is largest when printed."""
    best: tuple[float, str] | None = None
    for width in WIDTHS:
        page = Page(picture, width)
        told = page.draw()
        if best is None or page.scale > best[0] + 1e-6:
            best = (page.scale, told)
        if page.scale >= 1.0:
            break
    assert best is not None
    return best[1]


@dataclass(frozen=True, slots=True)
class Laid:
    """A lane and how it is drawn: with a row for each value, or (`values` empty) as one band."""

    lane: Lane
    values: tuple[str, ...]
    names: tuple[str, ...]

    @property
    def height(self) -> float:
        """How high it is, with the distance to the next one."""
        return max(len(self.values) * ROW + 1.0 if self.values else BAND, len(self.names) * LINE_PT) + 2.4


class Page:
    """A picture on a page of some width. `scale`: by how much it is made smaller to fit an A3 sheet, at the most 1."""

    def __init__(self, picture: TimesPicture, width: float) -> None:
        self.shown = picture
        self.sheet = Sheet()
        self.scale = 1.0
        self.groups = spread(picture)
        self._names = self._room_of_names()
        left = MARGIN + self._names
        self._read = wide(READ) + 6.0
        room = width - left - self._read - MARGIN
        self.axis = self._axis(left, room)
        self.width = max(width, self.axis.right + self._read + MARGIN)
        self._end = self._end_of()
        self._stop = min(self.axis.right, self._end + AFTER)

    def draw(self) -> str:
        """The text of the SVG; sets `scale`."""
        around = Around(self.shown, self.sheet, MARGIN, self.width - MARGIN)
        y = around.title(MARGIN, self.axis)
        top = self._moments(y)
        laid = [self._laid(lane) for lane in self.shown.lanes]
        kinds = len({lane.kind for lane in self.shown.lanes})
        bottom = top + sum(one.height for one in laid) + kinds * LINE_PT + (BAND + 4.0 if self.shown.runs else 0.0)
        self._grounds(top, bottom)
        y = self._lanes(laid, top)
        if self.shown.runs is not None:
            y = self._deadline(y, *self.shown.runs)
        y = self._end_line(top, y)
        y = self._spread(y + 4.0)
        y = around.below(y + 8.0)
        height = y + MARGIN
        self.scale = min(1.0, max(min(A3[0] / w, A3[1] / h) for w, h in ((self.width, height), (height, self.width))))
        return self.sheet.svg(self.width, height, around.heading, around.described)

    # --- where things stand ---

    def _axis(self, left: float, room: float) -> Axis:
        shown = self.shown
        times = [event.at for event in shown.events if event.at is not None]
        others: list[Fraction] = []
        if shown.runs is not None:
            others.append(self._at(shown.runs[0]) + shown.runs[1])
        if shown.missed is not None:
            others.append(shown.missed.at)
        return axis(times, others, left, room, AFTER)

    def _at(self, row: int) -> Fraction:
        at = self.shown.events[row - 1].at if row else Fraction(0)
        assert at is not None
        return at

    def _end_of(self) -> float:
        if self.shown.missed is not None:
            return self.axis.place(self.shown.missed.at, last=True)
        return self.axis.rows[-1]

    def _room_of_names(self) -> float:
        """The width of the column of names: of lanes, values and spreads."""
        found = [wide(AXIS), wide("deadline", bold=True)]
        for lane in self.shown.lanes:
            name = max(wide(piece, bold=True) for piece in in_lines(lane.thing, NAME_ROOM, bold=True))
            found.append(name + 10.0 + max(wide(stretch.value) for stretch in lane.stretches))
        spreads = [self._spread_room(group) + wide(can_happen(group, self.shown.tick_s)) for group in self.groups]
        return max(*found, min(max(spreads, default=0.0), SPREAD_ROOM)) + 6.0

    def _spread_room(self, group: Group) -> float:
        """Room before the times of a group, for the numbers of its events."""
        return wide(name_of(group), bold=True) + 8.0

    def _laid(self, lane: Lane) -> Laid:
        fits = all(
            wide(one.value, bold=one.in_breach) + 5.0 <= self._to(one) - self.axis.rows[one.first]
            for one in lane.stretches
        )
        values = () if fits else tuple(dict.fromkeys(one.value for one in lane.stretches))
        return Laid(lane, values, tuple(in_lines(lane.thing, NAME_ROOM, bold=True)))

    def _to(self, stretch: Stretch) -> float:
        row = stretch.first + stretch.n_rows
        return self.axis.rows[row] if row < len(self.axis.rows) else self._stop

    # --- the axis ---

    def _moments(self, y: float) -> float:
        """Times of moments, the line, the numbers of events; where the lanes begin."""
        told = [
            (short_time(zone.at * self.shown.tick_s), (zone.left + zone.right) / 2, zone)
            for zone in self.axis.zones
            if self.shown.missed is None or zone.at != self.shown.missed.at
        ]
        ends = [(x - wide(said, bold=True) / 2, x + wide(said, bold=True) / 2) for said, x, _ in told]
        level = all(after[0] - before[1] > 3.0 for before, after in pairwise(ends))
        height = LINE_PT if level else max(wide(said, bold=True) for said, _, _ in told) + 2.0
        line = y + height + 5.0
        names = self.axis.rows[0] - 6.0
        self.sheet.text(names, line - 2.0, AXIS, QUIET, italic=True, anchor="end")
        for said, x, zone in told:
            if level:
                self.sheet.text(x, line - 6.0, said, INK, bold=True, anchor="middle")
            else:
                self.sheet.text(x + 2.8, line - 6.0, said, INK, bold=True, upright=True)
            self.sheet.line(x, line - 4.5, x, line, INK)
            if zone.right > zone.left:
                self.sheet.box(zone.left, line, zone.right, line + 2.4, INK)
        for before, after in pairwise(self.axis.zones):
            draw_gap(self.sheet, before.right, after.left, line + 1.2, after.gap)
        return self._numbers(line + 4.0)

    def _numbers(self, y: float) -> float:
        """The number of each event where it stands, in as many rows as it takes for none to lie on another."""
        rows: list[float] = []
        for event, x in zip(self.shown.events, self.axis.rows[1:], strict=True):
            half = wide(str(event.number), bold=event.kind == "failure") / 2
            row = next((i for i, end in enumerate(rows) if x - half > end + 2.5), len(rows))
            rows[row : row + 1] = [x + half]
            failed = event.kind == "failure"
            self.sheet.text(x, y + (row + 1) * 8.5, str(event.number), ALARM if failed else DEEP, bold=failed,
                            anchor="middle")  # fmt: skip
        names = self.axis.rows[0] - 6.0
        self.sheet.text(names, y + 8.5, "event", QUIET, italic=True, anchor="end")
        return y + max(len(rows), 1) * 8.5 + 5.0

    # --- lanes ---

    def _grounds(self, top: float, bottom: float) -> None:
        """Grounds under events of one moment, in lines where the plant has settled between them."""
        for zone in self.axis.zones:
            if zone.right > zone.left:
                self.sheet.box(zone.left, top, zone.right, bottom, GROUND)
            else:
                self.sheet.line(zone.left, top, zone.left, bottom, LINE, 0.6)
        for i, event in enumerate(self.shown.events):
            if i and event.from_settled and event.at == self.shown.events[i - 1].at:
                x = (self.axis.rows[i] + self.axis.rows[i + 1]) / 2
                self.sheet.line(x, top, x, bottom, QUIET, 0.6, "1.5 1.5")

    def _lanes(self, laid: list[Laid], y: float) -> float:
        for kind, group in groupby(laid, key=lambda one: one.lane.kind):
            self.sheet.text(MARGIN, y + 7.5, kind, QUIET, italic=True)
            y += LINE_PT
            for one in group:
                self._lane(one, y)
                y += one.height
        return y

    def _lane(self, laid: Laid, y: float) -> None:
        for i, piece in enumerate(laid.names):
            self.sheet.text(MARGIN, y + 9.0 + i * LINE_PT, piece, INK, bold=True)
        left = self.axis.rows[0]
        for i, value in enumerate(laid.values):
            base = y + i * ROW + 8.0
            self.sheet.text(left - 4.0, base, value, INK, anchor="end")
            self.sheet.line(left, base + 1.7, self._stop, base + 1.7, LINE, 0.4)
        for i, one in enumerate(laid.lane.stretches):
            top = y + laid.values.index(one.value) * ROW if laid.values else y
            bottom = top + (ROW - 0.8 if laid.values else BAND)
            self._stretch(one, top, bottom, i % 2 == 1, named=not laid.values)

    def _stretch(self, one: Stretch, top: float, bottom: float, shaded: bool, *, named: bool) -> None:
        left, right = self.axis.rows[one.first], self._to(one)
        mark = DEEP if self.shown.ends is Ends.REACHED else ALARM
        fits = wide(one.value, bold=one.in_breach) + 5.0 <= right - left
        said = one.value if named or fits else ""
        fill = (PAPER if mark is DEEP else PALE) if one.in_breach else WASH if shaded or not named else PAPER
        ink = mark if one.in_breach else INK
        self.sheet.box(left, top, right, bottom, fill, ink, 1.8 if one.in_breach else 0.7, said, ink, one.in_breach)
        if one.in_breach:
            self.sheet.text(self._stop + 5.0, (top + bottom) / 2 + 2.8, READ, mark, italic=True)

    def _deadline(self, y: float, row: int, ticks: int) -> float:
        """The time of a deadline, from where it runs to where it is over."""
        y += 2.0
        left = self.axis.rows[row]
        right = self.axis.place(self._at(row) + ticks, last=False)
        said = show_time(ticks * self.shown.tick_s)
        said = f"{'at least' if self.shown.missed is None else 'within'} {said}"
        self.sheet.text(MARGIN, y + 9.0, "deadline", INK, bold=True)
        fits = wide(said, bold=True) + 5.0 <= right - left
        self.sheet.box(left, y, right, y + BAND, PAPER, ALARM, 1.2, said if fits else "", ALARM, True)
        if not fits:
            self.sheet.text(left - 4.0, y + 9.0, said, ALARM, bold=True, anchor="end")
        return y + BAND + 2.0

    def _end_line(self, top: float, bottom: float) -> float:
        """Where it is broken or reached, through all lanes."""
        reached = self.shown.ends is Ends.REACHED
        mark = DEEP if reached else ALARM
        self.sheet.line(self._end, top - 2.0, self._end, bottom + 2.0, mark, 2.0)
        said = "reached here" if reached else "broken here"
        if self.shown.missed is not None:
            said = f"not met, and so broken here, at {short_time(self.shown.missed.at * self.shown.tick_s)}"
        left = self.axis.rows[0]
        room = wide(said, bold=True)
        x = min(max(self._end - room / 2, left), max(self.width - MARGIN - room, left))
        self.sheet.text(x, bottom + 10.5, said, mark, bold=True)
        return bottom + 12.5

    # --- when events can happen at all ---

    def _spread(self, y: float) -> float:
        left, right = self.axis.rows[0], self._stop
        if not self.groups:
            return y
        self.sheet.text(MARGIN, y + 8.0, "When events can happen on this way", QUIET, bold=True)
        y += LINE_PT + 3.0
        for group in self.groups:
            base = y + 8.0
            self.sheet.text(MARGIN, base, name_of(group), DEEP, bold=True)
            room = self._names - 5.5 - self._spread_room(group)
            told = in_lines(can_happen(group, self.shown.tick_s), room)
            for i, piece in enumerate(told):
                self.sheet.text(left - 6.0, base + i * LINE_PT, piece, INK, anchor="end")
            middle = base - 2.8
            y += len(told) * LINE_PT
            self.sheet.line(left, y - 0.3, right, y - 0.3, LINE, 0.3)
            here = self.axis.rows[group.first] if group.first else self._end
            until = self.axis.rows[group.last] if group.first else self._end
            first, latest = self._before(group, here), group.latest
            last = right if latest is None else min(self._after(group.at, latest.ticks, until), right)
            self.sheet.line(first, middle, last, middle, INK, 1.1)
            self.sheet.dot(first, middle, 2.2, PAPER if group.earliest.open else INK, INK)
            if latest is None or latest.ticks > self.axis.zones[-1].at:
                self.sheet.shape([(last, middle - 3.0), (last + 5.0, middle), (last, middle + 3.0)], INK)
            else:
                self.sheet.dot(last, middle, 2.2, PAPER if latest.open else INK, INK)
            self.sheet.box(here - 2.0, middle - 3.2, until + 2.0, middle + 3.2, DEEP if group.first else ALARM)
        return y

    def _before(self, group: Group, here: float) -> float:
        """Where the earliest time of a group stands, which is in the run at `here`."""
        early = group.earliest.ticks
        return here if early == group.at else min(self.axis.place(Fraction(early), last=False), here)

    def _after(self, at: Fraction, latest: int, until: float) -> float:
        """Where the latest time of a group stands, which ends in the run at `until`."""
        return until if latest == at else max(self.axis.place(Fraction(latest), last=True), until)
