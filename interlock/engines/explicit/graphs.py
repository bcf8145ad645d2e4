"""Kernels that treat some situations of a store as a graph: components, and which of them a run may stay in for ever.

*Members* are marks; situations are numbered in the order of lines and places. Edges are events that are no failure,
from member to member. Source of the components: Tarjan 1972, without recursion.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from interlock.engines.explicit.compiling import compiled, count, lowest, part
from interlock.engines.explicit.parts import (
    CUTS,
    OFF,
    ON,
    ONE,
    PLACES,
    W64,
    ZERO,
    active_in,
    find,
    follow,
    look,
    moved,
    rows_at,
)

if TYPE_CHECKING:
    from interlock.engines.explicit.arrays import I64, U64, Tables

SIX, PLACE = np.uint64(6), np.uint64(63)


@compiled
def number(members: U64, base: I64, where: U64) -> Any:
    """Numbers the members: `base` by line, `where` by number (line * 64 + place)."""
    n = 0
    for line in range(members.shape[0]):
        base[line] = n
        bits = members[line]
        while bits != ZERO:
            where[n] = np.uint64(line) << SIX | lowest(bits)
            bits &= bits - ONE
            n += 1
    return n


@part
def number_at(members: U64, base: I64, line: Any, place: Any) -> Any:
    """The number of a member."""
    return base[line] + np.int64(count(members[line] & ((ONE << place) - ONE)))


@part
def events_of(
    words: Any, t: Tables, store: U64, members: U64, base: I64, key: U64, then: U64, active: U64, at: I64,
    place_of: Any, after_them: I64, by_row: I64,
) -> Any:  # fmt: skip
    """The members that events without failure lead to from one situation, and the row of each; gives how many, and the
    tier that may act."""
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, code_mask = t.rows, t.after, t.masks[0]
    line, place = np.int64(place_of >> SIX), place_of & PLACE
    for i in range(len(words)):
        key[i] = store[line, i]
    look(chunks, key, at)
    code = np.int64(key[0] & code_mask)
    bit = ONE << place
    active_in(allowed, looked, valid, sections, rows, at, bit, active)
    tier = 0 if active[0] != ZERO else (1 if active[1] != ZERO else 2)
    n = 0
    for w in range(sections[2 * tier], sections[2 * tier + 1]):
        some = rows_at(allowed, looked, valid, at, w)
        while some != ZERO:
            r = np.int64(np.uint64(w) * W64 + lowest(some))
            some &= some - ONE
            if rows[r, PLACES] & bit == ZERO or rows[r, CUTS] != ZERO:
                continue
            follow(words, rows, after, code_mask, r, key, code, then)
            to = find(words, store, then)
            there = moved(bit, rows[r, ON], rows[r, OFF])
            if members[to] & there != ZERO:
                after_them[n] = number_at(members, base, to, lowest(there))
                by_row[n] = r
                n += 1
    return n, tier


@compiled
def components(
    words: Any, t: Tables, store: U64, members: U64, base: I64, where: U64, scratch: U64, at: I64, index: Any, low: Any,
    component: Any, path: Any, frames: I64, begins: I64, waiting: Any, after_them: I64, by_row: I64,
) -> Any:  # fmt: skip
    """Numbers the components from 1 on into `component`; gives how many. -1: `waiting` is too small.

    `index`, `low`, `component`: zero, by member. `path`, `frames`, `begins`: room for all members. `waiting`: members
    still to be looked at from the members of the path.
    """
    key, then, active = scratch[0], scratch[1], scratch[2]
    counter = 0
    n_components = 0
    on_path = 0
    n_waiting = 0
    for root in range(where.shape[0]):
        if index[root] != 0:
            continue
        depth = 0
        frames[0] = root
        entering = True
        while depth >= 0:
            node = frames[depth]
            if entering:
                counter += 1
                index[node] = counter
                low[node] = counter
                path[on_path] = node
                on_path += 1
                begins[depth] = n_waiting
                n, _ = events_of(words, t, store, members, base, key, then, active, at, where[node], after_them, by_row)
                if n_waiting + n > waiting.shape[0]:
                    return -1
                for j in range(n):
                    other = after_them[j]
                    if index[other] == 0:
                        waiting[n_waiting] = other
                        n_waiting += 1
                    elif component[other] == 0 and index[other] < low[node]:
                        low[node] = index[other]
                entering = False
            if n_waiting > begins[depth]:
                n_waiting -= 1
                other = waiting[n_waiting]
                if index[other] == 0:
                    depth += 1
                    frames[depth] = other
                    entering = True
                elif component[other] == 0 and index[other] < low[node]:
                    low[node] = index[other]
                continue
            if low[node] == index[node]:
                n_components += 1
                while True:
                    on_path -= 1
                    member = path[on_path]
                    component[member] = n_components
                    if member == node:
                        break
            depth -= 1
            if depth >= 0 and low[node] < low[frames[depth]]:
                low[frames[depth]] = low[node]
    return n_components


@compiled
def stays(
    words: Any, t: Tables, store: U64, members: U64, base: I64, where: U64, scratch: U64, at: I64, component: Any,
    obliged: U64, broken_by: U64, for_ever: U64, broken: U64, loops: Any, settles: Any, after_them: I64, by_row: I64,
) -> None:  # fmt: skip
    """What happens inside components. `obliged`, `broken_by`: by row, which obliged action it is a row of, which ones
    its event breaks off, as bits of some words. Into, by component: `for_ever` the obliged actions enabled in every
    settled member, `broken` those broken off by an event inside, `loops` whether there is an event inside, `settles`
    whether there is a settled member."""
    key, then, active = scratch[0], scratch[1], scratch[2]
    allowed, looked, valid, sections, rows = t.allowed, t.looked, t.valid, t.sections, t.rows
    n_words = obliged.shape[1]
    for node in range(where.shape[0]):
        mine = component[node]
        n, tier = events_of(words, t, store, members, base, key, then, active, at, where[node], after_them, by_row)
        for j in range(n):
            if component[after_them[j]] == mine:
                loops[mine] = True
                for i in range(n_words):
                    broken[mine, i] |= broken_by[by_row[j], i]
        if tier == 2:
            settles[mine] = True
            bit = ONE << (where[node] & PLACE)
            for i in range(n_words):
                enabled = ZERO
                for w in range(sections[4], sections[5]):
                    some = rows_at(allowed, looked, valid, at, w)
                    while some != ZERO:
                        r = np.uint64(w) * W64 + lowest(some)
                        some &= some - ONE
                        if rows[r, PLACES] & bit != ZERO:
                            enabled |= obliged[r, i]
                for_ever[mine, i] &= enabled


@compiled
def mark_components(members: U64, where: U64, component: Any, chosen: Any, marks: U64) -> None:
    """Marks the members of chosen components."""
    for node in range(where.shape[0]):
        if chosen[component[node]]:
            marks[np.int64(where[node] >> SIX)] |= ONE << (where[node] & PLACE)


@compiled
def mark_settled_without(
    words: Any, t: Tables, store: U64, members: U64, some_rows: Any, scratch: U64, at: I64, marks: U64
) -> None:
    """Marks the settled members in which none of some rows of tier 2 holds."""
    allowed, chunks, looked, valid, sections, rows = t.allowed, t.chunks, t.looked, t.valid, t.sections, t.rows
    key, active = scratch[0], scratch[2]
    for line in range(store.shape[0]):
        if members[line] == ZERO:
            continue
        for i in range(len(words)):
            key[i] = store[line, i]
        look(chunks, key, at)
        active_in(allowed, looked, valid, sections, rows, at, members[line], active)
        left = active[2]
        for w in range(sections[4], sections[5]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.uint64(w) * W64 + lowest(some)
                some &= some - ONE
                if some_rows[r]:
                    left &= ~rows[r, PLACES]
        marks[line] |= left


@compiled
def first_and_last(
    words: Any, t: Tables, store: U64, members: U64, base: I64, where: U64, scratch: U64, at: I64, first: I64, last: I64
) -> None:
    """For each unsettled member where its first and its last event (in the order of rows) lead: the number of a member,
    or less than zero for what is no member, -1 - (line * 64 + place)."""
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, code_mask = t.rows, t.after, t.masks[0]
    key, then, active = scratch[0], scratch[1], scratch[2]
    for node in range(where.shape[0]):
        line, place = np.int64(where[node] >> SIX), where[node] & PLACE
        for i in range(len(words)):
            key[i] = store[line, i]
        look(chunks, key, at)
        code = np.int64(key[0] & code_mask)
        bit = ONE << place
        active_in(allowed, looked, valid, sections, rows, at, bit, active)
        tier = 0 if active[0] != ZERO else 1
        n = 0
        for w in range(sections[2 * tier], sections[2 * tier + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.int64(np.uint64(w) * W64 + lowest(some))
                some &= some - ONE
                if rows[r, PLACES] & bit == ZERO:
                    continue
                follow(words, rows, after, code_mask, r, key, code, then)
                to = find(words, store, then)
                there = moved(bit, rows[r, ON], rows[r, OFF])
                if members[to] & there != ZERO:
                    last[node] = number_at(members, base, to, lowest(there))
                else:
                    last[node] = -1 - (to * 64 + np.int64(lowest(there)))
                if n == 0:
                    first[node] = last[node]
                n += 1


@compiled
def resolve(onward: I64, path: I64) -> None:
    """Follows where each member leads, to what is no member; in place. A member that leads round a loop: itself."""
    for node in range(onward.shape[0]):
        n = 0
        now = np.int64(node)
        while onward[now] >= 0 and onward[now] != now:
            path[n] = now
            n += 1
            following = onward[now]
            onward[now] = now
            now = following
        if onward[now] < 0:
            for j in range(n):
                onward[path[j]] = onward[now]


@compiled
def may_differ(
    words: Any, t: Tables, store: U64, members: U64, base: I64, where: U64, scratch: U64, at: I64, first: I64,
    last: I64, owner: I64, ends: I64, found: U64,
) -> None:  # fmt: skip
    """Marks the unsettled members with two events of different owners of which it is not plain that something can
    follow both. `owner`: by row; `ends`: room for three numbers a row."""
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, code_mask = t.rows, t.after, t.masks[0]
    key, then, active = scratch[0], scratch[1], scratch[2]
    for node in range(where.shape[0]):
        line, place = np.int64(where[node] >> SIX), where[node] & PLACE
        for i in range(len(words)):
            key[i] = store[line, i]
        look(chunks, key, at)
        code = np.int64(key[0] & code_mask)
        bit = ONE << place
        active_in(allowed, looked, valid, sections, rows, at, bit, active)
        tier = 0 if active[0] != ZERO else 1
        n = 0
        for w in range(sections[2 * tier], sections[2 * tier + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.int64(np.uint64(w) * W64 + lowest(some))
                some &= some - ONE
                if rows[r, PLACES] & bit == ZERO:
                    continue
                follow(words, rows, after, code_mask, r, key, code, then)
                to = find(words, store, then)
                there = moved(bit, rows[r, ON], rows[r, OFF])
                ends[n, 0] = owner[r]
                if members[to] & there != ZERO:
                    other = number_at(members, base, to, lowest(there))
                    ends[n, 1], ends[n, 2] = first[other], last[other]
                else:
                    ends[n, 1] = -1 - (to * 64 + np.int64(lowest(there)))
                    ends[n, 2] = ends[n, 1]
                n += 1
        differ = False
        for i in range(n):
            for j in range(i):
                if ends[i, 0] != ends[j, 0]:
                    same = False
                    for a in range(1, 3):
                        for b in range(1, 3):
                            if ends[i, a] < 0 and ends[i, a] == ends[j, b]:
                                same = True
                    if not same:
                        differ = True
        if differ:
            found[line] |= bit
