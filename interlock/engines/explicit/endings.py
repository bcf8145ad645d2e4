"""Where runs may stay for ever: at situations where they may stop, in fair components, in loops that never settle.

In: a ground, a store, the members to look among. Out: marks, and the component of a situation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from interlock.core.system import System
from interlock.engines.explicit import graphs
from interlock.engines.explicit.arrays import I64, U64
from interlock.engines.explicit.layout import Packed
from interlock.engines.explicit.machine import room_for_stores
from interlock.engines.explicit.marks import Marks
from interlock.engines.explicit.store import Ground, NoRoom

BYTES_A_MEMBER = 60
"""What components take of memory, roughly."""


class Graph:
    """Members of a store as a graph, with its components (`component` by number, from 1 on)."""

    def __init__(self, members: Marks) -> None:
        self.members = members
        self.ground: Ground = members.ground
        n = int(np.bitwise_count(members.words).sum())
        if n * BYTES_A_MEMBER > room_for_stores(1) or n >= 1 << 31:
            raise NoRoom
        self.base = np.zeros(members.words.size, np.int64)
        self.where = np.zeros(n, np.uint64)
        graphs.number(members.words, self.base, self.where)
        rows = self.ground.tables.rows.shape[0]
        self._after: I64 = np.zeros(rows, np.int64)
        self._by_row: I64 = np.zeros(rows, np.int64)
        self.component = np.zeros(n, np.int32)
        self.n_components = self._components(n)

    def _components(self, n: int) -> int:
        g, m = self.ground, self.members
        room = n + 1024
        while True:
            self.component[:] = 0
            found = graphs.components(
                g.words, g.tables, m.store, m.words, self.base, self.where, g.scratch, g.at, np.zeros(n, np.int32),
                np.zeros(n, np.int32), self.component, np.zeros(n, np.int32), np.zeros(n + 1, np.int64),
                np.zeros(n + 1, np.int64), np.zeros(room, np.int32), self._after, self._by_row,
            )  # fmt: skip
            if found >= 0:
                return int(found)
            room *= 2

    def loops(self, obliged: U64, broken_by: U64) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
        """By component: whether there is an event inside, and whether a run that stays is fair. See `graphs.stays`."""
        g, m, n = self.ground, self.members, self.n_components + 1
        for_ever = np.full((n, obliged.shape[1]), (1 << 64) - 1, np.uint64)
        broken = np.zeros((n, obliged.shape[1]), np.uint64)
        inside, settles = np.zeros(n, np.bool_), np.zeros(n, np.bool_)
        graphs.stays(
            g.words, g.tables, m.store, m.words, self.base, self.where, g.scratch, g.at, self.component, obliged,
            broken_by, for_ever, broken, inside, settles, self._after, self._by_row,
        )  # fmt: skip
        unbroken = (for_ever & ~broken).any(axis=1)
        return inside, inside & settles & ~unbroken

    def marked(self, chosen: npt.NDArray[np.bool_]) -> Marks:
        """The members of chosen components."""
        found = Marks(self.ground, self.members.source)
        graphs.mark_components(self.members.words, self.where, self.component, chosen, found.words)
        return found

    def same_component(self, packed: Packed) -> Callable[[Packed], bool]:
        """Whether a situation is in the component of a given one."""
        mine = self._component_of(packed)
        return lambda other: mine != 0 and self._component_of(other) == mine

    def _component_of(self, packed: Packed) -> int:
        line = self.members.line(packed.key)
        members = int(self.members.words[line])
        if not members >> packed.place & 1:
            return 0
        below = (members & ((1 << packed.place) - 1)).bit_count()
        return int(self.component[int(self.base[line]) + below])


@dataclass(frozen=True, slots=True)
class Obliged:
    """The obliged actions of tier 2 (and helpers) as bits of words, by row of the tables: which one it is a row of,
    and which ones its event breaks off."""

    rows: U64
    broken_by: U64

    @staticmethod
    def of(system: System, helpers: tuple[str, ...], ground: Ground) -> Obliged:
        """The obliged actions of a system with some helpers."""
        index = {action.id: i for i, action in enumerate(system.actions)}
        chosen = [i for i, a in enumerate(system.actions) if a.cost == 0 and (a.obliged or a.id in helpers)]
        chosen = [i for i in chosen if system.actions[i].tier.value == 2]
        bit = {action: n for n, action in enumerate(chosen)}
        words = max(1, -(-len(chosen) // 64))
        actions = ground.tables.action.tolist()
        rows = np.zeros((len(actions), words), np.uint64)
        broken_by = np.zeros((len(actions), words), np.uint64)
        for r, action in enumerate(actions):
            if action < 0:
                continue
            if action in bit:
                rows[r, bit[action] // 64] |= np.uint64(1 << bit[action] % 64)
            for other in (action, *(index[id] for id in system.actions[action].restarts)):
                if other in bit:
                    broken_by[r, bit[other] // 64] |= np.uint64(1 << bit[other] % 64)
        return Obliged(rows, broken_by)


def stuck(members: Marks, obliged: Obliged) -> Marks:
    """The settled members at which a run may stop: nothing obliged is enabled."""
    g = members.ground
    found = Marks(g, members.source)
    some = obliged.rows.any(axis=1)
    graphs.mark_settled_without(g.words, g.tables, members.store, members.words, some, g.scratch, g.at, found.words)
    return found


def settled_part(members: Marks) -> Marks:
    """The settled ones among members."""
    none = Obliged(np.zeros((members.ground.tables.rows.shape[0], 1), np.uint64), np.zeros((1, 1), np.uint64))
    return stuck(members, none)


def everything(members: Marks) -> None:
    """Mark all that is known and at which runs are not cut."""
    members.words |= members.store[:, len(members.ground.words)]
