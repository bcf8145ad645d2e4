"""Answers to `always_possible` in the declared timing from ages with a way. Scenarios are replayed."""

from __future__ import annotations

from dataclasses import replace

from interlock.core.question import Answer, Ends, Question, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.replay_timed import checked_in_time
from interlock.engines.timed.graph import Graph
from interlock.engines.timed.refine import Decided
from interlock.engines.timed.scenario import scenario_of
from interlock.engines.timed.search import Counting
from interlock.engines.timed.zones import Zone
from interlock.engines.ways.ages import Ages

NAME = "ways"


def with_ages(system: System, question: Question, limits: Limits) -> Answer:
    """The answer by all ages. TooMany, TooManyZones, Unsettling."""
    ages = Ages(Graph(system, question, limits.states), limits)
    ages.explore()
    return without_a_way(system, question, ages, ages.with_a_way(ages.sought))


def without_a_way(
    system: System, question: Question, ages: Ages, good: dict[int, list[Zone]], among: int = 0
) -> Answer:
    """The answer to an `always_possible` question from the ages with a way, its scenario replayed. `among`: as in
    `Ages.without_a_way`."""
    bad = ages.without_a_way(good, among)
    if bad is None:
        return Answer(question, Verdict.HOLDS, None, NAME, None, None)
    run, times = ages.timed(bad, good)
    # The last moment is one after all events, as it is for a deadline that is missed.
    decided = Decided(replace(run, too_late=True), times, (), Counting(), 0, ages.n_zones)
    answer = Answer(question, Verdict.FAILS, scenario_of(ages.graph, decided, Ends.NO_WAY), NAME, None, None)
    return checked_in_time(system, answer)
