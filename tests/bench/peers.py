"""Peers to measure against: the same system explored in the ways that people usually write.

Each takes a system whose guards are small and whose updates are plain (see `coupled_berths.py`) and gives its
situations and events.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

import networkx as nx
import numba
import numpy as np
import numpy.typing as npt
from transitions import Machine

from interlock.core.system import Action, System
from interlock.engines.explicit.cubes import Splitter, plain
from interlock.logic.expression import Expression, Kind

U64 = np.uint64
Counted = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Masked:
    """Guards as disjoint rows `situation & mask == value`, updates as `situation & keep | put`, in one word."""

    rows: list[tuple[int, int, int, int]]
    start: int

    @staticmethod
    def of(system: System) -> Masked:
        """The rows of a system without tiers, failures and conditions in updates."""
        shift: dict[str, tuple[int, int]] = {}
        bits = 0
        for variable in system.variables:
            width = (len(variable.values) - 1).bit_length()
            shift[variable.name] = (bits, ((1 << width) - 1) << bits)
            bits += width
        splitter = Splitter(system.variables, {})
        rows = []
        for action in system.actions:
            keep, put = (1 << bits) - 1, 0
            for assignment in action.update:
                at, mask = shift[assignment.variable]
                keep &= ~mask
                put |= assignment.cases[0][1] << at
            for _, cube in splitter.where(plain(action.guard), (1, {})):
                names = list(cube)
                choices = [[v for v in range(64) if cube[name] >> v & 1] for name in names]
                for values in product(*choices):
                    mask = sum(shift[name][1] for name in names)
                    value = sum(v << shift[name][0] for name, v in zip(names, values, strict=True))
                    rows.append((mask, value, keep, put))
        start = sum(v << shift[x.name][0] for x, v in zip(system.variables, system.start[0], strict=True))
        return Masked(rows, start)


@numba.njit(cache=True)
def _spread(x: Any) -> Any:
    x ^= x >> U64(33)
    x *= U64(0xFF51AFD7ED558CCD)
    x ^= x >> U64(33)
    x *= U64(0xC4CEB9FE1A85EC53)
    return x ^ (x >> U64(33))


@numba.njit(cache=True)
def _hash_set(rows: npt.NDArray[np.uint64], start: Any, bits: int) -> Any:
    """Breadth first with a queue; every row is tried in every situation."""
    size = 1 << bits
    last, empty = U64(size - 1), U64(0xFFFFFFFFFFFFFFFF)
    table = np.full(size, empty, np.uint64)
    queue = np.empty(size * 3 // 4, np.uint64)
    queue[0] = start
    table[_spread(start) & last] = start
    head, tail, events = 0, 1, 0
    while head < tail:
        now = queue[head]
        head += 1
        for r in range(rows.shape[0]):
            if now & rows[r, 0] == rows[r, 1]:
                after = (now & rows[r, 2]) | rows[r, 3]
                events += 1
                i = _spread(after) & last
                while table[i] != after:
                    if table[i] == empty:
                        table[i] = after
                        queue[tail] = after
                        tail += 1
                        break
                    i = (i + U64(1)) & last
    return tail, events


def compiled_hash_set(system: System, bits: int) -> Callable[[], Counted]:
    """A compiled hash set of single situations with a linear scan of guards, its table of 2 ** bits made beforehand."""
    masked = Masked.of(system)
    rows = np.array(masked.rows, np.uint64)

    def run() -> Counted:
        found, events = _hash_set(rows, U64(masked.start), bits)
        return int(found), int(events)

    return run


def packed_python(system: System) -> Callable[[], Counted]:
    """Plain Python on packed integers."""
    masked = Masked.of(system)

    def run() -> Counted:
        known, work, events = {masked.start}, [masked.start], 0
        while work:
            now = work.pop()
            for mask, value, keep, put in masked.rows:
                if now & mask == value:
                    after = now & keep | put
                    events += 1
                    if after not in known:
                        known.add(after)
                        work.append(after)
        return len(known), events

    return run


def evaluate(expression: Expression, now: Mapping[str, int]) -> bool:
    """An expression in a situation that is a dictionary."""
    if expression.kind is Kind.IN:
        return now[expression.name] in expression.values
    parts = (evaluate(operand, now) for operand in expression.operands)
    if expression.kind is Kind.NOT:
        return not next(parts)
    if expression.kind is Kind.AT_MOST:
        return sum(parts) <= expression.values[0]
    if expression.kind is Kind.CONSTANT:
        return expression.values[0] == 1
    return all(parts) if expression.kind is Kind.AND else any(parts)


def networkx_graph(system: System) -> Callable[[], Counted]:
    """A networkx graph whose nodes are frozen dictionaries."""

    def run() -> Counted:
        start = frozenset(zip((v.name for v in system.variables), system.start[0], strict=True))
        graph: nx.MultiDiGraph[frozenset[tuple[str, int]]] = nx.MultiDiGraph()
        graph.add_node(start)
        work = [start]
        while work:
            node = work.pop()
            now = dict(node)
            for action in system.actions:
                if evaluate(action.guard, now):
                    changed = {a.variable: a.cases[0][1] for a in action.update}
                    following = frozenset({**now, **changed}.items())
                    if following not in graph:
                        graph.add_node(following)
                        work.append(following)
                    graph.add_edge(node, following)
        return graph.number_of_nodes(), graph.number_of_edges()

    return run


def driven_machine(system: System) -> Callable[[], Counted]:
    """A machine of the `transitions` library that is put into each situation and asked to do each event."""

    class Model:
        now: dict[str, int]
        state: str

    model: Any = Model()
    machine = Machine(model, states=["here"], initial="here", auto_transitions=False)

    def guarded(action: Action) -> Callable[[], bool]:
        return lambda: evaluate(action.guard, model.now)

    def changing(action: Action) -> Callable[[], None]:
        return lambda: model.now.update({a.variable: a.cases[0][1] for a in action.update})

    for i, action in enumerate(system.actions):
        machine.add_transition(f"event{i}", "here", "here", conditions=guarded(action), after=changing(action))
    triggers = [getattr(model, f"event{i}") for i in range(len(system.actions))]
    names = [v.name for v in system.variables]

    def run() -> Counted:
        start = system.start[0]
        known, work, events = {start}, [start], 0
        while work:
            now = work.pop()
            for trigger in triggers:
                model.now = dict(zip(names, now, strict=True))
                if trigger():
                    after = tuple(model.now[name] for name in names)
                    events += 1
                    if after not in known:
                        known.add(after)
                        work.append(after)
        return len(known), events

    return run
