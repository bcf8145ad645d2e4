"""Surveys of everything reachable at each number of failures, and what their probes tell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

from interlock.core.question import Question, Scenario, Verdict
from interlock.core.slice import Slice, parts_of
from interlock.core.system import Action, Property, PropertyKind, System, Tier, VariableKind
from interlock.engines.api import Engine, Limits, Probe, Survey, Where
from interlock.logic.expression import Expression, Kind, conjunction, has, has_was, negate, variables_of, walk
from interlock.spec.model import ChangeKind, Sequence, Spec, StepChange

REACHED = (VariableKind.ITEM, VariableKind.STEP, VariableKind.MEMORY)


WHOLE_FIRST = 200_000
"""So many situations are explored as a whole before the system is taken apart."""

Place: TypeAlias = tuple[System, Scenario]
"""A way to something, and the part of the system that it is a way in."""


@dataclass(frozen=True, slots=True)
class Surveyed:
    """What surveys of all parts with one number of failures saw together. A part has in it all that can influence it,
    so what holds of parts (this is reached, that never) holds of the whole, as long as each part settles."""

    parts: tuple[tuple[System, Survey], ...]

    @property
    def happened(self) -> frozenset[str]:
        """The actions that happened."""
        return frozenset().union(*(survey.happened for _, survey in self.parts))

    @property
    def seen(self) -> frozenset[str]:
        """The probes that were true somewhere."""
        return frozenset().union(*(survey.seen for _, survey in self.parts))

    @property
    def limit(self) -> str | None:
        """Why nothing that is absent is proved absent; None if it is."""
        limit = next((survey.limit for _, survey in self.parts if survey.limit is not None), None)
        if limit is None and len(self.parts) > 1 and all(survey.stuck is not None for _, survey in self.parts):
            return "each part by itself can come to a stop; whether all can at once was not explored"
        return limit

    @property
    def stuck(self) -> Place | None:
        """A way to where nothing can happen any more. Where one part always goes on, so does the whole."""
        places = [(system, survey.stuck) for system, survey in self.parts]
        if len(places) == 1 and places[0][1] is not None:
            return places[0][0], places[0][1]
        return None

    @property
    def unsettling(self) -> Place | None:
        """A way to consequences and logic that follow each other for ever."""
        return next(((system, one.unsettling) for system, one in self.parts if one.unsettling is not None), None)

    @property
    def orders(self) -> Place | None:
        """A way to where the order of logic decides where things settle."""
        return next(((system, one.orders) for system, one in self.parts if one.orders is not None), None)

    @property
    def not_compared(self) -> str | None:
        """Why it is open whether the order of logic decides where things settle; None if it is known."""
        if self.orders is not None:
            return None
        return next((survey.not_compared for _, survey in self.parts if survey.not_compared is not None), None)


@dataclass(frozen=True, slots=True)
class Surveys:
    """What was surveyed for each number of failures, from 0 up."""

    spec: Spec
    system: System
    by_failures: tuple[Surveyed, ...]

    def complete(self, failures: int) -> bool:
        """Whether everything reachable with so many failures was seen."""
        return failures < len(self.by_failures) and self.by_failures[failures].limit is None

    @property
    def last(self) -> Surveyed:
        """The surveys with the most failures."""
        return self.by_failures[-1]

    @property
    def settles(self) -> bool:
        """Whether tiers 0 and 1 are known to settle always, with any number of failures surveyed."""
        return all(one.limit is None and one.unsettling is None for one in self.by_failures)

    def known(self, asked: Property, failures: int) -> Verdict | None:
        """What a survey says for certain about a property for any timing; None where it must be asked. A breach is left
        to the engine, which shows the way to it."""
        if asked.every_event or not self.complete(failures):
            return None
        if asked.kind is PropertyKind.NEVER:
            return None if f"never/{asked.id}" in self.by_failures[failures].seen else Verdict.HOLDS
        return None


def survey_all(spec: Spec, system: System, engine: Engine, limits: Limits, most: int) -> Surveys:
    """Survey with 0 up to `most` failures; after one that hits its limit no larger one is tried. Small systems are
    surveyed as a whole, large ones part by part."""
    probes = tuple(probes_of(spec, system))
    parts = parts_of(system, (variables_of(probe.expression) for probe in probes))
    together = len(parts) == 1
    whole_limits = limits if together else replace(limits, states=min(limits.states, WHOLE_FIRST))
    done: list[Surveyed] = []
    whole = True
    for failures in range(most + 1):
        if whole:
            survey = engine.survey(system, Question("", budget=failures), probes, whole_limits)
            whole = together or survey.limit is None
            if whole:
                done.append(Surveyed(((system, survey),)))
        if not whole:
            done.append(Surveyed(tuple(_surveyed(parts, engine, failures, probes, limits))))
        if done[-1].limit is not None:
            break
    return Surveys(spec, system, tuple(done))


def _surveyed(
    parts: tuple[Slice, ...], engine: Engine, failures: int, probes: tuple[Probe, ...], limits: Limits
) -> Iterator[tuple[System, Survey]]:
    """Each part surveyed, with the probes that lie in it, up to the first that hits the limit."""
    for part in parts:
        names = {variable.name for variable in part.system.variables}
        inside = tuple(probe for probe in probes if variables_of(probe.expression) <= names)
        survey = engine.survey(part.system, Question("", budget=failures), inside, limits)
        yield part.system, survey
        if survey.limit is not None:
            return


def probes_of(spec: Spec, system: System) -> Iterator[Probe]:
    """All probes of a system; their ids begin with what they ask."""
    for asked in system.properties:
        if asked.kind is PropertyKind.NEVER and not asked.every_event:
            where = Where.EVERY if asked.passing else Where.SETTLED
            yield Probe(f"never/{asked.id}", asked.condition, where)
            yield Probe(f"passing/{asked.id}", asked.condition, Where.EVERY)
        if asked.trigger is not None and not has_was(asked.trigger):
            yield Probe(f"trigger/{asked.id}", asked.trigger, Where.EVERY if asked.passing else Where.SETTLED)
    for variable in system.variables:
        if variable.kind in REACHED:
            for i in range(len(variable.values)):
                here = has(variable.name, (i,), len(variable.values))
                yield Probe(f"value/{variable.name}/{i}", here, Where.EVERY)
    deciding = deciders(spec, system)
    for sequence in spec.sequences:
        for change in sequence.changes:
            guard = deciding[sequence.id, change.name].guard
            for name, permissive in permissives_in(sequence, change, guard):
                step = _in_steps(system, sequence.id, change.from_steps)
                yield Probe(f"consulted/{name}", step, Where.DECIDING)
                yield Probe(f"false/{name}", conjunction((step, negate(permissive))), Where.DECIDING)
        for first, second in unordered(sequence):
            both = conjunction(deciding[sequence.id, change.name].guard for change in (first, second))
            yield Probe(f"both/{sequence.id}/{first.name}/{second.name}", both, Where.DECIDING)


def deciders(spec: Spec, system: System) -> dict[tuple[str, str], Action]:
    """The action by which each step change is decided, by sequence and change."""
    actions = {action.id: action for action in system.actions}
    found = {}
    for sequence in spec.sequences:
        for change in sequence.changes:
            action = actions[f"{sequence.id} {change.name}"]
            if action.tier is not Tier.LOGIC:
                action = actions[f"{sequence.id} decides {change.name}"]
            found[sequence.id, change.name] = action
    return found


def permissives_in(sequence: Sequence, change: StepChange, guard: Expression) -> Iterator[tuple[str, Expression]]:
    """The named permissives of a change, with the nodes that stand for them in its guard."""
    names = {f"{sequence.id}/{change.name}/{permissive.name}" for permissive in change.permissives}
    for node in walk(guard):
        if node.kind is Kind.NAMED and node.name in names:
            yield node.name, node


def unordered(sequence: Sequence) -> Iterator[tuple[StepChange, StepChange]]:
    """Pairs of changes of one sequence that no order holds apart and that may leave the same step."""
    for i, first in enumerate(sequence.changes):
        for second in sequence.changes[i + 1 :]:
            moves = (first.kind is ChangeKind.MOVE) is (second.kind is ChangeKind.MOVE)
            ordered = first.name in sequence.priority and second.name in sequence.priority
            if moves and not ordered and set(first.from_steps) & set(second.from_steps):
                yield first, second


def _in_steps(system: System, sequence: str, steps: tuple[str, ...]) -> Expression:
    variable = system.variable(sequence)
    return has(sequence, (variable.values.index(step) for step in steps), len(variable.values))
