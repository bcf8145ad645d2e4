"""Sets of ages as lists of zones: going back in time and over an event, and taking one set from another.

Zones as in `engines/timed/zones.py`, over the clocks of what is enabled. Going back as in Bengtsson and Yi 2004.
"""

from __future__ import annotations

from typing import TypeAlias

from interlock.engines.timed.zones import AT_MOST_ZERO, FREE, Zone, bound, closed, tightened

Limit: TypeAlias = tuple[int, bool]
"""An end of a window in ticks; whether it is open."""


def everything(n: int) -> Zone:
    """All ages. `n`: clocks and the zero."""
    zone = [FREE] * (n * n)
    for i in range(n):
        zone[i * n + i] = zone[i] = AT_MOST_ZERO
    return zone


def between(zone: Zone, n: int, clock: int, earliest: Limit, latest: Limit | None) -> bool:
    """Leaves only those with the age of a clock in a window, in place; False: there are none."""
    if not tightened(zone, n, 0, clock, bound(-earliest[0], earliest[1])):
        return False
    return latest is None or tightened(zone, n, clock, 0, bound(*latest))


def held(zone: Zone, n: int, latest: list[Limit | None]) -> bool:
    """Leaves only those that no latest forbids, in place; False: there are none."""
    return all(tightened(zone, n, i, 0, bound(*limit)) for i, limit in enumerate(latest, start=1) if limit is not None)


def before_time(zone: Zone, n: int) -> None:
    """All from which one of these can be come to by waiting, in place."""
    for i in range(1, n):
        least = AT_MOST_ZERO
        for j in range(1, n):
            least = min(least, zone[j * n + i])
        zone[i] = least


def before_event(zone: Zone, n: int, came: list[int], n_before: int) -> Zone | None:
    """The ages before an event after which they are in a zone. `came`: for each clock of the zone which clock before it
    goes on from, 0: none, it begins at zero. None: there are none. Cost: cubic in the clocks."""
    after = list(zone)
    for i, source in enumerate(came, start=1):
        if source == 0 and not tightened(after, n, i, 0, AT_MOST_ZERO):
            return None
    made = everything(n_before)
    kept = [(0, 0), *((i, source) for i, source in enumerate(came, start=1) if source)]
    for i, a in kept:
        for j, b in kept:
            made[a * n_before + b] = min(made[a * n_before + b], after[i * n + j])
    closed(made, n_before)
    return made


def minus(zones: list[Zone], taken: Zone, n: int) -> list[Zone]:
    """What is left of some zones without another one, as disjoint zones of each."""
    left = []
    for zone in zones:
        rest = list(zone)
        for at, limit in enumerate(taken):
            i, j = divmod(at, n)
            if i == j or limit >= rest[at]:
                continue
            outside = list(rest)
            # Not (i - j <= c) is j - i < -c, and the other way round.
            if tightened(outside, n, j, i, 1 - limit):
                left.append(outside)
            if not tightened(rest, n, i, j, limit):
                break
    return left
