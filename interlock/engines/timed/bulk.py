"""All situations of a question and the ways between them, numbered, as arrays: what zones over many of them stand on.

In: a system under a question (no cuts). Out: `Bulk`. Memory: about 35 bytes a situation and 6 a way, one more where a
rule is judged on events. A `before` rule has a flag of its own, by which situations are told apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from interlock.core.question import Question
from interlock.core.system import System, Valuation
from interlock.engines.explicit.arrays import I64, U64
from interlock.engines.explicit.layout import Layout, Packed
from interlock.engines.explicit.machine import available_bytes
from interlock.engines.explicit.prepare import Pieces
from interlock.engines.explicit.store import ASKED_BYTES, Ground
from interlock.engines.timed import kernels_graph as kernels
from interlock.engines.timed.graph import TooMany, more_than
from interlock.logic.expression import Expression, Kind

Truth: TypeAlias = npt.NDArray[np.bool_]
FIRST_ROOM = 1 << 12
MOST_ACTIONS = 1 << 16
FILL = 0.5
"""The share of an index in use from which it grows."""


@dataclass(frozen=True, slots=True)
class Bulk:
    """Situations by number. `keys`: packed; `tier`: 2 is settled. Ways of situation i: `first[i]` up to `first[i + 1]`
    of `to` (situations) and `by` (actions by index). `came`: the situation from which one was met first, with fewest
    events; starts come before all others. `starts`: in the order of `Meaning.starts`."""

    ground: Ground
    keys: U64
    tier: npt.NDArray[np.uint8]
    first: I64
    to: npt.NDArray[np.uint32]
    by: npt.NDArray[np.uint16]
    came: npt.NDArray[np.uint32]
    starts: tuple[int, ...]

    @property
    def layout(self) -> Layout:
        """How situations are packed."""
        return self.ground.layout

    @property
    def spent(self) -> I64:
        """The failures spent in each situation."""
        found: I64 = np.asarray(self.layout.codes.spent, np.int64)[_codes(self.layout, self.keys)]
        return found

    def valuation(self, number: int) -> tuple[Valuation, int]:
        """The valuation of a situation, and the failures spent."""
        return self.layout.unpack(Packed(tuple(int(word) for word in self.keys[number]), 0))

    def events(self) -> npt.NDArray[np.uint16]:
        """The fewest events that lead to each situation."""
        found = np.zeros(self.keys.shape[0], np.uint16)
        kernels.events_before(self.came, 1 + max(self.starts, default=-1), found)
        return found

    def true(self, expression: Expression, among: I64 | None = None) -> Truth:
        """Where an expression (without `was`) holds, in all situations or `among` these. Cost: its size times the
        situations."""
        return Values(self, among).true(expression)


class Values:
    """Expressions over many situations at once; what was worked out is kept while this lives. `before`: the situations
    that `was` speaks of, as many (None: these)."""

    def __init__(self, bulk: Bulk, among: npt.NDArray[Any] | None, before: Values | None = None) -> None:
        self.bulk = bulk
        self.keys = bulk.keys if among is None else bulk.keys[among]
        self.before = self if before is None else before
        self.sizes = {v.name: len(v.values) for v in (*bulk.layout.variables, *bulk.layout.flags)}
        self.known: dict[Expression, Truth] = {}

    def true(self, expression: Expression) -> Truth:
        """Where an expression holds."""
        found = self.known.get(expression)
        if found is None:
            found = self.known[expression] = self._true(expression)
        return found

    def _true(self, expression: Expression) -> Truth:
        kind, n = expression.kind, self.keys.shape[0]
        if kind is Kind.CONSTANT:
            return np.full(n, expression.values[0] == 1)
        if kind is Kind.IN:
            among = np.zeros(self.sizes[expression.name], np.bool_)
            among[list(expression.values)] = True
            return among[self._value(expression.name)]
        if kind is Kind.WAS:
            return self.before.true(expression.operands[0])
        parts = [self.true(operand) for operand in expression.operands]
        if kind is Kind.NOT:
            return ~parts[0]
        if kind is Kind.AND:
            return np.logical_and.reduce(parts) if parts else np.full(n, True)
        if kind is Kind.OR:
            return np.logical_or.reduce(parts) if parts else np.full(n, False)
        if kind is Kind.AT_MOST:
            return np.sum(parts, axis=0) <= expression.values[0] if parts else np.full(n, True)
        return parts[0]

    def _value(self, name: str) -> I64:
        layout = self.bulk.layout
        field = layout.fields.get(name)
        if field is not None:
            bits: I64 = ((self.keys[:, field.word] & np.uint64(field.mask)) >> np.uint64(field.shift)).astype(np.int64)
            return bits
        if name in layout.codes.names:
            bit = layout.codes.names.index(name)
            present = np.array([chosen >> bit & 1 for chosen in layout.codes.sets], np.int64)
            found: I64 = present[_codes(layout, self.keys)]
            return found
        return np.zeros(self.keys.shape[0], np.int64)


def _codes(layout: Layout, keys: U64) -> I64:
    """The numbers of the sets of failures present."""
    found: I64 = (keys[:, 0] & np.uint64((1 << layout.code_width) - 1)).astype(np.int64)
    return found


def bulk_of(system: System, question: Question, most: int) -> Bulk:
    """All situations that can be reached for any timing. TooMany: more than `most`, or than there is memory for."""
    if len(system.actions) > MOST_ACTIONS:
        raise TooMany(f"more than {MOST_ACTIONS:,} kinds of events can happen")
    prepared = Pieces.of(system, [question]).prepared()
    ground = prepared.ground
    log = prepared.start_log()
    words = ground.words
    room = max(FIRST_ROOM, 4 * log.shape[0])
    widest = int(64 * (ground.tables.sections[6]))
    keys = np.zeros((room + widest, len(words)), np.uint64)
    index = np.zeros(_index_size(keys.shape[0]), np.uint32)
    state = np.zeros(3, np.int64)
    first = np.zeros(keys.shape[0] + 1, np.int64)
    tier = np.zeros(keys.shape[0], np.uint8)
    came = np.zeros(keys.shape[0], np.uint32)
    to = np.zeros(8 * room + widest, np.uint32)
    by = np.zeros(to.shape[0], np.uint16)
    starts = np.zeros(log.shape[0], np.int64)
    kernels.admitted(words, log, keys, index, state, starts)
    while True:
        told = kernels.ways(
            words, ground.tables, keys, index, state, first, to, by, tier, came, ground.scratch, ground.at, widest
        )
        known, n_ways = int(state[kernels.KNOWN]), int(state[kernels.WAYS])
        if known > most:
            raise TooMany(more_than(most))
        if told == kernels.DONE:
            return Bulk(
                ground, keys[:known], tier[:known], first[: known + 1], to[:n_ways], by[:n_ways], came[:known],
                tuple(starts.tolist()),
            )  # fmt: skip
        if n_ways + widest > to.shape[0]:
            to, by = larger(to, by)
        if known + widest > keys.shape[0]:
            keys, first, tier, came = larger(keys, first, tier, came)
            index = np.zeros(_index_size(keys.shape[0]), np.uint32)
            kernels.reindexed(words, keys, index, known)


def larger(*arrays: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], ...]:
    """Twice as many lines of each, the new ones zero. TooMany: there is no memory for that."""
    wanted = 2 * sum(array.nbytes for array in arrays)
    if wanted > ASKED_BYTES and wanted > available_bytes():
        raise TooMany("the memory is used up")
    return tuple(np.concatenate([array, np.zeros_like(array)]) for array in arrays)


def _index_size(n: int) -> int:
    return 1 << (int(n / FILL) - 1).bit_length()
