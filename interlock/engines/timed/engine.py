"""The answers of the engine of declared timing. In: a system and questions. Out: answers, scenarios replayed in time.

Every question is decided with the windows that it needs (`refine.py`), over the settled graph of its own.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.core.question import NO_OVERLAY, Answer, Ends, Moment, Question, Scenario, Times, Timing, Verdict
from interlock.core.system import PropertyKind, System
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.replay_timed import checked_in_time
from interlock.engines.scenario import at_start_of
from interlock.engines.timed.graph import Graph, TooMany, Unsettling
from interlock.engines.timed.refine import Decided, Refinement
from interlock.engines.timed.search import Counting, TooManyZones

NAME = "zones"
KINDS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE, PropertyKind.AFTER, PropertyKind.LASTS)
MAX_KEPT = 64


class ZonesEngine:
    """Declared timing, exact in dense time. Keeps which ends of windows counted for a rule, to begin with them when it
    is asked with more failures."""

    def __init__(self) -> None:
        self._counted: list[tuple[System, str, Counting]] = []

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
        graph = Graph(system, question, limits.states)
        refinement = Refinement(graph, limits.states, limits.progress)
        begin = self._begin(system, question)
        try:
            decided = refinement.decide(begin)
        except TooMany:
            return _undecided(question, f"more than {limits.states:,} situations can be reached")
        except TooManyZones:
            return _undecided(question, f"more than {limits.states:,} zones of ages were reached")
        except Unsettling:
            return _undecided(question, "consequences or logic may go round without settling")
        if question.overlay == NO_OVERLAY:
            self._counted = [(system, question.property, decided.counting), *self._counted[: MAX_KEPT - 1]]
        return checked_in_time(system, _answered(graph, question, decided))

    def _begin(self, system: System, question: Question) -> Counting:
        for known, rule, counting in self._counted:
            if known is system and rule == question.property and question.overlay == NO_OVERLAY:
                return counting
        return Counting()


def _undecided(question: Question, limit: str) -> Answer:
    return Answer(question, Verdict.UNDECIDED, None, NAME, limit, None)


def _answered(graph: Graph, question: Question, decided: Decided) -> Answer:
    sought = graph.rule.kind is PropertyKind.POSSIBLE
    if decided.run is None:
        verdict = Verdict.FAILS if sought else Verdict.HOLDS
        return Answer(question, verdict, None, NAME, None, None, decided.rests_on)
    ends = Ends.REACHED if sought else Ends.BREACH
    scenario = scenario_of(graph, decided, ends)
    return Answer(question, Verdict.HOLDS if sought else Verdict.FAILS, scenario, NAME, None, None)


def scenario_of(graph: Graph, decided: Decided, ends: Ends) -> Scenario:
    """The run event by event, from the first start that leads into it, with the times of each event."""
    run = decided.run
    assert run is not None
    assert decided.times is not None
    starts = [one for one in graph.starts() if one[1][0] == run.start]
    state, outcome, length = min(starts, key=lambda one: (one[1][2], one[2]))
    begin = graph.events_at_start(state, outcome, length)
    events = [action for action, _ in begin]
    situations = [state.valuation, *(graph.layout.unpack(packed) for _, packed in begin)]
    moments: list[int | None] = [None] * len(begin)
    here = run.start
    for i, stride in enumerate(run.strides):
        node = graph.nodes[here]
        for action, packed in graph.events_of(node.state, node.spent, stride):
            events.append(action)
            situations.append(graph.layout.unpack(packed))
            moments.append(i)
        here = stride.to
    if run.too_late:
        moments.append(len(run.strides))
    return Scenario(
        at_start_of(graph.meaning, state.valuation, state.spent),
        tuple(situations),
        tuple(graph.system.actions[action].id for action in events),
        ends,
        times=_spread(decided.times, moments),
    )


def _spread(times: Times, moments: list[int | None]) -> Times:
    """The times of strides, one for each event of them; None: an event at the start."""
    zero = Moment(Fraction(0))
    return Times(
        tuple(zero if i is None else times.earliest[i] for i in moments),
        tuple(zero if i is None else times.latest[i] for i in moments),
        tuple(Fraction(0) if i is None else times.run[i] for i in moments),
    )
