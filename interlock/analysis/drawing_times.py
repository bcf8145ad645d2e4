"""A scenario of the declared timing against an axis of time.

In: a spec; a rule or hazard, or a condition to look for; how to look for it. Out: a `TimesPicture`, or why there is
none. Lanes and events are those of the chart (`drawing_scenario.py`), but that no event is left out.
"""

from __future__ import annotations

from interlock.analysis.drawing import TimesPicture
from interlock.analysis.drawing_scenario import KINDS, Drawn, chart_event, in_passing
from interlock.analysis.drawing_search import Found, NoScenario, look_for, wanted_condition, wanted_rule
from interlock.analysis.drawing_sequences import caption_of
from interlock.analysis.options import Options
from interlock.logic.formula import Formula
from interlock.spec.model import Spec


def rule_times(spec: Spec, id: str, options: Options) -> TimesPicture | NoScenario:
    """How a rule or hazard is broken in time, or how a `possible` one is met, with the fewest failures up to
    `options.failures` (None: as many as it claims to withstand)."""
    found = look_for(wanted_rule(spec, id, options), options, with_times=True)
    return found if isinstance(found, NoScenario) else times_picture(spec, found)


def sought_times(spec: Spec, formula: Formula, text: str, options: Options) -> TimesPicture | NoScenario:
    """The shortest way in time to a condition, with the fewest failures up to `options.failures` (None: none)."""
    found = look_for(wanted_condition(spec, formula, text, options), options, with_times=True)
    return found if isinstance(found, NoScenario) else times_picture(spec, found)


def times_picture(spec: Spec, found: Found) -> TimesPicture:
    """A scenario that was found, all of whose events have times."""
    told = found.told
    drawn = Drawn(spec, found)
    every = tuple(range(len(told.events)))
    order = tuple(KINDS.values())
    lanes, kept = drawn.lanes(every), drawn.kept_lanes(len(every))
    return TimesPicture(
        caption=caption_of(spec, f"times {found.wanted.id}".rstrip()),
        heading=found.wanted.heading,
        asked=found.says,
        at_start=told.at_start,
        events=tuple(chart_event(told, i) for i in every),
        lanes=tuple(sorted((*lanes, *kept), key=lambda lane: order.index(lane.kind))),
        folded=tuple(change for change in drawn.folded if change.thing not in {lane.thing for lane in kept}),
        n_folded=drawn.n_folded,
        ends=told.ends,
        breach=told.breach,
        in_passing=in_passing(told),
        tick_s=found.wanted.system.tick_s,
        runs=_runs(found),
        missed=told.missed,
    )


def _runs(found: Found) -> tuple[int, int] | None:
    """The deadline that is broken: the row from which on its time runs, and how long it is. Missed by waiting it is the
    latest end of its window; over too soon, the earliest."""
    within, began = found.wanted.asked.within, found.told.runs_from
    if within is None or began is None:
        return None
    end = within.earliest if found.told.missed is None else within.latest
    return None if end is None else (began, end)
