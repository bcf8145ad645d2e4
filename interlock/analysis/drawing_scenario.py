"""A scenario as a chart: events down the page, one lane for each thing that changes.

In: a spec; a rule or hazard, or a condition to look for; how to look for it. Out: a `ScenarioPicture`, or why there is
none. Things that do not change are folded away and counted, those that the broken expression reads are named with
their value; events that change nothing drawn have no row, and their numbers are told.
"""

from __future__ import annotations

from interlock.analysis.drawing import ChartEvent, Lane, ScenarioPicture, Stretch
from interlock.analysis.drawing_search import Found, NoScenario, look_for, wanted_condition, wanted_rule
from interlock.analysis.drawing_sequences import caption_of
from interlock.analysis.options import Options
from interlock.analysis.result import ToldScenario
from interlock.core.question import Ends
from interlock.core.system import Variable, VariableKind
from interlock.logic.formula import Formula
from interlock.spec.model import Spec

KINDS = {
    VariableKind.STEP: "logic",
    VariableKind.MEMORY: "memory",
    VariableKind.LINK: "link",
    VariableKind.SIGNAL: "reading",
    VariableKind.ITEM: "equipment",
}
"""Kinds of things that have a lane, in the order of the lanes."""


def rule_scenario(spec: Spec, id: str, options: Options) -> ScenarioPicture | NoScenario:
    """How a rule or hazard is broken, or how a `possible` one is met, with the fewest failures up to
    `options.failures` (None: as many as it claims to withstand)."""
    found = look_for(wanted_rule(spec, id, options), options)
    return found if isinstance(found, NoScenario) else scenario_picture(spec, found)


def sought_scenario(spec: Spec, formula: Formula, text: str, options: Options) -> ScenarioPicture | NoScenario:
    """The shortest way to a condition, with the fewest failures up to `options.failures` (None: none)."""
    found = look_for(wanted_condition(spec, formula, text, options), options)
    return found if isinstance(found, NoScenario) else scenario_picture(spec, found)


def scenario_picture(spec: Spec, found: Found) -> ScenarioPicture:
    """A scenario that was found, as a chart."""
    told = found.told
    drawn = Drawn(spec, found)
    kept = _kept(told, drawn.things)
    return ScenarioPicture(
        caption=caption_of(spec, f"scenario {found.wanted.id}".rstrip()),
        heading=found.wanted.heading,
        asked=found.says,
        unless_timing=found.unless_timing,
        at_start=told.at_start,
        events=tuple(chart_event(told, i) for i in kept),
        left_out=tuple(i + 1 for i in range(len(told.events)) if i not in kept),
        lanes=drawn.lanes(kept),
        folded=drawn.folded,
        n_folded=drawn.n_folded,
        ends=told.ends,
        breach=told.breach,
        in_passing=in_passing(told),
        loop_from=None if told.loop_from is None else told.loop_from + 1,
        tick_s=found.wanted.system.tick_s,
        timed=found.timed,
        missed=told.missed,
    )


def in_passing(told: ToldScenario) -> bool:
    """Whether it ends in a breach in a situation that is not settled."""
    return told.ends is Ends.BREACH and bool(told.events) and not told.events[-1].settled


class Drawn:
    """What of a scenario has a lane: the things that change, in the order of `KINDS`."""

    def __init__(self, spec: Spec, found: Found) -> None:
        variables = found.wanted.system.variables
        self._told = found.told
        self._kinds = {variable.name: variable.kind for variable in variables if _has_lane(variable, spec)}
        rank = {kind: i for i, kind in enumerate(KINDS)}
        changing = [one for one in _changing(found.told).items() if one[0] in self._kinds]
        self._first = dict(sorted(changing, key=lambda one: rank[self._kinds[one[0]]]))
        self.things = set(self._first)
        self.folded = tuple(change for change in found.told.values if change.thing not in self._first)
        named = {change.thing for change in self.folded if change.thing in self._kinds}
        self.n_folded = len(self._kinds) - len(self._first) - len(named)

    def lanes(self, kept: tuple[int, ...]) -> tuple[Lane, ...]:
        """The lanes, with a row for each event of `kept`."""
        read = {change.thing for change in self._told.values}
        return tuple(
            Lane(thing, KINDS[self._kinds[thing]], _stretches(self._told, kept, thing, first, thing in read))
            for thing, first in self._first.items()
        )

    def kept_lanes(self, n_events: int) -> tuple[Lane, ...]:
        """Lanes of what is read at the end but does not change."""
        return tuple(
            Lane(change.thing, KINDS[self._kinds[change.thing]], (Stretch(change.after, 0, n_events + 1, True),))
            for change in self.folded
            if change.thing in self._kinds
        )


def chart_event(told: ToldScenario, i: int) -> ChartEvent:
    """An event; the author's words are told of what the world does and what fails."""
    event = told.events[i]
    says = event.says if event.kind in ("free", "failure", "repair") else event.action
    from_settled = i == 0 or told.events[i - 1].settled
    return ChartEvent(i + 1, event.kind, says, from_settled, event.earliest, event.latest, event.at)


def _kept(told: ToldScenario, drawn: set[str]) -> tuple[int, ...]:
    """The events that have a row: those that change something drawn, failures, the first of a loop, the last."""
    return tuple(
        i
        for i, event in enumerate(told.events)
        if event.kind in ("failure", "repair")
        or i in (told.loop_from, len(told.events) - 1)
        or any(change.thing in drawn for change in event.changes)
    )


def _has_lane(variable: Variable, spec: Spec) -> bool:
    """Whether a variable is something that people know: of a signal only what it shows, not what is on its way."""
    if variable.kind is not VariableKind.SIGNAL:
        return variable.kind in KINDS
    ids = {one.id for one in spec.readings} | {one.id for link in spec.links for one in link.carries}
    return variable.name.removesuffix(" shown") in ids


def _changing(told: ToldScenario) -> dict[str, str]:
    """The things that some event changes, in the order in which they first change, with their first value."""
    found: dict[str, str] = {}
    for event in told.events:
        for change in event.changes:
            found.setdefault(change.thing, change.before)
    return found


def _stretches(told: ToldScenario, kept: tuple[int, ...], thing: str, first: str, read: bool) -> tuple[Stretch, ...]:
    """The values a thing goes through; row 0 is the start, row i the situation after the event of that row."""
    marks: list[tuple[str, int]] = [(first, 0)]
    for at, i in enumerate(kept, 1):
        marks += [(change.after, at) for change in told.events[i].changes if change.thing == thing]
    ends = [begin for _, begin in marks[1:]] + [len(kept) + 1]
    return tuple(
        Stretch(value, begin, end - begin, read and i == len(marks) - 1)
        for i, ((value, begin), end) in enumerate(zip(marks, ends, strict=True))
    )
