"""A stop budget as JSON, as schema_timing.json describes it.

In: a `StopResult`. Out: an object. All numbers are exact texts, as `7` or `7/2`: seconds and joules.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result_stop import BatteryResult, PhaseTime, StopResult
from interlock.core.dump import Json
from interlock.report.as_json import Object
from interlock.report.extreme_json import extreme_data


def stop_data(stop: StopResult) -> Object:
    """The whole budget."""
    return {
        "words": stop.words,
        "stop_s": _exact(stop.stop_s),
        "needs_j": _exact(stop.needs_j),
        "phases": [_phase(phase) for phase in stop.phases],
        "others_least_s": _exact(stop.others_least_s),
        "others_greatest_s": _exact(stop.others_greatest_s),
        "left_s": _exact(stop.left_s),
        "left_most_s": _exact(stop.left_most_s),
        "charged_s": _exact(stop.charged_s),
        "charged_j": _exact(stop.charged_j),
        "possible_j": _exact(stop.possible_j),
        "needed_s": _exact(stop.needed_s),
        "late_s": _exact(stop.late_s),
        "fits": stop.fits.value,
        "enough": stop.enough.value,
        "battery": None if stop.battery is None else _battery(stop.battery),
        "shortened": [
            {"windows": list(one.of), "by_s": _exact(one.by_s), "gain_s": _exact(one.gain_s)} for one in stop.shortened
        ],
    }


def _phase(phase: PhaseTime) -> Object:
    return {
        "id": phase.id,
        "words": phase.words,
        "charging": phase.charging,
        "rest": phase.rest,
        "least": _end(phase.least_s, is_open=phase.least_open),
        "greatest": _end(phase.greatest_s, is_open=phase.greatest_open),
        "endless": phase.endless,
        "limit": phase.limit,
        "earliest": None if phase.earliest is None else extreme_data(phase.earliest),
        "latest": None if phase.latest is None else extreme_data(phase.latest),
    }


def _battery(one: BatteryResult) -> Object:
    return {
        "drawn_j": _exact(one.drawn_j),
        "holds_j": _exact(one.holds_j),
        "holds": one.holds.value,
        "regained_j": _exact(one.regained_j),
        "recovery_s": _exact(one.recovery_s),
        "recovers": one.recovers.value,
    }


def _end(seconds: Fraction | None, *, is_open: bool) -> Json:
    return None if seconds is None else {"s": str(seconds), "open": is_open}


def _exact(value: Fraction | None) -> Json:
    return None if value is None else str(value)
