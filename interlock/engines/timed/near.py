"""Deciding a question by what is near its rule alone, where that is enough.

In: a system and a question. Out: that the rule holds and what that rests on, or nothing.

The idea: ever more of the system around the rule is looked at, the rest of it free to do anything
(`core/surroundings.py`, where the argument stands). If there is no run that breaks the rule even so, there is none in
the whole. A run that is found says nothing. What is free is taken to change once at the most until all is settled; only
if that would be enough it is looked for in the whole, for any timing, whether it does.

What the plant does to a sign beside the rails needs the sign and its line alone: hundreds of situations, not millions.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.core.question import Question, Timing, Verdict
from interlock.core.surroundings import FLICKERS, Surroundings, flickers
from interlock.core.system import PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.timed.bulk import bulk_of
from interlock.engines.timed.bulk_graph import BulkGraph
from interlock.engines.timed.graph import TooMany, TooWide
from interlock.engines.timed.refine import Decided, Refinement, over_all
from interlock.engines.timed.search import Counting, TooManyZones

KINDS = (PropertyKind.NEVER, PropertyKind.AFTER, PropertyKind.LASTS)

LARGEST = 1 << 22
"""Valuations that there could be in what is looked at; far fewer are reached."""

MOST_FREE = 1_000
"""Valuations of what is free."""

MOST = 20_000
"""Situations, and zones."""


def near_the_rule(
    system: System, question: Question, limits: Limits, begin: Counting
) -> tuple[BulkGraph, Decided] | None:
    """That a rule judged on situations holds, if this can be told near it; nothing is laid over the system. Cost: a
    dozen searches of at most `MOST` situations and zones; where one succeeds, one exploration for any timing of what
    can influence each free variable."""
    rule = system.property(question.property)
    if rule.kind not in KINDS or rule.every_event:
        return None
    around = Surroundings.of(system, rule)
    few = replace(limits, states=min(limits.states, MOST))
    once: dict[str, bool] = {}

    def decided(smaller: System) -> tuple[BulkGraph, Decided] | None:
        try:
            graph = BulkGraph(smaller, question, bulk_of(smaller, question, few.states))
            found = Refinement(graph, over_all(graph, few)).decide(begin)
        except (TooMany, TooManyZones, TooWide):
            return None
        return (graph, found) if found.run is None else None

    for near in around.growing(LARGEST):
        if near.n_free > MOST_FREE:
            continue
        taken = frozenset(name for name in near.free if once.get(name, True))
        found = decided(around.freed(near, taken))
        if found is None:
            continue
        for name in sorted(taken - once.keys()):
            once[name] = _changes_once(system, name, question, limits)
        if all(once[name] for name in taken):
            return found
        found = decided(around.freed(near, frozenset(name for name in taken if once[name])))
        if found is not None:
            return found
    return None


def _changes_once(system: System, name: str, question: Question, limits: Limits) -> bool:
    """Whether it is known that a variable changes once at the most until all is settled."""
    part = flickers(system, name)
    asked = Question(FLICKERS, Timing.ANY, question.budget, question.allowed)
    (answer,) = ExplicitEngine().answer(part, (asked,), limits)
    return answer.verdict is Verdict.HOLDS
