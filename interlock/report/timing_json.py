"""Measured times as JSON: `interlock.timing/1`, described by schema_timing.json beside this file.

In: a `TimingResult`. Out: one object as text. Times are whole ticks of one time unit or exact texts, never floats.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result_timing import Exposure, Extreme, Length, TimingResult
from interlock.core.dump import Json
from interlock.report.as_json import Object, heading_data, scenario_data, written
from interlock.report.words import CAUTIONS


def render_timing(result: TimingResult) -> str:
    """The whole result."""
    between = result.between
    return written(
        {
            "format": "interlock.timing/1",
            **heading_data(result.heading),
            "failures": result.failures,
            "verdict": result.verdict.value,
            "exit_code": result.exit_code,
            "between": None
            if between is None
            else {
                "from": between.begins,
                "to": between.ends,
                "earliest": _extreme(between.measured.earliest),
                "latest": _extreme(between.measured.latest),
            },
            "deadlines": [_exposure(row) for row in result.exposures],
            "cautions": list(CAUTIONS),
        }
    )


def _extreme(one: Extreme) -> Object:
    return {
        "verdict": one.verdict.value,
        "length": _length(one.length),
        "proved": _length(one.proved),
        "never": one.never,
        "risen": one.risen,
        "endless": one.endless,
        "begins": {"event": one.begins, "at": _at(one.begins_at)} if one.scenario is not None else None,
        "ends": {"event": one.ends, "at": _at(one.ends_at)} if one.scenario is not None else None,
        "scenario": None if one.scenario is None else scenario_data(one.scenario),
        "rests_on": None if one.rests_on is None else list(one.rests_on),
        "limit": one.limit,
    }


def _exposure(row: Exposure) -> Object:
    return {
        "id": row.id,
        "hazard": row.hazard,
        "words": row.words,
        "says": row.says,
        "measures": "longest" if row.longest else "shortest",
        "allowed": _length(row.allowed),
        "claimed": row.claimed,
        "verdict": row.verdict.value,
        "slack": row.slack,
        "measured": _extreme(row.measured),
    }


def _length(one: Length | None) -> Json:
    return None if one is None else {"ticks": one.ticks, "open": one.open}


def _at(one: Fraction | None) -> Json:
    return None if one is None else str(one)
