"""When the events of one run can happen: differences between times, exact, by shortest paths.

In: a run through settled situations, and which ends of windows count. Out: whether it can be timed so; if not, the ends
of windows that stand in the way of each other; if it can, the earliest and the latest time of each event and one choice
that fits together.

The idea: each age is a difference between the times of two events, so each end of a window that the run meets says
t[i] - t[j] <= c, or < c. Such a system can be met exactly if no circle of differences is negative. Strict ends count as
an amount so small that all of them together stay below one tick: every constant is multiplied by a number larger than
any circle is long, and 1 taken off for a strict one. (Shortest paths: Bellman and Ford; any textbook.)
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction

from interlock.core.question import Bound, Moment, Times
from interlock.core.system import Action, Property, PropertyKind, TickWindow
from interlock.core.timed import age_of
from interlock.engines.timed.graph import END, Settled, Stride


@dataclass(frozen=True, slots=True)
class Run:
    """A run in strides from a node. `too_late`: it ends with waiting in the last settled situation until the deadline
    is broken; `too_soon`: its last stride breaks it."""

    start: int
    strides: tuple[Stride, ...]
    too_late: bool = False
    too_soon: bool = False


@dataclass(frozen=True, slots=True)
class Difference:
    """t[of] - t[minus] <= ticks, or < ticks; `bound`: what says so (None: the order of time, or what is
    sought). Moment 0 is the start."""

    of: int
    minus: int
    ticks: int
    strict: bool
    bound: Bound | None


def differences(graph: Settled, run: Run) -> list[Difference]:
    """All that the windows say about a run. Cost: its strides times what is enabled."""
    return list(_Walk(graph, run).differences())


class _Walk:
    """A walk along a run that knows since when everything enabled is so."""

    def __init__(self, graph: Settled, run: Run) -> None:
        self.graph = graph
        self.run = run
        self.since: dict[int, int] = {}
        rule = graph.rule
        self.rule: Property | None = rule if rule.kind in (PropertyKind.AFTER, PropertyKind.LASTS) else None
        self.open: int | None = None

    def differences(self) -> Iterator[Difference]:
        here = self.run.start
        self._arrive(None, here, 0, 0)
        for i, stride in enumerate(self.run.strides):
            yield Difference(i, i + 1, 0, False, None)
            action = self.graph.system.actions[stride.action]
            yield from self._happening(action, i + 1)
            yield from self._waiting(here, i + 1)
            last = i == len(self.run.strides) - 1
            if last and self.run.too_soon:
                yield from self._too_soon(i + 1)
            if stride.to == END:
                return
            self._arrive(here, stride.to, stride.afresh, i + 1)
            here = stride.to
        if self.run.too_late:
            end = len(self.run.strides) + 1
            yield Difference(end - 1, end, 0, False, None)
            yield from self._waiting(here, end)
            yield from self._too_late(end)

    def _arrive(self, before: int | None, here: int, afresh: int, moment: int) -> None:
        node = self.graph.nodes[here]
        kept = {} if before is None else self.since
        self.since = {
            i: kept[i] if i in kept and not afresh >> i & 1 else moment
            for i in range(len(self.graph.owners))
            if node.enabled >> i & 1
        }
        if self.rule is None:
            return
        held = before is not None and self.graph.nodes[before].holds
        self.open = opened(self.rule, self.open, held, node.holds, node.closes, moment)

    def _happening(self, action: Action, moment: int) -> Iterator[Difference]:
        owner = next((i for i, one in enumerate(self.graph.owners) if one.id == age_of(action)), None)
        if owner is None or action.window is None:
            return
        since, window, of = self.since[owner], action.window, age_of(action)
        if window.earliest > 0 or window.earliest_open:
            yield Difference(since, moment, -window.earliest, window.earliest_open, Bound(of, False))
        if window.latest is not None and not action.obliged:
            yield Difference(moment, since, window.latest, window.latest_open, Bound(of, True))

    def _waiting(self, here: int, moment: int) -> Iterator[Difference]:
        for i, since in self.since.items():
            owner = self.graph.owners[i]
            window = owner.window
            if owner.obliged and window is not None and window.latest is not None:
                yield Difference(moment, since, window.latest, window.latest_open, Bound(owner.id, True))

    def _too_late(self, moment: int) -> Iterator[Difference]:
        within, since = self._deadline()
        assert within.latest is not None
        yield Difference(since, moment, -within.latest, not within.latest_open, None)

    def _too_soon(self, moment: int) -> Iterator[Difference]:
        within, since = self._deadline()
        yield Difference(moment, since, within.earliest, not within.earliest_open, None)

    def _deadline(self) -> tuple[TickWindow, int]:
        assert self.rule is not None
        assert self.rule.within is not None
        assert self.open is not None
        return self.rule.within, self.open


def opened(rule: Property, since: int | None, held: bool, holds: bool, closes: bool, moment: int) -> int | None:
    """Since which moment a deadline is open once a settled situation is reached; None: it is not. `held`: whether its
    condition held in the one before. The same as `TimedMeaning.watch`, in moments instead of ages."""
    if rule.kind is PropertyKind.LASTS:
        if not holds:
            return None
        return since if held else moment
    if since is None and holds and not held:
        since = moment
    return None if closes else since


@dataclass(frozen=True, slots=True)
class Weighted:
    """A difference with its weight, strict ends counted in."""

    of: int
    minus: int
    weight: int
    by: Difference


def _scaled(found: Collection[Difference], n_moments: int) -> list[Weighted]:
    return [Weighted(d.of, d.minus, d.ticks * (n_moments + 1) - d.strict, d) for d in found]


def moments_of(found: Collection[Difference]) -> int:
    """How many moments differences speak of, the start among them."""
    return 1 + max((max(d.of, d.minus) for d in found), default=0)


def conflict(found: Collection[Difference]) -> tuple[Bound, ...] | None:
    """The ends of windows on one negative circle (it may have none, then what is sought cannot be timed whatever the
    windows); None if there is no such circle. Cost: differences times moments at the most, mostly far less."""
    n_moments = moments_of(found)
    circle = negative_circle(_scaled(found, n_moments), n_moments)
    if circle is None:
        return None
    return tuple(dict.fromkeys(d.bound for d in circle if d.bound is not None))


def negative_circle(edges: list[Weighted], n_moments: int) -> tuple[Difference, ...] | None:
    """The differences on one circle, each moment once, whose weights come to less than nothing; None: there is none.
    Cost: differences times moments at the most."""
    reach = [0] * n_moments
    by: list[Weighted | None] = [None] * n_moments
    changed: int | None = None
    for _ in range(n_moments):
        changed = None
        for edge in edges:
            if reach[edge.minus] + edge.weight < reach[edge.of]:
                reach[edge.of] = reach[edge.minus] + edge.weight
                by[edge.of] = edge
                changed = edge.of
        if changed is None:
            return None
    assert changed is not None
    for _ in range(n_moments):
        edge_in = by[changed]
        assert edge_in is not None
        changed = edge_in.minus
    circle: list[Difference] = []
    at = changed
    while True:
        edge_in = by[at]
        assert edge_in is not None
        circle.append(edge_in.by)
        at = edge_in.minus
        if at == changed:
            return tuple(reversed(circle))


def times(found: Collection[Difference], n_moments: int) -> Times:
    """Earliest and latest of each moment after the first, by itself, and one run: everything as early as can be, strict
    ends missed by a fraction of a tick. The differences must be possible. Cost: differences times moments."""
    edges = _scaled(found, n_moments)
    scale = n_moments + 1
    never = 1 << 200
    latest = _shortest([(e.minus, e.of, e.weight) for e in edges], n_moments, never)
    earliest = _shortest([(e.of, e.minus, e.weight) for e in edges], n_moments, never)

    def moment(distance: int, sign: int) -> Moment:
        ticks = -(-distance // scale)
        return Moment(Fraction(sign * ticks), ticks * scale != distance)

    return Times(
        tuple(moment(earliest[i], -1) for i in range(1, n_moments)),
        tuple(None if latest[i] == never else moment(latest[i], 1) for i in range(1, n_moments)),
        tuple(Fraction(-earliest[i], scale) for i in range(1, n_moments)),
    )


def _shortest(edges: list[tuple[int, int, int]], n_moments: int, never: int) -> list[int]:
    distance = [never] * n_moments
    distance[0] = 0
    for _ in range(n_moments):
        changed = False
        for begin, end, weight in edges:
            if distance[begin] != never and distance[begin] + weight < distance[end]:
                distance[end] = distance[begin] + weight
                changed = True
        if not changed:
            break
    return distance
