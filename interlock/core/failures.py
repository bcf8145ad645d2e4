"""Failures: how they happen, at the start or later, alone, riding on another event, or by a common cause; repairs.

See specs/MEANING.md, section 7.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from interlock.core.controllers import Controllers, timers_of
from interlock.core.draft import Draft, merged
from interlock.core.failing import HOLDS
from interlock.core.phrases import Phrases
from interlock.core.plant import Making, Plant
from interlock.core.system import Action, ActionKind, Assignment, Mode, Origin, TickWindow, Tier, VariableKind
from interlock.logic.expression import TRUE, Expression, conjunction, disjunction, negate
from interlock.spec.model import Effect, EffectKind, Failure, Spec, Trigger


class Failures:
    """Makes the variables of all modes first, then their actions and modes.

    `controllers` None: logic is replaced by arbitrary commands, and what failures do to sequences and links is left
    out.
    """

    def __init__(
        self, spec: Spec, draft: Draft, phrases: Phrases, plant: Plant, controllers: Controllers | None
    ) -> None:
        self.spec = spec
        self.draft = draft
        self.phrases = phrases
        self.plant = plant
        self.controllers = controllers
        self.known = {failure.id: failure for failure in spec.failures}
        self.sequences = {sequence.id: sequence for sequence in spec.sequences}
        self.links = {link.id: link for link in spec.links}

    def variables(self) -> None:
        """One variable a mode; a common cause has none."""
        for failure in self.spec.failures:
            if not failure.common_cause:
                self.draft.variable(failure.id, (False, True), VariableKind.FAILURE, False, failure.words, failure.span)

    def actions(self) -> None:
        """The failure and repair events in file order, and the modes."""
        for failure in self.spec.failures:
            if failure.common_cause:
                self._common_cause(failure)
            elif failure.trigger is not None:
                for making in tuple(self.plant.makings):
                    if (making.item, making.move) == (failure.trigger.item, failure.trigger.move):
                        self._ride(failure, failure.trigger, making)
                self._mode(failure, self.guard(failure), None)
            else:
                guard, update = self.guard(failure), self.update(failure)
                self._happens(failure, guard, update, (failure.id,))
                self._mode(failure, guard, update)
            if failure.repaired and not failure.common_cause:
                self.draft.action(
                    failure.id,
                    "is repaired",
                    ActionKind.REPAIR,
                    Tier.OTHER,
                    self.phrases.present(failure.id),
                    (self.draft.to(failure.id, False), *self._cleared(failure)),
                    failure.span,
                )

    # --- what a mode does ---

    def guard(self, failure: Failure) -> Expression:
        """When the mode can happen by itself."""
        states = (
            self.draft.has(effect.target, effect.value)
            for effect in failure.effects
            if effect.kind is EffectKind.STAYS and effect.value is not None
        )
        return conjunction((negate(self.phrases.present(failure.id)), self._only_while(failure), *states))

    def _only_while(self, failure: Failure) -> Expression:
        assumed = (
            self.phrases.expression(assumption.condition)
            for assumption in self.spec.assumptions
            if failure.id in assumption.strengthens
        )
        return conjunction((self.phrases.expression(failure.only_while), *assumed))

    def update(self, failure: Failure) -> tuple[Assignment, ...]:
        """What changes at once when the mode happens by itself."""
        update = [self.draft.to(failure.id, True)]
        for effect in failure.effects:
            update += self._at_once(failure, effect)
        return merged(update)

    def _at_once(self, failure: Failure, effect: Effect) -> tuple[Assignment, ...]:
        if effect.kind is EffectKind.GOES and effect.value is not None:
            return self.plant.setting(effect.target, effect.value)
        if effect.kind is EffectKind.RESTARTS and self.controllers is not None:
            sequence = self.sequences[effect.target]
            timers = (self.draft.to(timer, "idle") for timer, _, _ in timers_of(sequence))
            return (*self.controllers.resetting(sequence), *timers)
        return tuple(
            Assignment(
                variable,
                tuple(
                    (self.phrases.displayed(signal, (value,)), i)
                    for i, value in enumerate(self.draft.variables[variable].values)
                ),
            )
            for signal, variable in self._garbles(failure, effect)
        )

    def _garbles(self, failure: Failure, effect: Effect) -> Iterable[tuple[str, str]]:
        """The signals that the effect garbles, each with the variable that keeps what it shows."""
        word = {EffectKind.FROZEN: "frozen", EffectKind.ANYTHING: "garbled"}.get(effect.kind)
        if word is None:
            return
        link = self.links.get(effect.target)
        signals = [effect.target] if link is None else [value.id for value in link.carries]
        for signal in signals:
            name = f"{signal} {word} by {failure.id}"
            if name in self.draft.variables:
                yield signal, name

    def _cleared(self, failure: Failure) -> tuple[Assignment, ...]:
        return tuple(
            Assignment(variable, ((TRUE, 0),))
            for effect in failure.effects
            for _, variable in self._garbles(failure, effect)
        )

    # --- events ---

    def _happens(
        self, failure: Failure, guard: Expression, update: Iterable[Assignment], modes: tuple[str, ...]
    ) -> None:
        made = self.draft.action(
            failure.id,
            "happens",
            ActionKind.FAILURE,
            Tier.OTHER,
            guard,
            update,
            failure.span,
            window=TickWindow(),
            words=failure.words,
        )
        self.draft.actions[-1] = replace(made, modes=modes, cost=1)

    def _ride(self, failure: Failure, trigger: Trigger, making: Making) -> None:
        event: Action = making.action
        guard = conjunction(
            (
                event.guard,
                negate(self.phrases.present(failure.id)),
                self.phrases.expression(trigger.condition),
                self._only_while(failure),
            )
        )
        changes = {assignment.variable: assignment for assignment in event.update}
        for effect in failure.effects:
            keeps = effect.kind in HOLDS or (effect.kind is EffectKind.GOES and effect.held)
            if keeps:
                changes.pop(effect.target, None)
                idle = self.plant.idling(effect.target)
                if effect.value is not None:
                    idle = (self.draft.to(effect.target, effect.value), *idle)
                changes |= {assignment.variable: assignment for assignment in idle}
            else:
                at_once = merged(self._at_once(failure, effect))
                changes |= {assignment.variable: assignment for assignment in at_once}
        changes[failure.id] = self.draft.to(failure.id, True)
        made = self.draft.action(
            event.owner,
            f"{event.name} and {failure.id}",
            ActionKind.FAILURE,
            event.tier,
            guard,
            changes.values(),
            failure.span,
            window=event.window,
            obliged=False,
            words=failure.words,
        )
        self.draft.actions[-1] = replace(made, modes=(failure.id,), cost=1, ages_with=event.id)

    def _common_cause(self, failure: Failure) -> None:
        members = [self.known[member] for member in failure.members]
        guards = [self.guard(member) for member in members]
        update = merged(
            Assignment(assignment.variable, tuple((conjunction((guard, case)), i) for case, i in assignment.cases))
            for member, guard in zip(members, guards, strict=True)
            for assignment in self.update(member)
        )
        guard = conjunction((self._only_while(failure), disjunction(guards)))
        self._happens(failure, guard, update, (failure.id,))
        self._mode(failure, guard, update)

    def _mode(self, failure: Failure, guard: Expression, at_start: tuple[Assignment, ...] | None) -> None:
        self.draft.modes.append(Mode(failure.id, failure.common_cause, failure.members, guard, at_start))
        self.draft.origin.setdefault(failure.id, Origin(failure.words, failure.span))
