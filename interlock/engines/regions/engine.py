"""The engine of declared timing by regions. In: a system and questions. Out: answers.

Scenarios are replayed at the times of one run in dense time.
"""

from __future__ import annotations

from fractions import Fraction
from functools import partial

from interlock.core.question import NO_OVERLAY, Answer, Margin, Question, Timing
from interlock.core.system import ON_GRAPHS, PropertyKind, System
from interlock.engines.aged.answers import ON_RUNS, answer_on_runs, not_decided
from interlock.engines.aged.graphs import answer_always_ends, answer_always_possible
from interlock.engines.aged.margins import margins_of_endings
from interlock.engines.aged.stage import Stage, closed
from interlock.engines.aged.walk import Aged, Keeping, Trail, Walk
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.ends import SomeEnds
from interlock.engines.regions.ages import RegionAges
from interlock.engines.ticks.engine import ticks_on

NAME = "regions"


class RegionsEngine:
    """Declared timing, exact in dense time, every kind of rule."""

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Declared timing; every kind, always_possible and always_ends without cuts."""
        kind = system.property(question.property).kind
        return question.timing is Timing.DECLARED and (kind in ON_RUNS or (kind in ON_GRAPHS and not question.cut))

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question by itself. Counts are given with everything that no run ends early."""
        return tuple(self._answer(system, question, limits) for question in questions)

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Not in declared timing."""
        raise EngineFault(f"the {NAME} engine makes no surveys")

    def margins(
        self,
        system: System,
        question: Question,
        asked: tuple[SomeEnds, ...],
        limits: Limits,
        relied: tuple[SomeEnds | None, ...],
    ) -> tuple[tuple[Margin, ...], ...]:
        """Of `always_ends`; as `margins_of_endings` says."""
        if not self.decides(system, question) or question.overlay != NO_OVERLAY:
            raise not_decided(NAME, question)
        return margins_of_endings(system, question, asked, limits, relied, either_on)

    def _answer(self, system: System, question: Question, limits: Limits) -> Answer:
        if not self.decides(system, question):
            raise not_decided(NAME, question)
        kind = system.property(question.property).kind
        if kind is PropertyKind.ALWAYS_ENDS:
            return answer_always_ends(NAME, system, question, limits, regions_on, on_regions, either_on)
        stage = Stage(system, question)
        ages = regions_on(stage)
        timed = partial(waits, stage, ages)
        if kind in ON_RUNS:
            return answer_on_runs(NAME, Walk(stage, ages), question, limits, timed)
        return answer_always_possible(NAME, Walk(stage, ages), question, limits, timed)


def regions_on(stage: Stage) -> RegionAges:
    """The regions of a stage."""
    return RegionAges(stage.n_clocks, stage.windows(), stage.unit)


def either_on(stage: Stage) -> Keeping:
    """Whole ticks where no end is open, else regions: for what single runs show."""
    return ticks_on(stage) if all(closed(window) for _, window in stage.windows()) else regions_on(stage)


def on_regions(stage: Stage, trail: Trail) -> tuple[Fraction, ...]:
    """`waits` with the regions of a stage."""
    return waits(stage, regions_on(stage), trail)


def waits(stage: Stage, keeping: RegionAges, trail: Trail) -> tuple[Fraction, ...]:
    """How much time goes by with each move of a trail, for one run that goes this way."""
    exact = [Fraction(0)] * stage.n_clocks
    found = []
    for i, event in enumerate(trail.events):
        before, after = trail.states[i], trail.states[i + 1]
        passed = keeping.wait(before.ages, tuple(exact)) if event < 0 else Fraction(0)
        found.append(passed)
        fresh = [_starts_afresh(stage, before, after, event, clock) for clock in range(stage.n_clocks)]
        exact = [Fraction(0) if new else age + passed for age, new in zip(exact, fresh, strict=True)]
    return tuple(found)


def _starts_afresh(stage: Stage, before: Aged, after: Aged, event: int, clock: int) -> bool:
    if event < 0:
        return False
    return clock in stage.afresh[event] or before.ages[clock] == (-1, 0) or after.ages[clock] == (-1, 0)
