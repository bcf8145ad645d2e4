"""A scenario as a chart: events down the page, one lane for each thing that changes.

In: a spec; a rule or hazard, or a condition to look for; how many failures to allow. The engine is asked with none,
then one and so on, and the first scenario is taken. Out: a `ScenarioPicture`, or why there is none. Things that do not
change are folded away and counted, those that the broken expression reads are named with their value; events that
change nothing drawn have no row, and their numbers are told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from interlock.analysis.drawing import Caption, ChartEvent, Lane, ScenarioPicture, Stretch
from interlock.analysis.drawing_sequences import caption_of
from interlock.analysis.grid import TIMED, withstands_of
from interlock.analysis.inquiry import Asked, Inquiry
from interlock.analysis.options import Options
from interlock.analysis.result import ToldScenario
from interlock.analysis.telling import asked_text
from interlock.core.elaborate import elaborate, expression_of
from interlock.core.question import Ends, Question, Verdict
from interlock.core.system import Property, PropertyKind, System, Variable, VariableKind
from interlock.engines.table import pick
from interlock.logic.expression import has_was
from interlock.logic.formula import Formula
from interlock.spec.model import Spec

SOUGHT = "what was asked for"

KINDS = {
    VariableKind.STEP: "logic",
    VariableKind.MEMORY: "memory",
    VariableKind.LINK: "link",
    VariableKind.SIGNAL: "reading",
    VariableKind.ITEM: "equipment",
}
"""Kinds of things that have a lane, in the order of the lanes."""


@dataclass(frozen=True, slots=True)
class NoScenario:
    """There is no scenario to draw: why, in words. `limit`: it was not decided, as a limit was hit."""

    why: str
    limit: bool


def rule_scenario(spec: Spec, id: str, options: Options) -> ScenarioPicture | NoScenario:
    """How a rule or hazard is broken, or how a `possible` one is met, with the fewest failures up to
    `options.failures` (None: as many as it claims to withstand)."""
    system = elaborate(spec)
    asked = system.property(id)
    if asked.kind in TIMED:
        limit = f"{id} is about how long something takes, which is not drawn yet; `check` tells it"
        return NoScenario(limit, limit=True)
    most = _claimed(spec, id) if options.failures is None else options.failures
    told = {rule.id: rule.words for rule in spec.rules} | {hazard.id: hazard.words for hazard in spec.hazards}
    words = told[id]
    sort = "hazard" if asked.hazard else "rule"
    heading = f"{sort} {id}" + (f": {words}" if words else "")
    return _looked_for(spec, system, asked, most, options, heading, f"scenario {id}")


def sought_scenario(spec: Spec, formula: Formula, text: str, options: Options) -> ScenarioPicture | NoScenario:
    """The shortest way to a condition, with the fewest failures up to `options.failures` (None: none)."""
    system = elaborate(spec)
    condition = expression_of(spec, formula)
    asked = Property(SOUGHT, PropertyKind.POSSIBLE, False, condition, every_event=has_was(condition))
    system = replace(system, properties=(*system.properties, asked))
    return _looked_for(spec, system, asked, options.failures or 0, options, f"a way to {text}", "scenario")


def _claimed(spec: Spec, id: str) -> int:
    for rule in spec.rules:
        if rule.id == id:
            return rule.withstands
    return next(withstands_of(spec, hazard) for hazard in spec.hazards if hazard.id == id)


def _looked_for(
    spec: Spec, system: System, asked: Property, most: int, options: Options, heading: str, subject: str
) -> ScenarioPicture | NoScenario:
    engine = pick(options.engine)
    inquiry = Inquiry(system, engine, options.limits)
    for failures in range(most + 1):
        answer = inquiry.ask(Question(asked.id, budget=failures))
        if answer.told is not None:
            return scenario_picture(spec, system, asked, answer, caption_of(spec, subject), heading)
        if answer.verdict is Verdict.UNDECIDED:
            return NoScenario(answer.limit or "it stayed undecided", limit=True)
    allowed = f"with {most} failure{'s' if most > 1 else ''} or fewer" if most else "without failures"
    if asked.kind is PropertyKind.POSSIBLE:
        return NoScenario(f"there is no way to it {allowed}", limit=False)
    return NoScenario(f"{asked.id} holds {allowed}", limit=False)


def scenario_picture(
    spec: Spec, system: System, asked: Property, answer: Asked, caption: Caption, heading: str
) -> ScenarioPicture:
    """A scenario that was found, as a chart."""
    told = answer.told
    assert told is not None
    kinds = {variable.name: variable.kind for variable in system.variables if _has_lane(variable, spec)}
    rank = {kind: i for i, kind in enumerate(KINDS)}
    read = {change.thing for change in told.values}
    changing = [one for one in _changing(told).items() if one[0] in kinds]
    kept = _kept(told, {thing for thing, _ in changing})
    lanes = [
        Lane(thing, KINDS[kinds[thing]], _stretches(told, kept, thing, first, thing in read))
        for thing, first in sorted(changing, key=lambda one: rank[kinds[one[0]]])
    ]
    drawn = {lane.thing for lane in lanes}
    folded = tuple(change for change in told.values if change.thing not in drawn)
    named = {change.thing for change in folded if change.thing in kinds}
    last_settled = not told.events or told.events[-1].settled
    return ScenarioPicture(
        caption=caption,
        heading=heading,
        asked="" if asked.id == SOUGHT else asked_text(system, asked),
        unless_timing=answer.windows,
        at_start=told.at_start,
        events=tuple(_event(told, i) for i in kept),
        left_out=tuple(i + 1 for i in range(len(told.events)) if i not in kept),
        lanes=tuple(lanes),
        folded=folded,
        n_folded=len(kinds) - len(drawn) - len(named),
        ends=told.ends,
        breach=told.breach,
        in_passing=told.ends is Ends.BREACH and not last_settled,
        loop_from=None if told.loop_from is None else told.loop_from + 1,
    )


def _event(told: ToldScenario, i: int) -> ChartEvent:
    """An event; the author's words are told of what the world does and what fails."""
    event = told.events[i]
    says = event.says if event.kind in ("free", "failure", "repair") else event.action
    return ChartEvent(i + 1, event.kind, says, i == 0 or told.events[i - 1].settled)


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
