"""Core systems from a table of guarded events, for puzzles and protocols that are published with their counts.

In: variables with their values, start values, events as (name, {variable: values before}, {variable: value after}).
Out: a `System`. Every event is a free event of tier 2.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

from interlock.core.meaning import Meaning
from interlock.core.question import Answer, Question
from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Assignment,
    Property,
    PropertyKind,
    System,
    Tier,
    Variable,
    VariableKind,
)
from interlock.engines.api import Limits, Survey
from interlock.engines.table import ENGINES
from interlock.logic.expression import FALSE, TRUE, Expression, conjunction, has

Value: TypeAlias = str | int
Before: TypeAlias = Mapping[str, Iterable[Value]]
Event: TypeAlias = tuple[str, Before, Mapping[str, Value]]


class Table:
    """Variables with their values, and expressions over them."""

    def __init__(self, domains: Mapping[str, Sequence[Value]]) -> None:
        self.variables = tuple(Variable(name, tuple(values), VariableKind.ITEM) for name, values in domains.items())
        self.domains = {variable.name: variable.values for variable in self.variables}

    def among(self, name: str, values: Iterable[Value]) -> Expression:
        """The variable has one of the values."""
        domain = self.domains[name]
        return has(name, (domain.index(value) for value in values), len(domain))

    def all(self, conditions: Mapping[str, Iterable[Value]]) -> Expression:
        """Every variable has one of its values."""
        return conjunction(self.among(name, values) for name, values in conditions.items())

    def system(
        self, start: Mapping[str, Value], events: Iterable[Event], properties: Iterable[Property] = ()
    ) -> System:
        """The system that starts so and has these events."""
        actions = tuple(
            Action(
                name,
                "world",
                name,
                ActionKind.FREE,
                Tier.OTHER,
                self.all(before),
                tuple(Assignment(v, ((TRUE, self.domains[v].index(value)),)) for v, value in after.items()),
                ANY_AGE,
                False,
            )
            for name, before, after in events
        )
        first = tuple(variable.values.index(start[variable.name]) for variable in self.variables)
        return System("a puzzle", self.variables, (first,), actions, (), tuple(properties), (), {}, Fraction(1))


def reach(condition: Expression) -> Property:
    """Whether there is a way to a condition."""
    return Property("goal", PropertyKind.POSSIBLE, False, condition)


def avoid(condition: Expression) -> Property:
    """That a condition is never met."""
    return Property("hazard", PropertyKind.NEVER, True, condition)


def ask(engine: str, system: System, id: str) -> Answer:
    """One engine's answer, by the door that everything goes through."""
    (answer,) = ENGINES[engine].answer(system, (Question(id),), Limits())
    return answer


def everything(engine: str, system: System) -> Survey:
    """One engine's survey of everything that can be reached."""
    return ENGINES[engine].survey(system, Question(""), (), Limits())


def counts(engine: str, system: System) -> tuple[int, int]:
    """Situations and events, counted by a question that never finds anything."""
    asked = replace(system, properties=(avoid(FALSE),))
    answer = ask(engine, asked, "hazard")
    assert answer.counts is not None
    return answer.counts.settled + answer.counts.passing, answer.counts.events


def depths(system: System) -> list[int]:
    """How many situations lie at each least number of events from the start, by the plain meaning."""
    meaning = Meaning(system, Question(""))
    level = set(meaning.starts())
    known = set(level)
    found = []
    while level:
        found.append(len(level))
        level = {meaning.after(a, s) for s in level for a in meaning.enabled(s)} - known
        known |= level
    return found
