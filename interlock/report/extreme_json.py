"""An extreme of a time as JSON, as schema_timing.json describes it.

In: an `Extreme`. Out: an object. Times are whole ticks of one time unit or exact texts, never floats.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result_timing import Extreme, Length
from interlock.core.dump import Json
from interlock.report.as_json import Object, scenario_data


def extreme_data(one: Extreme) -> Object:
    """An extreme with the run to it."""
    return {
        "verdict": one.verdict.value,
        "length": length_data(one.length),
        "proved": length_data(one.proved),
        "never": one.never,
        "risen": one.risen,
        "endless": one.endless,
        "begins": {"event": one.begins, "at": _at(one.begins_at)} if one.scenario is not None else None,
        "ends": {"event": one.ends, "at": _at(one.ends_at)} if one.scenario is not None else None,
        "scenario": None if one.scenario is None else scenario_data(one.scenario),
        "rests_on": None if one.rests_on is None else list(one.rests_on),
        "limit": one.limit,
    }


def length_data(one: Length | None) -> Json:
    """A length in ticks; null: not known."""
    return None if one is None else {"ticks": one.ticks, "open": one.open}


def _at(one: Fraction | None) -> Json:
    return None if one is None else str(one)
