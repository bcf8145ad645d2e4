"""Failures: what each does when it happens, by itself, at the start, upon another event, or with others.

In: a `Spec`, its layout, senses, equipment and controllers. Out: what failures can do (`Happening`), the twins of
events that a failure slows down or rides on, and how a start looks with a failure present.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace

from interlock.logic.formula import Ref, Thing, Value
from interlock.machine.controllers import Controller
from interlock.machine.equipment import Equipment, strengthened
from interlock.machine.senses import Senses
from interlock.machine.situation import (
    Changes,
    Event,
    Happening,
    Kind,
    Layout,
    Test,
    Values,
    frozen_by,
    garbled_by,
    garbled_signals,
    written,
)
from interlock.spec.model import Effect, EffectKind, Failure, Signal, Spec, Window

_HOLDING = (EffectKind.STAYS, EffectKind.STUCK)


class Mode:
    """One failure mode that is not a common cause."""

    def __init__(self, failure: Failure, plant: Failures) -> None:
        self.failure = failure
        self._plant = plant
        self.place = plant.layout.places[failure.id]
        self._only_while = plant.senses.test(failure.only_while)
        self._assumed = plant.assumed_of(failure.id)

    def willing(self, now: Values) -> bool:
        """Not present yet, and nothing that is written speaks against it; the states of items aside."""
        return not now[self.place] and self._only_while(now) and all(holds(now) for holds in self._assumed)

    def can(self, now: Values) -> bool:
        """Whether it can happen by itself."""
        return self.willing(now) and all(
            self._plant.equipment.state(effect.target, now) == effect.value
            for effect in self.failure.effects
            if effect.kind is EffectKind.STAYS
        )

    def changes(self, now: Values) -> Changes:
        """What it does at once when it happens by itself."""
        changes: Changes = {self.place: True}
        for effect in self.failure.effects:
            if effect.kind is EffectKind.GOES:
                assert effect.value is not None
                self._plant.equipment.put(effect.target, effect.value, changes)
            else:
                self._other(effect, now, changes)
        return changes

    def riding(self, now: Values) -> Changes:
        """What it does at once when it happens within the move that triggers it."""
        changes: Changes = {self.place: True}
        equipment = self._plant.equipment
        for effect in self.failure.effects:
            if effect.kind in _HOLDING or (effect.kind is EffectKind.GOES and effect.held):
                kept = equipment.state(effect.target, now) if effect.value is None else effect.value
                equipment.put(effect.target, kept, changes)
                equipment.calm(effect.target, changes)
            elif effect.kind is EffectKind.GOES:
                assert effect.value is not None
                equipment.put(effect.target, effect.value, changes)
            else:
                self._other(effect, now, changes)
        return changes

    def _other(self, effect: Effect, now: Values, changes: Changes) -> None:
        if effect.kind in (EffectKind.FROZEN, EffectKind.ANYTHING):
            for place, displayed, _ in self._plant.marks_of(self.failure, effect):
                changes[place] = displayed(now)
        elif effect.kind is EffectKind.RESTARTS:
            changes.update(self._plant.controllers[effect.target].restart())

    def repair(self, now: Values) -> Changes:
        """What is put back when it is repaired."""
        changes: Changes = {self.place: False}
        for effect in self.failure.effects:
            for place, _, signal in self._plant.marks_of(self.failure, effect):
                changes[place] = signal.values[0]
        return changes


class Failures:
    """All failures of a spec."""

    def __init__(
        self,
        spec: Spec,
        layout: Layout,
        senses: Senses,
        equipment: Equipment,
        controllers: Mapping[str, Controller],
    ) -> None:
        self.layout = layout
        self.senses = senses
        self.equipment = equipment
        self.controllers = controllers
        self._spec = spec
        self._assumptions = strengthened(spec)
        self._modes = {f.id: Mode(f, self) for f in spec.failures if not f.common_cause}

    def assumed_of(self, name: str) -> list[Test]:
        """What assumptions demand before a failure happens."""
        return [self.senses.test(condition) for condition in self._assumptions.get(name, ())]

    def marks_of(self, failure: Failure, effect: Effect) -> list[tuple[int, Callable[[Values], Value], Signal]]:
        """Where a failure keeps what it makes readings show: the place, what is displayed, and the signal."""
        if effect.kind is EffectKind.FROZEN:
            named = frozen_by
        elif effect.kind is EffectKind.ANYTHING:
            named = garbled_by
        else:
            return []
        marks = []
        links = {link.id for link in self._spec.links}
        if effect.kind is EffectKind.FROZEN and effect.target in links:
            return []  # a frozen link is stopped; what it shows needs no mark
        carried = {signal.id for link in self._spec.links for signal in link.carries}
        for signal in garbled_signals(self._spec, effect.target):
            thing = Thing.CARRIED if signal.id in carried else Thing.READING
            displayed = self.senses.reader(Ref(thing, signal.id))
            marks.append((self.layout.places[named(signal.id, failure.id)], displayed, signal))
        return marks

    # --- by itself, at the start, repaired ---

    def happenings(self) -> Iterator[Happening]:
        """Everything failures do that does not ride on another event."""
        for failure in self._spec.failures:
            if failure.trigger is None:
                event = Event(f"{failure.id} happens", 1, (failure.id,))
                yield Happening(event, Kind.FAILURE, 2, self._can(failure), self._changes(failure))
            if failure.common_cause:
                continue
            mode = self._modes[failure.id]
            for effect in failure.effects:
                if effect.kind is EffectKind.ANYTHING:
                    for place, _, signal in self.marks_of(failure, effect):
                        yield from (self._garbles(mode, place, signal, value) for value in signal.values)
            if failure.repaired:
                yield Happening(Event(f"{failure.id} is repaired"), Kind.REPAIR, 2, _present(mode.place), mode.repair)

    def _garbles(self, mode: Mode, place: int, signal: Signal, value: Value) -> Happening:
        def can(now: Values) -> bool:
            return bool(now[mode.place]) and now[place] != value

        event = Event(f"{signal.id} shows {written(value)} by {mode.failure.id}")
        return Happening(event, Kind.READING, 2, can, lambda now: {place: value})

    def _can(self, failure: Failure) -> Test:
        if not failure.common_cause:
            return self._modes[failure.id].can
        members = [self._modes[name] for name in failure.members]
        only_while, assumed = self.senses.test(failure.only_while), self.assumed_of(failure.id)
        return lambda now: (
            only_while(now) and all(holds(now) for holds in assumed) and any(member.can(now) for member in members)
        )

    def _changes(self, failure: Failure) -> Callable[[Values], Changes]:
        if not failure.common_cause:
            return self._modes[failure.id].changes
        members = [self._modes[name] for name in failure.members]

        def together(now: Values) -> Changes:
            changes: Changes = {}
            for member in members:
                if member.can(now):
                    changes = member.changes(now) | changes  # where two set the same, the earlier member's
            return changes

        return together

    def at_start(self) -> Iterator[tuple[str, Test, Callable[[Values], Changes]]]:
        """The failures that can be there at the start, in the order of the file: whether, and what it changes."""
        for failure in self._spec.failures:
            if failure.trigger is None:
                yield failure.id, self._can(failure), self._changes(failure)

    # --- twins of other events ---

    def with_twins(self, plain: Iterable[Happening]) -> Iterator[Happening]:
        """The events, each followed by its slow twins, and each of these by those in which a failure happens."""
        for happening in plain:
            for quick_or_slow in self._with_slow(happening):
                yield quick_or_slow
                yield from self._ridden(quick_or_slow)

    def _with_slow(self, happening: Happening) -> Iterator[Happening]:
        slowing = [
            (self._modes[failure.id], effect)
            for failure in self._spec.failures
            for effect in failure.effects
            if (effect.kind is EffectKind.SLOW and happening.window is not None)
            if happening.move == (effect.target, effect.move)
        ] + [
            (self._modes[failure.id], effect)
            for failure in self._spec.failures
            for effect in failure.effects
            if effect.kind is EffectKind.LATE and happening.carrier == effect.target
        ]
        if not slowing:
            yield happening
            return
        places = [mode.place for mode, _ in slowing]

        def quick(now: Values) -> bool:
            return not any(now[place] for place in places) and happening.can(now)

        yield replace(happening, can=quick)
        for mode, effect in slowing:

            def slow(now: Values, place: int = mode.place) -> bool:
                return bool(now[place]) and happening.can(now)

            event = replace(happening.event, id=f"{happening.event.id}, slowly by {mode.failure.id}")
            window = None
            if effect.latest_s is not None:
                window = Window(effect.latest_s * 0, effect.latest_s)
            yield replace(happening, event=event, can=slow, window=window)

    def _ridden(self, happening: Happening) -> Iterator[Happening]:
        if not happening.makes_move:
            return
        for failure in self._spec.failures:
            trigger = failure.trigger
            if trigger is not None and happening.move == (trigger.item, trigger.move):
                yield self._rides(happening, self._modes[failure.id], self.senses.test(trigger.condition))

    def _rides(self, happening: Happening, mode: Mode, while_: Test) -> Happening:
        def can(now: Values) -> bool:
            return happening.can(now) and while_(now) and mode.willing(now)

        def changes(now: Values) -> Changes:
            return happening.changes(now) | mode.riding(now)

        name = mode.failure.id
        event = Event(f"{happening.event.id} and {name}", 1, (name,))
        rides_on = happening.event.id
        return replace(happening, event=event, kind=Kind.FAILURE, can=can, changes=changes, rides_on=rides_on)


def with_slow_twins(ids: tuple[str, ...], everything: Iterable[Happening]) -> tuple[str, ...]:
    """The events of these ids and their slow twins: what makes one start afresh makes all of them."""
    if not ids:
        return ()
    return tuple(h.event.id for h in everything if any(h.event.id == id or _is_slow(h.event.id, id) for id in ids))


def _is_slow(twin: str, id: str) -> bool:
    return twin.startswith(f"{id}, slowly by ")


def _present(place: int) -> Test:
    return lambda now: bool(now[place])
