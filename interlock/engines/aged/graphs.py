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

from interlock.core.question import Answer, Ends, Question, Verdict
from interlock.core.system import System
from interlock.engines.aged.answers import Timed, replayed, scenario_of, undecided, without_waiting
from interlock.engines.aged.endings import Unended, loop_from, unended_in
from interlock.engines.aged.few import ByEnds, KeptOn
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import Aged, Explored, Keeping, Trail, Walk, explore
from interlock.engines.aged.ways import without_way
from interlock.engines.api import Limits
from interlock.engines.reference.endings import Ending
from interlock.engines.scenario import with_loop

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


def answer_always_ends(
    name: str,
    system: System,
    question: Question,
    limits: Limits,
    keeping: KeptOn,
    timed: TimedOn,
    alike: KeptOn,
) -> Answer:
    """The answer, with what it rests on. Beyond the limit it may hold by a few ends of windows (`few.py`).

    `alike`: a way to keep ages that is exact where only some ends say something, scenarios apart.
    """
    stage = Stage(system, question, beat=True)
    found = _always_ends(name, stage, keeping(stage), question, limits, partial(timed, stage))
    some = ByEnds(system, question, limits, alike)
    if found.limit is not None:
        ends = some.enough()
        return found if ends is None else Answer(question, Verdict.HOLDS, None, name, None, None, some.fewest(ends))
    return replace(found, rests_on=some.fewest()) if found.verdict is Verdict.HOLDS else found


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
