"""The results as JSON: `interlock.check/1`, described by schema_check.json beside this file, and `interlock.find/1`.

In: a `CheckResult` or a `FindResult`. Out: one object as text. Ages are whole ticks of one time unit, never floats;
what is not known is null; lists are sorted by id, except where the order says something.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from fractions import Fraction

from interlock import __version__
from interlock.analysis.result import (
    Age,
    Assumed,
    Cell,
    Change,
    CheckResult,
    EngineUse,
    Expected,
    Finding,
    FindResult,
    Heading,
    Judged,
    Missed,
    ToldEvent,
    ToldMargin,
    ToldScenario,
)
from interlock.core.dump import Json, place_data
from interlock.core.question import Margin, Moment
from interlock.diag.diagnostic import Mark
from interlock.report.words import CAUTIONS, OUTSIDE, made_later, natural
from interlock.report.worked_out import taken_data, worked_out_data

Object = dict[str, Json]


def render_check(result: CheckResult, statistics: Object | None = None) -> str:
    """A check as `interlock.check/1`; `statistics` only if asked for, since they differ from run to run."""
    data: Object = {
        "format": "interlock.check/1",
        **heading_data(result.heading),
        "counts": {"items": result.n_items, "failures": result.n_failures},
        "verdict": result.verdict.value,
        "exit_code": result.exit_code,
        "rules": _judged(result.rules),
        "hazards": _judged(result.hazards),
        "findings": [_finding(one) for one in result.findings],
        "assumptions": [_assumed(one) for one in sorted(result.assumptions, key=lambda one: natural(one.id))],
        "engines": [_engine(one) for one in result.engines],
        "expected": [_expected(one) for one in result.expected],
        "worked_out": worked_out_data(result),
        "taken": taken_data(result),
        "not_checked": [{"what": one.what, "reason": one.reason} for one in result.not_checked],
        "cautions": list(CAUTIONS),
        "outside": list(OUTSIDE),
    }
    if statistics is not None:
        data["statistics"] = statistics
    return written(data)


def render_find(result: FindResult, statistics: Object | None = None) -> str:
    """A search as `interlock.find/1`."""
    data: Object = {
        "format": "interlock.find/1",
        **heading_data(result.heading),
        "condition": result.condition,
        "verdict": result.verdict.value,
        "exit_code": result.exit_code,
        "rests_on_timing": result.rests_on_timing,
        "grid": [_cell(one) for one in result.cells],
        "engine": None if result.engine is None else _engine(result.engine),
        "cautions": list(CAUTIONS),
    }
    if statistics is not None:
        data["statistics"] = statistics
    return written(data)


def written(data: Object) -> str:
    """JSON text as this program writes it: indented, UTF-8, one line end at the end."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def heading_data(heading: Heading) -> Object:
    """What was looked at, and by what."""
    return {
        "tool": {"name": "interlock", "version": __version__},
        "spec": {
            "title": heading.title,
            "revision": heading.revision,
            "prepared_by": heading.prepared_by,
            "standards": list(heading.standards),
            "file": heading.file,
            "digest": heading.file_digest,
            "based_on": [{"file": file, "digest": digest} for file, digest in heading.based_on],
        },
        "system": {"digest": heading.system_digest, "time_unit": _unit(heading.tick_s)},
    }


def _unit(tick_s: Fraction) -> str:
    return f"{tick_s} s"


def _judged(judged: Iterable[Judged]) -> list[Json]:
    return [_one_judged(one) for one in sorted(judged, key=lambda one: natural(one.id))]


def _one_judged(one: Judged) -> Object:
    asked: list[Json] = []
    for failures, common_cause, verdict in one.combined:
        claimed = any(c.claimed for c in one.grid if (c.failures, c.common_cause) == (failures, common_cause))
        asked.append({"failures": failures, "common_cause": common_cause, "claimed": claimed, "verdict": verdict.value})
    data: Object = {
        "id": one.id,
        "kind": one.kind,
        "words": one.words,
        "says": one.says,
        "guards_against": list(one.guards_against),
        "withstands": one.withstands,
        "verdict": one.verdict.value,
        "undecided_because": one.undecided_because,
        "asked": asked,
        "grid": [_cell(cell) for cell in one.grid],
        "rests_on": None if one.rests_on is None else list(one.rests_on),
        "margins": None if one.margins is None else [_margin(margin) for margin in one.margins],
        "slow_logic": None if one.slow_logic is None else one.slow_logic.value,
        "place": place_data(one.place),
    }
    if one.hazard:
        data["severity"] = one.severity
    return data


def _cell(cell: Cell) -> Object:
    return {
        "failures": cell.failures,
        "common_cause": cell.common_cause,
        "timing": cell.timing.value,
        "claimed": cell.claimed,
        "verdict": cell.verdict.value,
        "scenario": None if cell.scenario is None else scenario_data(cell.scenario),
        "limit": cell.limit,
        "engine": cell.engine or None,
        "clocks": cell.clocks,
    }


def scenario_data(told: ToldScenario) -> Object:
    """A scenario as the schema of a check describes it."""
    return {
        "failures": told.n_failures,
        "at_start": list(told.at_start),
        "start": {change.thing: change.before for change in told.start},
        "events": [_event(event) for event in told.events],
        "ends": told.ends.value,
        "loop_from": told.loop_from,
        "breach": {"expression": told.breach, "values": _changes(told.values)},
        "missed": None if told.missed is None else _missed(told.missed),
        **({} if told.no_way_from is None else {"no_way_from": _ticks(told.no_way_from)}),
    }


def _event(event: ToldEvent) -> Object:
    return {
        "action": event.action,
        "owner": event.owner,
        "kind": event.kind,
        "says": event.says,
        "earliest": _age(event.earliest),
        "latest": _age(event.latest),
        "at": _ticks(event.at),
        "changes": _changes(event.changes),
        "settled": event.settled,
        "place": place_data(event.place),
    }


def _changes(changes: tuple[Change, ...]) -> list[Json]:
    return [{"thing": one.thing, "before": one.before, "after": one.after} for one in changes]


def _missed(missed: Missed) -> Object:
    return {"limit": _age(missed.limit), "at": _ticks(missed.at)}


def _ticks(at: Fraction | None) -> Json:
    """An exact time of a run in ticks, which need not be whole: a text such as `7` or `7/2`."""
    return None if at is None else str(at)


def _margin(told: ToldMargin) -> Object:
    margin = told.all_as_declared
    return {
        "window": told.window,
        "together": [end.of for end in margin.ends],
        "end": "latest" if margin.ends[0].latest else "earliest",
        "moved": "later" if made_later(margin) else "sooner",
        "declared": _moment(told.declared),
        **_breaks(margin, told.declared),
        "relying_on_these": _breaks(told.relying, told.declared),
        "says": told.says,
    }


def _breaks(margin: Margin, declared: Moment) -> Object:
    return {
        "breaks": None if margin.breaks is None else _moment(margin.breaks),
        "margin": None if margin.breaks is None else _ticks(abs(margin.breaks.ticks - declared.ticks)),
        "limit": margin.limit,
        "holds": None if margin.holds is None else _moment(margin.holds),
    }


def _moment(moment: Moment) -> Object:
    """A value that need not be whole ticks."""
    return {"ticks": _ticks(moment.ticks), "open": moment.open}


def _age(age: Age | None) -> Json:
    return None if age is None else {"ticks": age.ticks, "open": age.open}


def _finding(finding: Finding) -> Object:
    told = finding.diagnostic
    return {
        "id": told.kind,
        "severity": told.severity.value,
        "says": told.headline,
        "place": None if told.at is None else place_data(told.at.span),
        "words": "" if told.at is None else told.at.words,
        "also": [_mark(mark) for mark in told.also],
        "cures": list(told.helps),
        "scenario": None if finding.scenario is None else scenario_data(finding.scenario),
    }


def _expected(one: Expected) -> Object:
    return {
        "id": one.id,
        "failures": one.failures,
        "timing": one.timing.value,
        "also": list(one.also),
        "met": one.met,
        "reason": one.reason,
        "place": place_data(one.place),
    }


def _mark(mark: Mark) -> Object:
    return {"place": place_data(mark.span), "words": mark.words}


def _assumed(one: Assumed) -> Object:
    return {
        "id": one.id,
        "words": one.words,
        "owner": one.owner,
        "rests": None if one.rests is None else _ids(one.rests),
    }


def _engine(use: EngineUse) -> Object:
    counted = use.settled is not None and use.passing is not None
    return {
        "name": use.name,
        "failures": use.failures,
        "timing": use.timing.value,
        "decided": _ids(use.decided),
        "situations": {"settled": use.settled, "passing": use.passing} if counted else None,
        "events_explored": use.events_explored,
        "parts": use.parts,
        "limit": use.limit,
    }


def _ids(ids: Iterable[str]) -> list[Json]:
    ordered: list[str] = sorted(ids, key=natural)
    return [*ordered]
