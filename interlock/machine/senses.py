"""What each thing of a spec reads as in a situation, and whether a formula holds: the evaluator of the machine.

In: a `Spec` and its `Layout`. Out: small functions over the values of a situation. A formula is turned into one
function once; it is asked very often. Failures of readings, links and commands are heard here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from interlock.logic.formula import (
    And,
    AtMost,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    Not,
    Or,
    Ref,
    Same,
    Sum,
    Thing,
    Value,
    Was,
)
from interlock.machine.situation import (
    UP,
    Layout,
    Reader,
    Test,
    Values,
    filtered_of,
    frozen_by,
    garbled_by,
    shown_of,
    signals_of,
)
from interlock.spec.model import EffectKind, Failure, Sequence, Signal, Spec

Judgement: TypeAlias = Callable[[Values, Values], bool]
"""Whether a formula holds after an event: the values now, and those before the event (read under `was`)."""


class CircleError(ValueError):
    """What something shows depends on itself."""


class Senses:
    """Readers and tests of one spec. `listener` is the item whose move asks: it may be deaf to a command."""

    def __init__(self, spec: Spec, layout: Layout) -> None:
        self._places = layout.places
        self._conditions = {name: formula for name, formula, _ in spec.conditions}
        self._sequences = spec.sequences
        self._failures = tuple(failure for failure in spec.failures if not failure.common_cause)
        self._signals = signals_of(spec)
        self._link_of = {signal.id: link.id for link in spec.links for signal in link.carries}
        self._readers: dict[tuple[Ref, str | None], Reader] = {}
        self._under_way: set[tuple[Ref, str | None]] = set()
        self._known_conditions: dict[tuple[str, str | None], Judgement] = {}
        self._expanding: list[str] = []

    # --- formulas ---

    def test(self, formula: Formula, listener: str | None = None) -> Test:
        """Whether a formula without `was` holds."""
        judgement = self.judgement(formula, listener)
        return lambda now: judgement(now, now)

    def judgement(self, formula: Formula, listener: str | None = None) -> Judgement:
        """Whether a formula holds; what stands under `was` is read before the event."""
        if isinstance(formula, Const):
            value = formula.value
            return lambda now, before: value
        if isinstance(formula, Is):
            return self._is(formula, listener)
        if isinstance(formula, Same):
            left, right = self.reader(formula.left, listener), self.reader(formula.right, listener)
            return lambda now, before: left(now) == right(now)
        if isinstance(formula, Compare):
            return self._compare(formula, listener)
        if isinstance(formula, Condition):
            return self._condition(formula.id, listener)
        if isinstance(formula, Not):
            denied = self.judgement(formula.operand, listener)
            return lambda now, before: not denied(now, before)
        if isinstance(formula, Was):
            earlier = self.judgement(formula.operand, listener)
            return lambda now, before: earlier(before, before)
        parts = [self.judgement(operand, listener) for operand in formula.operands]
        if isinstance(formula, And):
            return lambda now, before: all(part(now, before) for part in parts)
        if isinstance(formula, Or):
            return lambda now, before: any(part(now, before) for part in parts)
        limit = _limit_of(formula)
        return lambda now, before: sum(part(now, before) for part in parts) <= limit

    def conjuncts(self, formula: Formula) -> tuple[Formula, ...]:
        """The formulas that must all hold for this one to hold, as far as `and` and names of conditions tell."""
        if isinstance(formula, Condition):
            return self.conjuncts(self._conditions[formula.id])
        if isinstance(formula, And):
            return tuple(part for operand in formula.operands for part in self.conjuncts(operand))
        return (formula,)

    def _is(self, formula: Is, listener: str | None) -> Judgement:
        read, values = self.reader(formula.ref, listener), frozenset(formula.values)
        return lambda now, before: read(now) in values

    def _condition(self, name: str, listener: str | None) -> Judgement:
        if (name, listener) not in self._known_conditions:
            if name in self._expanding:
                raise CircleError(name)
            self._expanding.append(name)
            self._known_conditions[name, listener] = self.judgement(self._conditions[name], listener)
            self._expanding.pop()
        return self._known_conditions[name, listener]

    def _compare(self, formula: Compare, listener: str | None) -> Judgement:
        left, right = self.sum(formula.left, listener), self.sum(formula.right, listener)
        if formula.operator == "=":
            return lambda now, before: left(now) == right(now)
        if formula.operator == "<":
            return lambda now, before: left(now) < right(now)
        if formula.operator == "<=":
            return lambda now, before: left(now) <= right(now)
        raise ValueError(f"no comparison is written {formula.operator!r}")

    def sum(self, total: Sum, listener: str | None = None) -> Callable[[Values], int]:
        """The value of a sum of small integers."""
        constant = total.constant
        terms = [(sign, self.reader(ref, listener)) for sign, ref in total.parts]

        def add(now: Values) -> int:
            result = constant
            for sign, read in terms:
                value = read(now)
                assert isinstance(value, int)
                result += sign * value
            return result

        return add

    # --- things ---

    def reader(self, ref: Ref, listener: str | None = None) -> Reader:
        """What a thing reads as, failures included."""
        key = (ref, listener)
        if key not in self._readers:
            if key in self._under_way:
                raise CircleError(ref.id)
            self._under_way.add(key)
            self._readers[key] = self._make_reader(ref, listener)
            self._under_way.discard(key)
        return self._readers[key]

    def _make_reader(self, ref: Ref, listener: str | None) -> Reader:
        if ref.thing in (Thing.READING, Thing.CARRIED):
            return self._displayed(self._signals[ref.id])
        if ref.thing is Thing.COMMAND:
            return self._heard(ref.id, listener)
        if ref.thing is Thing.LINK and ref.id not in self._places:
            return lambda now: UP
        return self._at(ref.id)

    def _at(self, name: str) -> Reader:
        place = self._places[name]
        return lambda now: now[place]

    def truth(self, signal: Signal) -> Reader:
        """What a signal is about, as it is now."""
        return self.reader(signal.shows) if isinstance(signal.shows, Ref) else self.test(signal.shows)

    def entering(self, signal: Signal) -> Reader:
        """What is sent on its way: the truth, or the filtered truth."""
        return self.truth(signal) if signal.steady is None else self._at(filtered_of(signal))

    def shown(self, signal: Signal) -> Reader:
        """What has come through, failures of the display aside."""
        return self._at(shown_of(signal)) if shown_of(signal) in self._places else self.entering(signal)

    def _displayed(self, signal: Signal) -> Reader:
        """The failure that is written first and present decides; else what is shown."""
        shown = self.shown(signal)
        lies = [lie for failure in self._failures for lie in self._lies(failure, signal)]
        if not lies:
            return shown

        def display(now: Values) -> Value:
            for present, lie in lies:
                if now[present]:
                    return lie(now)
            return shown(now)

        return display

    def _lies(self, failure: Failure, signal: Signal) -> list[tuple[int, Reader]]:
        link = self._link_of.get(signal.id)
        present = self._places[failure.id]
        found: list[tuple[int, Reader]] = []
        for effect in failure.effects:
            if effect.kind is EffectKind.READS and effect.target == signal.id:
                assert effect.value is not None
                found.append((present, _always(effect.value)))
            elif effect.kind is EffectKind.FROZEN and effect.target == signal.id:
                found.append((present, self._at(frozen_by(signal.id, failure.id))))
            elif effect.kind is EffectKind.ANYTHING and effect.target in (signal.id, link):
                found.append((present, self._at(garbled_by(signal.id, failure.id))))
        return found

    # --- logic and what it is fed from ---

    def powered(self, sequence: Sequence) -> Test:
        """Whether the sequence has its supply."""
        return (lambda now: True) if sequence.powered_by is None else self.test(sequence.powered_by)

    def running(self, sequence: Sequence) -> Test:
        """Whether the sequence can decide and act."""
        powered = self.powered(sequence)
        stops = self._present(sequence.id, (EffectKind.STOPS_HOLDING, EffectKind.STOPS_DROPPING))
        return lambda now: powered(now) and not any(now[place] for place in stops)

    def _present(self, target: str, kinds: tuple[EffectKind, ...]) -> list[int]:
        """Places of the failures with such an effect on the target."""
        return [
            self._places[failure.id]
            for failure in self._failures
            if any(effect.kind in kinds and effect.target == target for effect in failure.effects)
        ]

    def present(self, target: str, kinds: tuple[EffectKind, ...]) -> Test:
        """Whether a failure with such an effect on the target is present."""
        places = self._present(target, kinds)
        return lambda now: any(now[place] for place in places)

    def _heard(self, command: str, listener: str | None) -> Reader:
        """Whether a command is given, as the moves of one item hear it."""
        if listener is None:
            return self._given(command)
        given = self.reader(Ref(Thing.COMMAND, command))
        deaf = [
            self._places[failure.id]
            for failure in self._failures
            for effect in failure.effects
            if effect.kind is EffectKind.IGNORES and effect.target == listener and effect.command == command
        ]
        if not deaf:
            return given
        return lambda now: given(now) and not any(now[place] for place in deaf)

    def _given(self, command: str) -> Reader:
        drivers = [self._drives(sequence, command) for sequence in self._sequences]
        drivers = [drives for drives in drivers if drives is not None]
        outputs = [
            (self._places[failure.id], effect.kind is EffectKind.DRIVEN)
            for failure in self._failures
            for effect in failure.effects
            if effect.kind in (EffectKind.DRIVEN, EffectKind.SILENT) and effect.target == command
        ]

        def given(now: Values) -> bool:
            result = any(drives(now) for drives in drivers if drives is not None)
            for present, value in outputs:
                if now[present]:
                    result = value
            return result

        return given

    def _drives(self, sequence: Sequence, command: str) -> Test | None:
        steps = frozenset(step.name for step in sequence.steps if command in step.drives)
        if not steps:
            return None
        place, powered = self._places[sequence.id], self.powered(sequence)
        dropped = self._present(sequence.id, (EffectKind.STOPS_DROPPING,))
        return lambda now: now[place] in steps and powered(now) and not any(now[p] for p in dropped)


def _always(value: Value) -> Reader:
    return lambda now: value


def _limit_of(formula: Formula) -> int:
    assert isinstance(formula, AtMost)
    return formula.limit
