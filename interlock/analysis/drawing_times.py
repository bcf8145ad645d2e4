"""A scenario of the declared timing against an axis of time.

In: a spec; a rule or hazard, or a condition to look for; how to look for it. Out: a `TimesPicture`, or why there is
none. Lanes and events are those of the chart (`drawing_scenario.py`), but that no event is left out.
"""

from __future__ import annotations

from interlock.analysis.drawing import Lane, Stretch, TimesPicture
from interlock.analysis.drawing_scenario import KINDS, Drawn, chart_event, in_passing
from interlock.analysis.drawing_search import Found, NoScenario, Wanted, look_for, wanted_condition, wanted_rule
from interlock.analysis.drawing_sequences import caption_of
from interlock.analysis.options import Options
from interlock.core.elaborate import commands_of
from interlock.core.system import VariableKind
from interlock.logic.formula import Formula
from interlock.spec.model import Spec

COMMAND, GIVEN, WITHDRAWN = "command", "given", "not given"
MOST_LANES = 20
"""Where there would be more lanes with commands than this, commands have none unless they are named."""


def lanes_of(spec: Spec) -> tuple[str, ...]:
    """What lanes can be named for: items, sequences, memories, readings, what links carry, `command NAME`."""
    found = [one.id for one in spec.items] + [one.id for one in spec.sequences]
    found += [memory.id for one in spec.sequences for memory in one.memories]
    found += [one.id for one in spec.readings] + [one.id for link in spec.links for one in link.carries]
    found += [one.id for one in spec.links if one.watchdog is not None]
    return (*found, *(f"command {command}" for command in spec.commands))


def rule_times(spec: Spec, id: str, only: tuple[str, ...], options: Options) -> TimesPicture | NoScenario:
    """How a rule or hazard is broken in time, or how a `possible` one is met, with the fewest failures up to
    `options.failures` (None: as many as it claims to withstand). `only`: lanes, as in `lanes_of` (empty: all)."""
    return _times(spec, wanted_rule(spec, id, options), only, options)


def sought_times(
    spec: Spec, formula: Formula, text: str, only: tuple[str, ...], options: Options
) -> TimesPicture | NoScenario:
    """The shortest way in time to a condition, with the fewest failures up to `options.failures` (None: none)."""
    return _times(spec, wanted_condition(spec, formula, text, options), only, options)


def _times(spec: Spec, wanted: Wanted, only: tuple[str, ...], options: Options) -> TimesPicture | NoScenario:
    found = look_for(wanted, options, with_times=True, observed=commands_of(spec))
    return found if isinstance(found, NoScenario) else times_picture(spec, found, only)


def times_picture(spec: Spec, found: Found, only: tuple[str, ...] = ()) -> TimesPicture:
    """A scenario that was found, all of whose events have times."""
    told = found.told
    drawn = Drawn(spec, found)
    every = tuple(range(len(told.events)))
    kept = drawn.kept_lanes(len(every))
    lanes = _chosen((*drawn.lanes(every), *kept), _commands(found, only), only)
    return TimesPicture(
        caption=caption_of(spec, f"times {found.wanted.id}".rstrip()),
        heading=found.wanted.heading,
        asked=found.says,
        at_start=told.at_start,
        events=tuple(chart_event(told, i) for i in every),
        lanes=lanes,
        folded=tuple(change for change in drawn.folded if change.thing not in {lane.thing for lane in kept}),
        n_folded=drawn.n_folded + len(drawn.things) + len(kept) - sum(lane.kind != COMMAND for lane in lanes),
        ends=told.ends,
        breach=told.breach,
        in_passing=in_passing(told),
        tick_s=found.wanted.system.tick_s,
        runs=_runs(found),
        missed=told.missed,
    )


def _chosen(things: tuple[Lane, ...], commands: tuple[Lane, ...], only: tuple[str, ...]) -> tuple[Lane, ...]:
    """The lanes to draw, in the order of their kinds: logic, commands, then as in the chart."""
    if only:
        lanes = [lane for lane in (*things, *commands) if {lane.thing, lane.thing.removesuffix(" shown")} & set(only)]
    else:
        lanes = [*things, *(commands if len(things) + len(commands) <= MOST_LANES else ())]
    order = [KINDS[VariableKind.STEP], COMMAND, *(kind for kind in KINDS.values() if kind != KINDS[VariableKind.STEP])]
    return tuple(sorted(lanes, key=lambda lane: order.index(lane.kind)))


def _commands(found: Found, only: tuple[str, ...]) -> tuple[Lane, ...]:
    """A lane for each command that is given or withdrawn on the way, or is named."""
    lanes = []
    for command, held in found.told.observed:
        starts = [0, *(i for i in range(1, len(held)) if held[i] != held[i - 1])]
        ends = [*starts[1:], len(held)]
        stretches = tuple(
            Stretch(GIVEN if held[first] else WITHDRAWN, first, end - first, in_breach=False)
            for first, end in zip(starts, ends, strict=True)
        )
        if len(stretches) > 1 or f"command {command}" in only:
            lanes.append(Lane(f"command {command}", COMMAND, stretches))
    return tuple(lanes)


def _runs(found: Found) -> tuple[int, int] | None:
    """The deadline that is broken: the row from which on its time runs, and how long it is. Missed by waiting it is the
    latest end of its window; over too soon, the earliest."""
    within, began = found.wanted.asked.within, found.told.runs_from
    if within is None or began is None:
        return None
    end = within.earliest if found.told.missed is None else within.latest
    return None if end is None else (began, end)
