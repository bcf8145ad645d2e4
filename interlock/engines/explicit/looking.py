"""Kernels that look at situations in logs and stores: count, judge, mark. Nothing is added to a store here.

See `parts.py` for stores, logs and what the tables are read like. *Marks* are one word for each line of a store.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from interlock.engines.explicit.compiling import compiled, count, lowest
from interlock.engines.explicit.parts import (
    CUTS,
    FREE_EVENTS,
    KNOWN_HERE,
    NUMBER,
    OFF,
    ON,
    ONE,
    PASSING_HERE,
    PLACES,
    PROBES,
    SETTLED_HERE,
    W64,
    ZERO,
    active_in,
    came_from,
    find,
    follow,
    look,
    rows_at,
    seen_by,
    twins,
)

if TYPE_CHECKING:
    from interlock.engines.explicit.arrays import I64, U64, Tables


@compiled
def sweep(
    words: Any,
    t: Tables,
    entries: U64,
    store: U64,
    layer: int,
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
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, spent, masks, lower_from, lower = t.rows, t.spent, t.masks, t.lower_from, t.lower
    known = len(words)
    key, other, active = scratch[0], scratch[1], scratch[2]
    yes, no = distinct, not distinct
    for line in range(entries.shape[0]):
        bits = entries[line, known]
        if bits == ZERO:
            continue
        if spent[np.int64(entries[line, 0] & masks[0])] != layer:
            continue
        for i in range(len(words)):
            key[i] = entries[line, i]
        look(chunks, key, at)
        bits = active_in(allowed, looked, valid, sections, rows, at, bits, active)
        counts[KNOWN_HERE] += np.int64(count(bits))
        fresh, fresh_events = bits, bits
        if distinct:
            fresh_events &= ~twins(words, masks, lower_from, lower, store, key, other, yes)
            fresh &= ~twins(words, masks, lower_from, lower, store, key, other, no)
        counts[SETTLED_HERE] += np.int64(count(fresh & active[2]))
        counts[PASSING_HERE] += np.int64(count(fresh & ~active[2]))
        for section in range(6):
            of = active[section >> 1] & fresh_events
            if of != ZERO:
                for w in range(sections[section], sections[section + 1]):
                    some = rows_at(allowed, looked, valid, at, w)
                    while some != ZERO:
                        r = np.uint64(w) * W64 + lowest(some)
                        some &= some - ONE
                        n = np.int64(count(of & rows[r, PLACES]))
                        if n:
                            counts[FREE_EVENTS + (section & 1)] += n
                            happened[r] = True
        for w in range(sections[PROBES], sections[PROBES + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.uint64(w) * W64 + lowest(some)
                some &= some - ONE
                if seen_by(rows, r, active) != ZERO:
                    hits[rows[r, NUMBER]] = 1


@compiled
def picked(words: Any, t: Tables, log: U64, number: int, scratch: U64, at: I64, found: U64) -> Any:
    """The lines of a log with the situations in which a probe is true, into `found`; gives how many lines."""
    allowed, chunks, looked, valid, sections, rows = t.allowed, t.chunks, t.looked, t.valid, t.sections, t.rows
    known = len(words)
    key, active = scratch[0], scratch[2]
    n = 0
    for line in range(log.shape[0]):
        if log[line, known] == ZERO:
            continue
        for i in range(len(words)):
            key[i] = log[line, i]
        look(chunks, key, at)
        bits = ZERO
        split = False
        for w in range(sections[PROBES], sections[PROBES + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.uint64(w) * W64 + lowest(some)
                some &= some - ONE
                if rows[r, NUMBER] == np.uint64(number):
                    if not split:
                        active_in(allowed, looked, valid, sections, rows, at, log[line, known], active)
                        split = True
                    bits |= seen_by(rows, r, active)
        if bits != ZERO:
            for i in range(len(words)):
                found[n, i] = key[i]
            found[n, known] = bits
            n += 1
    return n


@compiled
def leading(words: Any, t: Tables, log: U64, goal: U64, scratch: U64, at: I64, which: int, found: U64) -> Any:
    """The lines of a log with the situations from which an event leads into a store `goal`, into `found`; gives how
    many lines."""
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, code_mask = t.rows, t.after, t.masks[0]
    known = len(words)
    key, then, active = scratch[0], scratch[1], scratch[2]
    n = 0
    for line in range(log.shape[0]):
        if log[line, known] == ZERO:
            continue
        for i in range(len(words)):
            key[i] = log[line, i]
        look(chunks, key, at)
        code = np.int64(key[0] & code_mask)
        active_in(allowed, looked, valid, sections, rows, at, log[line, known], active)
        bits = ZERO
        for section in range(6):
            of = active[section >> 1] & ~bits
            if of == ZERO or (which >> (section & 1)) & 1 == 0:
                continue
            for w in range(sections[section], sections[section + 1]):
                some = rows_at(allowed, looked, valid, at, w)
                while some != ZERO:
                    r = np.uint64(w) * W64 + lowest(some)
                    some &= some - ONE
                    here = of & rows[r, PLACES] & ~bits
                    if here == ZERO or rows[r, CUTS] != ZERO:
                        continue
                    follow(words, rows, after, code_mask, r, key, code, then)
                    there = goal[find(words, goal, then), known]
                    if there != ZERO:
                        bits |= here & came_from(there, rows[r, ON], rows[r, OFF])
        if bits != ZERO:
            for i in range(len(words)):
                found[n, i] = key[i]
            found[n, known] = bits
            n += 1
    return n


@compiled
def mark(words: Any, t: Tables, store: U64, number: int, scratch: U64, at: I64, marks: U64) -> Any:
    """Marks, line by line of a store, the situations in which a probe is true."""
    allowed, chunks, looked, valid, sections, rows = t.allowed, t.chunks, t.looked, t.valid, t.sections, t.rows
    known = len(words)
    key, active = scratch[0], scratch[2]
    for line in range(store.shape[0]):
        if store[line, known] == ZERO:
            continue
        for i in range(known):
            key[i] = store[line, i]
        look(chunks, key, at)
        active_in(allowed, looked, valid, sections, rows, at, store[line, known], active)
        for w in range(sections[PROBES], sections[PROBES + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.uint64(w) * W64 + lowest(some)
                some &= some - ONE
                if rows[r, NUMBER] == np.uint64(number):
                    marks[line] |= seen_by(rows, r, active)


@compiled
def mark_leading(
    words: Any, t: Tables, store: U64, taken: Any, scratch: U64, at: I64, marks: U64, lines: I64, n_lines: int
) -> Any:
    """Marks the situations of some lines of a store from which an event leads to a marked one, in place, once over the
    lines. `taken`: by row, whether its events count. Gives how many lines have situations left that are not marked;
    these lines are at the front of `lines` then. Negative, less one: nothing was marked."""
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, code_mask = t.rows, t.after, t.masks[0]
    known = len(words)
    key, then, active = scratch[0], scratch[1], scratch[2]
    left_lines = 0
    changed = False
    for j in range(n_lines):
        line = lines[j]
        missing = store[line, known] & ~marks[line]
        if missing == ZERO:
            continue
        for i in range(known):
            key[i] = store[line, i]
        look(chunks, key, at)
        code = np.int64(key[0] & code_mask)
        active_in(allowed, looked, valid, sections, rows, at, missing, active)
        found = ZERO
        for tier in range(3):
            of = active[tier]
            if of == ZERO:
                continue
            for w in range(sections[2 * tier], sections[2 * tier + 1]):
                some = rows_at(allowed, looked, valid, at, w)
                while some != ZERO:
                    r = np.int64(np.uint64(w) * W64 + lowest(some))
                    some &= some - ONE
                    here = of & rows[r, PLACES] & ~found
                    if here == ZERO or not taken[r]:
                        continue
                    follow(words, rows, after, code_mask, r, key, code, then)
                    to = find(words, store, then)
                    if marks[to] != ZERO:
                        found |= here & came_from(marks[to], rows[r, ON], rows[r, OFF])
        if found != ZERO:
            marks[line] |= found
            changed = True
        if missing & ~found != ZERO:
            lines[left_lines] = line
            left_lines += 1
    return left_lines if changed else -1 - left_lines


@compiled
def meeting(words: Any, log: U64, store: U64, marks: U64, scratch: U64, found: U64) -> Any:
    """The lines of a log with the situations that are marked in a store, into `found`; gives how many lines."""
    known = len(words)
    key = scratch[0]
    n = 0
    for line in range(log.shape[0]):
        for i in range(known):
            key[i] = log[line, i]
        bits = log[line, known] & marks[find(words, store, key)]
        if bits != ZERO:
            for i in range(known):
                found[n, i] = key[i]
            found[n, known] = bits
            n += 1
    return n


@compiled
def subtract(words: Any, log: U64, store: U64, scratch: U64) -> None:
    """Takes out of a log, in place, what a store knows."""
    known = len(words)
    key = scratch[0]
    for line in range(log.shape[0]):
        for i in range(known):
            key[i] = log[line, i]
        log[line, known] &= ~store[find(words, store, key), known]
