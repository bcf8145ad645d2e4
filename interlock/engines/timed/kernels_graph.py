"""Kernels that number situations one by one and keep the ways between them. The same for every system.

See `explicit/parts.py` for keys, rows and what tables are read like; here each block has one situation, place 0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from interlock.engines.explicit.compiling import compiled, lowest, part
from interlock.engines.explicit.parts import ONE, PLACES, W64, ZERO, follow, look, rows_at, spread

if TYPE_CHECKING:
    from interlock.engines.explicit.arrays import I64, U64, Tables

DONE, FULL = 0, 1
KNOWN, LOOKED, WAYS = 0, 1, 2
"""Places of a state: situations known, how many of them were looked at, ways kept."""


@part
def numbered(words: Any, keys: U64, index: Any, state: I64, key: U64) -> Any:
    """The number of a key, a new one if it is new."""
    last = index.shape[0] - 1
    line = np.int64(spread(words, key) >> (W64 - lowest(np.uint64(index.shape[0]))))
    while index[line] != 0:
        number = np.int64(index[line]) - 1
        same = True
        for i in range(len(words)):
            if keys[number, i] != key[i]:
                same = False
        if same:
            return number
        line = (line + 1) & last
    number = state[KNOWN]
    for i in range(len(words)):
        keys[number, i] = key[i]
    index[line] = number + 1
    state[KNOWN] = number + 1
    return number


@compiled
def reindexed(words: Any, keys: U64, index: Any, known: int) -> None:
    """Puts all keys into a larger index."""
    last = index.shape[0] - 1
    for number in range(known):
        line = np.int64(spread(words, keys[number]) >> (W64 - lowest(np.uint64(index.shape[0]))))
        while index[line] != 0:
            line = (line + 1) & last
        index[line] = number + 1


@compiled
def admitted(words: Any, log: U64, keys: U64, index: Any, state: I64, numbers: I64) -> None:
    """Numbers the situations of a log."""
    for line in range(log.shape[0]):
        numbers[line] = numbered(words, keys, index, state, log[line])


@compiled
def ways(
    words: Any, t: Tables, keys: U64, index: Any, state: I64, first: I64, to: Any, by: Any, tier_of: Any, came: Any,
    scratch: U64, at: I64, most: int,
) -> Any:  # fmt: skip
    """Looks at the known situations in their order, until all are looked at or there is no more room.

    `first`: of each situation, where its ways begin; `to`, `by`: of each way, the situation it leads to and the action;
    `tier_of`, `came`: of each situation its tier, and the situation from which it was met first (with fewest events,
    since they are looked at in the order in which they are met). `most`: ways that a situation has at the most.
    """
    allowed, chunks, looked, valid, sections = t.allowed, t.chunks, t.looked, t.valid, t.sections
    rows, after, code_mask, action = t.rows, t.after, t.masks[0], t.action
    key, then = scratch[0], scratch[1]
    here = state[LOOKED]
    n = state[WAYS]
    told = DONE
    while here < state[KNOWN]:
        if n + most > to.shape[0] or state[KNOWN] + most > keys.shape[0]:
            told = FULL
            break
        for i in range(len(words)):
            key[i] = keys[here, i]
        look(chunks, key, at)
        code = np.int64(key[0] & code_mask)
        first[here] = n
        tier = 0
        while tier < 3:
            acting = tier == 2
            for costly in range(2):
                if costly == 1 and not acting:
                    break
                section = 2 * tier + costly
                for w in range(sections[section], sections[section + 1]):
                    some = rows_at(allowed, looked, valid, at, w)
                    while some != ZERO:
                        r = np.uint64(w) * W64 + lowest(some)
                        some &= some - ONE
                        if rows[r, PLACES] & ONE == ZERO:
                            continue
                        acting = True
                        follow(words, rows, after, code_mask, r, key, code, then)
                        known = state[KNOWN]
                        number = numbered(words, keys, index, state, then)
                        if number == known:
                            came[number] = here
                        to[n] = number
                        by[n] = action[r]
                        n += 1
            if acting:
                break
            tier += 1
        tier_of[here] = tier
        here += 1
        first[here] = n
    state[LOOKED] = here
    state[WAYS] = n
    return told


@compiled
def events_before(came: Any, n_starts: int, events: Any) -> None:
    """Of each situation, the fewest events that lead to it from a start."""
    for number in range(n_starts, came.shape[0]):
        events[number] = min(events[came[number]] + 1, np.int64(0xFFFF))


@compiled
def rising(first: I64, to: Any, tier: Any, opens: Any, leads: Any) -> Any:
    """Of passing situations: whether, before time passes, they may settle where `opens`. One sweep, from the last to
    the first; True: something was new, and another one is needed."""
    changed = False
    for here in range(tier.shape[0] - 1, -1, -1):
        if tier[here] == 2 or leads[here]:
            continue
        for way in range(first[here], first[here + 1]):
            if (tier[to[way]] == 2 and opens[to[way]]) or leads[to[way]]:
                leads[here] = 1
                changed = True
                break
    return changed


@compiled
def before_rising(first: I64, to: Any, tier: Any, holds: Any, opens: Any, leads: Any, found: Any) -> Any:
    """The settled situations where not `holds`, with an event after which, before time passes, things may settle where
    `opens`; gives how many. `found` has room for all that are settled."""
    n = 0
    for here in range(tier.shape[0]):
        if tier[here] != 2 or holds[here]:
            continue
        for way in range(first[here], first[here + 1]):
            if (tier[to[way]] == 2 and opens[to[way]]) or leads[to[way]]:
                found[n] = here
                n += 1
                break
    return n
