"""How early and how late each event of a scenario can be on its way, read from the plain meaning.

In: a scenario with one run. Out: its `Times`. The idea as in `engines/timed/constraints.py`: each age is a difference
between the times of two events, so each end of a window that is met bounds a difference.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from interlock.core.question import Bound, Scenario, Times
from interlock.core.system import Action, System, Tier
from interlock.core.timed import age_of, has_age
from interlock.engines.reference.graph import Graph
from interlock.engines.timed.constraints import Difference, times


def spread(graph: Graph, scenario: Scenario, run: tuple[Fraction, ...]) -> Times:
    """The times of a scenario. Cost: its events times the actions."""
    found = times(list(_differences(graph, scenario)), len(scenario.events) + 1)
    return Times(found.earliest, found.latest, run)


def _differences(graph: Graph, scenario: Scenario) -> Iterator[Difference]:
    system: System = graph.system
    actions = {action.id: action for action in system.actions}
    since: dict[str, int] = {}
    for moment, now in enumerate(scenario.situations):
        if graph.settled(now):
            owners = dict.fromkeys(age_of(action) for action in system.actions if has_age(action))
            enabled = (id for id in owners if graph.meaning.true(actions[id].guard, now))
            since = {id: since.get(id, moment) for id in enabled}
        if moment == len(scenario.events):
            return
        event = actions[scenario.events[moment]]
        yield Difference(moment, moment + 1, 0, False, None)
        if graph.settled(now):
            yield from _met(event, since, moment + 1)
            for action in system.actions:
                if action.tier is Tier.OTHER and action.obliged and has_age(action):
                    yield from _waited(action, since, moment + 1)
        else:
            yield Difference(moment + 1, moment, 0, False, None)
        for id in (age_of(event), *event.restarts):
            since.pop(id, None)


def _met(event: Action, since: dict[str, int], moment: int) -> Iterator[Difference]:
    window = event.window
    if window is None or not has_age(event):
        return
    began = since[age_of(event)]
    yield Difference(began, moment, -window.earliest, window.earliest_open, Bound(age_of(event), False))
    if window.latest is not None:
        yield Difference(moment, began, window.latest, window.latest_open, Bound(age_of(event), True))


def _waited(action: Action, since: dict[str, int], moment: int) -> Iterator[Difference]:
    window = action.window
    if age_of(action) in since and window is not None and window.latest is not None:
        yield Difference(moment, since[age_of(action)], window.latest, window.latest_open, Bound(action.id, True))
