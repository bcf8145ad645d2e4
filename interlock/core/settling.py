"""Whether what a slice drops settles by itself, whatever the rest does; and whether urgent events come to an end.

In: a slice. Out: true if no run of dropped events of tiers 0 and 1 goes on for ever; false if that is not known. Or a
system and some of its events: what may change for ever by these.

The idea: an endless run has a set of variables that influence each other and change for ever, while what influences
them from outside has come to rest. So each such set is looked at alone, from every valuation of it and of all it reads,
with what it reads held still. That is more than can be reached, so "true" is certain. Failures are left out: in a run
there are only so many.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from math import prod

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.slice import Slice
from interlock.core.system import Action, System, Tier, Valuation, changed_by, read_by

MOST = 50_000
"""Sets of variables with more valuations than this, all they read included, are not looked at."""


def settles_by_itself(part: Slice) -> bool:
    """Whether what was dropped of tiers 0 and 1 always settles. Cost: the valuations of each set, times its events."""
    dropped = frozenset(part.dropped)
    kept = {action.id for action in part.system.actions}
    events = [a for a in part.whole.actions if a.id not in kept and a.tier is not Tier.OTHER and a.cost == 0]
    return all(_ends(part.whole, together, own) for together, own in _entangled(dropped, events))


def for_ever(system: System, urgent: tuple[Action, ...]) -> frozenset[str] | None:
    """The variables that some endless run of events of tiers 0 and 1 and of these urgent ones of tier 2 may change for
    ever, if none of tiers 0 and 1 alone is endless; empty: there is no such run. None: an urgent event changes nothing.
    Cost: cubic in the variables; the valuations of each set with an urgent event, times its events.

    Only sets of variables that an urgent event changes are looked at. Any other is at rest whenever an urgent event
    happens, once all that influences it has come to rest: nothing of tiers 0 and 1 is enabled then, and no urgent event
    changes it.
    """
    ids = {action.id for action in urgent}
    if not all(action.update for action in urgent):
        return None
    events = [a for a in system.actions if a.cost == 0 and (a.tier is not Tier.OTHER or a.id in ids)]
    sets = _entangled(frozenset(variable.name for variable in system.variables), events)
    hurried = [(names, own) for names, own in sets if not ids.isdisjoint(action.id for action in own)]
    return frozenset().union(*(names for names, own in hurried if not _ends(system, names, own)))


def _entangled(names: frozenset[str], events: list[Action]) -> Iterator[tuple[frozenset[str], list[Action]]]:
    """Sets of variables that influence each other by these events, and the events that change them. Cost: cubic in the
    variables, of which few are dropped."""
    reach: dict[str, set[str]] = {name: set() for name in names}
    for action in events:
        changed = changed_by(action) & names
        for name in changed:
            reach[name] |= (read_by(action) & names) | changed
    grown = True
    while grown:
        grown = False
        for name, onward in reach.items():
            more = onward.union(*(reach[other] for other in onward))
            if len(more) > len(onward):
                reach[name] = more
                grown = True
    done: set[str] = set()
    for name in sorted(names):
        if name in done or name not in reach[name]:
            continue
        together = frozenset(other for other in reach[name] if name in reach[other])
        done |= together
        yield together, [action for action in events if changed_by(action) & together]


def _ends(whole: System, together: frozenset[str], events: list[Action]) -> bool:
    """Whether no run of these events is endless, from any valuation and with what they only read held still."""
    needed = together.union(*map(read_by, events))
    variables = tuple(variable for variable in whole.variables if variable.name in needed)
    if prod(len(variable.values) for variable in variables) > MOST:
        return False
    small = replace(whole, variables=variables, start=(), actions=(), modes=(), properties=(), conditions=())
    meaning = Meaning(small, Question(""))
    here = [replace(a, update=tuple(one for one in a.update if one.variable in together)) for a in events]

    def following(valuation: Valuation) -> Iterator[Valuation]:
        return (meaning.apply(a.update, valuation) for a in here if meaning.true(a.guard, valuation))

    ended: set[Valuation] = set()
    for first in product(*(range(len(variable.values)) for variable in variables)):
        if first in ended:
            continue
        on_way = {first}
        work = [(first, following(first))]
        while work:
            valuation, onward = work[-1]
            after = next((one for one in onward if one not in ended), None)
            if after is None:
                ended.add(valuation)
                on_way.discard(valuation)
                work.pop()
            elif after in on_way:
                return False
            else:
                on_way.add(after)
                work.append((after, following(after)))
    return True
