"""When the events of a scenario can happen at all: those that go together, in one line.

In: a picture of times. Out: groups of events that follow each other and have the same earliest and latest time, and the
same time in the one run.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from interlock.analysis.drawing import TimesPicture
from interlock.analysis.result import Age
from interlock.report.scenario import when


@dataclass(frozen=True, slots=True)
class Group:
    """Events `first` to `last`, by their numbers (0, 0: the moment from which a deadline is missed); `at`: in the one
    run, in ticks."""

    first: int
    last: int
    at: Fraction
    earliest: Age
    latest: Age | None


def spread(picture: TimesPicture) -> tuple[Group, ...]:
    """The groups in their order; a missed deadline comes last."""
    found = []
    for (earliest, latest, at), events in groupby(picture.events, key=lambda one: (one.earliest, one.latest, one.at)):
        numbers = [event.number for event in events]
        if earliest is not None and at is not None:
            found.append(Group(numbers[0], numbers[-1], at, earliest, latest))
    if picture.missed is not None:
        found.append(Group(0, 0, picture.missed.at, picture.missed.limit, None))
    return tuple(found)


def name_of(group: Group) -> str:
    """Its events by number."""
    if not group.first:
        return "broken"
    return str(group.first) if group.first == group.last else f"{group.first} to {group.last}"


def can_happen(group: Group, tick_s: Fraction) -> str:
    """Between which times."""
    return when(group.earliest, group.latest, tick_s)
