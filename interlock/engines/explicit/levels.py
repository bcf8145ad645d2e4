"""Level by level: the shortest scenario, the first in declaration order among equals; and where exactly a limit is hit.

In: a ground, start situations, what ends a run. Out: a way, or what a search within a limit came to.

The idea of the way: levels by number of events, forward to the first that has an end; from there backward, each level
cut down to what leads on to the next; then forward again through these, event by event by the plain meaning, always
the first in declaration order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np

from interlock.core.meaning import Meaning, State
from interlock.core.question import Ends, Scenario
from interlock.core.system import Property, PropertyKind
from interlock.engines.api import EngineFault, Limits
from interlock.engines.explicit import kernels, looking, parts
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.layout import Packed
from interlock.engines.explicit.rows import Flag
from interlock.engines.explicit.store import Ground, Store
from interlock.engines.scenario import at_start_of

Goal: TypeAlias = Callable[[U64], U64]
"""From a level to the part of it that is a goal (a log, perhaps empty)."""


def picked(ground: Ground, log: U64, number: int) -> U64:
    """The part of a log in which a probe is true."""
    found = ground.empty_log(log.shape[0])
    n = looking.picked(ground.words, ground.tables, log, number, ground.scratch, ground.at, found)
    return found[:n]


def leading(ground: Ground, log: U64, goal: U64, which: int) -> U64:
    """The part of a log from which an event leads into a goal."""
    store = store_of(ground, goal)
    found = ground.empty_log(log.shape[0])
    n = looking.leading(ground.words, ground.tables, log, store.store, ground.scratch, ground.at, which, found)
    return found[:n]


def store_of(ground: Ground, log: U64) -> Store:
    """A store with the situations of a log."""
    store = Store(ground, 2 * log.shape[0])
    store.admit(log)
    return store


def within(ground: Ground, log: U64, budget: int) -> U64:
    """The part of a log that has spent at most so much."""
    return log[ground.spent(log) <= budget]


@dataclass(frozen=True, slots=True)
class Track:
    """The levels cut down to what lies on shortest ways to the goal: `levels[0]` starts. The goal is in the last."""

    ground: Ground
    levels: list[U64]

    def holds(self, depth: int) -> Callable[[Packed], bool]:
        """Whether a situation is in a level."""
        store = store_of(self.ground, self.levels[depth]).store
        words = self.ground.words

        def inside(packed: Packed) -> bool:
            key = np.array(packed.key, np.uint64)
            return bool(int(store[kernels.line_of(words, store, key), len(words)]) >> packed.place & 1)

        return inside


def track(ground: Ground, starts: list[Packed], budget: int, goal: Goal, inner: int, limits: Limits) -> Track:
    """The shortest ways to a goal within a budget. EngineFault if there is none; NoRoom if memory does not do.

    `inner`: what has spent more is not gone on from.
    """
    store = Store(ground)
    store.admit(within(ground, ground.log_of(starts), budget))
    levels: list[U64] = []
    known = 0
    while True:
        level = within(ground, store.take(), budget)
        if not level.shape[0]:
            raise EngineFault("no way to what was found")
        found = goal(level)
        if found.shape[0]:
            break
        levels.append(level)
        known += level.shape[0]
        if limits.progress is not None:
            limits.progress(int(store.by_spent.sum()), len(levels))
        store.step(level, parts.BOTH, inner)
    cut_down = [found]
    for level in reversed(levels):
        reaching = within(ground, level, inner)
        cut_down.append(leading(ground, reaching, cut_down[-1], parts.BOTH))
    cut_down.reverse()
    return Track(ground, cut_down)


@dataclass(slots=True)
class Walker:
    """Walks runs event by event by the plain meaning. `rule`: the rule whose ends are events, or None."""

    meaning: Meaning
    ground: Ground
    flags: tuple[Flag, ...]
    cuts: tuple[Property, ...]
    rule: Property | None
    _index: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._index = {action.id: i for i, action in enumerate(self.meaning.system.actions)}

    def start(self, state: State) -> dict[str, bool]:
        """The flags in a start state."""
        return {
            flag.variable.name: self.meaning.true(flag.rule.condition, state.valuation)
            if flag.marks
            else self.meaning.flag_at_start(flag.rule, state.valuation)
            for flag in self.flags
            if not (flag.marks and flag.rule.kind is PropertyKind.BEFORE)
        }

    def cut_at_start(self, state: State) -> bool:
        """Whether a rule on events cuts the run at once."""
        return any(
            cut.kind is not PropertyKind.BEFORE
            and cut.every_event
            and self.meaning.true(cut.condition, state.valuation)
            for cut in self.cuts
        )

    def ends_at_start(self, state: State) -> bool:
        """Whether a rule on events ends the run at once."""
        rule = self.rule
        return (
            rule is not None
            and rule.kind is not PropertyKind.BEFORE
            and rule.every_event
            and self.meaning.true(rule.condition, state.valuation)
        )

    def hits(self, rule: Property, before: State, after: State, flags: dict[str, bool]) -> bool:
        """Whether an event ends a rule that is judged on events."""
        if rule.kind is PropertyKind.BEFORE:
            name = next(f.variable.name for f in self.flags if f.rule is rule and not f.marks)
            return self.meaning.breaks_order(rule, flags[name], before.valuation, after.valuation)
        return rule.every_event and self.meaning.true(rule.condition, after.valuation, before.valuation)

    def steps(self, state: State, flags: dict[str, bool]) -> Iterable[tuple[str, State, dict[str, bool], bool]]:
        """(action, state after, flags after, whether it ends the rule) in declaration order; cut events left out."""
        for action in self.meaning.enabled(state):
            after = self.meaning.after(action, state)
            if any(self.hits(cut, state, after, flags) for cut in self.cuts):
                continue
            ends = self.rule is not None and self.hits(self.rule, state, after, flags)
            then = {}
            for flag in self.flags:
                name = flag.variable.name
                if flag.marks:
                    then[name] = ends
                else:
                    then[name] = self.meaning.flag_after(flag.rule, flags[name], state.valuation, after.valuation)
            yield action.id, after, then, ends

    def walk(self, way: Track, budget: int, ends: Ends, *, by_event: bool) -> Scenario:
        """The first of the shortest ways. `by_event`: the last level is that before the event that ends the run."""
        state, flags = self._first(way, budget)
        situations, events = [state.valuation], []
        first = state
        for depth in range(1, len(way.levels)):
            inside = way.holds(depth)
            onward = (
                (event, after, then)
                for event, after, then, _ in self.steps(state, flags)
                if after.spent <= budget and inside(self._pack(after, then))
            )
            event, state, flags = _first(onward)
            situations.append(state.valuation)
            events.append(event)
        if by_event:
            event, state, _ = _first(one[:3] for one in self.steps(state, flags) if one[3] and one[1].spent <= budget)
            situations.append(state.valuation)
            events.append(event)
        present = at_start_of(self.meaning, first.valuation, first.spent)
        return Scenario(present, tuple(situations), tuple(events), ends)

    def _first(self, way: Track, budget: int) -> tuple[State, dict[str, bool]]:
        inside = way.holds(0)
        for state in self.meaning.starts():
            if state.spent <= budget and not self.cut_at_start(state):
                flags = self.start(state)
                if inside(self._pack(state, flags)):
                    return state, flags
        raise EngineFault("a way begins where no run can start")

    def _pack(self, state: State, flags: dict[str, bool]) -> Packed:
        return self.ground.layout.pack(state.valuation, state.spent, flags)


def _first(steps: Iterable[tuple[str, State, dict[str, bool]]]) -> tuple[str, State, dict[str, bool]]:
    for step in steps:
        return step
    raise EngineFault("no event leads on where one was found")
