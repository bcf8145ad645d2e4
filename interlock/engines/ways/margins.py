"""How far ends of windows may move before a rule `always_possible` is broken.

No single run breaks such a rule, and where it breaks at a value it may hold again further on: other times can take ways
away as well as places. So two things are looked for, each way that an end may be moved, later and sooner. How far it
surely holds, at every value so far and whatever all times are that the verdict does not rest on (`relying.py`): if at a
value, at all between, so `engines/moving.py` finds it. And a value at which it breaks with all other times as declared.
Where the one begins as the other ends, the margin is exact.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from interlock.core.question import Bound, Margin, Moment, Question, Verdict
from interlock.core.system import System
from interlock.core.timed import age_of
from interlock.engines.api import Limits
from interlock.engines.ends import SomeEnds, as_declared, in_finer_ticks, in_order, with_ends_at
from interlock.engines.moving import Ceasing, first_broken
from interlock.engines.timed.graph import TooMany, Unsettling
from interlock.engines.timed.search import TooManyZones
from interlock.engines.ways.answers import with_ages
from interlock.engines.ways.relying import Relying

FURTHER_ON = 6
"""So many values are tried beyond where it is not known to hold."""

MOST_FOR_A_MARGIN = 60_000
"""Zones and situations that are looked at in all trials to find how far it surely holds."""

NO_CHANGE_IS_SURE = "it is not known to hold with any change"
NOT_KNOWN = "further on it is not known"
NOT_KNOWN_BETWEEN = "what lies between is not known"


class Moving:
    """One rule that holds by some ends, and some of these that are moved together. Nothing is laid over the system.
    `limits`: for each trial."""

    def __init__(self, system: System, question: Question, kept: SomeEnds, ends: SomeEnds, limits: Limits) -> None:
        self._system = system
        self._question = question
        self._kept = kept | ends
        self._ends = ends
        self._limits = limits
        self._left = MOST_FOR_A_MARGIN
        self._ordered = in_order(ends)
        self._latest = self._ordered[0].latest
        self._declared = as_declared(system, ends)

    def margin(self, *, wider: bool) -> Margin:
        """How far they may move one way."""
        up = self._latest is wider
        self._left = MOST_FOR_A_MARGIN
        told = Margin(self._ordered, None, wider=wider, onward=False)
        if wider and self._not_surely(None) is False:
            return told
        stop = self._stop(wider)
        found = first_broken(self._declared, up=up, wider=wider, stop=stop, broken=self._not_surely)
        if found.exact and found.breaks is None:
            return told
        breaks = next((at for at in self._where_it_might(found, up, stop) if self._breaks(at)), None)
        if found.exact and breaks == found.breaks:
            return replace(told, breaks=breaks)
        holds = found.holds
        if found.exact and found.breaks is not None and not found.breaks.open:
            holds = replace(found.breaks, open=True)
        if breaks is not None:
            return replace(told, breaks=breaks, limit=NOT_KNOWN_BETWEEN, holds=holds)
        if holds == self._declared:
            return replace(told, limit=NO_CHANGE_IS_SURE)
        return replace(told, limit=NOT_KNOWN, holds=holds)

    def _stop(self, wider: bool) -> Fraction | None:
        """The last value that leaves no window empty and begins none before 0."""
        if wider:
            return None if self._latest else Fraction(0)
        others = [
            action.window.earliest if self._latest else action.window.latest
            for action in self._system.actions
            if action.window is not None and Bound(age_of(action), self._latest) in self._ends
        ]
        known = [Fraction(other) for other in others if other is not None]
        return (max(known) if self._latest else min(known)) if known else None

    def _not_surely(self, at: Moment | None) -> bool | None:
        """Whether it is not sure to hold up to a value (None: left out). None: that was too much."""
        moved = with_ends_at(self._system, self._ends, at)
        begin = in_finer_ticks(self._system, 1 if at is None else at.ticks.denominator)
        limits = replace(self._limits, states=max(1, min(self._limits.states, self._left)))
        try:
            proof = Relying(begin, self._question, self._kept, limits, moved, self._ends)
            holds = proof.holds()
        except (TooMany, TooManyZones, Unsettling):
            self._left -= limits.states
            return None
        self._left -= proof.cost
        return not holds

    def _where_it_might(self, found: Ceasing, up: bool, stop: Fraction | None) -> Iterator[Moment]:
        """Values at which it might break, the nearest first."""
        begin = found.holds.ticks
        if found.breaks is not None:
            yield found.breaks
            begin = found.breaks.ticks
        for doubling in range(FURTHER_ON):
            tried = begin + (1 if up else -1) * 2**doubling
            if stop is not None and (tried >= stop if up else tried <= stop):
                if stop != begin:
                    yield Moment(stop)
                return
            yield Moment(tried)

    def _breaks(self, at: Moment) -> bool:
        """Whether it is known to break at a value."""
        try:
            answer = with_ages(with_ends_at(self._system, self._ends, at), self._question, self._limits)
        except (TooMany, TooManyZones, Unsettling):
            return False
        return answer.verdict is Verdict.FAILS
