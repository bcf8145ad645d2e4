"""The one routine that chooses scenarios, so that every engine shows the same one.

In: start states, and a function from a state to its events in declaration order. Out: the shortest way to an end, and
among equally short ones the first in declaration order at the first difference; and the shortest loop that may go on
for ever.

The idea: a breadth-first search that takes states in the order in which it found them, with events in declaration
order, meets the first of the shortest ways first. Fewest failures come before fewest events: the caller asks with the
least budget that has an end at all. States are whatever an engine likes that can be a key (tuples, packed integers);
events are indices into `System.actions`.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

S = TypeVar("S", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Way(Generic[S]):
    """States from a start to an end, and the events between them (one fewer)."""

    states: tuple[S, ...]
    events: tuple[int, ...]


def shortest_way(
    starts: Iterable[tuple[S, bool]], successors: Callable[[S], Iterable[tuple[int, S, bool]]]
) -> Way[S] | None:
    """The shortest way to an end, the first in declaration order among equals; None if there is none.

    `starts`: states with whether they are an end, in their order. `successors`: (event, state after, whether this event
    ends the search), in declaration order. Cost: time and memory of the states that are no farther than the end.
    """
    queue: list[S] = []
    parents = array("q")
    events = array("q")
    known: set[S] = set()

    def way_to(i: int, last: tuple[int, S] | None) -> Way[S]:
        states, taken = ([], []) if last is None else ([last[1]], [last[0]])
        while i >= 0:
            states.append(queue[i])
            if parents[i] >= 0:
                taken.append(events[i])
            i = parents[i]
        return Way(tuple(reversed(states)), tuple(reversed(taken)))

    for state, ends in starts:
        if state not in known:
            known.add(state)
            queue.append(state)
            parents.append(-1)
            events.append(-1)
            if ends:
                return way_to(len(queue) - 1, None)
    i = 0
    while i < len(queue):
        for event, after, ends in successors(queue[i]):
            if ends:
                return way_to(i, (event, after))
            if after not in known:
                known.add(after)
                queue.append(after)
                parents.append(i)
                events.append(event)
        i += 1
    return None


MAX_EXACT_LOOP = 200_000
"""Pairs of state and what is still to be broken up to which a loop is the shortest of all; beyond, a fair but perhaps
longer one is put together from shortest pieces. The bound counts, so every engine takes the same branch."""


@dataclass(frozen=True, slots=True)
class LoopGround(Generic[S]):
    """Where a loop may run, and what it must break to be fair.

    `successors`: events that stay inside, in declaration order. `enabled_if_settled`: the obliged actions whose guard
    is true in a settled state; None for an unsettled one. `breaks`: the actions whose "stays enabled for ever" an event
    breaks. `obliged`: all obliged actions; empty where fairness is not asked (a loop that never settles).
    """

    successors: Callable[[S], Iterable[tuple[int, S]]]
    enabled_if_settled: Callable[[S], frozenset[int] | None]
    breaks: Callable[[int], frozenset[int]]
    obliged: frozenset[int]


def shortest_loop(at: S, ground: LoopGround[S]) -> Way[S] | None:
    """The shortest closed way from `at` along which no obliged action stays enabled for ever; None if there is none.

    The first in declaration order among equals. `states` begins and ends with `at`.
    """
    open_at_start = _left(ground.obliged, ground.enabled_if_settled(at))
    exact = _loop_search(at, open_at_start, ground, MAX_EXACT_LOOP)
    if exact is not _TOO_MANY:
        assert exact is None or isinstance(exact, Way)
        return exact
    return _loop_in_pieces(at, open_at_start, ground)


_TOO_MANY = object()


def _left(still: frozenset[int], enabled: frozenset[int] | None) -> frozenset[int]:
    return still if enabled is None else still & enabled


def _loop_search(at: S, still: frozenset[int], ground: LoopGround[S], most: int) -> Way[S] | object | None:
    """Breadth first over pairs of a state and the obliged actions that nothing has broken yet."""
    count = 0

    class Stop(Exception):
        pass

    def successors(
        pair: tuple[S, frozenset[int]],
    ) -> Iterator[tuple[int, tuple[S, frozenset[int]], bool]]:
        nonlocal count
        count += 1
        if count > most:
            raise Stop
        state, unbroken = pair
        for event, after in ground.successors(state):
            left = _left(unbroken - ground.breaks(event), ground.enabled_if_settled(after))
            yield event, (after, left), after == at and not left

    try:
        found = shortest_way([((at, still), False)], successors)
    except Stop:
        return _TOO_MANY
    return None if found is None else Way(tuple(state for state, _ in found.states), found.events)


def _loop_in_pieces(at: S, still: frozenset[int], ground: LoopGround[S]) -> Way[S] | None:
    """Again and again the shortest way to whatever breaks one more; at last the shortest way back."""
    states: list[S] = [at]
    events: list[int] = []
    unbroken = still

    def go(ends: Callable[[int, S], bool]) -> bool:
        nonlocal unbroken
        found = shortest_way(
            [(states[-1], False)],
            lambda state: ((e, after, ends(e, after)) for e, after in ground.successors(state)),
        )
        if found is None:
            return False
        for event, after in zip(found.events, found.states[1:], strict=True):
            unbroken = _left(unbroken - ground.breaks(event), ground.enabled_if_settled(after))
            events.append(event)
            states.append(after)
        return True

    def breaks_more(event: int, after: S) -> bool:
        return _left(unbroken - ground.breaks(event), ground.enabled_if_settled(after)) != unbroken

    while unbroken:
        if not go(breaks_more):
            return None
    if (states[-1] != at or not events) and not go(lambda e, after: after == at):
        return None
    return Way(tuple(states), tuple(events))
