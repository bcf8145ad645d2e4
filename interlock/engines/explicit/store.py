"""Stores that grow, kernels bound to one system's tables. In: a layout and tables. Out: reached situations, as arrays.

Nothing is ever lost when a store grows: it is asked for room before blocks come, never after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from interlock.engines.explicit import kernels, parts
from interlock.engines.explicit.arrays import I64, U64, Tables
from interlock.engines.explicit.layout import Layout, Packed
from interlock.engines.explicit.machine import room_for_stores

FILL = 0.6
"""The share of lines in use from which a store grows."""

LEAST_LINES = 1 << 10


ASKED_BYTES = 64 << 20
"""From this size on it is asked beforehand whether there is memory."""


class NoRoom(Exception):
    """A store would need more memory than it may take."""


@dataclass(slots=True)
class Ground:
    """A system's tables with the scratch memory that kernels want."""

    layout: Layout
    tables: Tables
    words: tuple[np.uint64, ...]
    scratch: U64
    at: I64
    batch: U64

    @staticmethod
    def of(layout: Layout, tables: Tables) -> Ground:
        """The ground for some tables."""
        return Ground(
            layout,
            tables,
            (np.uint64(0),) * layout.words,
            np.zeros((3, max(layout.words, 3)), np.uint64),
            np.zeros(len(layout.chunks), np.int64),
            np.zeros((parts.BATCH + 2 * tables.rows.shape[0], max(4, layout.words + 2)), np.uint64),
        )

    @property
    def columns(self) -> int:
        """Columns of a store or a log: the key, what is known, what waits; half a cache line
        at least."""
        return max(4, self.layout.words + 2)

    def empty_log(self, lines: int) -> U64:
        """A log of so many empty lines, beginning with a cache line. NoRoom: there is no memory for it."""
        size = lines * self.columns
        if size * 8 > ASKED_BYTES and size * 8 > room_for_stores(size):
            raise NoRoom
        try:
            room = np.zeros(size + 8, np.uint64)
        except MemoryError:
            raise NoRoom from None
        begin = -(room.ctypes.data // 8) % 8
        return room[begin : begin + size].reshape(lines, self.columns)

    def log_of(self, situations: list[Packed]) -> U64:
        """A log with some situations, a line each."""
        log = self.empty_log(len(situations))
        for line, packed in enumerate(situations):
            log[line, : self.layout.words] = packed.key
            log[line, self.layout.words] = 1 << packed.place
        return log

    def situations(self, log: U64) -> list[Packed]:
        """The situations of a log, one by one. Cost: their number, in plain Python."""
        found = []
        for line in log.tolist():
            key, bits = tuple(line[: self.layout.words]), line[self.layout.words]
            found += [Packed(key, place) for place in range(64) if bits >> place & 1]
        return found

    def spent(self, log: U64) -> I64:
        """The failures spent in each line of a log."""
        found: I64 = self.tables.spent[(log[:, 0] & self.tables.masks[0]).astype(np.int64)]
        return found


class Store:
    """A store with its queue. `by_spent`: situations known, by failures spent; those at which runs are cut are among
    them."""

    def __init__(self, ground: Ground, lines: int = 0) -> None:
        self.ground = ground
        self._slack = ground.batch.shape[0]
        least = max(LEAST_LINES, 4 * self._slack, lines)
        self.store = ground.empty_log(1 << (least - 1).bit_length())
        self.queue: npt.NDArray[np.uint32] = np.zeros(self.store.shape[0], np.uint32)
        self.state = np.zeros(3, np.int64)
        self.by_spent = np.zeros(int(ground.tables.spent.max()) + 1, np.int64)

    @property
    def blocks(self) -> int:
        """Blocks in the store."""
        return int(self.state[parts.BLOCKS])

    @property
    def waiting(self) -> int:
        """Blocks in the queue."""
        return int(self.state[parts.WAITING])

    @property
    def bytes(self) -> int:
        """Memory of the store and its queue."""
        return int(self.store.nbytes + self.queue.nbytes)

    @property
    def _most(self) -> int:
        return int(self.store.shape[0] * FILL) - int(self._slack)

    def _grow(self, least: int, most: int) -> None:
        """A store of twice (small ones: four times) as many lines; the queue anew, of what has spent so much."""
        lines = self.store.shape[0] * (4 if self.store.shape[0] < 1 << 18 else 2)
        new_bytes = lines * (8 * self.ground.columns + 4)
        if new_bytes > room_for_stores(self.bytes) or lines > 1 << 32:
            raise NoRoom
        larger = self.ground.empty_log(lines)
        kernels.rehash(self.ground.words, self.store, larger)
        self.store = larger
        self.queue = np.zeros(lines, np.uint32)
        self.enqueue(least, most)

    def enqueue(self, least: int, most: int) -> None:
        """Make the queue anew: waiting blocks that have spent from `least` to `most` failures."""
        g = self.ground
        kernels.enqueue_waiting(g.words, g.tables, self.store, self.queue, self.state, least, most)

    def explore(self, spent: int, turns: int) -> bool:
        """Explore what has spent so much from the waiting blocks in the queue. True if none is left, False after some
        turns. NoRoom: the memory is used up."""
        g = self.ground
        while True:
            told = kernels.explore(
                g.words, g.tables, self.store, self.queue, self.state, self.by_spent, g.scratch, g.at, g.batch,
                self._most, turns, spent,
            )  # fmt: skip
            if told != parts.FULL:
                return bool(told == parts.DONE)
            self._grow(spent, spent)

    def step(self, log: U64, which: int, inner: int) -> None:
        """Put what follows the situations of a log into the store, waiting."""
        g = self.ground
        done = 0
        while done < log.shape[0]:
            done = kernels.step(
                g.words, g.tables, log, done, self.store, self.queue, self.state, self.by_spent, g.scratch, g.at,
                g.batch, self._most, which, inner,
            )  # fmt: skip
            if done < log.shape[0]:
                self._grow(0, self.by_spent.size)

    def enqueue_all(self) -> None:
        """All waiting blocks into the queue."""
        self.enqueue(0, self.by_spent.size)

    def admit(self, log: U64) -> None:
        """Put the situations of a log into the store, waiting."""
        g = self.ground
        done = 0
        while done < log.shape[0]:
            done = kernels.admit(
                g.words, g.tables, log, done, self.store, self.queue, self.state, self.by_spent, g.scratch, self._most
            )
            if done < log.shape[0]:
                self._grow(0, self.by_spent.size)

    def take(self) -> U64:
        """Take the waiting situations of the queue out, as a log."""
        g = self.ground
        log = g.empty_log(self.waiting)
        kernels.take_waiting(g.words, self.store, self.queue, self.state, log)
        return log
