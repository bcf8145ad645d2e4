"""Measured times as JSON: `interlock.timing/1`, described by schema_timing.json beside this file.

In: a `TimingResult`. Out: one object as text. Times are whole ticks of one time unit or exact texts, never floats.
"""

from __future__ import annotations

from interlock.analysis.result_stop import TimingResult
from interlock.analysis.result_timing import Exposure
from interlock.report.as_json import Object, heading_data, written
from interlock.report.extreme_json import extreme_data, length_data
from interlock.report.stop_json import stop_data
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
                "earliest": extreme_data(between.measured.earliest),
                "latest": extreme_data(between.measured.latest),
            },
            "deadlines": [_exposure(row) for row in result.exposures],
            "stop": None if result.stop is None else stop_data(result.stop),
            "cautions": list(CAUTIONS),
        }
    )


def _exposure(row: Exposure) -> Object:
    return {
        "id": row.id,
        "hazard": row.hazard,
        "words": row.words,
        "says": row.says,
        "measures": "longest" if row.longest else "shortest",
        "allowed": length_data(row.allowed),
        "claimed": row.claimed,
        "verdict": row.verdict.value,
        "slack": row.slack,
        "measured": extreme_data(row.measured),
    }
