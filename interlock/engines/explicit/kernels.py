"""Kernels that put situations into stores and take them out. The same for every system: they only read tables.

See `parts.py` for stores, logs and what the tables are read like.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from interlock.engines.explicit.compiling import compiled, count, fetch
from interlock.engines.explicit.parts import (
    AHEAD,
    BATCH,
    BLOCKS,
    BOTH,
    DONE,
    FULL,
    HEAD,
    PAUSED,
    WAITING,
    ZERO,
    expand,
    find,
    first_line,
    flush,
    flush_on,
    put,
)

GOLDEN = 0x9E3779B9
"""The golden section of 2 ** 32: its multiples stay apart evenly."""

if TYPE_CHECKING:
    from interlock.engines.explicit.arrays import I64, U64, Tables


@compiled
def explore(
    words: Any, t: Tables, store: U64, queue: Any, state: I64, by_spent: I64, scratch: U64, at: I64, batch: U64,
    most: int, turns: int, layer: int,
) -> Any:  # fmt: skip
    """Looks at waiting blocks, in any order, until none waits, the store is full, or after some turns.

    `most`: blocks that the store may hold; one turn may add as many as a batch has lines. `layer`: the failures that
    all blocks in the queue have spent; what has spent more only waits.
    """
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, spent, code_mask = t.rows, t.after, t.spent, t.masks[0]
    known, waiting = len(words), len(words) + 1
    key = scratch[0]
    last = store.shape[0] - 1
    if state[BLOCKS] > most:
        return FULL
    n = 0
    told = PAUSED
    while turns > 0:
        turns -= 1
        if n >= BATCH or state[WAITING] == 0:
            flush_on(
                words, allowed, chunks, looked, valid, sections, rows, after, code_mask, spent, store, queue, state,
                by_spent, batch, n, key, at, layer,
            )  # fmt: skip
            n = 0
            if state[WAITING] == 0:
                told = DONE
                break
            if state[BLOCKS] > most:
                told = FULL
                break
        line = queue[state[HEAD]]
        if state[WAITING] > AHEAD:
            fetch(store, np.int64(queue[(state[HEAD] + AHEAD) & last]))
        state[HEAD] = (state[HEAD] + 1) & last
        state[WAITING] -= 1
        bits = store[line, waiting]
        store[line, waiting] = ZERO
        for i in range(known):
            key[i] = store[line, i]
        n = expand(
            words, allowed, chunks, looked, valid, sections, rows, after, code_mask, store, batch, n, key, at, bits,
            BOTH, np.int64(line), by_spent[layer : layer + 1],
        )  # fmt: skip
    flush_on(
        words, allowed, chunks, looked, valid, sections, rows, after, code_mask, spent, store, queue, state, by_spent,
        batch, n, key, at, layer,
    )  # fmt: skip
    return told


@compiled
def step(
    words: Any, t: Tables, log: U64, begin: int, store: U64, queue: Any, state: I64, by_spent: I64, scratch: U64,
    at: I64, batch: U64, most: int, which: int, inner: int,
) -> Any:  # fmt: skip
    """Puts what follows the situations of a log into a store. Gives the first line not done, for the store is full.

    What has spent more than `inner` is not gone on from.
    """
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, spent, code_mask = t.rows, t.after, t.spent, t.masks[0]
    known = len(words)
    key = scratch[0]
    n = 0
    line = begin
    while line < log.shape[0]:
        if n >= BATCH:
            flush(words, spent, code_mask, store, queue, state, by_spent, batch, n, -1)
            n = 0
            if state[BLOCKS] > most:
                break
        for i in range(known):
            key[i] = log[line, i]
        if spent[np.int64(key[0] & code_mask)] <= inner:
            n = expand(
                words, allowed, chunks, looked, valid, sections, rows, after, code_mask, store, batch, n, key, at,
                log[line, known], which, -1, by_spent,
            )  # fmt: skip
        line += 1
    flush(words, spent, code_mask, store, queue, state, by_spent, batch, n, -1)
    return line


@compiled
def admit(
    words: Any,
    t: Tables,
    log: U64,
    begin: int,
    store: U64,
    queue: Any,
    state: I64,
    by_spent: I64,
    scratch: U64,
    most: int,
) -> Any:
    """Puts the situations of a log into a store, waiting. Gives the first line not done, for the store is full."""
    spent, code_mask = t.spent, t.masks[0]
    known = len(words)
    key = scratch[0]
    at_once = begin >= 0
    for line in range(begin, log.shape[0]):
        if state[BLOCKS] > most:
            return line
        for i in range(len(words)):
            key[i] = log[line, i]
        new = put(words, store, queue, state, key, log[line, known], first_line(words, store, key), at_once)
        by_spent[spent[np.int64(key[0] & code_mask)]] += np.int64(count(new))
    return log.shape[0]


@compiled
def rehash(words: Any, old: U64, new: U64) -> None:
    """Moves all blocks into a larger store."""
    known = len(words)
    for line in range(old.shape[0]):
        if old[line, known] != ZERO:
            to = find(words, new, old[line])
            for i in range(known + 2):
                new[to, i] = old[line, i]


@compiled
def enqueue_waiting(words: Any, t: Tables, store: U64, queue: Any, state: I64, least: int, most: int) -> None:
    """Makes the queue anew: the blocks with waiting situations that have spent from `least` to `most`.

    Not in the order of the store: what follows neighbours would crowd into a few stretches of it, full long before the
    rest, and be looked for through all of them. Lines that follow each other here lie far apart, evenly.
    """
    spent, code_mask = t.spent, t.masks[0]
    waiting = len(words) + 1
    state[HEAD] = 0
    state[WAITING] = 0
    last = store.shape[0] - 1
    apart = ((store.shape[0] * GOLDEN) >> 32) | 1
    for n in range(store.shape[0]):
        line = (n * apart) & last
        if store[line, waiting] != ZERO and least <= spent[np.int64(store[line, 0] & code_mask)] <= most:
            queue[state[WAITING]] = line
            state[WAITING] += 1


@compiled
def take_waiting(words: Any, store: U64, queue: Any, state: I64, log: U64) -> None:
    """Moves the waiting situations of the queue into a log."""
    waiting = len(words) + 1
    for j in range(state[WAITING]):
        line = queue[(state[HEAD] + j) & (store.shape[0] - 1)]
        for i in range(len(words)):
            log[j, i] = store[line, i]
        log[j, len(words)] = store[line, waiting]
        store[line, waiting] = ZERO
    state[HEAD] = 0
    state[WAITING] = 0


@compiled
def line_of(words: Any, store: U64, key: U64) -> Any:
    """The line of a key in a store, or of the empty line where it would stand."""
    return find(words, store, key)
