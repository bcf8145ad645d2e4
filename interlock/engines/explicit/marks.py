"""Marks beside a store: one word a line, the situations of the block for which something was found out.

In: a ground and a store in which everything that can be reached is known. Out: marks, and logs of marked situations.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from interlock.core.system import ActionKind, System
from interlock.engines.explicit import kernels, looking, parts
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.layout import Packed
from interlock.engines.explicit.store import Ground, Store

NO_WAY_KINDS = (ActionKind.FAILURE, ActionKind.REPAIR)


class Marks:
    """Marked situations of a store, which does not change any more."""

    def __init__(self, ground: Ground, store: Store) -> None:
        self.ground = ground
        self.source = store
        self.store = store.store
        self.words = np.zeros(self.store.shape[0], np.uint64)

    def add_where(self, number: int) -> None:
        """Mark where a probe is true."""
        g = self.ground
        looking.mark(g.words, g.tables, self.store, number, g.scratch, g.at, self.words)

    def add_leading(self, system: System, *, without: Iterable[ActionKind] = NO_WAY_KINDS) -> None:
        """Mark everything from which events without failure lead to something marked, kinds of actions left out.

        Over and over through the lines that are not wholly marked, forwards and backwards in turn. Cost: lines times
        rounds; rounds are few where marks spread within one.
        """
        g = self.ground
        actions = g.tables.action
        left_out = frozenset(without)
        taken = np.array([a >= 0 and system.actions[a].kind not in left_out for a in actions.tolist()], np.bool_)
        taken &= g.tables.rows[:, parts.CUTS] == 0
        lines = np.flatnonzero(self.store[:, g.layout.words] & ~self.words)
        while lines.size:
            n = looking.mark_leading(
                g.words, g.tables, self.store, taken, g.scratch, g.at, self.words, lines, lines.size
            )
            if n < 0:
                return
            lines = lines[:n][::-1].copy()

    def line(self, key: tuple[int, ...]) -> int:
        """The line of a key; of an empty one, where nothing is marked, if the store does not hold it."""
        return int(kernels.line_of(self.ground.words, self.store, np.array(key, np.uint64)))

    def __contains__(self, packed: Packed) -> bool:
        return bool(int(self.words[self.line(packed.key)]) >> packed.place & 1)

    def add(self, other: Marks) -> None:
        """Mark what is marked in others of the same store."""
        self.words |= other.words

    def minus(self, other: Marks) -> None:
        """Take away what is marked in others of the same store."""
        self.words &= ~other.words

    def log(self) -> U64:
        """The marked situations as a log."""
        lines = np.flatnonzero(self.words)
        log = self.store[lines].copy()
        log[:, self.ground.layout.words] = self.words[lines]
        return log

    def among(self, log: U64) -> U64:
        """The part of a log that is marked."""
        g = self.ground
        found = g.empty_log(log.shape[0])
        n = looking.meeting(g.words, log, self.store, self.words, g.scratch, found)
        return found[:n]
