"""Answers to questions that are judged on runs, from walks step by step; and scenarios, replayed at times."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

from interlock.core.question import Answer, Ends, Question, Scenario, Verdict
from interlock.core.system import PropertyKind, Valuation
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.times import spread
from interlock.engines.aged.walk import Trail, Walk, explore
from interlock.engines.api import EngineFault, Limits
from interlock.engines.replay_timed import checked_in_time
from interlock.engines.scenario import at_start_of
from interlock.engines.shortest import Way

ON_RUNS = (
    PropertyKind.NEVER,
    PropertyKind.BEFORE,
    PropertyKind.POSSIBLE,
    PropertyKind.AFTER,
    PropertyKind.LASTS,
)


Timed: TypeAlias = Callable[[Trail], tuple[Fraction, ...]]
"""How much time goes by with each move of a trail, in ticks of the system; 0 with an event."""


def answer_on_runs(name: str, walk: Walk, question: Question, limits: Limits, timed: Timed) -> Answer:
    """The answer to a question of a kind in `ON_RUNS`. Counts are given if everything was explored."""
    stage = walk.stage
    found = explore(walk, limits)
    sought = stage.rule.kind is PropertyKind.POSSIBLE
    if found.beyond:
        return undecided(name, question, limits)
    if found.trail is None:
        verdict = Verdict.FAILS if sought else Verdict.HOLDS
        return Answer(question, verdict, None, name, None, found.counts(stage))
    scenario = scenario_of(stage, found.trail, Ends.REACHED if sought else Ends.BREACH)
    verdict = Verdict.HOLDS if sought else Verdict.FAILS
    return replayed(stage, Answer(question, verdict, scenario, name, None, None), found.trail, timed)


def scenario_of(stage: Stage, trail: Trail, ends: Ends) -> Scenario:
    """The events of a trail; time going on is left out."""
    valuation, spent, _ = trail.states[0].node
    way = without_waiting(trail)
    events = tuple(stage.system.actions[event].id for event in way.events)
    return Scenario(at_start_of(stage.meaning, valuation, spent), way.states, events, ends)


def without_waiting(trail: Trail) -> Way[Valuation]:
    """The situations of a trail, and its events."""
    moves = [(e, after.valuation) for e, after in zip(trail.events, trail.states[1:], strict=True) if e >= 0]
    return Way((trail.states[0].valuation, *(after for _, after in moves)), tuple(event for event, _ in moves))


def replayed(stage: Stage, answer: Answer, trail: Trail, timed: Timed) -> Answer:
    """The answer, if its scenario can be followed at some times through the plain meaning; else EngineFault."""
    assert answer.scenario is not None
    now, moments = Fraction(0), []
    for event, passed in zip(trail.events, timed(trail), strict=True):
        now += passed
        if event >= 0:
            moments.append(now)
    waits_on = stage.deadline is not None or answer.scenario.ends is Ends.NO_WAY
    if waits_on and trail.events and trail.events[-1] < 0:
        moments.append(now)
    times = spread(stage.graph, answer.scenario, tuple(moments))
    return checked_in_time(stage.system, replace(answer, scenario=replace(answer.scenario, times=times)))


def undecided(name: str, question: Question, limits: Limits) -> Answer:
    """The answer beyond the limit."""
    limit = f"more than {limits.states:,} situations with their ages can be reached"
    return Answer(question, Verdict.UNDECIDED, None, name, limit, None)


def not_decided(name: str, question: Question) -> EngineFault:
    """What is raised where a question is not decided."""
    return EngineFault(f"the {name} engine was asked what it does not decide: {question.property}")
