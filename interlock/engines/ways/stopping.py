"""Whether time can always pass under the declared timing.

In: a system whose tiers 0 and 1 settle, a budget. Out: that from wherever one gets time can pass without end, or a way
to where it cannot.

Time is stopped by obliged events alone, and each may happen by its latest. Where all have a latest above 0, time
passes: let each happen at its latest, or as near to it as one likes; it then begins afresh, so it comes at most so
often in any time, and there are only so many. So time can stop, or pass by ever shorter steps only, in no other way
than by endless events in no time, among them some whose latest is 0. And where from every place some time can pass,
perhaps after events that take none, it passes without end: each obliged event ends a wait at most once in any time as
long as its latest. So it is enough to ask whether from everywhere a way leads to where some time passes. A way may take
free moves, but no failure and no repair (which no elaborated system obliges).

First, without looking at what can be reached, which events with a latest of 0 can follow each other for ever at all
(`core/settling.py`). Those that cannot never stop time: let them happen until none is left, then what else is at its
latest. The others are asked about on their slice: all that can influence them. There by the situations that can be
reached, whatever the ages are; and by these with their ages where they are few.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.core.question import Answer, Question, Timing, Verdict
from interlock.core.settling import for_ever, settles_by_itself
from interlock.core.slice import slice_on
from interlock.core.system import Action, Property, PropertyKind, System, Tier
from interlock.engines.api import Limits
from interlock.engines.timed.graph import Graph, TooMany, Unsettling
from interlock.engines.timed.search import TooManyZones
from interlock.engines.ways.ages import Ages, on_a_way
from interlock.engines.ways.answers import NAME, without_a_way
from interlock.engines.ways.engine import MOST_WITH_AGES
from interlock.engines.ways.whatever import may_happen_now
from interlock.logic.expression import FALSE

TIME_PASSES = Property("time passes", PropertyKind.ALWAYS_POSSIBLE, False, FALSE)


def at_once(system: System) -> tuple[Action, ...]:
    """The obliged events that leave no time: those without which time always passes."""
    return tuple(
        one
        for one in system.actions
        if one.tier is Tier.OTHER and one.obliged and one.window is not None and one.window.latest == 0
    )


def bearing_on_time(system: System, *, settles: bool) -> System:
    """The part on which it depends whether time can pass; one without events that leave no time if it surely can.
    `settles`: it is known that tiers 0 and 1 always settle."""
    hurried = at_once(system)
    names = for_ever(system, hurried) if hurried and all(map(may_happen_now, hurried)) else None
    if names is None:
        return system
    part = slice_on(system, names)
    kept = {action.id for action in part.system.actions}
    dropped = [action for action in system.actions if action.id not in kept]
    ages_kept = not any(kept.intersection(action.restarts) for action in dropped) and all(
        action.ages_with in ("", *kept) for action in part.system.actions
    )
    return part.system if ages_kept and (settles or settles_by_itself(part)) else system


def time_passes(system: System, budget: int, limits: Limits) -> Answer:
    """HOLDS; FAILS, with a way to where time cannot pass; or UNDECIDED with the limit."""
    question = Question(TIME_PASSES.id, Timing.DECLARED, budget)
    if not at_once(system):
        return Answer(question, Verdict.HOLDS, None, NAME, None, None)
    asked = replace(system, properties=(TIME_PASSES,), digest="")
    most, limits = limits, replace(limits, states=min(limits.states, MOST_WITH_AGES))
    try:
        try:
            surely = _surely(Graph(asked, question, limits.states))
        except TooMany:
            if most.states <= limits.states or not _surely_in_bulk(asked, question, most):
                raise
            surely = True
        if surely:
            return Answer(question, Verdict.HOLDS, None, NAME, None, None)
        ages = Ages(Graph(asked, question, limits.states), limits)
        ages.explore()
        # Whatever leads to where time stops, what leaves no time is enabled there: that is the place to show.
        good = ages.with_a_way(ages.time_passes)
        return without_a_way(asked, question, ages, good, _hurried(ages.graph))
    except (TooMany, TooManyZones):
        limit = f"more than {limits.states:,} situations or zones of ages can be reached"
    except Unsettling:
        limit = "consequences or logic may go round without settling"
    return Answer(question, Verdict.UNDECIDED, None, NAME, limit, None)


def _surely_in_bulk(system: System, question: Question, limits: Limits) -> bool:
    from interlock.engines.ways.whatever_bulk import time_passes_in_bulk

    return time_passes_in_bulk(system, question, limits, at_once(system))


def _surely(graph: Graph) -> bool:
    """Whether, whatever the ages are, events that may happen now lead from every node to one where nothing that leaves
    no time is enabled. What is at its latest there may happen, and begins afresh."""
    bits = _hurried(graph)
    now = [may_happen_now(action) for action in graph.system.actions]
    before: dict[int, set[int]] = {}
    for _ in graph.starts():
        pass
    node = 0
    while node < len(graph.nodes):
        spent = graph.nodes[node].spent
        for stride in graph.strides(node):
            if now[stride.action] and on_a_way(graph.system.actions, spent, stride):
                before.setdefault(stride.to, set()).add(node)
        node += 1
    good = {node for node in range(len(graph.nodes)) if not graph.nodes[node].enabled & bits}
    work = list(good)
    while work:
        for source in before.get(work.pop(), ()):
            if source not in good:
                good.add(source)
                work.append(source)
    return len(good) == len(graph.nodes)


def _hurried(graph: Graph) -> int:
    """The owners (bits) that leave no time."""
    ids = {one.id for one in at_once(graph.system)}
    return sum(1 << i for i, owner in enumerate(graph.owners) if owner.id in ids)
