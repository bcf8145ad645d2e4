"""Peers for what `peers.py` cannot: a compiled hash set for systems with immediate logic and failures under a budget,
in keys of several words; and decision diagrams of a general library.

The hash set knows failures as ordinary bits beside the number that have happened, as one would write it. It takes its
rows from the explicit engine's cutting of guards into rows, and scans them one after the other.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import numba
import numpy as np
import numpy.typing as npt

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.system import System
from interlock.engines.explicit.codes import Codes
from interlock.engines.explicit.cubes import plain
from interlock.engines.explicit.rows import Row, Rows
from interlock.logic.expression import Expression, Kind
from tests.bench.peers import Counted

SPENT_BITS = 3
USED = np.uint64(1 << 63)
"""Set in the first word of every key, so that no key is zero."""

Words = list[int]


class Packed:
    """Situations as words, and rows as words to compare, keep and put, by tier."""

    def __init__(self, system: System, rule: str, budget: int) -> None:
        meaning = Meaning(system, Question(rule, budget=budget))
        self.place: dict[str, tuple[int, int, int]] = {}
        word, shift, most = 0, SPENT_BITS, 63
        for variable in system.variables:
            width = (len(variable.values) - 1).bit_length()
            if shift + width > most:
                word, shift, most = word + 1, 0, 64
            self.place[variable.name] = (word, shift, ((1 << width) - 1) << shift)
            shift += width
        self.words = word + 1
        names = [variable.name for variable in system.variables]
        self.starts = [self._key(dict(zip(names, s.valuation, strict=True)), s.spent) for s in meaning.starts()]
        by_number = tuple(range(budget + 1))
        codes = Codes((), (0,) * len(by_number), by_number, {(0, n): n for n in by_number})
        tiers: list[list[list[int]]] = [[], [], []]
        for row in Rows(meaning, codes, None, ()).rows:
            tiers[row.tier] += self._rows(row, budget)
        self.first = np.cumsum([0, *map(len, tiers)])
        self.rows = np.array([one for tier in tiers for one in tier], np.uint64).reshape(-1, 4 * self.words + 1)

    def _key(self, values: dict[str, int], spent: int) -> Words:
        key = [0] * self.words
        key[0] = int(USED) | spent
        for name, value in values.items():
            word, shift, _ = self.place[name]
            key[word] |= value << shift
        return key

    def _rows(self, row: Row, budget: int) -> list[list[int]]:
        keep, put = [(1 << 64) - 1] * self.words, [0] * self.words
        for name, value in row.assigned.items():
            word, shift, mask = self.place[name]
            keep[word] &= ~mask
            put[word] |= value << shift
        names = list(row.cube)
        choices = [[v for v in range(256) if row.cube[name] >> v & 1] for name in names]
        found = []
        for spent in range(budget + 1):
            if not row.codes >> spent & 1:
                continue
            all_spent = row.codes == (1 << budget + 1) - 1
            for values in product(*choices):
                compared, equal = [0] * self.words, [0] * self.words
                for name, v in zip(names, values, strict=True):
                    word, shift, bits = self.place[name]
                    compared[word] |= bits
                    equal[word] |= v << shift
                if not all_spent:
                    compared[0] |= (1 << SPENT_BITS) - 1
                    equal[0] |= spent
                found.append([*compared, *equal, *keep, *put, int(row.costs)])
            if all_spent:
                break
        return found


@numba.njit(cache=True)
def _explore(starts: Any, rows: Any, first: Any, words: int, bits: int) -> Any:
    size = 1 << bits
    last = size - 1
    table = np.zeros((size, words), np.uint64)
    queue = np.zeros(size * 3 // 4, np.uint32)
    now, after = np.zeros(words, np.uint64), np.zeros(words, np.uint64)
    head, tail, events = 0, 0, 0
    for s in range(starts.shape[0]):
        for w in range(words):
            after[w] = starts[s, w]
        tail = _put(table, queue, tail, after, words, bits, last)
    while head < tail:
        for w in range(words):
            now[w] = table[queue[head], w]
        head += 1
        acted = False
        for tier in range(3):
            for r in range(first[tier], first[tier + 1]):
                costs = rows[r, 4 * words] != 0
                if costs and not acted and tier < 2:
                    free = False
                    for o in range(first[tier], first[tier + 1]):
                        if rows[o, 4 * words] == 0 and _holds(now, rows, o, words):
                            free = True
                            break
                    if not free:
                        continue
                if not _holds(now, rows, r, words):
                    continue
                if not costs:
                    acted = True
                events += 1
                for w in range(words):
                    after[w] = (now[w] & rows[r, 2 * words + w]) | rows[r, 3 * words + w]
                if costs:
                    after[0] += np.uint64(1)
                tail = _put(table, queue, tail, after, words, bits, last)
            if acted:
                break
    return tail, events


@numba.njit(cache=True)
def _holds(now: Any, rows: Any, r: int, words: int) -> Any:
    same = True
    for w in range(words):
        same = same and now[w] & rows[r, w] == rows[r, words + w]
    return same


@numba.njit(cache=True)
def _put(table: Any, queue: Any, tail: int, key: Any, words: int, bits: int, last: int) -> Any:
    h = np.uint64(0)
    for w in range(words):
        h = (h ^ (h >> np.uint64(29)) ^ key[w]) * np.uint64(0x9E3779B97F4A7C15)
    i = np.int64((h ^ (h >> np.uint64(31))) >> np.uint64(4)) & last
    while table[i, 0] != 0:
        same = True
        for w in range(words):
            if table[i, w] != key[w]:
                same = False
        if same:
            return tail
        i = (i + 1) & last
    for w in range(words):
        table[i, w] = key[w]
    queue[tail] = i
    return tail + 1


def compiled_hash_set(system: System, rule: str, budget: int, bits: int) -> Callable[[], Counted]:
    """A compiled hash set of single situations, told apart by the failures spent, with a linear scan of rows."""
    packed = Packed(system, rule, budget)
    starts: npt.NDArray[np.uint64] = np.array(packed.starts, np.uint64)

    def run() -> Counted:
        found, events = _explore(starts, packed.rows, packed.first, packed.words, bits)
        return int(found), int(events)

    return run


def decision_diagrams(system: System) -> Callable[[], Counted]:
    """Reached situations as a decision diagram of the `dd` library (in C where its wheel has that), event by event
    until nothing is added. For systems without tiers, failures and conditions in updates."""
    try:
        from dd import cudd as library
    except ImportError:
        from dd import autoref as library

    def run() -> Counted:
        manager = library.BDD()
        bits = {v.name: [f"x{i}_{b}" for b in range((len(v.values) - 1).bit_length())]
                for i, v in enumerate(system.variables)}  # fmt: skip
        manager.declare(*(bit for some in bits.values() for bit in some))

        def value(name: str, v: int) -> Any:
            return manager.cube({bit: bool(v >> i & 1) for i, bit in enumerate(bits[name])})

        def made(e: Expression) -> Any:
            if e.kind is Kind.IN:
                return _any(manager, [value(e.name, v) for v in e.values])
            if e.kind is Kind.CONSTANT:
                return manager.true if e.values[0] else manager.false
            if e.kind is Kind.AT_MOST:
                exact = [manager.true] + [manager.false] * e.values[0]
                for part in map(made, e.operands):
                    exact = [(exact[k] & ~part) | ((exact[k - 1] & part) if k else manager.false)
                             for k in range(len(exact))]  # fmt: skip
                return _any(manager, exact)
            parts = [made(operand) for operand in e.operands]
            if e.kind is Kind.NOT:
                return ~parts[0]
            if e.kind is Kind.OR:
                return _any(manager, parts)
            return ~_any(manager, [~part for part in parts])

        steps = []
        for action in system.actions:
            changed = {a.variable: a.cases[0][1] for a in action.update}
            names = [bit for name in changed for bit in bits[name]]
            then = manager.true
            for name, v in changed.items():
                then = then & value(name, v)
            steps.append((made(plain(action.guard)), names, then))
        reached = manager.true
        for variable, v in zip(system.variables, system.start[0], strict=True):
            reached = reached & value(variable.name, v)
        before = manager.false
        while reached != before:
            before = reached
            for guard, names, then in steps:
                reached = reached | (manager.exist(names, reached & guard) & then)
        total = sum(map(len, bits.values()))
        events = sum(int(manager.count(reached & guard, nvars=total)) for guard, _, _ in steps)
        return int(manager.count(reached, nvars=total)), events

    return run


def _any(manager: Any, parts: list[Any]) -> Any:
    found = manager.false
    for part in parts:
        found = found | part
    return found
