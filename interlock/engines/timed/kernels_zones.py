"""Kernels that look for a run in zones over the situations of a `Bulk`. The same for every system.

The same steps as `zones.py` and `search.py`, which say what each is for. A zone is over the clocks in use where it is,
in their order, a deadline's own last; its matrix is the corner `n` by `n` of an array with room for all clocks, and is
kept in one long line of numbers. A zone without any clock in use has no matrix (`NO_MATRIX`).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from interlock.engines.explicit.compiling import compiled

FREE = 1 << 29
ZERO_OR_LESS = 1

DONE, FOUND, FULL, PAUSED, TOO_LONG, TOO_WIDE = range(6)
"""What a kernel tells: none left; an end; no room for zones or matrices; after some turns; more events, or more
situations in one stride, than there is room for."""

N_ZONES, N_NUMBERS, AT_COST, STRIDE, END_ZONE = range(5)
"""Places of a state. `N_NUMBERS`: how many numbers of matrices are kept."""

PLAIN, AFTER, LASTS = range(3)
RULE_KIND, TOO_LATE, TOO_SOON, HAS_TOO_LATE, N_CLOCKS, EVENTS, BUDGET, ONLY_OPEN = range(8)
"""Places of `Asked.rule`: the kind; bound beyond which a deadline is broken; bound within which it ends too soon;
whether the first is in force; clocks without the deadline's own; events that a run may have; failures; whether what
follows once the deadline is open no more is left out."""

NODE, CAME, ACTION, AFRESH, MATRIX, NEXT_HERE, NEXT_WAITING, COST, HOW = range(9)
"""Columns of zones. `NODE`: twice the situation, and 1 if a deadline is open; `MATRIX`: where its numbers begin; `HOW`:
see below."""

UNKNOWN = -1

WAITS, LOOKED_AT, DEAD, END, END_TOO_LATE, END_TOO_SOON = range(6)
NO_MATRIX = -1


class Places(NamedTuple):
    """Situations. `rank`: of settled ones, their number among them. `enabled`: by rank, clocks (bits) whose action is
    so. `ends`: by way, whether its event is what is sought; empty for a rule judged on situations."""

    first: npt.NDArray[np.int64]
    to: npt.NDArray[np.uint32]
    by: npt.NDArray[np.uint16]
    tier: npt.NDArray[np.uint8]
    spent: npt.NDArray[np.uint8]
    rank: npt.NDArray[np.int32]
    enabled: npt.NDArray[np.uint32]
    sought: npt.NDArray[np.uint8]
    holds: npt.NDArray[np.uint8]
    closes: npt.NDArray[np.uint8]
    ends: npt.NDArray[np.uint8]


class Asked(NamedTuple):
    """What counts. First index 0: no deadline open, 1: open. `clock`: by action, its clock or -1. `afresh`: by action,
    clocks (bits). `early`, `late`: by action, bounds on its age. `in_use`: clocks (bits). `latest`: by clock, beyond
    which time may not pass. `lower`, `upper`: by clock, the largest constants it is tested against, -1: none."""

    clock: npt.NDArray[np.int32]
    afresh: npt.NDArray[np.uint32]
    early: npt.NDArray[np.int32]
    late: npt.NDArray[np.int32]
    in_use: npt.NDArray[np.uint32]
    latest: npt.NDArray[np.int32]
    lower: npt.NDArray[np.int32]
    upper: npt.NDArray[np.int32]
    rule: npt.NDArray[np.int64]


@compiled
def both(a: Any, b: Any) -> Any:
    """The bound on a sum of differences."""
    if a >= FREE or b >= FREE:
        return FREE
    return a + b - ((a | b) & 1)


@compiled
def tightened(zone: Any, n: Any, i: Any, j: Any, limit: Any) -> Any:
    """Adds one bound; False: nothing is left."""
    if limit >= zone[i, j]:
        return True
    if both(limit, zone[j, i]) < ZERO_OR_LESS:
        return False
    zone[i, j] = limit
    for p in range(n):
        begin = both(zone[p, i], limit)
        if begin >= FREE:
            continue
        for q in range(n):
            through = both(begin, zone[j, q])
            if through < zone[p, q]:
                zone[p, q] = through
    return True


@compiled
def closed(zone: Any, n: Any) -> None:
    """Brings a zone into its tightest form."""
    for k in range(n):
        for i in range(n):
            begin = zone[i, k]
            if begin >= FREE:
                continue
            for j in range(n):
                through = both(begin, zone[k, j])
                if through < zone[i, j]:
                    zone[i, j] = through


@compiled
def widened(zone: Any, n: Any, clocks: Any, lower: Any, upper: Any) -> None:
    """Forgets what no later test can tell apart."""
    changed = False
    for i in range(1, n):
        limit = lower[clocks[i]]
        forgets = limit < 0 or -(zone[0, i] >> 1) > limit
        for j in range(n):
            if i == j or zone[i, j] >= FREE:
                continue
            gone = forgets or (zone[i, j] >> 1) > limit
            if not gone and j > 0:
                most = upper[clocks[j]]
                gone = most < 0 or -(zone[0, j] >> 1) > most
            if gone:
                zone[i, j] = FREE
                changed = True
    for j in range(1, n):
        most = upper[clocks[j]]
        if most < 0:
            if zone[0, j] != ZERO_OR_LESS:
                zone[0, j] = ZERO_OR_LESS
                changed = True
        elif -(zone[0, j] >> 1) > most:
            zone[0, j] = -2 * most
            changed = True
    if changed:
        closed(zone, n)


@compiled
def in_use(mask: Any, is_open: Any, n_clocks: Any, clocks: Any, index: Any) -> Any:
    """Which clocks the rows of a matrix are, and the row of each clock (0: none); gives the number of rows."""
    n = 1
    for c in range(n_clocks):
        index[c] = 0
        if (mask >> np.uint32(c)) & np.uint32(1):
            clocks[n] = c
            index[c] = n
            n += 1
    index[n_clocks] = 0
    if is_open:
        clocks[n] = n_clocks
        index[n_clocks] = n
        n += 1
    return n


@compiled
def wait(zones: Any, state: Any, waiting: Any, node: Any, came: Any, action: Any, afresh: Any, matrix: Any, cost: Any,
         how: Any) -> Any:  # fmt: skip
    """Puts a zone into the queue of its cost; gives its number."""
    z = state[N_ZONES]
    state[N_ZONES] = z + 1
    zones[z, NODE] = node
    zones[z, CAME] = came
    zones[z, ACTION] = action
    zones[z, AFRESH] = afresh
    zones[z, MATRIX] = matrix
    zones[z, COST] = cost
    zones[z, HOW] = how
    zones[z, NEXT_HERE] = -1
    zones[z, NEXT_WAITING] = -1
    if waiting[cost, 0] < 0:
        waiting[cost, 0] = z
    else:
        zones[waiting[cost, 1], NEXT_WAITING] = z
    waiting[cost, 1] = z
    return z


@compiled
def seeded(zones: Any, state: Any, waiting: Any, begins: Any, costs: Any) -> None:
    """Lets situations wait of whose ages nothing is known, no deadline being open."""
    for i in range(begins.shape[0]):
        wait(zones, state, waiting, 2 * begins[i], -1, -1, 0, NO_MATRIX, costs[i], WAITS)


@compiled
def arrive(s: Places, q: Asked, zones: Any, numbers: Any, here: Any, waiting: Any, state: Any, zone: Any, n: Any,
           clocks: Any, at: Any, is_open: Any, cost: Any, came: Any, action: Any, afresh: Any) -> None:  # fmt: skip
    """Lets time pass in a settled situation and keeps the zone, over some `clocks`, unless a known one holds it."""
    rule = q.rule
    phase = 1 if is_open else 0
    node = 2 * at + phase
    place = 2 * np.int64(s.rank[at]) + phase
    trivial = n == 1
    if not trivial:
        for i in range(1, n):
            zone[i, 0] = FREE
        for i in range(1, n):
            latest = q.latest[phase, clocks[i]]
            if latest < FREE and not tightened(zone, n, i, 0, latest):
                return
        if is_open and rule[HAS_TOO_LATE] and zone[n - 1, 0] > rule[TOO_LATE]:
            wait(zones, state, waiting, node, came, action, afresh, NO_MATRIX, cost, END_TOO_LATE)
            return
        widened(zone, n, clocks, q.lower[phase], q.upper[phase])
    other = here[place]
    before = np.int64(-1)
    while other >= 0:
        following = zones[other, NEXT_HERE]
        gone = False
        if trivial:
            if zones[other, COST] <= cost:
                return
        else:
            m = zones[other, MATRIX]
            holds, held = True, True
            for i in range(n):
                for j in range(n):
                    known = numbers[m]
                    m += 1
                    if zone[i, j] > known:
                        holds = False
                    elif zone[i, j] < known:
                        held = False
                if not holds and not held:
                    break
            if holds and zones[other, COST] <= cost:
                return
            if held and zones[other, HOW] == WAITS and zones[other, COST] >= cost:
                zones[other, HOW] = DEAD
                gone = True
        if gone:
            if before < 0:
                here[place] = following
            else:
                zones[before, NEXT_HERE] = following
        else:
            before = other
        other = following
    matrix = np.int64(NO_MATRIX)
    if not trivial:
        matrix = state[N_NUMBERS]
        m = matrix
        for i in range(n):
            for j in range(n):
                numbers[m] = zone[i, j]
                m += 1
        state[N_NUMBERS] = m
    z = wait(zones, state, waiting, node, came, action, afresh, matrix, cost, WAITS)
    zones[z, NEXT_HERE] = here[place]
    here[place] = z


@compiled
def leave(s: Places, q: Asked, zones: Any, numbers: Any, here: Any, waiting: Any, state: Any, zone: Any, n: Any,
          index: Any, then: Any, clocks_then: Any, index_then: Any, source: Any, z: Any, at: Any, was_open: Any,
          to: Any, afresh: Any, length: Any, action: Any) -> None:  # fmt: skip
    """One stride that comes to rest in a settled situation: what is carried over, and whether a deadline opens."""
    rule = q.rule
    kind = rule[RULE_KIND]
    n_clocks = rule[N_CLOCKS]
    cost = np.int64(s.spent[to]) * rule[EVENTS] + zones[z, COST] % rule[EVENTS] + length
    is_open = False
    if kind == LASTS:
        is_open = s.holds[to] != 0
        if was_open and not is_open and both(rule[TOO_SOON], zone[0, n - 1]) >= ZERO_OR_LESS:
            wait(zones, state, waiting, 2 * to, z, action, afresh, NO_MATRIX, cost, END_TOO_SOON)
    elif kind == AFTER:
        opens = s.holds[to] != 0 and s.holds[at] == 0
        is_open = (was_open or opens) and s.closes[to] == 0
    if rule[ONLY_OPEN] and not is_open:
        return
    after = 1 if is_open else 0
    enabled = s.enabled[s.rank[at]]
    m = in_use(s.enabled[s.rank[to]] & q.in_use[after], is_open, n_clocks, clocks_then, index_then)
    goes_on = was_open and (kind == AFTER or s.holds[to] != 0)
    source[0] = 0
    for i in range(1, m):
        c = clocks_then[i]
        if c == n_clocks:
            source[i] = n - 1 if goes_on else 0
        elif (afresh >> np.uint32(c)) & np.uint32(1) or (enabled >> np.uint32(c)) & np.uint32(1) == 0:
            source[i] = 0
        else:
            source[i] = index[c] if index[c] > 0 else UNKNOWN
    for i in range(m):
        for j in range(m):
            then[i, j] = FREE if source[i] == UNKNOWN else zone[source[i], max(source[j], 0)]
        then[i, i] = ZERO_OR_LESS
    arrive(s, q, zones, numbers, here, waiting, state, then, m, clocks_then, to, is_open, cost, z, action, afresh)


@compiled
def search(s: Places, q: Asked, zones: Any, numbers: Any, here: Any, waiting: Any, state: Any, zone: Any, tried: Any,
           then: Any, rows: Any, on_way: Any, seen: Any, slack: Any, turns: Any) -> Any:  # fmt: skip
    """Goes on from what waits, in the order of failures and events."""
    clocks, index, clocks_then, index_then, source = rows[0], rows[1], rows[2], rows[3], rows[4]
    largest = zone.shape[0] * zone.shape[0]
    on_events = s.ends.shape[0] > 0
    while True:
        if turns <= 0:
            return PAUSED
        if state[N_ZONES] + slack > zones.shape[0] or state[N_NUMBERS] + slack * largest > numbers.shape[0]:
            return FULL
        turns -= 1
        while state[AT_COST] < waiting.shape[0] and waiting[state[AT_COST], 0] < 0:
            state[AT_COST] += 1
        if state[AT_COST] >= waiting.shape[0]:
            return DONE
        if state[AT_COST] % q.rule[EVENTS] > q.rule[EVENTS] - on_way.shape[0]:
            return TOO_LONG
        z = waiting[state[AT_COST], 0]
        waiting[state[AT_COST], 0] = zones[z, NEXT_WAITING]
        how = zones[z, HOW]
        if how >= END:
            state[END_ZONE] = z
            return FOUND
        if how == DEAD:
            continue
        zones[z, HOW] = LOOKED_AT
        at = zones[z, NODE] >> 1
        was_open = (zones[z, NODE] & 1) == 1
        phase = 1 if was_open else 0
        n = in_use(s.enabled[s.rank[at]] & q.in_use[phase], was_open, q.rule[N_CLOCKS], clocks, index)
        matrix = zones[z, MATRIX]
        zone[0, 0] = ZERO_OR_LESS
        if matrix >= 0:
            for i in range(n):
                for j in range(n):
                    zone[i, j] = numbers[matrix]
                    matrix += 1
        for way in range(s.first[at], s.first[at + 1]):
            if (
                state[N_ZONES] + 2 * on_way.shape[0] > zones.shape[0]
                or state[N_NUMBERS] + on_way.shape[0] * largest > numbers.shape[0]
            ):
                return TOO_WIDE
            action = np.int64(s.by[way])
            clock = q.clock[action]
            for i in range(n):
                for j in range(n):
                    tried[i, j] = zone[i, j]
            if clock >= 0 and index[clock] > 0:
                row = index[clock]
                if q.early[phase, action] < FREE and not tightened(tried, n, 0, row, q.early[phase, action]):
                    continue
                if q.late[phase, action] < FREE and not tightened(tried, n, row, 0, q.late[phase, action]):
                    continue
            if on_events and s.ends[way]:
                cost = np.int64(s.spent[s.to[way]]) * q.rule[EVENTS] + zones[z, COST] % q.rule[EVENTS] + 1
                wait(zones, state, waiting, 2 * np.int64(s.to[way]), z, action, q.afresh[action], NO_MATRIX, cost, END)
                continue
            state[STRIDE] += 1
            n_on_way = 1
            on_way[0, 0] = s.to[way]
            on_way[0, 1] = q.afresh[action]
            on_way[0, 2] = 1
            seen[on_way[0, 0]] = state[STRIDE]
            k = 0
            while k < n_on_way:
                place, afresh, length = on_way[k, 0], np.uint32(on_way[k, 1]), on_way[k, 2]
                k += 1
                if s.sought[place]:
                    cost = np.int64(s.spent[place]) * q.rule[EVENTS] + zones[z, COST] % q.rule[EVENTS] + length
                    wait(zones, state, waiting, 2 * place, z, action, afresh, NO_MATRIX, cost, END)
                    continue
                if s.tier[place] == 2:
                    leave(
                        s, q, zones, numbers, here, waiting, state, tried, n, index, then, clocks_then, index_then,
                        source, z, at, was_open, place, afresh, length, action,
                    )  # fmt: skip
                    continue
                end = np.int64(-1)  # of several events that are sought, one with fewest failures
                for onward in range(s.first[place], s.first[place + 1]):
                    following = np.int64(s.to[onward])
                    if on_events and s.ends[onward]:
                        if end < 0 or s.spent[following] < s.spent[s.to[end]]:
                            end = np.int64(onward)
                        continue
                    more = afresh | q.afresh[np.int64(s.by[onward])]
                    new = True
                    if seen[following] == state[STRIDE]:
                        for m in range(n_on_way):
                            if on_way[m, 0] == following and np.uint32(on_way[m, 1]) == more:
                                new = False
                                break
                    if new:
                        if n_on_way >= on_way.shape[0]:
                            return TOO_WIDE
                        seen[following] = state[STRIDE]
                        on_way[n_on_way, 0] = following
                        on_way[n_on_way, 1] = more
                        on_way[n_on_way, 2] = length + 1
                        n_on_way += 1
                if end >= 0:
                    last = np.int64(s.to[end])
                    cost = np.int64(s.spent[last]) * q.rule[EVENTS] + zones[z, COST] % q.rule[EVENTS] + length + 1
                    more = afresh | q.afresh[np.int64(s.by[end])]
                    wait(zones, state, waiting, 2 * last, z, action, more, NO_MATRIX, cost, END)
