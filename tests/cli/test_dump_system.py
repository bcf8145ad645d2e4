"""The core that `--dump-system` writes is enough to check ours: an explorer written against its description alone.

`explore` below knows nothing of the program; it reads the JSON as schema_system.json describes it.
"""

from __future__ import annotations

import hashlib
import json
from importlib.resources import files
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.cli.conftest import Typed

System = dict[str, Any]
Situation = tuple[Any, ...]

SPECS = [
    "specs/teaching.yaml",
    "tests/corpus/command_pulse.yaml",
    "tests/corpus/repaired_then_another.yaml",
    "tests/corpus/stuck_and_goes.yaml",
    "tests/corpus/counting.yaml",
    "tests/corpus/common_cause.yaml",
    "tests/corpus/urgent_timeout.yaml",
]


def explore(system: System, budget: int) -> tuple[set[Situation], set[Situation]]:
    """All settled and all passing situations for any timing, with up to `budget` failures, common causes left out."""
    names = [variable["name"] for variable in system["variables"]]
    allowed = {mode["id"] for mode in system["modes"] if not mode["common_cause"]}

    def truths(now: Situation) -> list[bool]:
        values = dict(zip(names, now, strict=True))
        table: list[bool] = []
        for row in system["expressions"]:
            if "constant" in row:
                table.append(row["constant"])
            elif "variable" in row:
                table.append(any(_same(values[row["variable"]], value) for value in row["in"]))
            elif "not" in row:
                table.append(not table[row["not"]])
            elif "and" in row:
                table.append(all(table[i] for i in row["and"]))
            elif "or" in row:
                table.append(any(table[i] for i in row["or"]))
            elif "at_most" in row:
                table.append(sum(table[i] for i in row["of"]) <= row["at_most"])
            elif "named" in row:
                table.append(table[row["is"]])
            else:
                table.append(False)  # `was` stands in no guard
        return table

    def after(now: Situation, update: list[dict[str, Any]], table: list[bool]) -> Situation:
        values = dict(zip(names, now, strict=True))
        for change in update:
            for case in change["cases"]:
                if table[case["if"]]:
                    values[change["variable"]] = case["value"]
                    break
        return tuple(values[name] for name in names)

    todo: list[tuple[Situation, int]] = []
    modes = [mode for mode in system["modes"] if mode["id"] in allowed and mode["at_start"] is not None]
    for start in system["start"]:
        for count in range(budget + 1):
            for chosen in combinations(modes, count):
                now: Situation | None = tuple(start)
                for mode in chosen:
                    assert now is not None
                    table = truths(now)
                    now = after(now, mode["at_start"], table) if table[mode["guard"]] else None
                    if now is None:
                        break
                if now is not None:
                    todo.append((now, count))
    seen = set(todo)
    settled: set[Situation] = set()
    passing: set[Situation] = set()
    while todo:
        now, spent = todo.pop()
        table = truths(now)
        enabled = [
            action
            for action in system["actions"]
            if table[action["guard"]] and set(action["modes"]) <= allowed and spent + action["cost"] <= budget
        ]
        urgent = min((action["tier"] for action in system["actions"] if table[action["guard"]]), default=2)
        (settled if urgent == 2 else passing).add(now)
        for action in enabled:
            if action["tier"] == urgent:
                following = (after(now, action["update"], table), spent + action["cost"])
                if following not in seen:
                    seen.add(following)
                    todo.append(following)
    return settled, passing


def _same(one: object, other: object) -> bool:
    return type(one) is type(other) and one == other


def dumped(typed: Typed, spec: Path, tmp_path: Path) -> System:
    file = tmp_path / "system.json"
    typed("check", spec, "-q", "--dump-system", file)
    read: System = json.loads(file.read_text(encoding="utf-8"))
    return read


@pytest.mark.parametrize("name", SPECS)
def test_an_explorer_that_reads_the_dump_counts_the_same_situations(
    typed: Typed, repository: Path, tmp_path: Path, name: str
) -> None:
    system = dumped(typed, repository / name, tmp_path)
    data = json.loads(typed("check", repository / name, "--failures", "2", "--format", "json").out)
    surveys = [use for use in data["engines"] if use["timing"] == "any"]
    assert len(surveys) == 3
    for use in surveys:
        settled, passing = explore(system, use["failures"])
        assert use["situations"] == {"settled": len(settled), "passing": len(passing - settled)}
        assert not settled & passing


@pytest.mark.parametrize("name", SPECS)
def test_a_dump_is_what_its_schema_says(typed: Typed, repository: Path, tmp_path: Path, name: str) -> None:
    schema = json.loads(files("interlock.core").joinpath("schema_system.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    system = dumped(typed, repository / name, tmp_path)
    Draft202012Validator(schema).validate(system)
    assert set(system) == set(schema["properties"])


def test_the_digest_can_be_computed_from_the_dump_as_it_is_described(
    typed: Typed, repository: Path, tmp_path: Path
) -> None:
    system = dumped(typed, repository / "specs/teaching.yaml", tmp_path)
    meaning = {key: value for key, value in system.items() if key not in ("title", "digest", "origin")}
    text = json.dumps(meaning, separators=(",", ":"), ensure_ascii=True)
    assert hashlib.sha256(text.encode()).hexdigest() == system["digest"]
    data = json.loads(typed("check", repository / "specs/teaching.yaml", "--format", "json").out)
    assert data["system"]["digest"] == system["digest"]
