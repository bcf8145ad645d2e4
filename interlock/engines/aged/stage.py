"""What a system does to ages, read from the plain meaning once for each valuation.

In: a system and a question. Out: clocks, and for each valuation which of them run and what holds time back.

A *clock* is a number: that of an action that owns an age (`core/timed.py`), then that of the deadline asked about,
then, where time itself is to be seen passing, one that is set back whenever it comes to a unit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import gcd

from interlock.core.question import Question
from interlock.core.system import Property, PropertyKind, System, TickWindow, Tier, Valuation
from interlock.core.timed import age_of, has_age
from interlock.engines.reference.graph import Graph
from interlock.engines.reference.runs import JUDGED_ON_RUNS, Runs
from interlock.logic.expression import FALSE

DEADLINES = (PropertyKind.AFTER, PropertyKind.LASTS)


@dataclass(frozen=True, slots=True)
class Place:
    """A valuation, as ages see it. `running`: the clocks of what is enabled. `holding`: the windows beyond which time
    does not pass. `holds`, `closes`: of a deadline. All of these say nothing of a passing situation."""

    settled: bool
    running: frozenset[int]
    holding: tuple[tuple[int, TickWindow], ...]
    holds: bool
    closes: bool


class Stage:
    """One system under one question. `unit`: the largest number of ticks that divides every end of a window (1 if there
    is none but 0). `beat`: the clock that comes to a unit again and again."""

    def __init__(self, system: System, question: Question, *, beat: bool = False) -> None:
        self.graph = Graph(system, question)
        self.meaning = self.graph.meaning
        self.system = self.graph.system
        self.question = question
        self.rule = self.system.property(question.property)
        self.runs = Runs(self.graph, question, self.rule if self.rule.kind in JUDGED_ON_RUNS else None)
        actions = self.system.actions
        owned = {age_of(action) for action in actions if has_age(action)}
        self.owners = tuple(action for action in actions if action.id in owned)
        number = {owner.id: i for i, owner in enumerate(self.owners)}
        self.clock = tuple(number[age_of(action)] if has_age(action) else None for action in actions)
        self.afresh = tuple(
            frozenset(number[id] for id in (age_of(action), *action.restarts) if id in number) for action in actions
        )
        self.deadline = len(self.owners) if self.rule.kind in DEADLINES else None
        self.n_clocks = len(self.owners) + (self.deadline is not None)
        self.beat = self.n_clocks if beat else None
        self.n_clocks += beat
        self._windows = tuple(self._said())
        self.unit = gcd(*(end for _, window in self._windows for end in (window.earliest, window.latest or 0))) or 1
        self._places: dict[Valuation, Place] = {}

    def windows(self) -> tuple[tuple[int, TickWindow], ...]:
        """Every window that says anything, with its clock; that of the rule among them, and that of the beat."""
        beat = () if self.beat is None else ((self.beat, TickWindow(self.unit, self.unit)),)
        return (*self._windows, *beat)

    def _said(self) -> Iterator[tuple[int, TickWindow]]:
        for clock, action in zip(self.clock, self.system.actions, strict=True):
            if clock is not None and action.window is not None:
                yield clock, action.window
        if self.deadline is not None and self.rule.within is not None:
            yield self.deadline, self.rule.within

    def place(self, valuation: Valuation) -> Place:
        """A valuation, as ages see it."""
        found = self._places.get(valuation)
        if found is None:
            found = self._places[valuation] = self._place(valuation)
        return found

    def _place(self, valuation: Valuation) -> Place:
        if not self.graph.settled(valuation):
            return Place(False, frozenset(), (), False, False)
        true = self.meaning.true
        holding = tuple(
            (clock, action.window)
            for clock, action in zip(self.clock, self.system.actions, strict=True)
            if clock is not None
            and action.window is not None
            and action.tier is Tier.OTHER
            and action.obliged
            and true(action.guard, valuation)
        )
        running = frozenset(i for i, owner in enumerate(self.owners) if true(owner.guard, valuation))
        rule: Property = self.rule
        return Place(
            True,
            running,
            holding,
            self.deadline is not None and true(rule.condition, valuation),
            self.deadline is not None and any(true(one or FALSE, valuation) for one in (rule.must, rule.unless)),
        )


def closed(window: TickWindow) -> bool:
    """Whether no end of a window is open."""
    return not window.earliest_open and not (window.latest_open and window.latest is not None)
