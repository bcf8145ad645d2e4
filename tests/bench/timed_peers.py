"""A peer to measure zones against: ages in whole ticks, compiled, over the same situations and ways.

A state is a situation and the ages of what is enabled in it, packed into one word; each age counts one tick beyond the
largest constant it is held against. Exact where all ends are closed (Henzinger, Manna and Pnueli 1992).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
import numpy as np
import numpy.typing as npt

from interlock.core.system import System
from interlock.core.timed import age_of
from interlock.engines.timed.bulk import Bulk
from interlock.engines.timed.graph import afresh_by, owners_of

U64 = np.uint64
NONE = -1


@numba.njit(cache=True)
def _spread(x: Any) -> Any:
    x ^= x >> U64(33)
    x *= U64(0xFF51AFD7ED558CCD)
    x ^= x >> U64(33)
    x *= U64(0xC4CEB9FE1A85EC53)
    return x ^ (x >> U64(33))


@numba.njit(cache=True)
def _explore(
    first: Any, to: Any, by: Any, enabled: Any, shift: Any, latest: Any, cap: Any, clock: Any, early: Any, late: Any,
    afresh: Any, starts: Any, bits: int, table: Any, queue: Any, reached: Any,
) -> Any:  # fmt: skip
    """Breadth first. `enabled`: clocks (bits) by situation; `shift`: where the age of each clock stands in a word, by
    situation; the other arrays by clock or by action. Gives the states found, or -1: no room."""
    last = U64(table.shape[0] - 1)
    n_clocks = cap.shape[0]
    age = np.zeros(n_clocks, np.int64)
    then = np.zeros(n_clocks, np.int64)
    mask = (U64(1) << U64(bits)) - U64(1)
    head, tail = 0, 0
    for start in starts:
        word = U64(start)
        i = _spread(word) & last
        while table[i] != U64(0) and table[i] != word + U64(1):
            i = (i + U64(1)) & last
        if table[i] == U64(0):
            table[i] = word + U64(1)
            queue[tail] = word
            tail += 1
    while head < tail:
        word = queue[head]
        head += 1
        at = np.int64(word & mask)
        reached[at] = True
        here = enabled[at]
        may_wait = True
        for c in range(n_clocks):
            if (here >> c) & 1:
                width = U64(1) << U64(shift[at, c] & 63)
                age[c] = np.int64((word >> U64(shift[at, c] >> 6)) & (width - U64(1)))
                if latest[c] >= 0 and age[c] + 1 > latest[c]:
                    may_wait = False
        for way in range(first[at], first[at + 1] + (1 if may_wait else 0)):
            if way < first[at + 1]:
                action = np.int64(by[way])
                c = clock[action]
                if c >= 0:
                    if age[c] < early[action]:
                        continue
                    if late[action] >= 0 and age[c] > late[action]:
                        continue
                following = np.int64(to[way])
                for d in range(n_clocks):
                    kept = (here >> d) & 1 and not (afresh[action] >> d) & 1
                    then[d] = age[d] if kept else 0
            else:
                following = at
                for d in range(n_clocks):
                    then[d] = min(age[d] + 1, cap[d])
            after = U64(following)
            for d in range(n_clocks):
                if (enabled[following] >> d) & 1:
                    after |= U64(then[d]) << U64(shift[following, d] >> 6)
            i = _spread(after) & last
            while table[i] != after + U64(1):
                if table[i] == U64(0):
                    if tail == queue.shape[0]:
                        return -1
                    table[i] = after + U64(1)
                    queue[tail] = after
                    tail += 1
                    break
                i = (i + U64(1)) & last
    return tail


class Ticks:
    """A system whose situations are all settled, prepared; `run` gives the states found and the situations reached."""

    def __init__(self, system: System, bulk: Bulk, room: int) -> None:
        assert bool((bulk.tier == 2).all())
        owners = owners_of(system)
        index = {owner.id: c for c, owner in enumerate(owners)}
        n, n_clocks = bulk.tier.shape[0], len(owners)
        constants = [0] * n_clocks
        n_actions = len(system.actions)
        early, late = np.zeros(n_actions, np.int64), np.full(n_actions, NONE, np.int64)
        clock, latest = np.full(n_actions, NONE, np.int64), np.full(n_clocks, NONE, np.int64)
        for a, action in enumerate(system.actions):
            window = action.window
            if window is None or not window.bears:
                continue
            assert not window.earliest_open
            assert not window.latest_open
            clock[a] = c = index[age_of(action)]
            early[a] = window.earliest
            constants[c] = max(constants[c], window.earliest, window.latest or 0)
            if window.latest is not None:
                late[a] = window.latest
                if action.obliged:
                    latest[c] = window.latest
        enabled = np.zeros(n, np.int64)
        for c, owner in enumerate(owners):
            enabled |= bulk.true(owner.guard).astype(np.int64) << c
        bits = max(1, (n - 1).bit_length())
        shift = np.zeros((n, n_clocks), np.int64)
        for situation in range(n):
            at = bits
            for c in range(n_clocks):
                if enabled[situation] >> c & 1:
                    width = (constants[c] + 1).bit_length()
                    shift[situation, c] = at << 6 | width
                    at += width
            assert at < 64
        cap = np.array(constants, np.int64) + 1
        afresh = np.array(afresh_by(system, owners), np.int64)
        self._arrays = (
            bulk.first, bulk.to, bulk.by, enabled, shift, latest, cap, clock, early, late, afresh,
            np.array(bulk.starts, np.int64), bits,
        )  # fmt: skip
        self._table = np.zeros(1 << (2 * room - 1).bit_length(), np.uint64)
        self._queue = np.zeros(room, np.uint64)
        self._n = n

    def fresh(self) -> Callable[[], tuple[int, npt.NDArray[np.bool_]]]:
        """A run to be measured, its room made beforehand."""
        self._table[:] = 0
        self._queue[:] = 0
        reached = np.zeros(self._n, np.bool_)

        def run() -> tuple[int, npt.NDArray[np.bool_]]:
            found = _explore(*self._arrays, self._table, self._queue, reached)
            assert found > 0, "no room"
            return int(found), reached

        return run
