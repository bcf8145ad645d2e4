"""The axis of a picture of times: where each event and each moment stands between left and right.

In: the times of a scenario and the room there is. Out: an `Axis`. The idea: events at one moment stand beside each
other in their order, in a zone of their own; between two zones time passes. As many of these gaps as can be are drawn
to one scale; a longer one is shortened and a shorter one widened, and both are marked, so that 30 ms and 200 s stand on
one page. Times stay exact; only places on the page (in points) are floating.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from itertools import pairwise

LEAST_GAP, MOST_GAPS = 12.0, (300.0, 220.0, 150.0, 110.0, 80.0, 55.0, 35.0, 22.0, 15.0, 12.0)
"""The narrowest a gap is drawn, and how wide at the most, as far as there is room, in points."""
SLOTS = (4.8, 22.0)
"""The least and the most room of an event, in points."""
SHARE = 0.65
"""How much of the room events may take, before gaps."""


class Gap(Enum):
    """How a gap between two moments is drawn."""

    TO_SCALE = "to scale"
    SHORTENED = "shortened"
    WIDENED = "widened"


@dataclass(frozen=True, slots=True)
class Zone:
    """A moment and the room of its events, from `left` to `right` (both the same: nothing happens then). `gap`: how the
    time before it is drawn (None: it is the start)."""

    at: Fraction
    left: float
    right: float
    gap: Gap | None


@dataclass(frozen=True, slots=True)
class Axis:
    """`rows`: where row 0, the start, and each event stand. `per_tick`: so many points a tick where a gap is to scale
    (0: no gap is)."""

    zones: tuple[Zone, ...]
    rows: tuple[float, ...]
    right: float
    per_tick: float

    def zone(self, at: Fraction) -> Zone:
        """The zone of a moment; StopIteration if there is none."""
        return next(zone for zone in self.zones if zone.at == at)

    def place(self, at: Fraction, *, last: bool) -> float:
        """Where a time stands; of a moment with events the left end of its zone, or (`last`) the right one. Beyond
        the last moment: the right end."""
        for zone in self.zones:
            if zone.at == at:
                return zone.right if last else zone.left
        for before, after in pairwise(self.zones):
            if before.at < at < after.at:
                share = float((at - before.at) / (after.at - before.at))
                return before.right + share * (after.left - before.right)
        return self.right


def axis(events: Sequence[Fraction], others: Iterable[Fraction], left: float, room: float, tail: float) -> Axis:
    """The axis for events at these times (never falling, in ticks) and other moments, from `left` on within `room` if
    that can be; `tail`: room after the last one. Cost: moments squared."""
    moments = sorted({Fraction(0), *events, *others})
    waits = [after - before for before, after in pairwise(moments)]
    n = len(events)
    most = min((room - tail) * SHARE, room - tail - len(waits) * LEAST_GAP)
    slot = min(max(most / n, SLOTS[0]), SLOTS[1]) if n else SLOTS[1]
    scale, widths = _fitted(waits, room - tail - n * slot)
    zones: list[Zone] = []
    rows = [left]
    x = left
    for k, at in enumerate(moments):
        if k:
            x += widths[k - 1]
        here = events.count(at)
        rows += [x + slot * (i + 0.5) for i in range(here)]
        zones.append(Zone(at, x, x + slot * here, _kind(waits[k - 1], widths[k - 1], scale) if k else None))
        x += slot * here
    return Axis(tuple(zones), tuple(rows), x + tail, scale)


def _fitted(waits: Sequence[Fraction], room: float) -> tuple[float, list[float]]:
    """The scale, in points a tick, and the widths of the gaps, with the widest gaps that there is room for."""
    scale: float = 0.0
    widths: list[float] = []
    for most in MOST_GAPS:
        scale = _scale(waits, most)
        widths = [min(max(float(wait) * scale, LEAST_GAP), most) for wait in waits]
        if sum(widths) <= room:
            break
    return scale, widths


def _scale(waits: Sequence[Fraction], most: float) -> float:
    """The scale at which most gaps are between the narrowest and the widest; of several, that with the longest time to
    scale, then that with the wider gaps."""
    best = (0, Fraction(0), 0.0)
    for wait in sorted(set(waits)):
        for width in (LEAST_GAP, most):
            scale = width / float(wait)
            fitting = [one for one in waits if _in_scale(one, scale, most)]
            best = max(best, (len(fitting), sum(fitting, Fraction(0)), scale))
    return best[2]


def _in_scale(wait: Fraction, scale: float, most: float) -> bool:
    return LEAST_GAP - 1e-6 <= float(wait) * scale <= most + 1e-6


def _kind(wait: Fraction, width: float, scale: float) -> Gap:
    true = float(wait) * scale
    if abs(true - width) < 1e-6:
        return Gap.TO_SCALE
    return Gap.SHORTENED if true > width else Gap.WIDENED
