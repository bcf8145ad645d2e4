"""`always_ends` by some ends of windows alone.

In: a question. Out: ends by which it holds, whatever all others are.

The idea: an end that is left out allows more runs, and the rule speaks of every run; so what holds by some ends holds.
What is obliged stays so where its latest is left out: it may be put off, but not for ever. With few ends there are few
ages, and so fewer situations with their ages than with all. Which ends: begin with none; where a run goes round without
an end, the ends that may stand in its way count from then on, those first whose events are nearest to what the rule
speaks of. What goes round by all of these is not looked into.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TypeAlias

from interlock.core.overlay import with_overlay
from interlock.core.question import NO_OVERLAY, Bound, Question
from interlock.core.system import Action, System
from interlock.core.timed import age_of
from interlock.engines.aged.endings import Unended, loop_from, unended_in
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import Aged, Explored, Keeping, Trail, Walk, explore
from interlock.engines.api import Limits
from interlock.engines.ends import SomeEnds, ends_of, far_from, fewest, nearest, with_only
from interlock.engines.reference.endings import Ending

KeptOn: TypeAlias = Callable[[Stage], Keeping]
"""How ages are kept on a stage."""

MOST_TO_BEGIN_WITH = 20_000
"""Situations with their ages that are looked at in any case to leave out ends."""

ROUNDS = 20
"""So often ends are added."""


class Beyond(Exception):
    """More situations with their ages than the limit."""


def look(system: System, question: Question, limits: Limits, keeping: KeptOn) -> tuple[Walk, Explored, Unended]:
    """All that is reached, and where runs go round without an end. Beyond."""
    stage = Stage(system, question, beat=True)
    walk = Walk(stage, keeping(stage), Ending(stage.graph, stage.rule).owes)
    found = explore(walk, limits)
    if found.beyond:
        raise Beyond
    return walk, found, unended_in(walk, found.came)


class ByEnds:
    """One question by some ends. `left`: situations with their ages that may still be looked at, in all trials."""

    def __init__(self, system: System, question: Question, limits: Limits, keeping: KeptOn) -> None:
        self._system = with_overlay(system, question.overlay)
        self._question = replace(question, overlay=NO_OVERLAY)
        self._limits = limits
        self._keeping = keeping
        self.left = MOST_TO_BEGIN_WITH + limits.states
        self._far = far_from(self._system, question.property)

    def fewest(self, ends: SomeEnds | None = None) -> tuple[Bound, ...] | None:
        """Ends (of these; None: of all) by which it holds, none of which can be left out. None: that was too much to
        find out. It must hold by all."""
        try:
            return fewest(ends_of(self._system, ends), lambda some: not self._look(some)[2].members)
        except Beyond:
            return None

    def enough(self) -> SomeEnds | None:
        """Ends by which it holds. None: not known."""
        ends: SomeEnds = frozenset()
        there = frozenset(ends_of(self._system))
        for _ in range(ROUNDS):
            try:
                walk, found, unended = self._look(ends)
            except Beyond:
                return None
            at = next((aged for aged in found.came if aged in unended.members), None)
            if at is None:
                return ends
            if at in unended.unsettled:
                return None
            loop = loop_from(walk, unended, at)
            new: SomeEnds = frozenset()
            for likely in self._in_the_way(walk, found.way_to(at), loop):
                new = new or (likely & there) - ends
            if not new:
                return None
            ends |= nearest(new, self._far)
        return None

    def _look(self, ends: SomeEnds) -> tuple[Walk, Explored, Unended]:
        limits = replace(self._limits, states=max(1, min(self._limits.states, self.left)))
        looked = look(with_only(self._system, ends), self._question, limits, self._keeping)
        self.left -= len(looked[1].came)
        return looked

    def _in_the_way(self, walk: Walk, way: Trail, loop: Trail) -> Iterator[SomeEnds]:
        """Ends that may forbid to go round so, the likeliest first: what happens in the loop comes too soon, what does
        not happen there should have come; then what happens comes too late; then the same of the way to it."""
        for trail in (loop, way):
            happening = [self._system.actions[event] for event in trail.events if event >= 0]
            ids = {action.id for action in happening}
            soon = frozenset(Bound(age_of(action), False) for action in happening)
            late = frozenset(
                Bound(action.id, True)
                for aged in trail.states
                for action in _obliged(walk, aged)
                if action.id not in ids
            )
            yield soon | late
            yield frozenset(Bound(age_of(action), True) for action in happening)


def _obliged(walk: Walk, aged: Aged) -> Iterator[Action]:
    """What is obliged and enabled in a settled situation."""
    stage = walk.stage
    if stage.graph.settled(aged.valuation):
        for i in sorted(stage.graph.obliged(aged.valuation, ())):
            yield stage.system.actions[i]
