"""The explicit engine's door. What it needs (numpy, numba, the kernels) is loaded on the first question."""

from __future__ import annotations

from interlock.core.question import Answer, Question, Timing
from interlock.core.system import ON_GRAPHS, Property, PropertyKind, System
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.replay import checked, checked_survey

NAME = "explicit"
ON_RUNS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE)


SAMPLE = 30_000
"""Situations of which a sample is taken; a system that has fewer is explored one situation a block."""


class ExplicitEngine:
    """Blocks of 64 situations in compiled kernels."""

    def __init__(self, *, blocks: bool = True, sample: int = SAMPLE, least_words: int = 1) -> None:
        """Usually as it is; tests force one situation a block, small samples, wide keys."""
        self._style = (blocks, sample, least_words)

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Any timing; never, before, possible, and without cuts always_possible and always_ends."""
        if question.timing is not Timing.ANY:
            return False
        kind = system.property(question.property).kind
        return kind in ON_RUNS or (kind in ON_GRAPHS and not question.cut)

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question as if it were asked alone; those that can share one exploration do. Ways back are looked
        for among all that was explored, so for these each number of failures has its own."""
        from interlock.engines.explicit.answers import answers
        from interlock.engines.explicit.style import Style

        style = Style(*self._style)

        groups: dict[tuple[object, ...], list[int]] = {}
        found: dict[int, Answer] = {}
        for i, question in enumerate(questions):
            if not self.decides(system, question):
                raise EngineFault(f"the {NAME} engine was asked what it does not decide: {question.property}")
            rule = system.property(question.property)
            cuts = tuple(map(system.property, question.cut))
            own_budget = question.budget if rule.kind is PropertyKind.ALWAYS_POSSIBLE else None
            key = (question.overlay, question.allowed, question.cut, _alone(rule, cuts), own_budget)
            groups.setdefault(key, []).append(i)
        for members in groups.values():
            for i, answer in zip(members, answers(system, [questions[i] for i in members], limits, style), strict=True):
                found[i] = checked(system, answer)
        return tuple(found[i] for i in range(len(questions)))

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Explore everything reachable under the question's budget, allowed modes, overlay (its property unused)."""
        from interlock.engines.explicit.style import Style
        from interlock.engines.explicit.survey import survey

        return checked_survey(system, question, survey(system, question, probes, limits, Style(*self._style)))


def _alone(rule: Property, cuts: tuple[Property, ...]) -> str | None:
    """The property itself where it needs an exploration of its own, for what it keeps beside situations."""
    from interlock.engines.explicit.prepare import needs_flag

    return rule.id if rule.kind is PropertyKind.ALWAYS_ENDS or needs_flag(rule, cuts) else None
