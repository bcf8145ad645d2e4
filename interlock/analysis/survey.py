"""Surveys of everything reachable at each number of failures, and what their probes tell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from interlock.core.question import Question, Verdict
from interlock.core.system import Action, Property, PropertyKind, System, Tier, VariableKind
from interlock.engines.api import Engine, Limits, Probe, Survey, Where
from interlock.logic.expression import Expression, Kind, conjunction, has, has_was, negate, walk
from interlock.spec.model import ChangeKind, Sequence, Spec, StepChange

REACHED = (VariableKind.ITEM, VariableKind.STEP, VariableKind.MEMORY)


@dataclass(frozen=True, slots=True)
class Surveys:
    """One survey a number of failures, from 0 up, of the whole system."""

    spec: Spec
    system: System
    by_failures: tuple[Survey, ...]

    def complete(self, failures: int) -> bool:
        """Whether everything reachable with so many failures was seen."""
        return failures < len(self.by_failures) and self.by_failures[failures].limit is None

    @property
    def last(self) -> Survey:
        """The survey with the most failures."""
        return self.by_failures[-1]

    @property
    def settles(self) -> bool:
        """Whether tiers 0 and 1 are known to settle always, with any number of failures surveyed."""
        return all(survey.limit is None and survey.unsettling is None for survey in self.by_failures)

    def known(self, asked: Property, failures: int) -> Verdict | None:
        """What a survey says for certain about a property for any timing; None where it must be asked. A breach is left
        to the engine, which shows the way to it."""
        if asked.every_event or not self.complete(failures):
            return None
        if asked.kind is PropertyKind.NEVER:
            return None if f"never/{asked.id}" in self.by_failures[failures].seen else Verdict.HOLDS
        return None


def survey_all(spec: Spec, system: System, engine: Engine, limits: Limits, most: int) -> Surveys:
    """Survey with 0 up to `most` failures; after one that hits its limit no larger one is tried."""
    probes = tuple(probes_of(spec, system))
    done: list[Survey] = []
    for failures in range(most + 1):
        done.append(engine.survey(system, Question("", budget=failures), probes, limits))
        if done[-1].limit is not None:
            break
    return Surveys(spec, system, tuple(done))


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
