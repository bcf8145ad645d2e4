"""The engine of declared timing by regions. In: a system and questions. Out: answers.

Scenarios come without times. Those of rules judged on runs are replayed at the times of one run in dense time.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from interlock.core.question import Answer, Ends, Question, Scenario, Timing, Verdict
from interlock.core.system import PropertyKind, System
from interlock.engines.aged.answers import (
    ON_RUNS,
    answer_on_runs,
    not_decided,
    scenario_of,
    undecided,
    without_waiting,
)
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import Aged, Explored, Trail, Walk, explore
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.reference.endings import Ending
from interlock.engines.regions.ages import RegionAges
from interlock.engines.regions.endings import Unended, loop_from, unended_in
from interlock.engines.regions.ways import without_way
from interlock.engines.scenario import with_loop

NAME = "regions"
ON_GRAPHS = (PropertyKind.ALWAYS_POSSIBLE, PropertyKind.ALWAYS_ENDS)


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

    def _answer(self, system: System, question: Question, limits: Limits) -> Answer:
        if not self.decides(system, question):
            raise not_decided(NAME, question)
        kind = system.property(question.property).kind
        stage = Stage(system, question, beat=kind is PropertyKind.ALWAYS_ENDS)
        ages = RegionAges(stage.n_clocks, stage.windows())
        if kind in ON_RUNS:
            return answer_on_runs(NAME, Walk(stage, ages), question, limits, lambda trail: waits(stage, ages, trail))
        if kind is PropertyKind.ALWAYS_POSSIBLE:
            return _always_possible(Walk(stage, ages), question, limits)
        return _always_ends(stage, ages, question, limits)


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


def _always_possible(walk: Walk, question: Question, limits: Limits) -> Answer:
    stage = walk.stage
    found = explore(walk, limits)
    if found.beyond:
        return undecided(NAME, question, limits)
    counts = found.counts(stage)
    bad = without_way(walk, found.came)
    at = next((aged for aged in found.came if aged in bad), None)
    if at is None:
        return Answer(question, Verdict.HOLDS, None, NAME, None, counts)
    scenario = scenario_of(stage, found.way_to(at), Ends.NO_WAY)
    return Answer(question, Verdict.FAILS, scenario, NAME, None, counts)


def _always_ends(stage: Stage, keeping: RegionAges, question: Question, limits: Limits) -> Answer:
    ending = Ending(stage.graph, stage.rule)
    walk = Walk(stage, keeping, ending.owes)
    found = explore(walk, limits)
    if found.beyond:
        return undecided(NAME, question, limits)
    counts = found.counts(stage)
    unended = unended_in(walk, found.came)
    at = next((aged for aged in found.came if aged in unended.members), None)
    if at is None:
        return Answer(question, Verdict.HOLDS, None, NAME, None, counts)
    return Answer(question, Verdict.FAILS, _for_ever(walk, found, unended, at), NAME, None, counts)


def _for_ever(walk: Walk, found: Explored, unended: Unended, at: Aged) -> Scenario:
    """The way to where a run may stay, and round once; stuck, if nothing but time goes on there."""
    stage = walk.stage
    to = scenario_of(stage, found.way_to(at), Ends.STUCK)
    loop = without_waiting(loop_from(walk, unended, at))
    if not loop.events:
        return to
    return with_loop(stage.system, replace(to, ends=Ends.LOOP), loop)
