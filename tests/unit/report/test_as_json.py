"""The JSON of a check: valid, complete, exact, the same bytes each time."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from interlock.analysis.result import CheckResult
from interlock.report.as_json import render_check, render_find
from tests.made_results import ALL_HOLD, EVERYTHING, FOUND, NOT_FOUND, NOTHING

SCHEMA: dict[str, Any] = json.loads(files("interlock.report").joinpath("schema_check.json").read_text(encoding="utf-8"))

STATISTICS: dict[str, Any] = {"stages": [{"stage": "read", "milliseconds": 3}], "peak_memory_kib": None}


def data(result: CheckResult) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(render_check(result))
    return made


def undescribed(value: object, schema: dict[str, Any], where: str = "") -> list[str]:
    """Keys of the data that the schema does not describe."""
    if "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[1]]
    if "anyOf" in schema:
        (schema,) = (one for one in schema["anyOf"] if one != {"type": "null"})
        return undescribed(value, schema, where)
    found: list[str] = []
    if isinstance(value, dict):
        known = schema.get("properties", {})
        for key, inner in value.items():
            if key in known:
                found += undescribed(inner, known[key], f"{where}/{key}")
            elif not isinstance(schema.get("additionalProperties"), dict):
                found.append(f"{where}/{key}")
    elif isinstance(value, list):
        for inner in value:
            found += undescribed(inner, schema.get("items", {}), where)
    return found


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("result", [ALL_HOLD, EVERYTHING, NOTHING])
def test_what_is_written_is_what_the_schema_says_and_the_schema_says_all_that_is_written(result: CheckResult) -> None:
    for written in (data(result), json.loads(render_check(result, STATISTICS))):
        Draft202012Validator(SCHEMA).validate(written)
        assert undescribed(written, SCHEMA) == []


@pytest.mark.parametrize("break_it", ["verdict", "rules", "findings", "not_checked", "system"])
def test_the_schema_notices_a_missing_key(break_it: str) -> None:
    broken = data(EVERYTHING)
    del broken[break_it]
    assert not Draft202012Validator(SCHEMA).is_valid(broken)


def test_rules_are_sorted_by_id_as_people_count() -> None:
    assert [rule["id"] for rule in data(EVERYTHING)["rules"]] == ["R2", "R3", "R4", "R5", "R10"]


def test_ages_are_ticks_of_one_unit_and_never_floats() -> None:
    made = data(EVERYTHING)
    last = made["hazards"][0]["grid"][1]["scenario"]["events"][-1]
    assert (last["earliest"], last["latest"]) == ({"ticks": 0, "open": False}, {"ticks": 2000, "open": True})
    assert made["system"]["time_unit"] == "1/1000 s"
    assert not any(isinstance(value, float) for value in _values(made))


def _values(value: object) -> list[object]:
    if isinstance(value, dict):
        return [inner for one in value.values() for inner in _values(one)]
    if isinstance(value, list):
        return [inner for one in value for inner in _values(one)]
    return [value]


def test_what_is_not_known_is_null() -> None:
    made = data(EVERYTHING)
    assert made["engines"][1]["situations"] is None
    assert made["engines"][1]["events_explored"] is None
    assert made["rules"][0]["rests_on"] is None
    assert made["rules"][0]["slow_logic"] is None
    assert [one["rests"] for one in made["assumptions"]] == [["H1", "R2"], None, []]


def test_a_scenario_keeps_its_start_its_events_and_its_breach() -> None:
    scenario = data(EVERYTHING)["hazards"][0]["grid"][1]["scenario"]
    assert scenario["at_start"] == ["hold_fails"]
    assert scenario["start"] == {"train": "away", "ground": "idle"}
    assert [event["kind"] for event in scenario["events"]] == ["free", "logic", "consequence", "failure", "free"]
    assert scenario["breach"]["expression"] == "rail is live and train is away"
    assert scenario["ends"] == "breach"
    assert scenario["loop_from"] is None
    assert scenario["failures"] == 2


def test_a_finding_keeps_its_kind_places_cures_and_scenario() -> None:
    first = data(EVERYTHING)["findings"][0]
    assert (first["id"], first["severity"]) == ("nothing-can-happen", "error")
    assert first["place"] == {"file": "specs/made.yaml", "line": 5, "column": 3, "end_line": 5, "end_column": 5}
    assert first["also"][0]["words"] == "and here"
    assert first["cures"] == ["give the last step a way out"]
    assert first["scenario"]["loop_from"] == 0


def test_statistics_are_there_only_when_asked_for() -> None:
    assert "statistics" not in data(EVERYTHING)
    assert json.loads(render_check(EVERYTHING, STATISTICS))["statistics"] == STATISTICS


def test_the_same_result_gives_the_same_bytes_with_one_line_end_at_the_end() -> None:
    assert render_check(EVERYTHING) == render_check(EVERYTHING)
    assert render_check(EVERYTHING).endswith("}\n")
    assert "\r" not in render_check(EVERYTHING)


def test_a_search_has_its_condition_and_its_grid() -> None:
    made = json.loads(render_find(FOUND, STATISTICS))
    assert made["format"] == "interlock.find/1"
    assert [one["verdict"] for one in made["grid"]] == ["fails", "fails", "holds"]
    assert made["grid"][2]["scenario"]["ends"] == "reached"
    assert json.loads(render_find(NOT_FOUND))["exit_code"] == 1
