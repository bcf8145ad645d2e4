"""Zones: sets of ages that differences describe, as matrices of bounds (Bengtsson and Yi 2004). Plain Python.

A zone over k clocks is a list of (k + 1) * (k + 1) bounds, row by row: entry (i, j) bounds clock i minus clock j, clock
0 being the constant zero. A bound "at most c" is written 2 c + 1, "less than c" 2 c, none `FREE`. A zone is kept in its
tightest form; an empty one is not kept at all.
"""

from __future__ import annotations

from typing import TypeAlias

Zone: TypeAlias = list[int]

FREE = 1 << 60
AT_MOST_ZERO = 1


def bound(ticks: int, strict: bool) -> int:
    """A bound as a number: smaller numbers bound more."""
    return 2 * ticks + (not strict)


def both(a: int, b: int) -> int:
    """The bound on a sum of differences."""
    if a >= FREE or b >= FREE:
        return FREE
    return a + b - ((a | b) & 1)


def tightened(zone: Zone, n: int, i: int, j: int, limit: int) -> bool:
    """Adds one bound, in place; False: nothing is left. `n`: clocks and the zero. Cost: n * n."""
    if limit >= zone[i * n + j]:
        return True
    if both(limit, zone[j * n + i]) < AT_MOST_ZERO:
        return False
    to_i = [zone[p * n + i] for p in range(n)]
    from_j = zone[j * n : j * n + n]
    for p in range(n):
        first = both(to_i[p], limit)
        if first >= FREE:
            continue
        row = p * n
        for q in range(n):
            through = both(first, from_j[q])
            if through < zone[row + q]:
                zone[row + q] = through
    return True


def closed(zone: Zone, n: int) -> None:
    """Brings a zone into its tightest form, in place (Floyd and Warshall). Cost: n ** 3."""
    for k in range(n):
        onward = zone[k * n : k * n + n]
        for i in range(n):
            first = zone[i * n + k]
            if first >= FREE:
                continue
            row = i * n
            for j in range(n):
                through = both(first, onward[j])
                if through < zone[row + j]:
                    zone[row + j] = through


UNKNOWN = -1


def carried(zone: Zone, n: int, kept: list[int]) -> Zone:
    """The zone of the next node before time passes: `kept` tells, for each of its clocks, which clock here goes on (0:
    none, it begins at zero; `UNKNOWN`: one that nothing is known of here). Tight, if `zone` is."""
    source = [0, *kept]
    made = []
    for a in source:
        for b in source:
            if a == UNKNOWN:
                made.append(FREE)
            else:
                made.append(zone[a * n + max(b, 0)])
    m = len(source)
    for i in range(m):
        made[i * m + i] = AT_MOST_ZERO
    return made


def passed(zone: Zone, n: int, latest: list[int]) -> bool:
    """Lets time pass, in place, as far as `latest` (one bound a clock) allows; False: nothing is left."""
    for i in range(1, n):
        zone[i * n] = FREE
    return all(tightened(zone, n, i, 0, latest[i - 1]) for i in range(1, n) if latest[i - 1] < FREE)


def widened(zone: Zone, n: int, lower: list[int], upper: list[int]) -> None:
    """Forgets what no later test can tell apart, in place, so that zones are finitely many.

    `lower`, `upper`: for each clock the largest constant that it is tested against from below and from above, -1: none.
    Sound for what can be reached, where tests compare one clock with a constant (Behrmann, Bouyer, Larsen, Pelanek
    2006).
    """
    least = [zone[j] for j in range(n)]
    changed = False
    for i in range(1, n):
        forgets = -(least[i] >> 1) > lower[i - 1] or lower[i - 1] < 0
        for j in range(n):
            if i == j:
                continue
            at = i * n + j
            if zone[at] < FREE and (
                forgets
                or zone[at] >> 1 > lower[i - 1]
                or (j > 0 and (upper[j - 1] < 0 or -(least[j] >> 1) > upper[j - 1]))
            ):
                zone[at] = FREE
                changed = True
    for j in range(1, n):
        if upper[j - 1] < 0:
            if zone[j] != AT_MOST_ZERO:
                zone[j] = AT_MOST_ZERO
                changed = True
        elif -(least[j] >> 1) > upper[j - 1]:
            zone[j] = bound(-upper[j - 1], True)
            changed = True
    if changed:
        closed(zone, n)


def inside(zone: Zone, other: Zone) -> bool:
    """Whether all of a zone lies in another over the same clocks."""
    return all(a <= b for a, b in zip(zone, other, strict=True))
