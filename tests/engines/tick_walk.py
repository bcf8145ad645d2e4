"""A walk in whole ticks through the plain timed meaning: the independent path that zones are held against.

Closed windows only are exact in whole ticks (Henzinger, Manna and Pnueli 1992). Open ends are put in between by two
systems of closed windows: `shrunk`, in which open ends miss by one tick of many, allows less; `widened`, in which they
are closed, allows more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count
from typing import TypeAlias

from interlock.core.question import Question
from interlock.core.system import Action, Property, PropertyKind, System, TickWindow, Valuation
from interlock.core.timed import TimedMeaning, TimedState, Watch, has_age
from interlock.engines.reference.graph import Graph
from interlock.engines.reference.runs import Runs

DEADLINES = (PropertyKind.AFTER, PropertyKind.LASTS)
ONE = Fraction(1)

Waiting: TypeAlias = tuple[tuple[int, int], int, TimedState, tuple[bool, ...], Watch, bool]
"""Failures and events, order, state, flags, what a deadline remembers, whether it is what is sought."""


class TooMany(Exception):
    """More timed states than the limit."""


@dataclass(frozen=True, slots=True)
class Walked:
    """Least failures and, with these, fewest events of a run to what is sought (None: there is none); valuations."""

    least: tuple[int, int] | None
    reached: frozenset[Valuation]


def windows_of(system: System, question: Question) -> list[TickWindow]:
    """All windows that say anything, that of the rule among them."""
    found = [a.window for a in system.actions if a.window is not None and has_age(a)]
    within = system.property(question.property).within
    return [*found, *([within] if within is not None else [])]


def is_closed(system: System, question: Question) -> bool:
    """Whether no end is open."""
    return not any(w.earliest_open or w.latest_open for w in windows_of(system, question))


def with_windows(system: System, question: Question, scale: int, miss: int) -> System:
    """All constants times `scale`, open ends closed, those of actions narrower by `miss` ticks.

    The window of a rule is what is broken, so there the miss goes the other way: an open end there is broken sooner.
    """

    def moved(window: TickWindow, by: int) -> TickWindow:
        latest = None if window.latest is None else window.latest * scale - by * window.latest_open
        return TickWindow(window.earliest * scale + by * window.earliest_open, latest)

    def action(one: Action) -> Action:
        return one if one.window is None else replace(one, window=moved(one.window, miss))

    def rule(one: Property) -> Property:
        if one.within is None:
            return one
        # `at most T` is broken beyond T, `under T` at T already: a tick sooner, as the last tick that is allowed.
        within = TickWindow(
            one.within.earliest * scale + one.within.earliest_open,
            None if one.within.latest is None else one.within.latest * scale - one.within.latest_open,
        )
        return replace(one, within=within)

    actions = tuple(map(action, system.actions))
    return replace(system, actions=actions, properties=tuple(map(rule, system.properties)))


class TickWalk:
    """One question on a system of closed windows."""

    def __init__(self, system: System, question: Question, most: int) -> None:
        self.timed = TimedMeaning(system, question)
        self.rule = self.timed.plain.system.property(question.property)
        self.deadline = self.rule.kind in DEADLINES
        self.runs = Runs(Graph(system, question), question, None if self.deadline else self.rule)
        self.most = most
        constants = [c for w in windows_of(self.timed.plain.system, question) for c in (w.earliest, w.latest or 0)]
        self.cap = Fraction(max(constants, default=0) + 1)

    def walk(self) -> Walked:
        """Everything that can be reached, in the order of failures and events. TooMany."""
        order = count()
        waiting: list[Waiting] = []
        seen: set[tuple[TimedState, tuple[bool, ...], Watch]] = set()
        reached: set[Valuation] = set()
        least: tuple[int, int] | None = None
        runs, meaning = self.runs, self.timed.plain
        for begin, _ in self.timed.starts():
            now = begin.state.valuation
            if any(runs.hits(cut, None, now, ()) for cut in runs.cuts):
                continue
            flags = tuple(meaning.flag_at_start(rule, now) for rule in runs.flagged)
            ends = runs.rule is not None and runs.hits(runs.rule, None, now, ())
            watch = self.timed.watch(self.rule, Watch(), now)[0] if self.deadline else Watch()
            heappush(waiting, ((begin.state.spent, 0), next(order), begin, flags, watch, ends))
        while waiting:
            cost, _, timed, flags, watch, ends = heappop(waiting)
            if ends:
                least = cost if least is None else min(least, cost)
                continue
            if (timed, flags, watch) in seen:
                continue
            seen.add((timed, flags, watch))
            if len(seen) > self.most:
                raise TooMany
            reached.add(timed.state.valuation)
            if self.timed.may_wait(timed, ONE) and meaning.settled(timed.state.valuation):
                if self.deadline and self.timed.overdue(self.rule, watch, ONE):
                    least = cost if least is None else min(least, cost)
                    continue
                later = self.timed.waited(timed, ONE)
                later = replace(later, ages=tuple((id, min(age, self.cap)) for id, age in later.ages))
                since = None if watch.since is None else min(watch.since + ONE, self.cap)
                heappush(waiting, (cost, next(order), later, flags, replace(watch, since=since), False))
            for action in self.timed.enabled(timed):
                self._event(waiting, order, cost, timed, flags, watch, action)
        return Walked(least, frozenset(reached))

    def _event(
        self,
        waiting: list[Waiting],
        order: Iterator[int],
        cost: tuple[int, int],
        timed: TimedState,
        flags: tuple[bool, ...],
        watch: Watch,
        action: Action,
    ) -> None:
        runs, meaning = self.runs, self.timed.plain
        before = timed.state.valuation
        then = self.timed.after(action, timed)
        now = then.state.valuation
        if any(runs.hits(cut, before, now, flags) for cut in runs.cuts):
            return
        ends = runs.rule is not None and runs.hits(runs.rule, before, now, flags)
        kept = tuple(
            meaning.flag_after(rule, flag, before, now) for rule, flag in zip(runs.flagged, flags, strict=True)
        )
        if self.deadline:
            watch, ends = self.timed.watch(self.rule, watch, now)
        heappush(waiting, ((then.state.spent, cost[1] + 1), next(order), then, kept, watch, ends))
