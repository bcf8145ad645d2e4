"""Kernels that look for a run in zones over the situations of a `Bulk`. The same for every system.

The same steps as `zones.py` and `search.py`, which say what each is for; here all zones of a search are over the same
clocks, so that a clock which nothing is known of stands in each with bounds that say nothing. A zone without any clock
in use has no matrix (`NO_MATRIX`).
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

N_ZONES, N_MATRICES, AT_COST, STRIDE, END_ZONE = range(5)
"""Places of a state."""

PLAIN, AFTER, LASTS = range(3)
RULE_KIND, TOO_LATE, TOO_SOON, HAS_TOO_LATE, N_CLOCKS, EVENTS, BUDGET, ONLY_OPEN = range(8)
"""Places of `Asked.rule`: the kind; bound beyond which a deadline is broken; bound within which it ends too soon;
whether the first is in force; clocks without the deadline's own; events that a run may have; failures; whether what
follows once the deadline is open no more is left out."""

NODE, CAME, ACTION, AFRESH, MATRIX, NEXT_HERE, NEXT_WAITING, COST, HOW = range(9)
"""Columns of zones. `NODE`: twice the situation, and 1 if a deadline is open; `HOW`: see below."""

UNKNOWN = -1

WAITS, LOOKED_AT, DEAD, END, END_TOO_LATE, END_TOO_SOON = range(6)
NO_MATRIX = -1


class Places(NamedTuple):
    """Situations. `rank`: of settled ones, their number among them. `enabled`: by rank, clocks (bits) whose action is
    so."""

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
def tightened(zone: Any, i: Any, j: Any, limit: Any) -> Any:
    """Adds one bound; False: nothing is left."""
    n = zone.shape[0]
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
def closed(zone: Any) -> None:
    """Brings a zone into its tightest form."""
    n = zone.shape[0]
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
def widened(zone: Any, lower: Any, upper: Any, in_use: Any) -> None:
    """Forgets what no later test can tell apart."""
    n = zone.shape[0]
    changed = False
    for i in range(1, n):
        if (in_use >> np.uint32(i - 1)) & np.uint32(1) == 0:
            continue
        limit = lower[i - 1]
        forgets = limit < 0 or -(zone[0, i] >> 1) > limit
        for j in range(n):
            if i == j or zone[i, j] >= FREE:
                continue
            gone = forgets or (zone[i, j] >> 1) > limit
            if not gone and j > 0:
                gone = upper[j - 1] < 0 or -(zone[0, j] >> 1) > upper[j - 1]
            if gone:
                zone[i, j] = FREE
                changed = True
    for j in range(1, n):
        if (in_use >> np.uint32(j - 1)) & np.uint32(1) == 0:
            continue
        if upper[j - 1] < 0:
            if zone[0, j] != ZERO_OR_LESS:
                zone[0, j] = ZERO_OR_LESS
                changed = True
        elif -(zone[0, j] >> 1) > upper[j - 1]:
            zone[0, j] = -2 * upper[j - 1]
            changed = True
    if changed:
        closed(zone)


@compiled
def unknown(zone: Any) -> None:
    """The zone of which nothing is known."""
    n = zone.shape[0]
    for i in range(n):
        for j in range(n):
            zone[i, j] = FREE
    for i in range(n):
        zone[i, i] = ZERO_OR_LESS
        zone[0, i] = ZERO_OR_LESS


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
def arrive(s: Places, q: Asked, zones: Any, matrices: Any, here: Any, waiting: Any, state: Any, zone: Any, at: Any,
           is_open: Any, cost: Any, came: Any, action: Any, afresh: Any) -> None:  # fmt: skip
    """Lets time pass in a settled situation and keeps the zone, unless one that is known holds it."""
    rule = q.rule
    n_clocks = rule[N_CLOCKS]
    phase = 1 if is_open else 0
    in_use = s.enabled[s.rank[at]] & q.in_use[phase]
    node = 2 * at + phase
    place = 2 * np.int64(s.rank[at]) + phase
    trivial = in_use == 0 and not is_open
    n = zone.shape[0]
    if not trivial:
        for i in range(1, n):
            zone[i, 0] = FREE
        for c in range(n_clocks):
            bounded = (in_use >> np.uint32(c)) & np.uint32(1) and q.latest[phase, c] < FREE
            if bounded and not tightened(zone, c + 1, 0, q.latest[phase, c]):
                return
        if is_open:
            in_use |= np.uint32(1) << np.uint32(n_clocks)
            if rule[HAS_TOO_LATE] and zone[n - 1, 0] > rule[TOO_LATE]:
                wait(zones, state, waiting, node, came, action, afresh, NO_MATRIX, cost, END_TOO_LATE)
                return
        widened(zone, q.lower[phase], q.upper[phase], in_use)
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
                    if zone[i, j] > matrices[m, i, j]:
                        holds = False
                    elif zone[i, j] < matrices[m, i, j]:
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
        matrix = state[N_MATRICES]
        state[N_MATRICES] = matrix + 1
        for i in range(n):
            for j in range(n):
                matrices[matrix, i, j] = zone[i, j]
    z = wait(zones, state, waiting, node, came, action, afresh, matrix, cost, WAITS)
    zones[z, NEXT_HERE] = here[place]
    here[place] = z


@compiled
def leave(s: Places, q: Asked, zones: Any, matrices: Any, here: Any, waiting: Any, state: Any, zone: Any, then: Any,
          source: Any, z: Any, at: Any, was_open: Any, to: Any, afresh: Any, length: Any,
          action: Any) -> None:  # fmt: skip
    """One stride that comes to rest in a settled situation: what is carried over, and whether a deadline opens."""
    rule = q.rule
    kind = rule[RULE_KIND]
    n = zone.shape[0]
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
    before, after = 1 if was_open else 0, 1 if is_open else 0
    used_before = s.enabled[s.rank[at]] & q.in_use[before]
    used_after = s.enabled[s.rank[to]] & q.in_use[after]
    if used_after == 0 and not is_open:
        arrive(s, q, zones, matrices, here, waiting, state, then, to, is_open, cost, z, action, afresh)
        return
    source[0] = 0
    for c in range(n_clocks):
        bit = np.uint32(1) << np.uint32(c)
        source[c + 1] = UNKNOWN
        if used_after & bit:
            if afresh & bit or s.enabled[s.rank[at]] & bit == 0:
                source[c + 1] = 0
            elif used_before & bit:
                source[c + 1] = c + 1
    if n == n_clocks + 2:
        goes_on = was_open and (kind == AFTER or s.holds[to] != 0)
        source[n - 1] = UNKNOWN if not is_open else n - 1 if goes_on else 0
    for i in range(n):
        for j in range(n):
            then[i, j] = FREE if source[i] == UNKNOWN else zone[source[i], max(source[j], 0)]
        then[i, i] = ZERO_OR_LESS
    arrive(s, q, zones, matrices, here, waiting, state, then, to, is_open, cost, z, action, afresh)


@compiled
def search(s: Places, q: Asked, zones: Any, matrices: Any, here: Any, waiting: Any, state: Any, zone: Any, tried: Any,
           then: Any, source: Any, on_way: Any, seen: Any, slack: Any, turns: Any) -> Any:  # fmt: skip
    """Goes on from what waits, in the order of failures and events."""
    n = zone.shape[0]
    while True:
        if turns <= 0:
            return PAUSED
        if state[N_ZONES] + slack > zones.shape[0] or state[N_MATRICES] + slack > matrices.shape[0]:
            return FULL
        turns -= 1
        while state[AT_COST] < waiting.shape[0] and waiting[state[AT_COST], 0] < 0:
            state[AT_COST] += 1
        if state[AT_COST] >= waiting.shape[0]:
            return DONE
        if state[AT_COST] % q.rule[EVENTS] > q.rule[EVENTS] - 1024:
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
        matrix = zones[z, MATRIX]
        if matrix < 0:
            unknown(zone)
        else:
            for i in range(n):
                for j in range(n):
                    zone[i, j] = matrices[matrix, i, j]
        for way in range(s.first[at], s.first[at + 1]):
            if (
                state[N_ZONES] + on_way.shape[0] > zones.shape[0]
                or state[N_MATRICES] + on_way.shape[0] > matrices.shape[0]
            ):
                return TOO_WIDE
            action = np.int64(s.by[way])
            clock = q.clock[action]
            for i in range(n):
                for j in range(n):
                    tried[i, j] = zone[i, j]
            if clock >= 0 and (q.in_use[phase] >> np.uint32(clock)) & np.uint32(1):
                if q.early[phase, action] < FREE and not tightened(tried, 0, clock + 1, q.early[phase, action]):
                    continue
                if q.late[phase, action] < FREE and not tightened(tried, clock + 1, 0, q.late[phase, action]):
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
                        s, q, zones, matrices, here, waiting, state, tried, then, source, z, at, was_open, place,
                        afresh, length, action,
                    )  # fmt: skip
                    continue
                for onward in range(s.first[place], s.first[place + 1]):
                    following = np.int64(s.to[onward])
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
