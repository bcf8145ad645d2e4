"""Telling a run of declared timing as a scenario. In: a settled graph and what was decided. Out: events with times."""

from __future__ import annotations

from fractions import Fraction

from interlock.core.question import Ends, Moment, Scenario, Times
from interlock.engines.scenario import at_start_of
from interlock.engines.timed.graph import Settled
from interlock.engines.timed.refine import Decided


def scenario_of(graph: Settled, decided: Decided, ends: Ends) -> Scenario:
    """The run event by event, from the first start that leads into it, with the times of each event."""
    run = decided.run
    assert run is not None
    assert decided.times is not None
    starts = [one for one in graph.starts() if one[1][0] == run.start]
    state, outcome, length = min(starts, key=lambda one: (one[1][2], one[2]))
    begin = graph.events_at_start(state, outcome, length)
    events = [action for action, _ in begin]
    situations = [state.valuation, *(graph.unpack(packed) for _, packed in begin)]
    moments: list[int | None] = [None] * len(begin)
    here = run.start
    for i, stride in enumerate(run.strides):
        node = graph.nodes[here]
        for action, packed in graph.events_of(node.state, node.spent, stride):
            events.append(action)
            situations.append(graph.unpack(packed))
            moments.append(i)
        here = stride.to
    if run.too_late:
        moments.append(len(run.strides))
    return Scenario(
        at_start_of(graph.meaning, state.valuation, state.spent),
        tuple(situations),
        tuple(graph.system.actions[action].id for action in events),
        ends,
        times=_spread(decided.times, moments),
    )


def _spread(times: Times, moments: list[int | None]) -> Times:
    """The times of strides, one for each event of them; None: an event at the start."""
    zero = Moment(Fraction(0))
    return Times(
        tuple(zero if i is None else times.earliest[i] for i in moments),
        tuple(zero if i is None else times.latest[i] for i in moments),
        tuple(Fraction(0) if i is None else times.run[i] for i in moments),
    )
