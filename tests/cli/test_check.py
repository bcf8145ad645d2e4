"""`interlock check`: verdicts, exit codes, formats, files."""

from __future__ import annotations

import json
import os
from importlib.resources import files
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from jsonschema import Draft202012Validator

from tests.cli.conftest import SOUND, TINY, Typed


def schema(package: str, name: str) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(files(package).joinpath(name).read_text(encoding="utf-8"))
    return read


def test_a_spec_that_holds_gives_0(typed: Typed, sound: Path) -> None:
    done = typed("check", sound)
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("holds: all 2 rules and 1 hazard; ")


def test_a_spec_that_fails_gives_1_and_the_shortest_way(typed: Typed, failing: Path) -> None:
    done = typed("check", failing)
    assert (done.code, done.err) == (1, "")
    assert done.out.startswith("fails: 1 hazard; ")
    assert "  1  world    key turns                         key: rest -> turned\n" in done.out


def test_a_spec_with_mistakes_gives_2_and_nothing_on_standard_output(typed: Typed, wrong: Path) -> None:
    done = typed("check", wrong)
    assert (done.code, done.out) == (2, "")
    assert "error[unknown-state]" in done.err
    assert done.err.endswith("\n2 mistakes; nothing was decided\n")


def test_a_limit_that_is_hit_gives_3(typed: Typed, sound: Path) -> None:
    done = typed("check", sound, "--limit", "1")
    assert done.code == 3
    assert done.out.startswith("undecided: ")
    assert "more than 1 " in done.out


def test_a_deadline_that_nothing_has_to_keep_fails(typed: Typed, tmp_path: Path) -> None:
    file = tmp_path / "deadline.yaml"
    file.write_text(SOUND + "  R3: {after: lamp is lit, within: 3 s, must: lamp is dark}\n", encoding="utf-8")
    done = typed("check", file)
    assert done.code == 1
    assert "Broken     3 s after lamp is lit, and still not: lamp is dark" in done.out


def test_quiet_prints_the_verdict_line_only(typed: Typed, failing: Path) -> None:
    done = typed("check", failing, "-q")
    assert (done.code, done.out.count("\n"), done.err) == (1, 1, "")
    assert done.out.startswith("fails: ")


def test_only_the_rules_that_are_asked_for_are_judged(typed: Typed, failing: Path) -> None:
    done = typed("check", failing, "--rule", "R1", "--rule", "R2", "--format", "json")
    assert done.code == 0
    data = json.loads(done.out)
    assert [one["id"] for one in data["rules"]] == ["R1", "R2"]
    assert data["hazards"] == []
    assert "findings about the spec" in [one["what"] for one in data["not_checked"]]


def test_an_unknown_rule_is_refused_with_the_one_that_was_meant(typed: Typed, sound: Path) -> None:
    done = typed("check", sound, "--rule", "H2")
    assert done.code == 2
    assert "the spec has no rule and no hazard `H2`" in done.err
    assert "  to cure: " in done.err


def test_more_failures_never_change_the_exit_code(typed: Typed, tmp_path: Path) -> None:
    file = tmp_path / "failures.yaml"
    failures = "failures:\n  lamp_stuck: {of: lamp, effect: {goes: lit, held: true}}\n"
    file.write_text(SOUND + failures, encoding="utf-8")
    asked = typed("check", file, "--failures", "1")
    assert asked.code == typed("check", file).code == 0
    assert "(fails)" in asked.out
    assert "R1 fails with 1 failure: lamp_stuck" in asked.out
    assert "(more than is claimed)" in typed("check", file, "--failures", "1", "--every-scenario").out


@pytest.mark.parametrize(
    ("timing", "shown"), [("any", {"any"}), ("declared", {"declared"}), ("both", {"any", "declared"})]
)
def test_the_readings_of_time_that_are_asked_for_are_reported(
    typed: Typed, sound: Path, timing: str, shown: set[str]
) -> None:
    data = json.loads(typed("check", sound, "--timing", timing, "--format", "json").out)
    assert {cell["timing"] for rule in data["rules"] for cell in rule["grid"]} == shown


def test_json_is_what_its_schema_says(typed: Typed, failing: Path) -> None:
    done = typed("check", failing, "--format", "json", "--statistics")
    assert (done.code, done.err) == (1, "")
    data = json.loads(done.out)
    Draft202012Validator(schema("interlock.report", "schema_check.json")).validate(data)
    assert data["exit_code"] == 1
    assert [one["stage"] for one in data["statistics"]["stages"]] == ["read and build", "answer and analyse"]


def test_junit_is_written_too(typed: Typed, failing: Path) -> None:
    root = ElementTree.fromstring(typed("check", failing, "--format", "junit").out.encode("utf-8"))
    assert root.get("failures") == "1"


def test_several_formats_go_to_files_while_the_text_is_printed(typed: Typed, failing: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    done = typed("check", failing, "--output", f"json={out / 'a.json'}", "--output", f"junit={out / 'a.xml'}")
    assert done.code == 1
    assert done.out == typed("check", failing).out
    assert (out / "a.json").read_bytes().decode("utf-8") == typed("check", failing, "--format", "json").out
    assert sorted(file.name for file in out.iterdir()) == ["a.json", "a.xml"]


def test_a_dash_sends_a_format_to_standard_output_instead_of_the_text(typed: Typed, sound: Path) -> None:
    assert typed("check", sound, "--output", "json=-").out == typed("check", sound, "--format", "json").out


def test_the_same_spec_gives_the_same_bytes_whatever_the_order_of_sets(typed_apart: Typed, repository: Path) -> None:
    words = ("check", "specs/teaching.yaml", "--failures", "2", "--format", "json")
    one, other = (typed_apart(*words, cwd=repository, env={"PYTHONHASHSEED": seed}) for seed in ("1", "4711"))
    assert (one.code, one.out) == (other.code, other.out)
    assert len(one.out) > 1000


def test_no_absolute_path_stands_in_a_result(typed: Typed, failing: Path, tmp_path: Path) -> None:
    for format in ("text", "json", "junit"):
        assert str(tmp_path) not in typed("check", failing, "--format", format).out


def test_a_mistake_is_told_at_the_path_as_typed(typed: Typed, wrong: Path) -> None:
    assert f"  {wrong}:4:" in typed("check", wrong).err


def test_a_spec_is_read_from_standard_input_under_the_name_that_is_given(typed: Typed) -> None:
    done = typed("check", "-", "--stdin-name", "draft.yaml", stdin=TINY.encode())
    assert done.code == 1
    assert "  Place      draft.yaml:7:3\n" in done.out
    mistakes = typed("check", "-", stdin=b"format: interlock/1\nrulse: {}\n")
    assert mistakes.code == 2
    assert "  stdin:2:1\n" in mistakes.err


def test_both_engines_come_to_the_same(typed: Typed, failing: Path) -> None:
    quick, reference = (typed("check", failing, "--engine", name) for name in ("quick", "reference"))
    assert (quick.code, quick.out) == (reference.code, reference.out.replace("`reference`", "`quick`"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--engine", "fast"], "`--engine`: there is no engine `fast`"),
        (["--engine", "quik"], "did you mean `quick`?"),
        (["--format", "xml"], "the formats are text, json, junit"),
        (["--format", "jsno"], "did you mean `json`?"),
        (["--output", "json"], "`--output json` names no file"),
        (["--output", "=a"], "there is no format ``"),
        (["--format", "json", "--output", "junit=-"], "two results cannot both go to standard output"),
        (["--output", "json=x", "--output", "junit=x"], "two results cannot both go to `x`"),
        (["--output", "json=nowhere/x.json"], "there is no directory `nowhere`"),
        (["--output", "json=."], "it is a directory"),
        (["--dump-system", "nowhere/x.json"], "there is no directory `nowhere`"),
        (["--failures", "-1"], "`-1` is not a whole number from 0 to 20"),
        (["--failures", "two"], "`two` is not a whole number from 0 to 20"),
        (["--limit", "0"], "`0` is not a whole number of at least 1"),
        (["--timing", "all"], "it is one of any, declared, both"),
        (["--colour", "yes"], "it is one of auto, always, never"),
        (["--failure", "1"], "did you mean `--failures`?"),
        (["--whatever"], "lists the options"),
        (["--quiet=1"], "`--quiet` takes no value"),
        (["--rule"], "`--rule` needs a value"),
        (["another.yaml"], "`another.yaml` is one argument too many"),
    ],
)
def test_an_option_that_makes_no_sense_gives_2_and_a_cure(
    typed: Typed, sound: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], said: str
) -> None:
    monkeypatch.chdir(sound.parent)
    before = sorted(file.name for file in sound.parent.iterdir())
    done = typed("check", sound, *words)
    assert (done.code, done.out) == (2, "")
    assert said in " ".join(done.err.split())
    assert "\n  to cure: " in done.err
    assert sorted(file.name for file in sound.parent.iterdir()) == before


def test_a_result_never_overwrites_the_spec(typed: Typed, sound: Path) -> None:
    before = sound.read_bytes()
    for words in (["--output", f"json={sound}"], ["--dump-system", str(sound)]):
        done = typed("check", sound, *words)
        assert done.code == 2
        assert "a result would overwrite it" in " ".join(done.err.split())
    assert sound.read_bytes() == before


def test_a_folder_that_may_not_be_written_is_refused_before_the_work(
    typed: Typed, sound: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: path != tmp_path)
    done = typed("check", sound, "--output", f"json={tmp_path / 'a.json'}")
    assert (done.code, done.out) == (2, "")
    assert "permission denied" in done.err


def test_start_states_that_multiply_beyond_measure_are_a_mistake(typed: Typed, tmp_path: Path) -> None:
    items = "".join(f'  key{i}: {{states: [a, b], start: "any of [a, b]"}}\n' for i in range(13))
    file = tmp_path / "starts.yaml"
    file.write_text(f"format: interlock/1\nequipment:\n{items}rules:\n  R1: {{never: key1 is a}}\n", encoding="utf-8")
    for words in (["check", file], ["find", file, "key1 is a"], ["check", file, "--dump-system", tmp_path / "s"]):
        done = typed(*words)
        assert (done.code, done.out) == (2, "")
        assert "multiply to 8,192 combinations" in " ".join(done.err.split())
