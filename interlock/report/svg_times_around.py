"""What stands around the lanes of a picture of times: title and legend above, below the breach and the list of events.

In: a picture of times, a sheet, where left and right are. Out: shapes on the sheet, and how far down they reach.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from interlock.analysis.drawing import TimesPicture
from interlock.core.question import Ends
from interlock.report.dot_scenario import folded_text, missed_text
from interlock.report.dot_style import ALARM, DEEP, HEAD, INK, PALE, PAPER, QUIET, TITLE, WASH
from interlock.report.scenario import ENDS, WHO
from interlock.report.svg_sheet import LINE_PT, Sheet, in_lines, wide
from interlock.report.times_axis import Axis, Gap
from interlock.report.words import short_time
from interlock.spec.quantities import show_time

COLUMN = 220.0
"""The least width of a column of the list."""
NUMBER, BY = 16.0, 44.0
"""In the list: room before the words, for the number and for who makes it."""
LEGEND = 300.0
FAILED = "FAILURE: "
NOTES = (
    "In the declared timing. The axis tells one run whose times fit together.",
    "Where events stand beside each other on a grey ground, no time passes between them.",
)

Piece = tuple[float, str, str, bool, str]
"""A text of a line of the list: how far to the right, what it says, its ink, whether it is bold, its anchor."""

Entry = tuple[Callable[[float, float], None], str]


class Around:
    """Title, legend, breach and list of a picture, between two sides."""

    def __init__(self, picture: TimesPicture, sheet: Sheet, left: float, right: float) -> None:
        self.shown, self.sheet, self.left, self.right = picture, sheet, left, right
        self.heading = f"{picture.caption.subject}: {picture.caption.title}"
        self.described = f"{picture.heading}. {picture.breach}"

    # --- above ---

    def title(self, y: float, axis: Axis) -> float:
        """Title at the left, legend at the right; where the rest begins."""
        caption, top = self.shown.caption, y
        room = self.right - self.left - LEGEND - 20.0
        y += HEAD
        self.sheet.text(self.left, y, caption.subject, DEEP, size=HEAD, bold=True)
        for piece in in_lines(caption.title, room, TITLE, bold=True):
            y += TITLE + 3.0
            self.sheet.text(self.left, y, piece, INK, size=TITLE, bold=True)
        revision = f"revision {caption.revision}, " if caption.revision else ""
        notes = [f"{revision}from {caption.file}, digest {caption.digest}", self.shown.heading]
        if self.shown.asked:
            notes.append(f"asked: {self.shown.asked}")
        notes += [f"{FAILED}{name} is present at the start" for name in self.shown.at_start]
        y += 3.0
        for note in (*notes, *NOTES):
            for piece in in_lines(note, room, bold=note.startswith(FAILED)):
                y += LINE_PT
                failed = note.startswith(FAILED)
                self.sheet.text(self.left, y, piece, ALARM if failed else QUIET, bold=failed)
        return max(y, self._legend(top, axis)) + 10.0

    def _legend(self, y: float, axis: Axis) -> float:
        x = self.right - LEGEND
        for draw, meaning in self._entries(axis):
            draw(x, y + 5.0)
            for piece in in_lines(meaning, LEGEND - 62.0):
                self.sheet.text(x + 62.0, y + 8.0, piece, QUIET)
                y += LINE_PT
            y += 2.0
        return y

    def _entries(self, axis: Axis) -> list[Entry]:
        found: list[Entry] = [(self._value, "a value, as long as the thing has it")]
        if any(stretch.in_breach for lane in self.shown.lanes for stretch in lane.stretches):
            what = "what is reached" if self.shown.ends is Ends.REACHED else "what is broken"
            found.append((self._read, f"a value that {what} reads at the end; the whole stands below"))
        gaps = {zone.gap for zone in axis.zones}
        per_second = axis.per_tick / float(self.shown.tick_s)
        length = _round_length(per_second)
        if Gap.TO_SCALE in gaps and length is not None:
            long = float(length) * per_second
            told = f"a wait that is drawn to scale, here {show_time(length)}"
            found.append((lambda x, y: self._scale(x, y, long), told))
        if Gap.WIDENED in gaps:
            found.append((lambda x, y: self._axis(x, y, Gap.WIDENED), "a shorter wait, drawn wider than to scale"))
        if Gap.SHORTENED in gaps:
            found.append((lambda x, y: self._axis(x, y, Gap.SHORTENED), "a longer wait, drawn shorter than to scale"))
        if any(b.from_settled and a.at == b.at for a, b in zip(self.shown.events, self.shown.events[1:], strict=False)):
            dashed = "the plant has settled: time could pass here, in this run none does"
            found.append((lambda x, y: self.sheet.line(x + 20, y - 5, x + 20, y + 5, QUIET, 0.6, "1.5 1.5"), dashed))
        found.append((self._whisker, "from the earliest to the latest time on this way, and the time in this run; "
                      "hollow: approached, not reached; arrow: later than the axis goes"))  # fmt: skip
        return found

    def _value(self, x: float, y: float) -> None:
        self.sheet.box(x, y - 6.0, x + 40.0, y + 6.0, WASH, INK, 0.7, "value")

    def _read(self, x: float, y: float) -> None:
        reached = self.shown.ends is Ends.REACHED
        ink = DEEP if reached else ALARM
        self.sheet.box(x, y - 6.0, x + 40.0, y + 6.0, PAPER if reached else PALE, ink, 1.8, "value", ink, True)

    def _scale(self, x: float, y: float, length: float) -> None:
        self.sheet.line(x, y, x + length, y, INK, 1.0)
        for end in (x, x + length):
            self.sheet.line(end, y - 3.0, end, y + 3.0, INK, 1.0)

    def _axis(self, x: float, y: float, gap: Gap) -> None:
        draw_gap(self.sheet, x, x + 40.0, y, gap)

    def _whisker(self, x: float, y: float) -> None:
        self.sheet.line(x + 2.0, y, x + 40.0, y, INK, 1.1)
        self.sheet.dot(x + 2.0, y, 2.2, INK, INK)
        self.sheet.dot(x + 40.0, y, 2.2, PAPER, INK)
        self.sheet.box(x + 18.0, y - 3.2, x + 22.0, y + 3.2, DEEP)

    # --- below ---

    def below(self, y: float) -> float:
        """The breach, what is left out, the list of events; where it ends."""
        shown = self.shown
        reached = shown.ends is Ends.REACHED
        ink = DEEP if reached else ALARM
        label = "BREACH" if shown.ends is Ends.BREACH else ENDS[shown.ends]
        box = wide(label, HEAD, bold=True) + 10.0
        self.sheet.box(self.left, y, self.left + box, y + 17.0, PAPER if reached else PALE, ink, 1.8)
        self.sheet.text(self.left + 5.0, y + 12.0, label, ink, size=HEAD, bold=True)
        said = f"{shown.breach} (in passing)" if shown.in_passing else shown.breach
        told = [(said, True)]
        if shown.missed is not None:
            told.append((missed_text(shown.missed, shown.tick_s), True))
        told += [(f"unchanged, and read at the end: {one.thing} is {one.after}", False) for one in shown.folded]
        if shown.n_folded:
            told.append((folded_text(shown.n_folded, timed=True), False))
        x = self.left + box + 8.0
        y += 1.0
        for said, bold in told:
            for piece in in_lines(said, self.right - x, bold=bold):
                y += LINE_PT
                self.sheet.text(x, y, piece, ink if bold else QUIET, bold=bold)
        return self._list(y + 14.0)

    def _list(self, y: float) -> float:
        """All events, in columns that are read downwards one after the other."""
        columns = max(int((self.right - self.left) / COLUMN), 1)
        room = (self.right - self.left) / columns
        lines = self._lines(room - NUMBER - BY - 8.0)
        height = -(-len(lines) // columns)
        column, row, lowest = 0, 0, 0
        for pieces in lines:
            heads = pieces[0][0] == NUMBER
            if row >= height or (heads and row == height - 1 and column < columns - 1):
                column, row = min(column + 1, columns - 1), row if column == columns - 1 else 0
            row += 1
            lowest = max(lowest, row)
            for offset, said, ink, bold, anchor in pieces:
                x = self.left + column * room + offset
                self.sheet.text(x, y + row * LINE_PT, said, ink, bold=bold, anchor=anchor)
        return y + lowest * LINE_PT

    def _lines(self, room: float) -> list[list[Piece]]:
        """The lines of the list: before the events of a moment its time, and how long after the one before."""
        found: list[list[Piece]] = []
        before: Fraction | None = None
        for event in self.shown.events:
            assert event.at is not None
            if event.at != before:
                told = short_time(event.at * self.shown.tick_s)
                wait = event.at - (before or Fraction(0))
                told += f", {short_time(wait * self.shown.tick_s)} later" if wait else ""
                found.append([(NUMBER, f"at {told}", INK, True, "start")])
                before = event.at
            failed = event.kind == "failure"
            ink = ALARM if failed else INK
            who = WHO.get(event.kind, event.kind)
            line: list[Piece] = [
                (NUMBER - 4.0, str(event.number), DEEP, True, "end"),
                (NUMBER, who, ink if failed else QUIET, failed, "start"),
            ]
            for piece in in_lines(event.says, room, bold=failed):
                found.append([*line, (NUMBER + BY, piece, ink, failed, "start")])
                line = []
        return found


def _round_length(per_second: float) -> Fraction | None:
    """A round time in seconds (1, 2 or 5 with noughts) that is 15 to 60 points long; None: there is none."""
    for power in range(-9, 7):
        for digit in (1, 2, 5):
            length = digit * Fraction(10) ** power
            if 15.0 <= float(length) * per_second <= 60.0:
                return length
    return None


def draw_gap(sheet: Sheet, left: float, right: float, y: float, gap: Gap | None) -> None:
    """The line of the axis between two moments: whole, dotted where widened, broken where shortened."""
    if gap is Gap.WIDENED:
        sheet.line(left, y, right, y, INK, 1.0, "1 2")
        return
    if gap is Gap.TO_SCALE:
        sheet.line(left, y, right, y, INK, 1.0)
        return
    middle = (left + right) / 2
    sheet.line(left, y, middle - 2.0, y, INK, 1.0)
    sheet.line(middle + 2.0, y, right, y, INK, 1.0)
    for x in (middle - 2.0, middle + 2.0):
        sheet.line(x - 1.5, y + 4.0, x + 1.5, y - 4.0, INK, 1.0)
