"""The engine of declared timing in whole ticks. In: a system and questions. Out: answers, scenarios replayed.

Scenarios come without times: one run is found and replayed, not how early or late each event may be.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.core.question import Answer, Question, Timing
from interlock.core.system import System
from interlock.engines.aged.answers import ON_RUNS, answer_on_runs, not_decided
from interlock.engines.aged.stage import Stage, closed
from interlock.engines.aged.walk import Trail, Walk
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.ticks.ages import TickAges

NAME = "ticks"


class TicksEngine:
    """Declared timing, closed windows."""

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Declared timing; never, before, possible, after, lasts, if no window has an open end: neither that of an
        action nor that of the rule."""
        if question.timing is not Timing.DECLARED or system.property(question.property).kind not in ON_RUNS:
            return False
        return all(closed(window) for _, window in Stage(system, question).windows())

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question by itself. Counts are given with everything that no run ends early."""
        return tuple(self._answer(system, question, limits) for question in questions)

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Not in declared timing."""
        raise EngineFault(f"the {NAME} engine makes no surveys")

    def _answer(self, system: System, question: Question, limits: Limits) -> Answer:
        if not self.decides(system, question):
            raise not_decided(NAME, question)
        stage = Stage(system, question)
        ages = TickAges(stage.n_clocks, stage.windows())

        def timed(trail: Trail) -> tuple[Fraction, ...]:
            return tuple(Fraction(0 if event >= 0 else ages.unit) for event in trail.events)

        return answer_on_runs(NAME, Walk(stage, ages), question, limits, timed)
