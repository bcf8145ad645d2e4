"""The physical items of the plant: their moves, what holds them, what follows what.

In: a `Spec`, its layout and senses. Out: what each item can do (`Happening`), and `put`, the one way in which anything
sets an item, so that the phases of its moves fall back to idle whenever it leaves where they start from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeAlias

from interlock.logic.formula import TRUE, Formula, Value
from interlock.machine.senses import Senses
from interlock.machine.situation import (
    IDLE,
    RESUMED,
    RUNNING,
    WITHDRAWN,
    Changes,
    Event,
    Happening,
    Kind,
    Layout,
    Test,
    Values,
    has_phase,
    phase_of,
    written,
)
from interlock.spec.model import EffectKind, Item, Move, Spec, Window

_Completer: TypeAlias = Callable[[str, Test, Window | None], Happening]


class Equipment:
    """All items of a spec."""

    def __init__(self, spec: Spec, layout: Layout, senses: Senses) -> None:
        self._items = {item.id: item for item in spec.items}
        self._places = layout.places
        self._senses = senses
        self._assumed = strengthened(spec)
        self._phases: dict[str, list[tuple[int, frozenset[Value]]]] = {
            item.id: [
                (layout.places[phase_of(item, move)], frozenset(move.from_states))
                for move in item.moves
                if has_phase(move)
            ]
            for item in spec.items
        }
        # The state in which a present failure holds the item; None: whatever state it has.
        self._holds: dict[str, list[tuple[int, Value | None]]] = {item.id: [] for item in spec.items}
        for failure in spec.failures:
            for effect in failure.effects:
                if effect.kind is EffectKind.STUCK:
                    self._holds[effect.target].append((layout.places[failure.id], None))
                elif effect.kind is EffectKind.STAYS or (effect.kind is EffectKind.GOES and effect.held):
                    self._holds[effect.target].append((layout.places[failure.id], effect.value))

    def put(self, item: str, value: Value, changes: Changes) -> None:
        """Set an item, whatever holds it; phases of moves that do not start from there become idle."""
        changes[self._places[item]] = value
        for phase, starts_from in self._phases[item]:
            if value not in starts_from:
                changes[phase] = IDLE

    def calm(self, item: str, changes: Changes) -> None:
        """All phases of an item become idle."""
        for phase, _ in self._phases[item]:
            changes[phase] = IDLE

    def state(self, item: str, now: Values) -> Value:
        """The state an item has."""
        return now[self._places[item]]

    def held_against(self, item: str, value: Value, now: Values) -> bool:
        """Whether a present failure keeps the item from being set to that state."""
        return any(
            now[present] and (value != self.state(item, now) if where is None else value != where)
            for present, where in self._holds[item]
        )

    def happenings(self) -> Iterator[Happening]:
        """Everything the items can do, in the order of the file."""
        for item in self._items.values():
            for move in item.moves:
                yield from self._move(item, move)
            if item.follows is not None:
                yield from self._follow(item, item.follows)

    def _follow(self, item: Item, follows: Formula) -> Iterator[Happening]:
        first, second = item.states
        place, holds = self._places[item.id], self._senses.test(follows, item.id)

        def turn(origin: Value, to: Value, wanted: bool) -> Happening:
            def can(now: Values) -> bool:
                return now[place] == origin and holds(now) is wanted and not self.held_against(item.id, to, now)

            def changes(now: Values) -> Changes:
                result: Changes = {}
                self.put(item.id, to, result)
                return result

            return Happening(Event(f"{item.id} becomes {written(to)}"), Kind.CONSEQUENCE, 0, can, changes)

        yield turn(first, second, True)
        yield turn(second, first, False)

    def _move(self, item: Item, move: Move) -> Iterator[Happening]:
        place, starts_from = self._places[item.id], frozenset(move.from_states)
        when = self._senses.test(move.when, item.id)
        assumed = [self._senses.test(condition) for condition in self._assumed.get(f"{item.id} {move.name}", ())]
        if not move.free:
            assumed = []

        def carry_out(now: Values) -> Changes:
            result: Changes = {}
            self.put(item.id, move.to, result)
            for other, value in move.also:
                if not self.held_against(other, value, now):
                    self.put(other, value, result)
            return result

        def may_go(now: Values) -> bool:
            return now[place] in starts_from and not self.held_against(item.id, move.to, now)

        def complete(name: str, can: Test, window: Window | None) -> Happening:
            key, kind, tier = (item.id, move.name), Kind.BOUND, 2
            if move.instant:
                kind, tier = Kind.CONSEQUENCE, 0
            elif move.free:
                kind = Kind.FREE
            return Happening(Event(name), kind, tier, can, carry_out, window, move=key, makes_move=True)

        name = f"{item.id} {move.name}"
        if not has_phase(move):

            def free_to_go(now: Values) -> bool:
                return may_go(now) and when(now) and all(holds(now) for holds in assumed)

            yield complete(name, free_to_go, move.takes)
            return
        yield from self._bound(item, move, may_go, when, complete)

    def _bound(self, item: Item, move: Move, may_go: Test, when: Test, complete: _Completer) -> Iterator[Happening]:
        """A bound move with a condition: commanded, perhaps withdrawn and commanded again, carried out or dropped."""
        name, takes, starts_from = f"{item.id} {move.name}", move.takes, frozenset(move.from_states)
        place, phase = self._places[item.id], self._places[phase_of(item, move)]
        assert takes is not None
        at_once = Window(takes.earliest_s * 0, takes.latest_s, False, takes.latest_open)

        def shift(suffix: str, before: tuple[str, ...], wanted: bool, after: str) -> Happening:
            def can(now: Values) -> bool:
                return now[phase] in before and now[place] in starts_from and when(now) is wanted

            return Happening(Event(f"{name} {suffix}"), Kind.CONSEQUENCE, 0, can, lambda now: {phase: after})

        def in_phase(wanted: str) -> Test:
            return lambda now: now[phase] == wanted and may_go(now)

        yield shift("starts", (IDLE,), True, RUNNING)
        if not move.completes:
            yield shift("is withdrawn", (RUNNING, RESUMED), False, WITHDRAWN)
            yield shift("resumes", (WITHDRAWN,), True, RESUMED)
        yield complete(name, in_phase(RUNNING), takes)
        if not move.completes:
            yield complete(f"{name} though withdrawn", in_phase(WITHDRAWN), at_once)

            def dropped(now: Values) -> bool:
                return now[phase] == WITHDRAWN and now[place] in starts_from

            key = (item.id, move.name)
            yield Happening(
                Event(f"{name} is dropped"), Kind.BOUND, 2, dropped, lambda now: {phase: IDLE}, at_once, move=key
            )
            yield complete(f"{name} after resuming", in_phase(RESUMED), at_once)


def strengthened(spec: Spec) -> dict[str, tuple[Formula, ...]]:
    """The conditions that assumptions add, by the free move or failure they name."""
    found: dict[str, tuple[Formula, ...]] = {}
    for assumption in spec.assumptions:
        for name in assumption.strengthens:
            if assumption.condition != TRUE:
                found[name] = (*found.get(name, ()), assumption.condition)
    return found
