"""The answers of the engine of declared timing. In: a system and questions. Out: answers, scenarios replayed in time.

Every question is decided with the windows that it needs (`refine.py`), over the settled graph of its own.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from interlock.core.meaning import Meaning
from interlock.core.one_failure import one_at_a_time
from interlock.core.overlay import with_overlay
from interlock.core.question import NO_OVERLAY, Answer, Bound, Ends, Margin, Question, Timing, Verdict
from interlock.core.system import PropertyKind, System
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.replay_timed import checked_in_time
from interlock.engines.timed.graph import DEADLINES, Graph, Settled, TooMany, TooWide, Unsettling, more_than
from interlock.engines.timed.margins import ROUNDS, margins
from interlock.engines.timed.refine import Decided, Refinement, Searching, over_all
from interlock.engines.timed.scenario import scenario_of
from interlock.engines.timed.search import Counting, TooManyZones, search
from interlock.engines.timed.singly import Singly

if TYPE_CHECKING:
    from interlock.engines.timed.bulk import Bulk
    from interlock.engines.timed.bulk_graph import BulkGraph

NAME = "zones"
KINDS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE, PropertyKind.AFTER, PropertyKind.LASTS)
MAX_KEPT = 64

SMALL = 3_000
"""Beyond so many situations, or zones, compiled kernels are worth loading."""

MOST_SINGLY = 240_000_000
"""Situations up to which one failure is taken after the other, which are made anew for each search."""


class ZonesEngine:
    """Declared timing, exact in dense time. Keeps which ends of windows counted for a rule, to begin with them when it
    is asked with more failures."""

    def __init__(self, small: int = SMALL, near: bool = True) -> None:
        """`small`: so many situations, or zones, in plain Python. `near`: look near the rule before all situations."""
        self._small = small
        self._looks_near = near
        self._counted: list[tuple[System, str, Counting]] = []
        self._kept: tuple[object, Bulk] | None = None
        self._beyond: list[tuple[object, frozenset[str], int, int, str]] = []
        self._in_vain: list[object] = []

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Declared timing; never, before, possible, after, lasts."""
        return question.timing is Timing.DECLARED and system.property(question.property).kind in KINDS

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question by itself. Counts are not given: ages are not situations."""
        return tuple(self._answer(system, question, limits) for question in questions)

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Not in declared timing."""
        raise EngineFault(f"the {NAME} engine makes no surveys")

    def _answer(self, system: System, question: Question, limits: Limits) -> Answer:
        if not self.decides(system, question):
            raise EngineFault(f"the {NAME} engine was asked what it does not decide: {question.property}")
        begin = self._begin(system, question)
        try:
            graph, decided = self._decided(system, question, limits, begin)
        except (TooMany, TooManyZones, TooWide, Unsettling) as hit:
            return _undecided(question, _limit(hit))
        if question.overlay == NO_OVERLAY:
            self._counted = [(system, question.property, decided.counting), *self._counted[: MAX_KEPT - 1]]
        return checked_in_time(system, _answered(graph, question, decided))

    def _decided(self, system: System, question: Question, limits: Limits, begin: Counting) -> tuple[Settled, Decided]:
        """In plain Python as far as `small`, then over all situations at once where the question allows that, and if
        these are too many with any one failure, with one failure after the other."""
        in_bulk = _in_bulk(question)
        most = min(limits.most_zones, self._small) if in_bulk else limits.most_zones
        try:
            if in_bulk and self._known_large(system, question, most):
                raise TooMany(more_than(most))
            graph = Graph(system, question, most)
            return graph, Refinement(graph, partial(search, graph, most=most, told=limits.progress)).decide(begin)
        except Unsettling:
            if not in_bulk:
                raise
        except (TooMany, TooManyZones):
            if not in_bulk or most == limits.states:
                raise
        in_vain = self._was_in_vain(system, question)
        told = None if in_vain else self._near(system, question, limits, begin)
        if told is not None:
            return told
        try:
            return self._far(system, question, limits, begin)
        except (TooMany, TooManyZones, TooWide):
            told = self._near(system, question, limits, begin) if in_vain else None
            if told is not None:
                return told
            raise

    def _far(self, system: System, question: Question, limits: Limits, begin: Counting) -> tuple[Settled, Decided]:
        """By all situations at once, or if these are too many with any one failure, with one after the other."""
        try:
            together = self._large(system, question, limits)
            return together, Refinement(together, over_all(together, limits)).decide(begin)
        except TooMany as hit:
            parts = one_at_a_time(system, question)
            if len(parts) == 1:
                raise
            together_told = str(hit)

        def alone(part: Question) -> Refinement:
            large = self._large(system, part, limits)
            if large.bulk.keys.shape[0] * len(parts) > MOST_SINGLY:
                raise TooMany(f"{together_told}; one failure after the other, some {MOST_SINGLY:,} or more in all")
            return Refinement(large, over_all(large, limits))

        return Singly(parts, alone).decide(begin)

    def _near(
        self, system: System, question: Question, limits: Limits, begin: Counting
    ) -> tuple[Settled, Decided] | None:
        """By what is near the rule alone, if that is enough."""
        from interlock.engines.timed.near import near_the_rule

        if not self._looks_near or question.overlay != NO_OVERLAY:
            return None
        told = near_the_rule(system, question, limits, begin)
        if told is None:
            self._in_vain = [_asked_near(system, question), *self._in_vain[: MAX_KEPT - 1]]
        if told is None or question.budget:
            return told
        with suppress(TooMany):
            # What the whole rests on can be less.
            whole = self._large(system, question, limits)
            return whole, Refinement(whole, over_all(whole, limits)).told(None, [], told[1].counting)
        return told

    def _was_in_vain(self, system: System, question: Question) -> bool:
        """Whether the same was looked for near the rule in vain, within some time: then it is the last thing to try."""
        return self._looks_near and _asked_near(system, question) in self._in_vain

    def margins(
        self,
        system: System,
        question: Question,
        asked: tuple[frozenset[Bound], ...],
        limits: Limits,
        relied: tuple[frozenset[Bound] | None, ...] = (None,),
    ) -> tuple[tuple[Margin, ...], ...]:
        """For each set of ends that move together, how far they may before the rule breaks, relying on nothing but
        these and a set of ends by which it must hold, for several such sets, each within the next (None: all ends).

        Nothing may be laid over the system. `limits`: for each search; where one is hit, the margin is not known.
        """
        if not self.decides(system, question) or question.overlay != NO_OVERLAY:
            raise EngineFault(f"the {NAME} engine was asked for a margin it does not know: {question.property}")
        begin = self._begin(system, question)
        in_bulk = _in_bulk(question)
        most = min(limits.most_zones, self._small) if in_bulk else limits.most_zones
        small = Graph(system, question, most)
        large: BulkGraph | None = None

        def on_small(graph: Graph) -> Searching:
            return partial(search, graph, most=most, told=limits.progress)

        def on_large(graph: BulkGraph) -> Searching:
            return over_all(graph, limits)

        found: list[tuple[Margin, ...]] = []
        for ends in asked:
            if large is None:
                told = margins(small, on_small, ends, relied, begin, _limit)
                if in_bulk and any(one.limit not in (None, ROUNDS) for one in told):
                    try:
                        large = self._large(system, question, limits)
                        if large.rule.kind in DEADLINES:
                            large.before_open()  # kept there, so that no copy looks for it again
                    except (TooMany, TooWide) as hit:
                        unknown = _limit(hit)
                        told = tuple(
                            one if one.limit in (None, ROUNDS) else replace(one, limit=unknown) for one in told
                        )
                if large is None:
                    found.append(told)
                    continue
            found.append(margins(large, on_large, ends, relied, begin, _limit))
        return tuple(found)

    def _large(self, system: System, question: Question, limits: Limits) -> BulkGraph:
        """All situations at once. TooMany."""
        from interlock.engines.timed.bulk_graph import BulkGraph

        return BulkGraph(with_overlay(system, question.overlay), question, self._bulk(system, question, limits.states))

    def _bulk(self, system: System, question: Question, most: int) -> Bulk:
        """All situations. Those of the last question are kept, for rules that share a slice; and of what there were too
        many, since with more failures there are no fewer."""
        from interlock.engines.timed.bulk import bulk_of

        if self._known_large(system, question, most):
            raise TooMany(more_than(most))
        same, failing = _situations(system, question)
        key = (same, failing, question.budget)
        if self._kept is not None and self._kept[0] == key:
            return self._kept[1]
        self._kept = None
        for known, fewer, budget, tried, words in self._beyond:
            if known == same and budget <= question.budget and fewer <= failing and most <= tried:
                raise TooMany(words)
        try:
            bulk = bulk_of(system, question, most)
        except TooMany as hit:
            self._beyond = [(same, failing, question.budget, most, str(hit)), *self._beyond[: MAX_KEPT - 1]]
            raise
        self._kept = (key, bulk)
        return bulk

    def _known_large(self, system: System, question: Question, most: int) -> bool:
        """Whether the situations that are kept are those of this question, and more than so many."""
        if self._kept is None or self._kept[1].keys.shape[0] <= most:
            return False
        return self._kept[0] == (*_situations(system, question), question.budget)

    def _begin(self, system: System, question: Question) -> Counting:
        for known, rule, counting in self._counted:
            if known.actions is system.actions and rule == question.property and question.overlay == NO_OVERLAY:
                return counting
        return Counting()


def _situations(system: System, question: Question) -> tuple[object, frozenset[str]]:
    """What decides which situations can be reached, beside how many failures may happen: the system, what is laid over
    it, and a rule with a flag of its own; and which failures may happen."""
    flagged = question.property if system.property(question.property).kind is PropertyKind.BEFORE else None
    same = (system.variables, system.start, system.actions, system.modes, question.overlay, flagged)
    return same, Meaning(system, question).allowed


def _asked_near(system: System, question: Question) -> object:
    """What is asked, but for the time within which."""
    rule = replace(system.property(question.property), within=None)
    return _situations(system, question), question.budget, rule


def _in_bulk(question: Question) -> bool:
    """Whether all situations at once can be asked too."""
    return not question.cut


def _limit(hit: Exception) -> str:
    """A limit that was hit, in words."""
    if isinstance(hit, TooMany | TooManyZones):
        return str(hit)
    if isinstance(hit, TooWide):
        return str(hit) or "more windows bear on it than can be followed at once"
    return "consequences or logic may go round without settling"


def _undecided(question: Question, limit: str) -> Answer:
    return Answer(question, Verdict.UNDECIDED, None, NAME, limit, None)


def _answered(graph: Settled, question: Question, decided: Decided) -> Answer:
    sought = graph.rule.kind is PropertyKind.POSSIBLE
    clocks = len({bound.of for bound in decided.counting.bounds}) + (graph.rule.kind in DEADLINES)
    if decided.run is None:
        verdict = Verdict.FAILS if sought else Verdict.HOLDS
        return Answer(question, verdict, None, NAME, None, None, decided.rests_on, clocks)
    ends = Ends.REACHED if sought else Ends.BREACH
    scenario = scenario_of(graph, decided, ends)
    return Answer(question, Verdict.HOLDS if sought else Verdict.FAILS, scenario, NAME, None, None, clocks=clocks)
