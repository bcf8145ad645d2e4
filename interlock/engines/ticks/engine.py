"""The engine of declared timing in whole ticks. In: a system and questions. Out: answers, scenarios replayed.

What a single run shows is shown in whole ticks where all windows are closed, endless runs included: move every event of
a run to the tick before or after by where it lies between the two, and no closed window is left; no time is lost
(Henzinger, Manna and Pnueli 1992). `always_possible` speaks of all ways on from a situation, and situations between two
ticks may have fewer of them: it is not decided so.
"""

from __future__ import annotations

from fractions import Fraction
from functools import partial

from interlock.core.question import Answer, Question, Timing
from interlock.core.system import PropertyKind, System
from interlock.engines.aged.answers import ON_RUNS, answer_on_runs, not_decided
from interlock.engines.aged.graphs import answer_always_ends
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
        """Declared timing; never, before, possible, after, lasts, always_ends (without cuts), if no window has an open
        end: neither that of an action nor that of the rule."""
        kind = system.property(question.property).kind
        able = kind in ON_RUNS or (kind is PropertyKind.ALWAYS_ENDS and not question.cut)
        if question.timing is not Timing.DECLARED or not able:
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
        if system.property(question.property).kind is PropertyKind.ALWAYS_ENDS:
            return answer_always_ends(NAME, system, question, limits, ticks_on, in_ticks, ticks_on)
        stage = Stage(system, question)
        return answer_on_runs(NAME, Walk(stage, ticks_on(stage)), question, limits, partial(in_ticks, stage))


def ticks_on(stage: Stage) -> TickAges:
    """Ages in whole ticks on a stage."""
    return TickAges(stage.n_clocks, stage.windows(), stage.unit)


def in_ticks(stage: Stage, trail: Trail) -> tuple[Fraction, ...]:
    """How much time goes by with each move of a trail."""
    return tuple(Fraction(0 if event >= 0 else stage.unit) for event in trail.events)
