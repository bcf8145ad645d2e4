"""Situations merged by some variables: which combinations of their values are reached, and which events lead from one
to another.

In: a system, a question (its budget and overlay; its property is not used), names of variables. Out: combinations in
the order of their values, and the events between them, counted. Everything is explored with the events of the
quick engine; nothing is sliced away, so the counts are those of the whole.
"""

from __future__ import annotations

from dataclasses import dataclass

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.quick.events import TIERS, Events
from interlock.engines.quick.explore import Exploration, Sought
from interlock.engines.quick.layout import Layout
from interlock.engines.scenario import limit_words


@dataclass(frozen=True, slots=True)
class Combination:
    """A combination of values (indices, in the order of the names), how many settled and passing situations have it
    (told apart by the failures spent), and whether a run can start in it."""

    values: tuple[int, ...]
    n_settled: int
    n_passing: int
    start: bool


@dataclass(frozen=True, slots=True)
class Merged:
    """`between`: (index before, index after, action id, number of events), sorted. `limit`: which limit was hit, in
    words; then more may be reached than is told."""

    combinations: tuple[Combination, ...]
    between: tuple[tuple[int, int, str, int], ...]
    limit: str | None


def merged(system: System, question: Question, names: tuple[str, ...], limits: Limits) -> Merged:
    """Merge what can be reached. Cost: all situations and their events, one by one."""
    layout = Layout(system.variables)
    meaning = Meaning(system, question)
    events = Events.of(layout, meaning)
    exploration = Exploration(events, events, question.budget, limits)
    starts = [(layout.pack(one.valuation), one.spent, False) for one in meaning.starts()]
    sought = Sought(question.budget)
    exploration.run(starts, [sought])

    mask = layout.mask_of(names)
    counts: dict[int, list[int]] = {}
    between: dict[tuple[int, int, int], int] = {}
    for spent, layer in enumerate(exploration.layers):
        tiers = events.by_tier(list(layer.states))
        for tier in TIERS:
            for state in tiers[tier]:
                counts.setdefault(state & mask, [0, 0])[tier < 2] += 1
            clusters = events.free[tier] + (events.costly[tier] if spent < question.budget else ())
            for cluster in clusters:
                if not cluster.writes & mask:
                    continue
                states = tiers[tier]
                for state, acts, deltas in zip(states, cluster.acts(states), cluster.deltas(states), strict=True):
                    before = state & mask
                    for act, delta in zip(acts, deltas, strict=True):
                        if delta & mask:
                            key = (before, (state ^ delta) & mask, act)
                            between[key] = between.get(key, 0) + 1

    def values(part: int) -> tuple[int, ...]:
        return tuple((part & layout.mask[name]) >> layout.shift[name] for name in names)

    begun = {state & mask for state, _, _ in starts}
    order = sorted(counts, key=values)
    place = {part: i for i, part in enumerate(order)}
    found = sorted(
        (place[before], place[after], act, n)
        for (before, after, act), n in between.items()
        if after in place  # else it was reached when the limit was hit
    )
    return Merged(
        tuple(Combination(values(part), counts[part][0], counts[part][1], part in begun) for part in order),
        tuple((before, after, system.actions[act].id, n) for before, after, act, n in found),
        limit_words(limits) if sought.beyond else None,
    )
