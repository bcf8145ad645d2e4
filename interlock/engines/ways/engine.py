"""The engine of `always_possible` under declared timing. In: a system and questions. Out: answers, scenarios replayed.

First whether a way leads on whatever the ages are (`whatever.py`, in bulk where there are many situations), then with
all ages (`ages.py`), in plain Python and so within a limit of its own; beyond that with few (`relying.py`, which
also finds what a verdict rests on).
"""

from __future__ import annotations

from dataclasses import replace

from interlock.core.question import NO_OVERLAY, Answer, Margin, Question, Timing, Verdict
from interlock.core.system import PropertyKind, System
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.ends import SomeEnds
from interlock.engines.timed.graph import Graph, TooMany, Unsettling
from interlock.engines.timed.search import TooManyZones
from interlock.engines.ways.answers import NAME, with_ages
from interlock.engines.ways.margins import Moving
from interlock.engines.ways.relying import ByEnds
from interlock.engines.ways.whatever import surely_good

SMALL = 3_000
"""Beyond so many situations arrays are worth making."""

MOST_WITH_AGES = 20_000
"""Situations, and zones of ages, that are looked at with all ages."""

MOST_FOR_ENDS = 60_000
"""Zones in all that are looked at to find which ends of windows a verdict rests on."""


class WaysEngine:
    """`always_possible` for the declared timing, exact in dense time. `whatever` false: with all ages at once. Keeps of
    the system asked last which questions hold whatever the ages are: those of single failures come up again where
    common causes are asked about as well."""

    def __init__(self, *, whatever: bool = True) -> None:
        self._whatever = whatever
        self._known: tuple[System | None, set[Question]] = (None, set())

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Declared timing; always_possible without `passing` and without cuts."""
        rule = system.property(question.property)
        on_graph = rule.kind is PropertyKind.ALWAYS_POSSIBLE and not rule.passing and not question.cut
        return question.timing is Timing.DECLARED and on_graph

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question by itself. Counts are not given: ages are not situations."""
        return tuple(self._answer(system, question, limits) for question in questions)

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Not in declared timing."""
        raise EngineFault(f"the {NAME} engine makes no surveys")

    def _answer(self, system: System, question: Question, limits: Limits) -> Answer:
        if not self.decides(system, question):
            raise EngineFault(f"the {NAME} engine was asked what it does not decide: {question.property}")
        try:
            return self._decided(system, question, limits)
        except TooMany as hit:
            limit = str(hit)
        except Unsettling:
            limit = "consequences or logic may go round without settling"
        return Answer(question, Verdict.UNDECIDED, None, NAME, limit, None)

    def _decided(self, system: System, question: Question, limits: Limits) -> Answer:
        if self._whatever:
            try:
                proved = surely_good(Graph(system, question, min(limits.states, SMALL)))
            except TooMany:
                if limits.states <= SMALL:
                    raise
                proved = self._surely_good_in_bulk(system, question, limits)
            if proved:
                return Answer(question, Verdict.HOLDS, None, NAME, None, None, ())
        most = min(limits.states, MOST_WITH_AGES)
        by_ends = ByEnds(system, question, replace(limits, states=most), MOST_FOR_ENDS)
        try:
            answer = with_ages(system, question, replace(limits, states=most))
        except (TooMany, TooManyZones):
            ends = by_ends.enough()
            if ends is not None:
                return Answer(question, Verdict.HOLDS, None, NAME, None, None, by_ends.fewest(ends))
            limit = f"more than {most:,} situations or zones of ages, and not known to hold with few ages or none"
            return Answer(question, Verdict.UNDECIDED, None, NAME, limit, None)
        if answer.verdict is not Verdict.HOLDS:
            return answer
        return replace(answer, rests_on=by_ends.fewest())

    def margins(
        self, system: System, question: Question, asked: tuple[SomeEnds, ...], limits: Limits, kept: SomeEnds
    ) -> tuple[tuple[Margin, Margin], ...]:
        """For each set of ends that move together, how far they may, making windows wider and making them narrower,
        until the rule breaks; it holds by `kept`. Nothing may be laid over the system. `limits`: for each trial."""
        if not self.decides(system, question) or question.overlay != NO_OVERLAY:
            raise EngineFault(f"the {NAME} engine was asked for a margin it does not know: {question.property}")
        each = replace(limits, states=min(limits.states, MOST_WITH_AGES))
        found = (Moving(system, question, kept, ends, each) for ends in asked)
        return tuple((one.margin(wider=True), one.margin(wider=False)) for one in found)

    def _surely_good_in_bulk(self, system: System, question: Question, limits: Limits) -> bool:
        from interlock.engines.ways.whatever_bulk import surely_good_in_bulk

        if self._known[0] is not system:
            self._known = (system, set())
        return surely_good_in_bulk(system, question, limits, self._known[1])
