"""Compiled kernels: the same for every system, they only read tables.

A *store* is a hash table (open addressing) of blocks, one a line: the words of the key, then the situations known in the
block, then those that wait to be looked at, as bits. A line without known situations is empty. A *log* has the same
columns, without the last or with it unused. `words` is a tuple as long as a key, so that its length is known when
compiling.

All arithmetic is on unsigned words; mixing them with signed ones would make floats of them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from interlock.engines.explicit.compiling import compiled, count, lowest
from interlock.engines.explicit.tables import CUT_ANY, CUT_SETTLED, I64, PROBES, U64, Tables

DONE, FULL, PAUSED = 0, 1, 2
HEAD, WAITING, BLOCKS = 0, 1, 2
FREE, COSTLY = 1, 2
SETTLED_HERE, PASSING_HERE, FREE_EVENTS, COSTLY_EVENTS, KNOWN_HERE = 0, 1, 2, 3, 4

ZERO, ONE, W64 = np.uint64(0), np.uint64(1), np.uint64(64)
MULTIPLIER, MULTIPLIER2 = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F)
TURN = np.uint64(29)
HIGH = np.array(
    [
        0xAAAAAAAAAAAAAAAA,
        0xCCCCCCCCCCCCCCCC,
        0xF0F0F0F0F0F0F0F0,
        0xFF00FF00FF00FF00,
        0xFFFF0000FFFF0000,
        0xFFFFFFFF00000000,
    ],
    np.uint64,
)


@compiled
def spread(words: Any, key: U64) -> Any:
    """A hash of a key, good in its upper bits."""
    h = key[0] * MULTIPLIER
    for i in range(1, len(words)):
        h = (h ^ (h >> TURN) ^ key[i]) * MULTIPLIER2
    return h


@compiled
def moved(bits: Any, on: Any, off: Any) -> Any:
    """Situations of a block after some bits of their places went on or off."""
    while on != ZERO:
        p = lowest(on)
        on &= on - ONE
        bits = (bits | (bits << (ONE << p))) & HIGH[p]
    while off != ZERO:
        p = lowest(off)
        off &= off - ONE
        bits = (bits | (bits >> (ONE << p))) & ~HIGH[p]
    return bits


@compiled
def came_from(bits: Any, on: Any, off: Any) -> Any:
    """The places from which `moved` leads to one of `bits`."""
    while on != ZERO:
        p = lowest(on)
        on &= on - ONE
        bits &= HIGH[p]
        bits |= bits >> (ONE << p)
    while off != ZERO:
        p = lowest(off)
        off &= off - ONE
        bits &= ~HIGH[p]
        bits |= bits << (ONE << p)
    return bits


@compiled
def look(t: Tables, key: U64, at: I64) -> None:
    """Where in the index the value of each chunk of a key stands."""
    n_words = t.valid.size
    for c in range(t.chunk_word.size):
        value = (key[t.chunk_word[c]] >> t.chunk_shift[c]) & t.chunk_mask[c]
        at[c] = t.base[c] + np.int64(value) * n_words


@compiled
def rows_at(t: Tables, at: I64, w: Any) -> Any:
    """The rows of a word that a key allows."""
    found = t.valid[w]
    for i in range(t.looked_from[w], t.looked_from[w + 1]):
        found &= t.index[at[t.looked_at[i]] + w]
    return found


@compiled
def covered(t: Tables, at: I64, section: int) -> Any:
    """The places at which some row of a section holds."""
    found = ZERO
    for w in range(t.sections[section], t.sections[section + 1]):
        rows = rows_at(t, at, w)
        while rows != ZERO:
            found |= t.places[np.uint64(w) * W64 + lowest(rows)]
            rows &= rows - ONE
    return found


@compiled
def find(words: Any, store: U64, key: U64) -> Any:
    """The line of a key in a store, or of the empty line where it would stand."""
    n = store.shape[0]
    shift = np.uint64(64) - lowest(np.uint64(n))
    line = spread(words, key) >> shift
    last = np.uint64(n - 1)
    known = len(words)
    while store[line, known] != ZERO:
        same = True
        for i in range(len(words)):
            if store[line, i] != key[i]:
                same = False
        if same:
            break
        line = (line + ONE) & last
    return np.int64(line)


@compiled
def put(words: Any, store: U64, queue: Any, state: I64, key: U64, bits: Any, enqueue: bool) -> Any:
    """Makes situations known and waiting; gives those that are new."""
    known, waiting = len(words), len(words) + 1
    line = find(words, store, key)
    before = store[line, known]
    new = bits & ~before
    if new != ZERO:
        if before == ZERO:
            for i in range(len(words)):
                store[line, i] = key[i]
            state[BLOCKS] += 1
        store[line, known] = before | new
        if enqueue and store[line, waiting] == ZERO:
            queue[(state[HEAD] + state[WAITING]) & (store.shape[0] - 1)] = line
            state[WAITING] += 1
        store[line, waiting] |= new
    return new


@compiled
def expand(
    words: Any,
    t: Tables,
    store: U64,
    queue: Any,
    state: I64,
    by_spent: I64,
    key: U64,
    after: U64,
    at: I64,
    bits: Any,
    which: int,
    at_once: bool,
) -> None:
    """Puts what follows some situations of a block into a store. `which`: events that are no failure, that are, both.

    What has spent as much as `key` is enqueued; what has spent more only waits, unless `at_once`.
    """
    look(t, key, at)
    code = np.int64(key[0] & t.code_mask)
    spent = t.spent[code]
    left = bits
    if t.sections[CUT_ANY] != t.sections[CUT_ANY + 1]:
        left &= ~covered(t, at, CUT_ANY)
    for tier in range(3):
        if tier == 2 and t.sections[CUT_SETTLED] != t.sections[CUT_SETTLED + 1]:
            left &= ~covered(t, at, CUT_SETTLED)
        if left == ZERO:
            break
        acting = ZERO
        for costly in range(2):
            if costly == 1 and tier == 2:
                acting = left
            if acting == ZERO and costly == 1:
                break
            wanted = (which & (FREE if costly == 0 else COSTLY)) != 0
            if costly == 1 and not wanted:
                break
            of = left if costly == 0 else acting
            for w in range(t.sections[2 * tier + costly], t.sections[2 * tier + costly + 1]):
                rows = rows_at(t, at, w)
                while rows != ZERO:
                    r = np.int64(np.uint64(w) * W64 + lowest(rows))
                    rows &= rows - ONE
                    some = of & t.places[r]
                    if some == ZERO:
                        continue
                    if costly == 0:
                        acting |= some
                    if not wanted or t.cuts[r]:
                        continue
                    for i in range(len(words)):
                        after[i] = (key[i] & t.keep[r, i]) | t.put[r, i]
                    now = spent
                    if t.change[r] != 0:
                        following = t.after[t.change[r], code]
                        now = t.spent[following]
                        after[0] = (after[0] & ~t.code_mask) | np.uint64(following)
                    new = put(
                        words, store, queue, state, after, moved(some, t.on[r], t.off[r]), at_once or now == spent
                    )
                    by_spent[now] += np.int64(count(new))
        left &= ~acting


@compiled
def explore(
    words: Any,
    t: Tables,
    store: U64,
    queue: Any,
    state: I64,
    by_spent: I64,
    scratch: U64,
    at: I64,
    most: int,
    turns: int,
) -> int:
    """Looks at waiting blocks, in any order, until none waits, the store is full, or after some turns. `most`: blocks
    that the store may hold; one turn may add as many as there are rows."""
    known, waiting = len(words), len(words) + 1
    key, after = scratch[0], scratch[1]
    last = store.shape[0] - 1
    while state[WAITING] > 0:
        if state[BLOCKS] > most:
            return FULL
        if turns == 0:
            return PAUSED
        turns -= 1
        line = queue[state[HEAD]]
        state[HEAD] = (state[HEAD] + 1) & last
        state[WAITING] -= 1
        bits = store[line, waiting]
        store[line, waiting] = ZERO
        for i in range(len(words)):
            key[i] = store[line, i]
        expand(words, t, store, queue, state, by_spent, key, after, at, bits, FREE | COSTLY, False)
    return DONE


@compiled
def step(
    words: Any,
    t: Tables,
    log: U64,
    begin: int,
    store: U64,
    queue: Any,
    state: I64,
    by_spent: I64,
    scratch: U64,
    at: I64,
    most: int,
    which: int,
    inner: int,
) -> int:
    """Puts what follows the situations of a log into a store. Gives the first line not done, for the store is full.

    What has spent more than `inner` is not gone on from.
    """
    known = len(words)
    key, after = scratch[0], scratch[1]
    for line in range(begin, log.shape[0]):
        if state[BLOCKS] > most:
            return line
        for i in range(len(words)):
            key[i] = log[line, i]
        if t.spent[np.int64(key[0] & t.code_mask)] <= inner:
            expand(words, t, store, queue, state, by_spent, key, after, at, log[line, known], which, True)
    return log.shape[0]


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
) -> int:
    """Puts the situations of a log into a store, waiting. Gives the first line not done, for the store is full."""
    known = len(words)
    key = scratch[0]
    for line in range(begin, log.shape[0]):
        if state[BLOCKS] > most:
            return line
        for i in range(len(words)):
            key[i] = log[line, i]
        new = put(words, store, queue, state, key, log[line, known], True)
        by_spent[t.spent[np.int64(key[0] & t.code_mask)]] += np.int64(count(new))
    return log.shape[0]


@compiled
def rehash(words: Any, old: U64, new: U64) -> None:
    """Moves all blocks into a larger store."""
    known = len(words)
    for line in range(old.shape[0]):
        if old[line, known] != ZERO:
            to = find(words, new, old[line])
            for i in range(old.shape[1]):
                new[to, i] = old[line, i]


@compiled
def enqueue_waiting(words: Any, t: Tables, store: U64, queue: Any, state: I64, least: int, most: int) -> None:
    """Makes the queue anew: the blocks with waiting situations that have spent from `least` to `most`."""
    waiting = len(words) + 1
    state[HEAD] = 0
    state[WAITING] = 0
    for line in range(store.shape[0]):
        if store[line, waiting] != ZERO:
            spent = t.spent[np.int64(store[line, 0] & t.code_mask)]
            if least <= spent <= most:
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
def acting(t: Tables, at: I64, bits: Any, active: U64) -> Any:
    """Splits situations of a block by the tier that may act, into `active`; situations at which runs are cut are in
    none. Gives all that are in some."""
    left = bits
    if t.sections[CUT_ANY] != t.sections[CUT_ANY + 1]:
        left &= ~covered(t, at, CUT_ANY)
    for tier in range(2):
        active[tier] = left & covered(t, at, 2 * tier)
        left &= ~active[tier]
    if t.sections[CUT_SETTLED] != t.sections[CUT_SETTLED + 1]:
        left &= ~covered(t, at, CUT_SETTLED)
    active[2] = left
    return active[0] | active[1] | active[2]


@compiled
def twins(words: Any, t: Tables, store: U64, key: U64, other: U64, same_code: bool) -> Any:
    """Situations of a block that are known with other flags (lower ones) or, not `same_code`, also with fewer failures
    and the same ones present: those that were counted there."""
    known = len(words)
    found = ZERO
    for i in range(len(words)):
        other[i] = key[i]
    code = np.int64(key[0] & t.code_mask)
    flags = (key[0] & t.flag_mask) >> t.flag_shift
    top = t.flag_mask >> t.flag_shift
    for n in range(1 + (0 if same_code else t.lower_from[code + 1] - t.lower_from[code])):
        mine = n == 0
        number = code if mine else t.lower[t.lower_from[code] + n - 1]
        flag = ZERO
        while flag <= top:
            if mine and flag == flags:
                break
            other[0] = (key[0] & ~(t.code_mask | t.flag_mask)) | np.uint64(number) | (flag << t.flag_shift)
            found |= store[find(words, store, other), known]
            flag += ONE
    return found


@compiled
def sweep(
    words: Any,
    t: Tables,
    entries: U64,
    store: U64,
    spent: int,
    scratch: U64,
    at: I64,
    counts: I64,
    hits: I64,
    happened: Any,
    distinct: bool,
) -> None:
    """Looks at all blocks that have spent so much: counts situations and events, which probes are true somewhere, which
    rows happened.

    `distinct`: what is known in `store` with other flags or fewer failures is not counted again.
    """
    known = len(words)
    key, other, active = scratch[0], scratch[1], scratch[2]
    for line in range(entries.shape[0]):
        bits = entries[line, known]
        if bits == ZERO:
            continue
        for i in range(len(words)):
            key[i] = entries[line, i]
        code = np.int64(key[0] & t.code_mask)
        if t.spent[code] != spent:
            continue
        look(t, key, at)
        bits = acting(t, at, bits, active)
        counts[KNOWN_HERE] += np.int64(count(bits))
        fresh, fresh_events = bits, bits
        if distinct:
            # What is known with other flags is known there with the same tier: only cuts by flags differ.
            fresh_events &= ~twins(words, t, store, key, other, True)
            fresh &= ~twins(words, t, store, key, other, False)
        counts[SETTLED_HERE] += np.int64(count(fresh & active[2]))
        counts[PASSING_HERE] += np.int64(count(fresh & ~active[2]))
        for section in range(6):
            some = active[section >> 1] & fresh_events
            if some != ZERO:
                for w in range(t.sections[section], t.sections[section + 1]):
                    rows = rows_at(t, at, w)
                    while rows != ZERO:
                        r = np.int64(np.uint64(w) * W64 + lowest(rows))
                        rows &= rows - ONE
                        n = np.int64(count(some & t.places[r]))
                        if n:
                            counts[FREE_EVENTS + (section & 1)] += n
                            happened[r] = True
        for w in range(t.sections[PROBES], t.sections[PROBES + 1]):
            rows = rows_at(t, at, w)
            while rows != ZERO:
                r = np.int64(np.uint64(w) * W64 + lowest(rows))
                rows &= rows - ONE
                if seen_by(t, r, active) != ZERO:
                    hits[t.number[r]] = 1


@compiled
def seen_by(t: Tables, r: int, active: U64) -> Any:
    """The situations in which the row of a probe is true."""
    looked_at = ZERO
    for tier in range(3):
        if t.tiers[r] >> tier & 1:
            looked_at |= active[tier]
    return looked_at & t.places[r]


@compiled
def picked(words: Any, t: Tables, log: U64, number: int, scratch: U64, at: I64, found: U64) -> int:
    """The lines of a log with the situations in which a probe is true, into `found`; gives how many lines."""
    known = len(words)
    key, active = scratch[0], scratch[2]
    n = 0
    for line in range(log.shape[0]):
        if log[line, known] == ZERO:
            continue
        for i in range(len(words)):
            key[i] = log[line, i]
        look(t, key, at)
        acting(t, at, log[line, known], active)
        bits = ZERO
        for w in range(t.sections[PROBES], t.sections[PROBES + 1]):
            rows = rows_at(t, at, w)
            while rows != ZERO:
                r = np.int64(np.uint64(w) * W64 + lowest(rows))
                rows &= rows - ONE
                if t.number[r] == number:
                    bits |= seen_by(t, r, active)
        if bits != ZERO:
            for i in range(len(words)):
                found[n, i] = key[i]
            found[n, known] = bits
            n += 1
    return n


@compiled
def leading(words: Any, t: Tables, log: U64, goal: U64, scratch: U64, at: I64, which: int, found: U64) -> int:
    """The lines of a log with the situations from which an event leads into a store `goal`, into `found`; gives how
    many lines."""
    known = len(words)
    key, after, active = scratch[0], scratch[1], scratch[2]
    n = 0
    for line in range(log.shape[0]):
        if log[line, known] == ZERO:
            continue
        for i in range(len(words)):
            key[i] = log[line, i]
        look(t, key, at)
        code = np.int64(key[0] & t.code_mask)
        acting(t, at, log[line, known], active)
        bits = ZERO
        for section in range(6):
            of = active[section >> 1] & ~bits
            if of == ZERO or not which & (FREE if section & 1 == 0 else COSTLY):
                continue
            for w in range(t.sections[section], t.sections[section + 1]):
                rows = rows_at(t, at, w)
                while rows != ZERO:
                    r = np.int64(np.uint64(w) * W64 + lowest(rows))
                    rows &= rows - ONE
                    some = of & t.places[r] & ~bits
                    if some == ZERO or t.cuts[r]:
                        continue
                    for i in range(len(words)):
                        after[i] = (key[i] & t.keep[r, i]) | t.put[r, i]
                    if t.change[r] != 0:
                        after[0] = (after[0] & ~t.code_mask) | np.uint64(t.after[t.change[r], code])
                    there = goal[find(words, goal, after), known]
                    if there != ZERO:
                        bits |= some & came_from(there, t.on[r], t.off[r])
        if bits != ZERO:
            for i in range(len(words)):
                found[n, i] = key[i]
            found[n, known] = bits
            n += 1
    return n
