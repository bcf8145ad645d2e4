"""Pictures of times made by hand: as many events, things and moments as wanted."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from interlock.analysis.drawing import Caption, ChartEvent, Lane, Stretch, TimesPicture
from interlock.analysis.result import Age, Missed
from interlock.core.question import Ends

CAPTION = Caption("A platform that was made by hand", "C", "made.yaml", "0123456789ab", "times R1")
VALUES = ("idle", "preparing", "raising", "charging", "opening", "returning", "blocked")


def made(
    waits_ms: Sequence[int], n_events: int, n_lanes: int, *, missed_ms: int | None = None, failure: int = 0
) -> TimesPicture:
    """So many events, shared out over moments of which each comes `waits_ms` after the one before; each event changes
    the next of so many things. `missed_ms`: a deadline from the first event, missed by waiting; `failure`: the number
    of an event that is one."""
    moments = [sum(waits_ms[: k + 1]) for k in range(len(waits_ms))]
    events: list[ChartEvent] = []
    for i in range(n_events):
        at = moments[i * len(moments) // n_events]
        kind = "failure" if i + 1 == failure else ("free", "logic", "consequence", "bound")[i % 4]
        says = f"thing_{i % n_lanes} changes for the {i + 1}th time"
        new = not events or events[-1].at != at
        events.append(ChartEvent(i + 1, kind, says, new, Age(at // 2, True), Age(at * 2, False), Fraction(at)))
    lanes = []
    for thing in range(n_lanes):
        starts = [0, *range(thing + 1, n_events + 1, n_lanes)]
        ends = [*starts[1:], n_events + 1]
        stretches = tuple(
            Stretch(VALUES[k % len(VALUES)], first, end - first, k == len(starts) - 1 and thing == 0)
            for k, (first, end) in enumerate(zip(starts, ends, strict=True))
        )
        lanes.append(Lane(f"thing_{thing}", ("logic", "equipment")[thing * 2 // n_lanes], stretches))
    missed = None if missed_ms is None else Missed(Age(missed_ms, True), Fraction(missed_ms * 3 + 1, 3))
    return TimesPicture(
        caption=CAPTION,
        heading="rule R1: made by hand",
        asked="after: thing_0 is preparing, within: some time, must: thing_1 is blocked",
        at_start=("thing_1_stuck",),
        events=tuple(events),
        lanes=tuple(lanes),
        folded=(),
        n_folded=3,
        ends=Ends.BREACH,
        breach="some time after thing_0 is preparing, and still not: thing_1 is blocked",
        in_passing=False,
        tick_s=Fraction(1, 1000),
        runs=None if missed_ms is None else (1, missed_ms - moments[0]),
        missed=missed,
    )


EIGHTY = made(
    (5, 30, 200, 15, 3_000, 200_000, 40, 120, 30, 60, 1_000, 25, 250, 2_000, 30, 75), 80, 20, missed_ms=215_000
)
"""Eighty events of twenty things at sixteen moments, from 5 ms to 200 s apart; a deadline that is missed."""
