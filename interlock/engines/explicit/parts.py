"""Parts of kernels, and the numbers they share. They are put into each kernel that uses them.

A *store* is a hash table (open addressing) of blocks, one a line: the words of the key, then the situations known in
the block, then those that wait to be looked at, as bits. A line without known situations is empty. A *log* has the same
columns, the last unused. `words` is a tuple as long as a key, so that its length is known when compiling.

All arithmetic is on unsigned words; mixing them with signed ones would make floats of them. Kernels take their tables
apart at once and hand on arrays: reading an array out of a tuple again and again costs more than the look-ups.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from interlock.engines.explicit.compiling import count, fetch, lowest, part

if TYPE_CHECKING:
    from interlock.engines.explicit.arrays import I64, U64

PLACES, ON, OFF, CHANGE, CUTS, TIERS, NUMBER, STARTS, KEEP = range(9)
"""Columns of `Tables.rows`; `STARTS`: whether runs of consequences and logic are gone on with at once after the event;
from `KEEP` on two for each word of the key: what to keep, what to put."""

CUT_ANY, CUT_SETTLED, PROBES = 6, 7, 8
"""Sections of rows after those of actions (2 * tier + cost): situations at which runs are cut, probes."""

ORDINARY, INNER_END = 4, 10
"""The section of events of tier 2 that are no failure; it begins with the rows whose events stay in the block. Where in
`Tables.sections` the word after these stands."""

DONE, FULL, PAUSED = 0, 1, 2
HEAD, WAITING, BLOCKS = 0, 1, 2
FREE, COSTLY, BOTH = 1, 2, 3

RUN_ON = np.uint64(1 << 63)
"""Set beside the line in the store, in a line of a batch: what `STARTS` of its row says."""

BATCH = 128
"""Lines of a batch from which it is put into the store; it must have room for what one more block adds."""

AHEAD = 4
"""How many blocks ahead in the queue the memory is asked for."""

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


@part
def spread(words: Any, key: U64) -> Any:
    """A hash of a key, good in its upper bits. Keys that differ in the same way have places that do: the memory is read
    in stretches."""
    h = key[0] * MULTIPLIER
    for i in range(1, len(words)):
        h = (h ^ (h >> TURN) ^ key[i]) * MULTIPLIER2
    return h


@part
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


@part
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


@part
def look(chunks: I64, key: U64, at: I64) -> None:
    """Where in `allowed` the value of each chunk of a key stands."""
    for c in range(chunks.shape[0]):
        value = np.int64(key[chunks[c, 0]] >> np.uint64(chunks[c, 1])) & chunks[c, 2]
        at[c] = chunks[c, 3] + value * chunks[c, 4]


@part
def rows_at(allowed: U64, looked: I64, valid: U64, at: I64, w: Any) -> Any:
    """The rows of a word that a key allows."""
    found = valid[w]
    for i in range(1, looked[w, 0] + 1):
        found &= allowed[at[looked[w, i]] + w]
    return found


@part
def covered(allowed: U64, looked: I64, valid: U64, sections: I64, rows: U64, at: I64, section: Any) -> Any:
    """The places at which some row of a section holds."""
    found = ZERO
    for w in range(sections[section], sections[section + 1]):
        some = rows_at(allowed, looked, valid, at, w)
        while some != ZERO:
            found |= rows[np.uint64(w) * W64 + lowest(some), PLACES]
            some &= some - ONE
    return found


@part
def follow(words: Any, rows: U64, after: I64, code_mask: Any, r: Any, key: U64, code: Any, then: U64) -> Any:
    """The key after the event of a row, into `then`; gives the code after it."""
    for i in range(len(words)):
        then[i] = (key[i] & rows[r, KEEP + 2 * i]) | rows[r, KEEP + 2 * i + 1]
    change = rows[r, CHANGE]
    if change == ZERO:
        return code
    following = after[change, code]
    then[0] = (then[0] & ~code_mask) | np.uint64(following)
    return following


@part
def first_line(words: Any, store: U64, key: U64) -> Any:
    """The line of a store at which looking for a key begins."""
    return np.int64(spread(words, key) >> (W64 - lowest(np.uint64(store.shape[0]))))


@part
def find_from(words: Any, store: U64, key: U64, line: Any) -> Any:
    """The line of a key in a store, or of the empty line where it would stand, looked for from a line on."""
    known = len(words)
    last = store.shape[0] - 1
    while store[line, known] != ZERO:
        same = True
        for i in range(len(words)):
            if store[line, i] != key[i]:
                same = False
        if same:
            break
        line = (line + 1) & last
    return line


@part
def find(words: Any, store: U64, key: U64) -> Any:
    """The line of a key in a store, or of the empty line where it would stand."""
    return find_from(words, store, key, first_line(words, store, key))


@part
def put(words: Any, store: U64, queue: Any, state: I64, key: U64, bits: Any, line: Any, enqueue: Any) -> Any:
    """Makes situations known and waiting; gives those that are new. `line`: where to look for the key from."""
    known, waiting = len(words), len(words) + 1
    line = find_from(words, store, key, line)
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


@part
def known_only(words: Any, store: U64, state: I64, key: U64, bits: Any, line: Any) -> Any:
    """Makes situations known, not waiting; gives those that are new."""
    line = find_from(words, store, key, line)
    before = store[line, len(words)]
    if before == ZERO:
        for i in range(len(words)):
            store[line, i] = key[i]
        state[BLOCKS] += 1
    store[line, len(words)] = before | bits
    return bits & ~before


@part
def wait(words: Any, store: U64, queue: Any, state: I64, line: Any, bits: Any) -> None:
    """Puts situations of a block that are known into the queue."""
    waiting = len(words) + 1
    if store[line, waiting] == ZERO:
        queue[(state[HEAD] + state[WAITING]) & (store.shape[0] - 1)] = line
        state[WAITING] += 1
    store[line, waiting] |= bits


@part
def flush(
    words: Any, spent: I64, code_mask: Any, store: U64, queue: Any, state: I64, by_spent: I64, batch: U64, n: Any,
    layer: Any,
) -> None:  # fmt: skip
    """Puts the lines of a batch into a store. `layer`: only what has spent so much is enqueued, -1: everything."""
    for j in range(n):
        following = spent[np.int64(batch[j, 0] & code_mask)]
        enqueue = layer < 0 or following == layer
        bits, line = batch[j, len(words)], np.int64(batch[j, len(words) + 1] & ~RUN_ON)
        new = put(words, store, queue, state, batch[j], bits, line, enqueue)
        by_spent[following] += np.int64(count(new))


@part
def run_on(
    words: Any, allowed: U64, chunks: I64, looked: I64, valid: U64, sections: I64, rows: U64, after: I64,
    code_mask: Any, store: U64, batch: U64, n: Any, key: U64, at: I64, bits: Any,
) -> Any:  # fmt: skip
    """Adds to a batch of `n` lines what follows those situations of a block that are passing and have one outcome;
    gives how many lines there are then, and the other situations, which have to be looked at in their turn.

    A situation with two outcomes, a failure among them too, is none of these; nor is one at which runs are cut.
    """
    look(chunks, key, at)
    code = np.int64(key[0] & code_mask)
    left, done = bits, ZERO
    if sections[CUT_ANY] != sections[CUT_ANY + 1]:
        left &= ~covered(allowed, looked, valid, sections, rows, at, CUT_ANY)
    for tier in range(2):
        if left == ZERO:
            break
        once, twice = ZERO, ZERO
        for w in range(sections[2 * tier], sections[2 * tier + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                here = left & rows[np.uint64(w) * W64 + lowest(some), PLACES]
                some &= some - ONE
                twice |= once & here
                once |= here
        if once == ZERO:
            continue
        twice |= once & covered(allowed, looked, valid, sections, rows, at, 2 * tier + 1)
        alone = once & ~twice
        done |= alone
        left &= ~once
        if alone == ZERO:
            continue
        for w in range(sections[2 * tier], sections[2 * tier + 1]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.uint64(w) * W64 + lowest(some)
                some &= some - ONE
                here = alone & rows[r, PLACES]
                if here == ZERO or rows[r, CUTS] != ZERO:
                    continue
                then = batch[n]
                follow(words, rows, after, code_mask, r, key, code, then)
                if rows[r, ON] | rows[r, OFF] != ZERO:
                    here = moved(here, rows[r, ON], rows[r, OFF])
                to = first_line(words, store, then)
                fetch(store, to)
                then[len(words)] = here
                then[len(words) + 1] = np.uint64(to) | (rows[r, STARTS] * RUN_ON)
                n += 1
    return n, bits & ~done


@part
def flush_on(
    words: Any, allowed: U64, chunks: I64, looked: I64, valid: U64, sections: I64, rows: U64, after: I64,
    code_mask: Any, spent: I64, store: U64, queue: Any, state: I64, by_spent: I64, batch: U64, n: Any, key: U64,
    at: I64, layer: Any,
) -> None:  # fmt: skip
    """Puts the lines of a batch into a store, in any order; what is enqueued is as in `flush`. Runs of consequences and
    logic with one outcome are gone on with at once: what they pass is made known, but does not wait in the queue."""
    known, waiting = len(words), len(words) + 1
    j = 0
    while j < n:
        following = spent[np.int64(batch[j, 0] & code_mask)]
        bits, line = batch[j, known], np.int64(batch[j, waiting] & ~RUN_ON)
        if batch[j, waiting] < RUN_ON or following != layer or n + rows.shape[0] > batch.shape[0]:
            new = put(words, store, queue, state, batch[j], bits, line, following == layer)
        else:
            new = known_only(words, store, state, batch[j], bits, line)
            if new != ZERO:
                for i in range(known):
                    key[i] = batch[j, i]
                n, rest = run_on(
                    words, allowed, chunks, looked, valid, sections, rows, after, code_mask, store, batch, n, key, at,
                    new,
                )  # fmt: skip
                if rest != ZERO:
                    wait(words, store, queue, state, find_from(words, store, key, line), rest)
        by_spent[following] += np.int64(count(new))
        j += 1


@part
def inside(
    allowed: U64, looked: I64, valid: U64, sections: I64, rows: U64, at: I64, settled: Any, known: Any
) -> Any:  # fmt: skip
    """The settled situations, not known yet, that events within a block lead to from settled ones, over and over."""
    found, fresh, elsewhere = ZERO, settled, known
    looked_at = False
    while fresh != ZERO:
        then = ZERO
        for w in range(sections[ORDINARY], sections[INNER_END]):
            some = rows_at(allowed, looked, valid, at, w)
            while some != ZERO:
                r = np.uint64(w) * W64 + lowest(some)
                some &= some - ONE
                here = fresh & rows[r, PLACES]
                if here != ZERO:
                    then |= moved(here, rows[r, ON], rows[r, OFF])
        fresh = then & ~elsewhere & ~found
        if fresh != ZERO and not looked_at:
            looked_at = True
            for section in (0, 2, CUT_ANY, CUT_SETTLED):
                elsewhere |= covered(allowed, looked, valid, sections, rows, at, section)
            fresh &= ~elsewhere
        found |= fresh
    return found


@part
def expand(
    words: Any, allowed: U64, chunks: I64, looked: I64, valid: U64, sections: I64, rows: U64, after: I64,
    code_mask: Any, store: U64, batch: U64, n: Any, key: U64, at: I64, bits: Any, which: Any, line: Any, grown: I64,
) -> Any:  # fmt: skip
    """Adds to a batch of `n` lines what follows some situations of a block; gives how many there are then. `which`:
    events that are no failure, that are, both.

    `line`: of the block in the store, -1 where order matters. Where it does not, all that events within the block lead
    to is made known at once and gone on from together; by how many situations that is more is added to `grown`.

    A line of a batch is a key, situations, and where to look for the key in the store: the memory is asked for that
    line, and by the time the batch is put into the store it is there.
    """
    look(chunks, key, at)
    code = np.int64(key[0] & code_mask)
    left = bits
    inner_end = sections[INNER_END] if line >= 0 else sections[ORDINARY]
    if sections[CUT_ANY] != sections[CUT_ANY + 1]:
        left &= ~covered(allowed, looked, valid, sections, rows, at, CUT_ANY)
    for tier in range(3):
        if tier == 2 and sections[CUT_SETTLED] != sections[CUT_SETTLED + 1]:
            left &= ~covered(allowed, looked, valid, sections, rows, at, CUT_SETTLED)
        if left == ZERO:
            break
        if tier == 2 and inner_end > sections[ORDINARY]:
            more = left | inside(allowed, looked, valid, sections, rows, at, left, store[line, len(words)])
            grown[0] += np.int64(count(more & ~left))
            store[line, len(words)] |= more
            left = more
        acting = ZERO
        for costly in range(2):
            of = left
            if costly == 1:
                of = left if tier == 2 else acting
            wanted = (which >> costly) & 1
            if costly == 1 and (of == ZERO or wanted == 0):
                break
            section = 2 * tier + costly
            for w in range(sections[section], sections[section + 1]):
                some = rows_at(allowed, looked, valid, at, w)
                while some != ZERO:
                    r = np.uint64(w) * W64 + lowest(some)
                    some &= some - ONE
                    here = of & rows[r, PLACES]
                    if here == ZERO:
                        continue
                    if costly == 0:
                        acting |= here
                    if wanted == 0 or rows[r, CUTS] != ZERO:
                        continue
                    then = batch[n]
                    follow(words, rows, after, code_mask, r, key, code, then)
                    if rows[r, ON] | rows[r, OFF] != ZERO:
                        here = moved(here, rows[r, ON], rows[r, OFF])
                    if w < inner_end and section == ORDINARY:
                        here &= ~store[line, len(words)]
                        if here == ZERO:
                            continue
                    to = first_line(words, store, then)
                    fetch(store, to)
                    then[len(words)] = here
                    then[len(words) + 1] = np.uint64(to) | (rows[r, STARTS] * RUN_ON)
                    n += 1
        left &= ~acting
    return n


@part
def active_in(allowed: U64, looked: I64, valid: U64, sections: I64, rows: U64, at: I64, bits: Any, active: U64) -> Any:
    """Splits situations of a block by the tier that may act, into `active`; situations at which runs are cut are in
    none. Gives all that are in some."""
    left = bits
    if sections[CUT_ANY] != sections[CUT_ANY + 1]:
        left &= ~covered(allowed, looked, valid, sections, rows, at, CUT_ANY)
    for tier in range(2):
        active[tier] = left & covered(allowed, looked, valid, sections, rows, at, 2 * tier)
        left &= ~active[tier]
    if sections[CUT_SETTLED] != sections[CUT_SETTLED + 1]:
        left &= ~covered(allowed, looked, valid, sections, rows, at, CUT_SETTLED)
    active[2] = left
    return active[0] | active[1] | active[2]


@part
def twins(words: Any, masks: U64, lower_from: I64, lower: I64, store: U64, key: U64, other: U64, same_code: Any) -> Any:
    """Situations of a block that are known with other flags (lower ones) or, not `same_code`, also with fewer failures
    and the same ones present: those that were counted there."""
    known = len(words)
    found = ZERO
    for i in range(len(words)):
        other[i] = key[i]
    code_mask, flag_mask, flag_shift = masks[0], masks[1], masks[2]
    code = np.int64(key[0] & code_mask)
    flags = (key[0] & flag_mask) >> flag_shift
    top = flag_mask >> flag_shift
    others = 0 if same_code else lower_from[code + 1] - lower_from[code]
    for n in range(1 + others):
        mine = n == 0
        number = code if mine else lower[lower_from[code] + n - 1]
        flag = ZERO
        while flag <= top:
            if mine and flag == flags:
                break
            other[0] = (key[0] & ~(code_mask | flag_mask)) | np.uint64(number) | (flag << flag_shift)
            found |= store[find(words, store, other), known]
            flag += ONE
    return found


@part
def seen_by(rows: U64, r: Any, active: U64) -> Any:
    """The situations in which the row of a probe is true."""
    looked_at = ZERO
    for tier in range(3):
        if (rows[r, TIERS] >> np.uint64(tier)) & ONE:
            looked_at |= active[tier]
    return looked_at & rows[r, PLACES]
