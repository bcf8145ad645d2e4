"""The search that every engine does where a limit is hit, so that all hit it at the same question.

In: a ground, starts, what is sought. Out: what each question came to. Layer by layer of failures spent, each by depth
(events from a start); at each depth first what is found there, then the limit, then the events. Questions that share a
ground share the search.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from interlock.engines.api import Limits
from interlock.engines.explicit import parts
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.explore import Layer, Sought, look_at
from interlock.engines.explicit.layout import Packed
from interlock.engines.explicit.store import Ground, Store


@dataclass(slots=True)
class Seeker:
    """One question in the search, about a `property` (id). `sought` gets its answer. `ends`: by failures spent, the
    depths at which an event ends. `by_event`: see `prepare.Numbers`."""

    sought: Sought
    by_event: bool
    property: str
    ends: list[set[int]] = field(default_factory=list)

    def at_situation(self, seen: Layer) -> bool:
        """Whether a situation that is an end was seen."""
        return not self.by_event and seen.hit(self.sought.probe)

    def leads_to_end(self, seen: Layer, *, failing: bool) -> bool:
        """Whether an event that is an end may happen in what was seen."""
        number = self.sought.failing if failing else self.sought.probe
        return self.by_event and seen.hit(number)


@dataclass(slots=True)
class LimitedSearch:
    """One search for some questions."""

    ground: Ground
    budget: int
    limits: Limits
    arrivals: list[dict[int, list[U64]]] = field(default_factory=list)
    known: int = 0

    def run(self, starts: list[tuple[Packed, int, frozenset[str]]], seekers: list[Seeker]) -> None:
        """Search from (situation, failures spent, the rules on events that end there at once)."""
        self.arrivals = [{} for _ in range(self.budget + 1)]
        for seeker in seekers:
            seeker.ends = [set() for _ in range(self.budget + 1)]
        for packed, spent, ending in starts:
            if spent <= self.budget:
                self.arrivals[spent].setdefault(0, []).append(self.ground.log_of([packed]))
                for seeker in seekers:
                    if seeker.by_event and seeker.property in ending:
                        seeker.ends[spent].add(0)
        still = list(seekers)
        store = Store(self.ground)
        for spent in range(self.budget + 1):
            depth = -1
            while still:
                depths = set(self.arrivals[spent]).union(
                    *({d for d in seeker.ends[spent] if d > depth} for seeker in still)
                )
                if store.waiting:
                    depths.add(depth + 1)
                if not depths:
                    break
                depth = min(depths)
                still = self._level(store, spent, depth, still)
            still = [seeker for seeker in still if seeker.sought.budget > spent]

    def _level(self, store: Store, spent: int, depth: int, seekers: list[Seeker]) -> list[Seeker]:
        """One depth; gives the questions that are open still."""
        for log in self.arrivals[spent].pop(depth, []):
            store.admit(log)
        level = store.take()
        seen = look_at(self.ground, level, store.store, spent, False)
        still = []
        for seeker in seekers:
            if seeker.at_situation(seen) or depth in seeker.ends[spent]:
                seeker.sought.found_with = spent
            else:
                still.append(seeker)
        self.known += seen.known
        if self.known > self.limits.states:
            for seeker in still:
                seeker.sought.beyond = True
                seeker.sought.found_with = self._straight_on(spent, depth, seeker)
            return []
        if self.limits.progress is not None:
            self.limits.progress(self.known, depth)
        for seeker in still:
            if seeker.leads_to_end(seen, failing=False):
                seeker.ends[spent].add(depth + 1)
            if spent < self.budget and seeker.leads_to_end(seen, failing=True):
                seeker.ends[spent + 1].add(depth + 1)
        if not still:
            return []
        if spent < max(seeker.sought.budget for seeker in still):
            failing = Store(self.ground)
            failing.step(level, parts.COSTLY, spent)
            arrived = failing.take()
            if arrived.shape[0]:
                self.arrivals[spent + 1].setdefault(depth + 1, []).append(arrived)
        store.step(level, parts.FREE, spent)
        return still

    def _straight_on(self, spent: int, depth: int, seeker: Seeker) -> int | None:
        """The least number of failures with which an end is among what waits."""
        for more in range(spent, seeker.sought.budget + 1):
            if any(d > depth or more > spent for d in seeker.ends[more]):
                return more
            for log in (one for logs in self.arrivals[more].values() for one in logs):
                if seeker.at_situation(look_at(self.ground, log, log, more, False)):
                    return more
        return None
