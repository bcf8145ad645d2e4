"""Exploring everything that can be reached, layer by layer of failures spent, in any order within a layer.

In: a ground, start situations, what is sought. Out: the store, what was counted in each layer, where something was
found. Order matters only for scenarios and where a limit is hit: then `levels.py` goes the same way again, in order.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from interlock.engines.api import Limits
from interlock.engines.explicit import looking, parts
from interlock.engines.explicit.arrays import I64, U64
from interlock.engines.explicit.choose import places_for
from interlock.engines.explicit.layout import Packed
from interlock.engines.explicit.store import Ground, NoRoom, Store

TURNS = 100_000
"""Blocks that are looked at between two reports of progress, at most."""

FEW_TURNS = 500
"""The same at first, and for a sample: a limit is not left far behind where each block leads to many."""

WATCHED = 2_000_000
"""Situations known from which on it is looked at how full blocks are."""

SPARSE = 20
"""Situations a block on average below which other variables may fill blocks better."""


class Sparse(Exception):
    """Blocks are sparse, and would be fuller with other variables as the place in them."""

    def __init__(self, places: tuple[str, ...]) -> None:
        super().__init__(places)
        self.places = places


@dataclass(slots=True)
class Sought:
    """Something that is looked for within a budget: the numbers of its probes. `probe`: true in a situation that is an
    end, or that an event without failure leads from to an end; `failing`: that a failure leads from to an end. None:
    nothing is sought and everything explored. `found_with`: the least number of failures. `beyond`: a limit was hit
    first, `full` that of the memory. `at_start`: the least number of failures with which an event rule ends at once."""

    budget: int
    probe: int | None = None
    failing: int | None = None
    found_with: int | None = None
    at_start: int | None = None
    beyond: bool = False
    full: bool = False
    open: bool = True


@dataclass(slots=True)
class Layer:
    """What was seen in the situations with exactly so many failures spent. `settled` and `passing` count what no lower
    layer has; `known` counts all, told apart by flags. `hits`: by probe. `happened`: by row."""

    settled: int
    passing: int
    free_events: int
    costly_events: int
    known: int
    hits: I64
    happened: npt.NDArray[np.bool_]

    def hit(self, number: int | None) -> bool:
        """Whether a probe was true somewhere. Of one that has no piece nothing is counted: it never is."""
        return number is not None and number < self.hits.shape[0] and bool(self.hits[number])


def look_at(ground: Ground, entries: U64, store: U64, spent: int, distinct: bool) -> Layer:
    """What is seen in the blocks of a log or a store that have spent so much."""
    counts = np.zeros(5, np.int64)
    hits = np.zeros(int(ground.tables.rows[:, parts.NUMBER].max()) + 3, np.int64)
    happened = np.zeros(ground.tables.rows.shape[0], np.bool_)
    looking.sweep(
        ground.words, ground.tables, entries, store, spent, ground.scratch, ground.at, counts, hits, happened, distinct
    )
    settled, passing, free_events, costly_events, known = map(int, counts.tolist())
    return Layer(settled, passing, free_events, costly_events, known, hits, happened)


@dataclass(slots=True)
class Exploration:
    """One exploration from start situations within a budget. `watched`: `Sparse` is raised where it would better be
    begun anew."""

    ground: Ground
    budget: int
    limits: Limits
    watched: bool = False
    store: Store = field(init=False)
    layers: list[Layer] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.store = Store(self.ground)

    def run(self, starts: U64, sought: list[Sought]) -> None:
        """Explore from a log until all that is sought has its answer."""
        try:
            if starts.shape[0] > self.store.store.shape[0] // 2:
                self.store = Store(self.ground, 2 * starts.shape[0])
            self.store.admit(starts)
            for spent in range(self.budget + 1):
                self.store.enqueue(spent, spent)
                alarm = self.limits.states
                turns = min(FEW_TURNS, TURNS)
                while not self.store.explore(spent, turns):
                    turns = min(2 * turns, TURNS)
                    self._watch()
                    known = int(self.store.by_spent[: spent + 1].sum())
                    if self.limits.progress is not None:
                        self.limits.progress(known, None)
                    if known > alarm:
                        # Situations at which runs are cut are in the store, but do not count.
                        if self._known(spent) > self.limits.states:
                            break
                        alarm = 2 * known
                if not self._judged(spent, sought):
                    return
        except NoRoom:
            for one in sought:
                one.full = one.beyond = one.open
                one.open = False

    def _watch(self) -> None:
        """Once there are many situations, look how full blocks are. A small sample lies near the start, where others
        change than further out."""
        store = self.store
        known = int(store.by_spent.sum())
        if not self.watched or known < WATCHED:
            return
        self.watched = False
        if known < SPARSE * store.blocks:
            layout = self.ground.layout
            places = places_for(layout, store.store[store.store[:, layout.words] != 0])
            if set(places) != set(layout.low):
                raise Sparse(places)

    def sample(self, starts: list[Packed], size: int) -> U64:
        """Some of what can be reached, about equally many of each layer, a situation or block a line."""
        try:
            self.store.admit(self.ground.log_of(starts))
            for spent in range(self.budget + 1):
                self.store.enqueue(spent, spent)
                share = size * (spent + 1) // (self.budget + 1)
                while not self.store.explore(spent, FEW_TURNS) and self.store.by_spent[: spent + 1].sum() < share:
                    pass
        except NoRoom:
            pass  # a smaller sample is one too
        known: U64 = self.store.store[self.store.store[:, self.ground.layout.words] != 0]
        return known

    def _known(self, spent: int) -> int:
        """Situations known, those at which runs are cut left out."""
        now = look_at(self.ground, self.store.store, self.store.store, spent, False)
        return now.known + sum(layer.known for layer in self.layers)

    def _judged(self, spent: int, sought: list[Sought]) -> bool:
        """What a layer came to; whether anything is open still."""
        if self.limits.progress is not None:
            self.limits.progress(int(self.store.by_spent[: spent + 1].sum()), None)
        layer = look_at(self.ground, self.store.store, self.store.store, spent, self._has_twins)
        self.layers.append(layer)
        beyond = sum(one.known for one in self.layers) > self.limits.states
        for one in sought:
            if not one.open:
                continue
            if one.at_start == spent or layer.hit(one.probe):
                one.found_with = spent
            elif spent < one.budget and layer.hit(one.failing):
                one.found_with = spent + 1
            if beyond:
                one.beyond, one.found_with = True, None
            one.open = not beyond and one.found_with is None and one.budget > spent
        return any(one.open for one in sought)

    @property
    def _has_twins(self) -> bool:
        return bool(self.ground.tables.masks[1]) or self.ground.tables.lower.size > 0
