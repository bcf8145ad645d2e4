"""Settled situations and the strides between them: what time has to do with, and nothing else.

In: a system under a question. Out: nodes (settled situations, with the failures spent and the flags of observers), and
from each node its strides, worked out when asked for.

The idea: time passes in settled situations only. So an event of tier 2, with all that follows at once until things
settle again, is one *stride*. What matters of a stride for ages is its first event, where it leads and which ages start
afresh on the way. Passing situations are worked out once each, whatever leads to them.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from typing import Protocol, TypeAlias, TypeVar

from interlock.core.meaning import Meaning, State
from interlock.core.question import Question
from interlock.core.system import Action, Property, PropertyKind, System, Valuation
from interlock.core.timed import age_of, has_age
from interlock.engines.api import EngineFault
from interlock.engines.quick.events import Events
from interlock.engines.quick.layout import Layout
from interlock.engines.quick.observe import Observer, cut_conditions, speaks_of_events
from interlock.logic.expression import FALSE

END = -1
"""Where a stride leads that comes to what is sought before it settles."""

DEADLINES = (PropertyKind.AFTER, PropertyKind.LASTS)


class Unsettling(Exception):
    """Events of tier 0 and 1 go round: what settles, and when, cannot be told."""


class TooMany(Exception):
    """More settled or passing situations than the limit, or the memory is used up: says which, in words."""


def more_than(most: int) -> str:
    """That there are more situations than so many, in words."""
    return f"more than {most:,} situations can be reached"


class TooWide(Exception):
    """More clocks, events, or situations in one stride than a search has room for."""


@dataclass(frozen=True, slots=True)
class Stride:
    """From one node to another. `action`: index of its first event, of tier 2. `to`: a node, or `END`. `afresh`: the
    owners of ages (bits) that start afresh on the way, the first event's own included. `spent`: failures spent then.
    `length`: its events."""

    action: int
    to: int
    afresh: int
    spent: int
    length: int


@dataclass(frozen=True, slots=True)
class Node:
    """A settled situation. `state`: packed, with flags; `enabled`: owners of ages whose guard is true (bits).

    `sought`: it is what is sought. `holds`, `closes`: of a deadline, whether its condition is true, whether it is met.
    """

    state: int
    spent: int
    enabled: int
    sought: bool
    holds: bool
    closes: bool


class Settled(Protocol):
    """What is asked of a settled graph, however it is kept. Nodes go by number."""

    meaning: Meaning
    system: System
    question: Question
    rule: Property
    owners: tuple[Action, ...]

    @property
    def nodes(self) -> SupportsNodes:
        """Nodes by number."""
        ...

    def starts(self) -> Iterator[tuple[State, Outcome, int]]:
        """All starts: the state, where it leads, the events until it settles."""
        ...

    def events_at_start(self, state: State, outcome: Outcome, length: int) -> list[tuple[int, int]]:
        """(action, situation after) of the events from a start until it settles so."""
        ...

    def events_of(self, state: int, spent: int, stride: Stride) -> list[tuple[int, int]]:
        """(action, situation after) of the events of a stride from a situation."""
        ...

    def unpack(self, state: int) -> Valuation:
        """The valuation of a situation as nodes and strides name it."""
        ...


AnyGraph = TypeVar("AnyGraph", bound=Settled)


def with_windows_of(graph: AnyGraph, system: System) -> AnyGraph:
    """The graph over a system that differs in its windows alone: situations and strides do not look at them. Ages stay
    ages, though a window may say nothing any more."""
    made = copy(graph)
    made.system = system
    made.rule = system.property(graph.rule.id)
    by_id = {action.id: action for action in system.actions}
    made.owners = tuple(by_id[owner.id] for owner in graph.owners)
    return made


class SupportsNodes(Protocol):
    """Nodes by number."""

    def __getitem__(self, number: int, /) -> Node:
        """The node of a number."""
        ...


Outcome: TypeAlias = tuple[int, int, int]
"""Where a situation leads before time passes: node or `END`, ages afresh on the way, failures spent then."""


class Graph:
    """The settled graph of one question. Nodes are numbered as they are met; strides are kept."""

    def __init__(self, system: System, question: Question, most: int) -> None:
        self.meaning = Meaning(system, question)
        self.system = self.meaning.system
        self.question = question
        self.rule = self.system.property(question.property)
        self._most = most
        layout = Layout(self.system.variables)
        self.layout = layout
        self.events = Events.of(layout, self.meaning)
        cuts = tuple(map(self.system.property, question.cut))
        self._observer = Observer(layout, self.rule if speaks_of_events(self.rule) else None, cuts)
        self._watched = self._observer.over(self.events)
        self._cut_settled, self._cut_any = cut_conditions(layout, cuts)
        self.owners = owners_of(self.system)
        self._owner_guards = [layout.condition(owner.guard) for owner in self.owners]
        self._afresh = afresh_by(self.system, self.owners)
        self._marks = _Marks(self.rule, layout)
        self.nodes: list[Node] = []
        self._index: dict[tuple[int, int], int] = {}
        self._strides: list[tuple[Stride, ...] | None] = []
        self._outcomes: dict[tuple[int, int], dict[Outcome, int]] = {}

    @property
    def n_passing(self) -> int:
        """Passing situations met so far, told apart by the failures spent and flags."""
        return len(self._outcomes)

    def unpack(self, state: int) -> Valuation:
        """The valuation of a situation as nodes and strides name it."""
        return self.layout.unpack(state)

    def starts(self) -> Iterator[tuple[State, Outcome, int]]:
        """All starts: the state, where it leads, the events until it settles. A node may come more than once."""
        for state in self.meaning.starts():
            seen = self._observer.at_start(self.layout.pack(state.valuation))
            if seen is None:
                continue
            packed, is_end = seen
            if self._cut(packed):
                continue
            if is_end or self._marks.passing(packed):
                yield state, (END, 0, state.spent), 0
                continue
            for outcome, length in self._from(packed, state.spent).items():
                yield state, outcome, length

    def strides(self, number: int) -> tuple[Stride, ...]:
        """The strides from a node, in the order of their first events. Unsettling, TooMany."""
        known = self._strides[number]
        if known is None:
            known = self._strides[number] = tuple(self._made(self.nodes[number]))
        return known

    def _made(self, node: Node) -> Iterator[Stride]:
        happening = [(*event, 0) for event in self._watched.free_events(node.state, 2)]
        if node.spent < self.question.budget:
            happening += [(*event, 1) for event in self._watched.costly_events(node.state, 2)]
        for action, delta, is_end, cost in sorted(happening):
            after = node.state ^ delta
            if self._cut(after):
                continue
            afresh = self._afresh[action]
            if is_end or self._marks.passing(after):
                yield Stride(action, END, afresh, node.spent + cost, 1)
                continue
            for (to, more, spent), length in self._from(after, node.spent + cost).items():
                yield Stride(action, to, afresh | more, spent, length + 1)

    def _from(self, first: int, spent: int) -> dict[Outcome, int]:
        """Where a situation settles, with the fewest events to there. A settled one leads to its own node."""
        begin = (first, spent)
        if begin in self._outcomes:
            return self._outcomes[begin]
        if self.events.settled(first):
            return {(self._node(first, spent), 0, spent): 0}
        open_now = {begin}
        work = [(begin, list(self._passing(first, spent)))]
        while work:
            here, onward = work[-1]
            waiting = next((then for _, then, end in onward if not end and then not in self._outcomes), None)
            if waiting is None:
                self._outcomes[here] = self._joined(onward)
                open_now.discard(here)
                work.pop()
            elif waiting in open_now:
                raise Unsettling
            elif self.events.settled(waiting[0]):
                state, cost = waiting
                self._outcomes[waiting] = {(self._node(state, cost), 0, cost): 0}
            else:
                open_now.add(waiting)
                work.append((waiting, list(self._passing(*waiting))))
            if len(self._outcomes) > self._most:
                raise TooMany(more_than(self._most))
        return self._outcomes[begin]

    def _joined(self, onward: list[tuple[int, tuple[int, int], bool]]) -> dict[Outcome, int]:
        found: dict[Outcome, int] = {}
        for action, then, is_end in onward:
            afresh = self._afresh[action]
            following = {(END, 0, then[1]): 0} if is_end else self._outcomes[then]
            for (to, more, spent), length in following.items():
                outcome = (to, afresh | more, spent)
                found[outcome] = min(length + 1, found.get(outcome, length + 1))
        return found

    def _passing(self, state: int, spent: int) -> Iterator[tuple[int, tuple[int, int], bool]]:
        """What can happen in a passing situation: (action, (situation, spent) after, whether that is sought)."""
        tier = self.events.tier(state)
        happening = [(*event, 0) for event in self._watched.free_events(state, tier)]
        if spent < self.question.budget:
            happening += [(*event, 1) for event in self._watched.costly_events(state, tier)]
        for action, delta, is_end, cost in happening:
            after = state ^ delta
            if not self._cut(after):
                yield action, (after, spent + cost), is_end or self._marks.passing(after)

    def events_at_start(self, state: State, outcome: Outcome, length: int) -> list[tuple[int, int]]:
        """(action, situation after) of the events from a start until it settles so."""
        seen = self._observer.at_start(self.layout.pack(state.valuation))
        assert seen is not None
        return self._way(seen[0], state.spent, outcome, length)

    def events_of(self, state: int, spent: int, stride: Stride) -> list[tuple[int, int]]:
        """(action, situation after) of the events of a stride from a situation, in the order of declaration where
        several are as short."""
        free, costly = self._watched.free_events(state, 2), self._watched.costly_events(state, 2)
        cost = int(any(action == stride.action for action, _, _ in costly))
        delta = next(delta for action, delta, _ in (*free, *costly) if action == stride.action)
        after = state ^ delta
        if stride.length == 1:
            return [(stride.action, after)]
        own = self._afresh[stride.action]
        for outcome, length in self._from(after, spent + cost).items():
            made = Stride(stride.action, outcome[0], outcome[1] | own, outcome[2], length + 1)
            if made == stride:
                return [(stride.action, after), *self._way(after, spent + cost, outcome, length)]
        raise EngineFault("a stride cannot be followed")

    def _way(self, state: int, spent: int, outcome: Outcome, length: int) -> list[tuple[int, int]]:
        """The events by which a situation comes to an outcome in so many."""
        way: list[tuple[int, int]] = []
        while length:
            state, spent, outcome, action = self._onward(state, spent, outcome, length)
            way.append((action, state))
            length -= 1
        return way

    def _onward(self, state: int, spent: int, outcome: Outcome, length: int) -> tuple[int, int, Outcome, int]:
        to, afresh, ends_with = outcome
        for action, then, is_end in self._passing(state, spent):
            following = {(END, 0, then[1]): 0} if is_end else self._outcomes[then]
            for after, left in following.items():
                if left + 1 == length and (after[0], after[1] | self._afresh[action], after[2]) == (
                    to,
                    afresh,
                    ends_with,
                ):
                    return *then, after, action
        raise EngineFault("a stride cannot be followed")

    def _cut(self, state: int) -> bool:
        """Whether runs are cut in this situation."""
        if self._cut_any is not None and self._cut_any(state):
            return True
        return self._cut_settled is not None and self._cut_settled(state) and self.events.settled(state)

    def _node(self, state: int, spent: int) -> int:
        key = (state, spent)
        number = self._index.get(key)
        if number is None:
            number = self._index[key] = len(self.nodes)
            enabled = _bits(1 << i for i, guard in enumerate(self._owner_guards) if guard(state))
            marks = self._marks
            self.nodes.append(
                Node(state, spent, enabled, marks.at_rest(state), marks.holds(state), marks.closes(state))
            )
            self._strides.append(None)
            if number >= self._most:
                raise TooMany(more_than(self._most))
        return number


def owners_of(system: System) -> tuple[Action, ...]:
    """The actions that have an age of their own, in their order."""
    ids = {age_of(action) for action in system.actions if has_age(action)}
    found = tuple(action for action in system.actions if action.id in ids)
    if len(found) != len(ids):
        raise EngineFault("an action has the age of one that is not there")
    return found


def afresh_by(system: System, owners: tuple[Action, ...]) -> list[int]:
    """For each action, the owners (bits) whose ages start afresh with it."""
    bit = {owner.id: 1 << i for i, owner in enumerate(owners)}
    return [
        _bits([bit.get(age_of(action), 0), *(bit.get(id, 0) for id in action.restarts)]) for action in system.actions
    ]


def _bits(bits: Iterator[int] | list[int]) -> int:
    found = 0
    for one in bits:
        found |= one
    return found


class _Marks:
    """What a rule makes of situations: `passing`, `at_rest`: whether what is sought is there; `holds`, `closes`."""

    def __init__(self, rule: Property, layout: Layout) -> None:
        nothing = layout.condition(FALSE)
        by_situation = not speaks_of_events(rule) and rule.kind not in DEADLINES
        sought = layout.condition(rule.condition) if by_situation else nothing
        self.passing = sought if rule.passing else nothing
        self.at_rest = sought
        self.holds = layout.condition(rule.condition) if rule.kind in DEADLINES else nothing
        must, unless = layout.condition(rule.must or FALSE), layout.condition(rule.unless or FALSE)
        self.closes = (lambda s: must(s) or unless(s)) if rule.kind is PropertyKind.AFTER else nothing
