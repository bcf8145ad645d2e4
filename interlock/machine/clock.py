"""A clock for the machine: ages of events in whole ticks, for windows with closed ends.

In: a `Machine`. Out: its starts with ages, what may happen at these ages, whether a tick of time may pass, and what is
there afterwards. Written from specs/MEANING.md, section 1. The tick is the greatest time that divides every end of
every window of an event; with closed ends nothing that matters to an order of events lies between two ticks.

An age stops at `Clock.oldest`, one tick beyond the latest end that any window has: older is no different.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce
from typing import TypeAlias

from interlock.machine.machine import Machine
from interlock.machine.situation import Event, Happening, Snapshot
from interlock.spec.model import Window

Ages: TypeAlias = tuple[tuple[str, int], ...]
"""Ages in ticks by the id of the event, in the order of the spec; those that are counted now and no others."""


class OpenEndError(ValueError):
    """A window has an open end: whole ticks do not do it justice."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A snapshot with the ages of the events that have a window and are possible.

    In a passing situation: those of the settled situation before that have not started afresh since.
    """

    snapshot: Snapshot
    ages: Ages


class Clock:
    """The clock of one machine. OpenEndError if some window of it has an open end.

    `tick_s`: the length of a tick (one second if no window has an end other than 0); `oldest`: where ages stop.
    """

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        windows = {h.event.id: h.window for h in machine.happenings if h.window is not None and _matters(h.window)}
        for id, window in windows.items():
            if window.earliest_open or window.latest_open:
                raise OpenEndError(f"the window of {id!r} has an open end; the clock counts whole ticks")
        ends = [end for window in windows.values() for end in (window.earliest_s, window.latest_s) if end]
        self.tick_s = reduce(_common_measure, ends, Fraction(0)) or Fraction(1)
        self._earliest = {id: self._in_ticks(window.earliest_s) for id, window in windows.items()}
        self._latest = {id: self._in_ticks(w.latest_s) for id, w in windows.items() if w.latest_s is not None}
        self.oldest = max((*self._earliest.values(), *self._latest.values()), default=0) + 1
        self._happenings = {h.event.id: h for h in machine.happenings}
        # An event with a failure in it goes by the age of the event that it rides on.
        self._aged = tuple(h for h in machine.happenings if h.event.id in windows and h.rides_on is None)

    def _in_ticks(self, time_s: Fraction) -> int:
        ticks = time_s / self.tick_s
        if ticks.denominator != 1:
            raise ValueError(f"{time_s} s is no whole number of ticks of {self.tick_s} s")
        return ticks.numerator

    def starts(self) -> Iterator[tuple[Moment, tuple[str, ...]]]:
        """Every start with the failures present in it; nothing has an age before the first settled situation."""
        for snapshot, present in self.machine.starts():
            yield self._arrive(snapshot, {}), present

    def events(self, moment: Moment) -> tuple[Event, ...]:
        """What may happen at these ages."""
        possible, ages = self.machine.events(moment.snapshot), dict(moment.ages)
        return tuple(event for event in possible if self._in_time(self._happenings[event.id], ages))

    def _in_time(self, happening: Happening, ages: dict[str, int]) -> bool:
        id = happening.event.id
        if id not in self._earliest:
            return True
        age = ages[_bearer(happening)]
        return self._earliest[id] <= age and (id not in self._latest or age <= self._latest[id])

    def after(self, moment: Moment, event: Event) -> Moment:
        """The moment after an event that may happen; it takes no time."""
        happening = self._happenings[event.id]
        kept = dict(moment.ages)
        for id in (_bearer(happening), *happening.restarts):
            kept.pop(id, None)
        return self._arrive(self.machine.after(moment.snapshot, event), kept)

    def _arrive(self, snapshot: Snapshot, ages: dict[str, int]) -> Moment:
        """A situation just reached, `ages` being what is left of those before. Only a settled one changes them: what
        is possible has an age, from 0 if it had none, and what is not has none."""
        if self.machine.settled(snapshot):
            aged = (h for h in self._aged if h.can(snapshot.situation))
            return Moment(snapshot, tuple((h.event.id, ages.get(h.event.id, 0)) for h in aged))
        return Moment(snapshot, tuple((h.event.id, ages[h.event.id]) for h in self._aged if h.event.id in ages))

    def may_tick(self, moment: Moment) -> bool:
        """Whether a tick of time may pass without an event."""
        if not self.machine.settled(moment.snapshot):
            return False
        return all(id not in self._latest or age < self._latest[id] for id, age in moment.ages)

    def tick(self, moment: Moment) -> Moment:
        """The moment a tick later, if one may pass."""
        return Moment(moment.snapshot, tuple((id, min(age + 1, self.oldest)) for id, age in moment.ages))


def _bearer(happening: Happening) -> str:
    """The id of the event by whose age this one goes."""
    return happening.event.id if happening.rides_on is None else happening.rides_on


def _matters(window: Window) -> bool:
    """Whether the window is any other than at any age, perhaps never."""
    return window.latest_s is not None or window.earliest_s > 0 or window.earliest_open


def _common_measure(a: Fraction, b: Fraction) -> Fraction:
    """The greatest time that divides both (Euclid)."""
    while b:
        a, b = b, a % b
    return a
