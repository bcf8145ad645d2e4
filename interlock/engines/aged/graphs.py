"""Answers to questions judged on the graph of everything that can be reached: `always_possible` and `always_ends`.

Scenarios are followed through the plain meaning at the times of one run; that no way leads on at their end, or that a
loop can be gone round again and again, is not followed there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import TypeAlias

from interlock.core.overlay import with_overlay
from interlock.core.question import NO_OVERLAY, Answer, Bound, Ends, Question, Verdict
from interlock.core.system import System
from interlock.engines.aged.answers import Timed, replayed, scenario_of, undecided, without_waiting
from interlock.engines.aged.endings import Unended, loop_from, unended_in
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import Aged, Explored, Keeping, Trail, Walk, explore
from interlock.engines.aged.ways import without_way
from interlock.engines.api import Limits
from interlock.engines.ends import SomeEnds, ends_of, fewest, with_only
from interlock.engines.reference.endings import Ending
from interlock.engines.scenario import with_loop

KeptOn: TypeAlias = Callable[[Stage], Keeping]
"""How ages are kept on a stage."""

TimedOn: TypeAlias = Callable[[Stage, Trail], tuple[Fraction, ...]]
"""The times of a trail on a stage, as `Timed`."""


def answer_always_possible(name: str, walk: Walk, question: Question, limits: Limits, timed: Timed) -> Answer:
    """The answer, for a way to keep ages in which what is alike has the same ways on."""
    stage = walk.stage
    found = explore(walk, limits)
    if found.beyond:
        return undecided(name, question, limits)
    counts = found.counts(stage)
    bad = without_way(walk, found.came)
    at = next((aged for aged in found.came if aged in bad), None)
    if at is None:
        return Answer(question, Verdict.HOLDS, None, name, None, counts)
    trail = found.way_to(at)
    answer = Answer(question, Verdict.FAILS, scenario_of(stage, trail, Ends.NO_WAY), name, None, counts)
    return replayed(stage, answer, trail, timed)


MOST_TO_BEGIN_WITH = 20_000
"""Situations with their ages that are looked at in any case to find which ends of windows a verdict rests on."""


class Beyond(Exception):
    """More situations with their ages than the limit."""


def answer_always_ends(
    name: str, system: System, question: Question, limits: Limits, keeping: KeptOn, timed: TimedOn
) -> Answer:
    """The answer. Where it holds, ends of windows are left out. The fewer say something, the more runs there are, so
    what holds by some ends holds whatever the others are. What is obliged stays so: it may be put off, not for ever.
    """
    stage = Stage(system, question, beat=True)
    found = _always_ends(name, stage, keeping(stage), question, limits, partial(timed, stage))
    if found.verdict is not Verdict.HOLDS or found.counts is None:
        return found
    return replace(found, rests_on=_rests_on(name, system, question, limits, keeping, timed))


def _rests_on(
    name: str, system: System, question: Question, limits: Limits, keeping: KeptOn, timed: TimedOn
) -> tuple[Bound, ...] | None:
    """Ends by which it holds, none of which can be left out; None: that was too much to find out."""
    laid = with_overlay(system, question.overlay)
    plain = replace(question, overlay=NO_OVERLAY)
    left = MOST_TO_BEGIN_WITH + limits.states

    def holds(ends: SomeEnds) -> bool:
        nonlocal left
        stage = Stage(with_only(laid, ends), plain, beat=True)
        walk = Walk(stage, keeping(stage), Ending(stage.graph, stage.rule).owes)
        found = explore(walk, replace(limits, states=max(1, min(limits.states, left))))
        left -= len(found.came)
        if found.beyond:
            raise Beyond
        return not unended_in(walk, found.came).members

    try:
        return fewest(ends_of(laid), holds)
    except Beyond:
        return None


def _always_ends(name: str, stage: Stage, keeping: Keeping, question: Question, limits: Limits, timed: Timed) -> Answer:
    walk = Walk(stage, keeping, Ending(stage.graph, stage.rule).owes)
    found = explore(walk, limits)
    if found.beyond:
        return undecided(name, question, limits)
    counts = found.counts(stage)
    unended = unended_in(walk, found.came)
    at = next((aged for aged in found.came if aged in unended.members), None)
    if at is None:
        return Answer(question, Verdict.HOLDS, None, name, None, counts)
    return _for_ever(walk, Answer(question, Verdict.FAILS, None, name, None, counts), found, unended, at, timed)


def _for_ever(walk: Walk, answer: Answer, found: Explored, unended: Unended, at: Aged, timed: Timed) -> Answer:
    """The way to where a run may stay, and round once; stuck, if nothing but time goes on there."""
    stage = walk.stage
    way, loop = found.way_to(at), loop_from(walk, unended, at)
    scenario = scenario_of(stage, way, Ends.STUCK)
    if without_waiting(loop).events:
        scenario = with_loop(stage.system, replace(scenario, ends=Ends.LOOP), without_waiting(loop))
        way = Trail(way.states + loop.states[1:], way.events + loop.events)
    return replayed(stage, replace(answer, scenario=scenario), way, timed)
