"""Answers to questions that share one exploration. In: a system and questions. Out: the answers of every other engine.

Verdict and counts come from an exploration in any order; a scenario, and where a limit is hit, from a second one level
by level.
"""

from __future__ import annotations

import numpy as np

from interlock.core.question import Answer, Counts, Ends, Question, Verdict
from interlock.core.system import Property, PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.explore import Exploration, Sought
from interlock.engines.explicit.levels import picked, track, within
from interlock.engines.explicit.limited import LimitedSearch, Seeker
from interlock.engines.explicit.marks import Marks
from interlock.engines.explicit.owing import pieces_for, scenario, unended
from interlock.engines.explicit.prepare import ON_RUNS, Numbers, Pieces, Prepared
from interlock.engines.explicit.store import NoRoom
from interlock.engines.explicit.style import Style, on_full_blocks
from interlock.engines.scenario import limit_words

NAME = "explicit"


def answers(system: System, questions: list[Question], limits: Limits, style: Style) -> list[Answer]:
    """The answers, in the order of the questions; these must be able to share an exploration."""
    ends = system.property(questions[0].property).kind is PropertyKind.ALWAYS_ENDS
    if ends and len(questions) > 1:
        return [answer for one in questions for answer in answers(system, [one], limits, style)]
    pieces = pieces_for(system, questions[0]) if ends else Pieces.of(system, questions)

    def explored(prepared: Prepared, places: tuple[str, ...], watched: bool) -> list[Answer]:
        return Group(prepared, questions, limits, places, style.least_words, watched=watched).answers()

    return on_full_blocks(pieces, style, explored)


class Group:
    """Questions that share one exploration."""

    def __init__(
        self,
        prepared: Prepared,
        questions: list[Question],
        limits: Limits,
        places: tuple[str, ...] = (),
        least_words: int = 1,
        *,
        watched: bool = False,
    ) -> None:
        self.prepared = prepared
        self.places, self.least_words = places, least_words
        self.questions = questions
        self.limits = limits
        self.exploration = Exploration(prepared.ground, prepared.meaning.budget, limits, watched)

    def answers(self) -> list[Answer]:
        """The answers, in the order of the questions."""
        sought = [self._sought(question, numbers) for question, numbers in self._numbered()]
        self.exploration.run(self.prepared.start_log(), sought)
        self._again_in_order(sought)
        return [
            self._answer(question, numbers, one)
            for (question, numbers), one in zip(self._numbered(), sought, strict=True)
        ]

    def _again_in_order(self, sought: list[Sought]) -> None:
        """Where the limit was hit in any order: once more in the order in which all engines hit it. Where nothing is
        sought on the way, they hit it in any order."""
        seekers = []
        for one, (question, numbers) in zip(sought, self._numbered(), strict=True):
            if one.beyond and not one.full and one.probe is not None:
                one.beyond = False
                seekers.append(Seeker(one, numbers.by_event, question.property))
        if seekers:
            budget = max(seeker.sought.budget for seeker in seekers)
            try:
                LimitedSearch(self.prepared.ground, budget, self.limits).run(list(self.prepared.starts), seekers)
            except NoRoom:
                for seeker in seekers:
                    seeker.sought.full = seeker.sought.found_with is None

    def _numbered(self) -> list[tuple[Question, Numbers]]:
        return list(zip(self.questions, self.prepared.pieces.numbers, strict=True))

    def _rule(self, question: Question) -> Property:
        return self.prepared.meaning.system.property(question.property)

    def _sought(self, question: Question, numbers: Numbers) -> Sought:
        if self._rule(question).kind not in ON_RUNS:
            return Sought(question.budget)
        one = Sought(question.budget, numbers.probe, numbers.failing)
        if numbers.by_event:
            at_start = [s for _, s, ends in self.prepared.starts if question.property in ends and s <= question.budget]
            if at_start:
                one.at_start = min(at_start)
        return one

    def _answer(self, question: Question, numbers: Numbers, one: Sought) -> Answer:
        try:
            return self._answered(question, numbers, one)
        except (NoRoom, MemoryError):
            return self._full(question)

    def _answered(self, question: Question, numbers: Numbers, one: Sought) -> Answer:
        rule = self._rule(question)
        inner: int | None = None
        found_with = one.found_with
        if one.full:
            return self._full(question)
        if one.beyond and found_with is None:
            return Answer(question, Verdict.UNDECIDED, None, NAME, limit_words(self.limits), None)
        if one.beyond and found_with is not None:
            inner = found_with - 1
        if found_with is not None:
            return self._found(question, rule, numbers, found_with, inner)
        if rule.kind is PropertyKind.ALWAYS_POSSIBLE:
            return self._always_possible(question, numbers)
        if rule.kind is PropertyKind.ALWAYS_ENDS:
            return self._always_ends(question, rule)
        verdict = Verdict.FAILS if rule.kind is PropertyKind.POSSIBLE else Verdict.HOLDS
        return Answer(question, verdict, None, NAME, None, self.counts(question.budget))

    def _full(self, question: Question) -> Answer:
        known = int(self.exploration.store.by_spent.sum())
        words = f"memory is full at {known:,} situations (told apart by the failures spent)"
        return Answer(question, Verdict.UNDECIDED, None, NAME, words, None)

    def _found(self, question: Question, rule: Property, numbers: Numbers, budget: int, inner: int | None) -> Answer:
        ground = self.prepared.ground
        inner = budget if inner is None else inner
        by_event = numbers.by_event and not self._at_start(rule, budget)

        def goal(level: U64) -> U64:
            if not numbers.by_event:
                return picked(ground, level, numbers.probe or 0)
            assert numbers.probe is not None
            assert numbers.failing is not None
            able = within(ground, level, inner)
            parts = [picked(ground, able, numbers.probe)]
            parts.append(picked(ground, within(ground, able, budget - 1), numbers.failing))
            return np.concatenate(parts)

        starts = [packed for packed, spent, _ in self.prepared.starts if spent <= budget]
        walker = self.prepared.walker(rule)
        if numbers.by_event and not by_event:
            ends_at = [packed for packed, spent, ends in self.prepared.starts if rule.id in ends and spent <= budget]
            way = track(ground, starts, budget, lambda level: ground.log_of(ends_at), inner, self.limits)
        else:
            way = track(ground, starts, budget, goal, inner, self.limits)
        sought = rule.kind is PropertyKind.POSSIBLE
        scenario = walker.walk(way, budget, Ends.REACHED if sought else Ends.BREACH, by_event=by_event)
        return Answer(question, Verdict.HOLDS if sought else Verdict.FAILS, scenario, NAME, None, None)

    def _always_possible(self, question: Question, numbers: Numbers) -> Answer:
        assert numbers.probe is not None
        assert numbers.failing is not None
        ground, store = self.prepared.ground, self.exploration.store
        able, bad = Marks(ground, store), Marks(ground, store)
        able.add_where(numbers.probe)
        able.add_leading(self.prepared.meaning.system)
        bad.add_where(numbers.failing)
        bad.minus(able)
        found = within(ground, bad.log(), question.budget)
        counts = self.counts(question.budget)
        if not found.shape[0]:
            return Answer(question, Verdict.HOLDS, None, NAME, None, counts)
        budget = int(ground.spent(found).min())
        starts = [packed for packed, spent, _ in self.prepared.starts if spent <= budget]
        way = track(ground, starts, budget, bad.among, budget, self.limits)
        scenario = self.prepared.walker(None).walk(way, budget, Ends.NO_WAY, by_event=False)
        return Answer(question, Verdict.FAILS, scenario, NAME, None, counts)

    def _always_ends(self, question: Question, rule: Property) -> Answer:
        counts = self.counts(question.budget)
        found = unended(self.prepared.pieces, self.prepared, self.exploration.store, self.places, self.least_words)
        bad = found.bad.log()
        if not bad.shape[0]:
            return Answer(question, Verdict.HOLDS, None, NAME, None, counts)
        told = scenario(self.prepared, rule, found, int(found.bad.ground.spent(bad).min()))
        return Answer(question, Verdict.FAILS, told, NAME, None, counts)

    def _at_start(self, rule: Property, budget: int) -> bool:
        return any(rule.id in ends and spent <= budget for _, spent, ends in self.prepared.starts)

    def counts(self, budget: int) -> Counts:
        """The counts of everything within a budget."""
        layers = self.exploration.layers[: budget + 1]
        return Counts(
            sum(layer.settled for layer in layers),
            sum(layer.passing for layer in layers),
            sum(layer.free_events for layer in layers) + sum(layer.costly_events for layer in layers[:-1]),
        )
