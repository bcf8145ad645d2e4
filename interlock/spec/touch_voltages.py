"""Permissible touch voltages by duration, d.c.: EN 50122-1:2011 (IEC 62128-1), Table 6, as data.

Each row has a mark: READ, seen in the text of the standard; SECOND, seen in another public text that quotes it (here a
public data set of rail potentials whose limits are labelled with the table); MEMORY, from memory only. No row is READ:
open the printed standard before a figure goes to a reviewer. Workshops and similar places have lower limits, which are
not here. The 1997 edition has other figures.

Between two rows the row of the next longer duration is taken, which is never less strict; the standard's own rule for
durations between rows was not seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

SOURCE = "EN 50122-1:2011, Table 6 (d.c.)"

TOLD_SOURCE = f"{SOURCE}, from a second text that quotes it; the printed standard takes precedence"
"""For a report."""


@dataclass(frozen=True, slots=True)
class Row:
    """A duration (None: longer than every other row) and the highest touch voltage that is permitted for it."""

    duration_s: Fraction | None
    voltage_v: Fraction
    mark: str


def _row(duration_s: str | None, voltage_v: int, mark: str = "SECOND") -> Row:
    return Row(None if duration_s is None else Fraction(duration_s), Fraction(voltage_v), mark)


ROWS: tuple[Row, ...] = (
    _row("0.02", 870),
    _row("0.05", 735),
    _row("0.1", 625),
    _row("0.2", 520),
    _row("0.3", 460),
    _row("0.4", 420),
    _row("0.5", 385),
    _row("0.6", 360),
    _row("0.7", 175),
    _row("0.8", 170),
    _row("0.9", 165),
    _row("1.0", 160),
    _row("300", 150),
    _row(None, 120),
)
"""From the shortest duration to the longest. The jump at 0.7 s is in the table: shorter ones rest on other grounds."""

SHORT_TERM = _row("0.7", 350, "MEMORY")
"""The row "less than 0.7 s" of the table. It is not used: above 0.6 s the row of 0.7 s is taken, which is stricter."""


def voltage_limit(duration_s: Fraction) -> Fraction:
    """The highest voltage (V) that may be touched for so long."""
    for row in ROWS:
        if row.duration_s is None or duration_s <= row.duration_s:
            return row.voltage_v
    raise AssertionError("the last row has no end")


def time_limit(voltage_v: Fraction) -> Fraction:
    """The longest duration (s) among the rows for which a voltage may be touched; 0 if for none. A voltage that may be
    touched for ever has the longest duration that the table names, 300 s."""
    durations = (row.duration_s for row in ROWS if row.duration_s is not None and voltage_v <= row.voltage_v)
    return max(durations, default=Fraction(0))
