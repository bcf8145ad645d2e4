"""Readings and links: what is true, filtered, in flight, and shown.

In: a `Spec`, its layout and senses. Out: what each signal and link can do (`Happening`), and what signals start with. A
late signal is a small postbag of numbered slots; the slot filled last is remembered, older ones are found going round.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from interlock.logic.formula import Value
from interlock.machine.senses import Senses
from interlock.machine.situation import (
    EMPTY,
    LOST,
    STOPPING,
    UP,
    Changes,
    Event,
    Happening,
    Kind,
    Layout,
    Test,
    Values,
    filtered_of,
    newest_of,
    overrun_of,
    shown_of,
    slot_of,
    written,
)
from interlock.spec.model import EffectKind, Link, Signal, Spec, Window


class Postbag:
    """Values of one late signal on their way."""

    def __init__(self, signal: Signal, layout: Layout) -> None:
        places = layout.places
        self.size = signal.in_flight
        self.shown = places[shown_of(signal)]
        self.newest = places[newest_of(signal)]
        self.overrun = places[overrun_of(signal)]
        self._slots = [places[slot_of(signal, number)] for number in range(1, signal.in_flight + 1)]

    def slot(self, number: int) -> int:
        """The place of a slot, numbered from 1."""
        return self._slots[number - 1]

    def newest_number(self, now: Values) -> int:
        """The slot filled last; 0 if nothing is in flight."""
        number = now[self.newest]
        assert isinstance(number, int)
        return number

    def next_number(self, now: Values) -> int:
        """The slot to be filled next."""
        return self.newest_number(now) % self.size + 1

    def last(self, now: Values) -> Value:
        """The value that was sent last, as far as it is still remembered."""
        if now[self.overrun] != EMPTY:
            return now[self.overrun]
        number = self.newest_number(now)
        return now[self.slot(number)] if number else now[self.shown]

    def full(self, now: Values) -> bool:
        """Whether nothing more can be put in flight in order."""
        return now[self.overrun] != EMPTY or now[self.slot(self.next_number(now))] != EMPTY

    def empty(self) -> Changes:
        """Nothing in flight any more, the overrun aside."""
        return {**dict.fromkeys(self._slots, EMPTY), self.newest: 0}

    def arrive(self, number: int, now: Values) -> Changes:
        """The value of a slot is shown; it and all older ones are gone."""
        changes: Changes = {self.shown: now[self.slot(number)]}
        newest = self.newest_number(now)
        # From the newest backwards: what comes after `number` was filled before it.
        backwards = [(newest - 1 - step) % self.size + 1 for step in range(self.size)]
        for gone in backwards[backwards.index(number) :]:
            changes[self.slot(gone)] = EMPTY
        if number == newest:
            changes[self.newest] = 0
        return changes


class Signals:
    """All readings and links of a spec."""

    def __init__(self, spec: Spec, layout: Layout, senses: Senses) -> None:
        self._spec = spec
        self._layout = layout
        self._senses = senses

    # --- the start ---

    def begin(self, values: list[Value]) -> None:
        """Fill in what the signals start with, the rest of the values being those of the start without failures."""
        carried = [signal for link in self._spec.links for signal in link.carries]
        for signal in (*self._spec.readings, *carried):
            for name, read in (
                (filtered_of(signal), self._senses.truth(signal)),
                (shown_of(signal), self._senses.entering(signal)),
            ):
                if name in self._layout.places:
                    values[self._layout.places[name]] = read(tuple(values))

    # --- what can happen ---

    def happenings_of_readings(self) -> Iterator[Happening]:
        """Everything the readings can do."""
        for signal in self._spec.readings:
            yield from self._signal(signal, lambda now: True, None)

    def happenings_of_links(self) -> Iterator[Happening]:
        """Everything the links can do."""
        for link in self._spec.links:
            open_now = self._open(link)
            for signal in link.carries:
                yield from self._signal(signal, open_now, link.id)
                if signal.late is None and shown_of(signal) in self._layout.places:
                    yield from self._carried_at_once(signal, open_now)
            if link.watchdog is not None:
                yield from self._watchdog(link)

    def _open(self, link: Link) -> Test:
        """Whether anything can be sent."""
        stopped = self._senses.present(link.id, STOPPING)
        place = self._layout.places.get(link.id)
        if place is None:
            return lambda now: not stopped(now)
        return lambda now: not stopped(now) and now[place] == UP

    def _signal(self, signal: Signal, open_now: Test, carrier: str | None) -> Iterator[Happening]:
        if signal.steady is not None:
            for value in signal.values:
                yield self._settles(signal, value)
        if signal.late is not None:
            yield from self._late(signal, open_now, carrier)

    def _settles(self, signal: Signal, value: Value) -> Happening:
        filtered, truth = self._layout.places[filtered_of(signal)], self._senses.truth(signal)

        def can(now: Values) -> bool:
            return truth(now) == value and now[filtered] != value

        event = Event(f"{signal.id} settles on {written(value)}")
        return Happening(event, Kind.READING, 2, can, lambda now: {filtered: value}, signal.steady)

    def _late(self, signal: Signal, open_now: Test, carrier: str | None) -> Iterator[Happening]:
        bag, entering = Postbag(signal, self._layout), self._senses.entering(signal)
        arrives_last = f"{signal.id} newest arrives"

        def sending(value: Value, wants_full: bool) -> Test:
            return lambda now: (
                entering(now) == value and bag.last(now) != value and bag.full(now) is wants_full and open_now(now)
            )

        def sends(value: Value) -> Callable[[Values], Changes]:
            return lambda now: {bag.slot(bag.next_number(now)): value, bag.newest: bag.next_number(now)}

        def overruns(value: Value) -> Callable[[Values], Changes]:
            return lambda now: {**bag.empty(), bag.overrun: value}

        def at_random(value: Value) -> Test:
            return lambda now: now[bag.overrun] != EMPTY and now[bag.shown] != value

        def shows(value: Value) -> Callable[[Values], Changes]:
            return lambda now: {bag.shown: value}

        def in_slot(number: int) -> Test:
            return lambda now: now[bag.slot(number)] != EMPTY

        def arrives(number: int) -> Callable[[Values], Changes]:
            return lambda now: bag.arrive(number, now)

        for value in signal.values:
            event = Event(f"{signal.id} sends {written(value)}")
            yield Happening(event, Kind.CONSEQUENCE, 0, sending(value, False), sends(value))
        for value in signal.values:
            event = Event(f"{signal.id} overruns with {written(value)}")
            yield Happening(event, Kind.CONSEQUENCE, 0, sending(value, True), overruns(value), restarts=(arrives_last,))
        for number in range(1, signal.in_flight + 1):
            event = Event(f"{signal.id} arrives from {number}")
            yield Happening(event, Kind.READING, 2, in_slot(number), arrives(number), signal.late, carrier=carrier)
        yield Happening(
            Event(arrives_last),
            Kind.READING,
            2,
            lambda now: now[bag.overrun] != EMPTY,
            lambda now: {bag.shown: now[bag.overrun], bag.overrun: EMPTY},
            signal.late,
            carrier=carrier,
        )
        for value in signal.values:
            event = Event(f"{signal.id} shows {written(value)} at random")
            yield Happening(event, Kind.READING, 2, at_random(value), shows(value))

    def _carried_at_once(self, signal: Signal, open_now: Test) -> Iterator[Happening]:
        shown, truth = self._layout.places[shown_of(signal)], self._senses.truth(signal)

        def differs(value: Value) -> Test:
            return lambda now: truth(now) == value and now[shown] != value and open_now(now)

        def shows(value: Value) -> Callable[[Values], Changes]:
            return lambda now: {shown: value}

        for value in signal.values:
            event = Event(f"{signal.id} carries {written(value)}")
            yield Happening(event, Kind.CONSEQUENCE, 0, differs(value), shows(value))

    def _watchdog(self, link: Link) -> Iterator[Happening]:
        place = self._layout.places[link.id]
        silent = self._senses.present(link.id, (EffectKind.LOST,))
        fallback = dict(link.when_lost)

        def give_up(now: Values) -> Changes:
            changes: Changes = {place: LOST}
            for signal in link.carries:
                if signal.late is not None:
                    bag = Postbag(signal, self._layout)
                    changes.update(bag.empty())
                    changes[bag.overrun] = EMPTY
                changes[self._layout.places[shown_of(signal)]] = fallback[signal.id]
            return changes

        lost = Event(f"{link.id} is lost")
        yield Happening(lost, Kind.TIMER, 2, lambda now: now[place] == UP and silent(now), give_up, link.watchdog)
        back = Event(f"{link.id} is back")

        def heard_again(now: Values) -> bool:
            return now[place] == LOST and not silent(now)

        yield Happening(back, Kind.READING, 2, heard_again, lambda now: {place: UP}, _return_window(link))


def _return_window(link: Link) -> Window | None:
    """How soon a lost link is heard of again: as soon, and as late, as anything it carries."""
    at_once = Window(Fraction(0), Fraction(0))
    if all(signal.late is None for signal in link.carries):
        return None
    windows = [signal.late or at_once for signal in link.carries]
    first = min(windows, key=lambda window: (window.earliest_s, window.earliest_open))
    last = max(windows, key=_lateness)
    return Window(first.earliest_s, last.latest_s, first.earliest_open, last.latest_open)


def _lateness(window: Window) -> tuple[bool, Fraction, bool]:
    return window.latest_s is None, window.latest_s or Fraction(0), not window.latest_open
