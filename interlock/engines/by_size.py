"""The choice of an engine by size. In: what any engine is asked. Out: the answer of the quick engine where few
situations can be reached, of the explicit engine where there are more.

How many there are is not known beforehand: the quick engine goes ahead as far as `SMALL`, for so long it ends before
compiled kernels have been loaded. A system that was larger than that is not tried again, whatever is asked of it.
Answers and surveys carry the name of the engine that gave them.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.core.question import Answer, Question
from interlock.core.system import System
from interlock.engines.api import Engine, Limits, Probe, Survey

SMALL = 20_000
"""Beyond so many situations compiled kernels are worth loading."""

MAX_KEPT = 8


class BySize:
    """The quick engine first, the explicit one where it does not come to an end."""

    def __init__(self, quick: Engine, explicit: Engine) -> None:
        self._quick = quick
        self._explicit = explicit
        self._large: list[tuple[System, int]] = []

    @property
    def name(self) -> str:
        """The name people see."""
        return "by size"

    def decides(self, system: System, question: Question) -> bool:
        """What both decide."""
        return self._quick.decides(system, question) and self._explicit.decides(system, question)

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Each question answered by the one or the other."""
        found: dict[int, Answer] = {}
        left = [i for i, question in enumerate(questions) if not self._known_large(system, question.budget)]
        if left:
            asked = tuple(questions[i] for i in left)
            for i, answer in zip(left, self._quick.answer(system, asked, _small(limits)), strict=True):
                if answer.limit is None or limits.states <= SMALL:
                    found[i] = answer
                else:
                    self._keep(system, questions[i].budget)
        rest = [i for i in range(len(questions)) if i not in found]
        if rest:
            asked = tuple(questions[i] for i in rest)
            found.update(zip(rest, self._explicit.answer(system, asked, limits), strict=True))
        return tuple(found[i] for i in range(len(questions)))

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """A survey by the one or the other."""
        if not self._known_large(system, question.budget):
            survey = self._quick.survey(system, question, probes, _small(limits))
            if survey.limit is None or limits.states <= SMALL:
                return survey
            self._keep(system, question.budget)
        return self._explicit.survey(system, question, probes, limits)

    def _known_large(self, system: System, budget: int) -> bool:
        return any(budget >= least and _alike(known, system) for known, least in self._large)

    def _keep(self, system: System, budget: int) -> None:
        self._large = [*self._large[-MAX_KEPT + 1 :], (system, budget)]


def _alike(one: System, other: System) -> bool:
    """Whether as many situations can be reached in both: they differ in what is asked, at the most."""
    return one is other or (one.variables, one.start, one.modes, one.actions) == (
        other.variables, other.start, other.modes, other.actions,
    )  # fmt: skip


def _small(limits: Limits) -> Limits:
    return replace(limits, states=min(limits.states, SMALL))
