"""Drafts on the command line: every command takes one as it takes a spec, and tells places in both files."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tests.cli.conftest import SOUND, Typed
from tests.cli.test_check import schema

LIT = """\
format: interlock/1
title: A lamp that may be lit
based_on: ../sound.yaml
changes:
  - replace: rules R1 never
    with: lamp is lit
expect:
  - {rule: R1, failures: 0}
"""
"""R1 fails, H1 does not."""


@pytest.fixture
def draft(tmp_path: Path) -> Path:
    """A draft in a folder below the spec that it is based on."""
    (tmp_path / "sound.yaml").write_text(SOUND, encoding="utf-8")
    file = tmp_path / "drafts" / "lit.yaml"
    file.parent.mkdir()
    file.write_text(LIT, encoding="utf-8")
    return file


@pytest.fixture
def here(draft: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The draft as one types it from the folder above."""
    monkeypatch.chdir(draft.parents[1])
    return "drafts/lit.yaml"


def test_check_tells_what_a_draft_is_based_on_and_that_it_is_as_expected(typed: Typed, here: str) -> None:
    done = typed("check", here)
    assert (done.code, done.err) == (1, "")
    assert "Checked        A lamp that may be lit\n" in done.out
    assert "Based on       sound.yaml, digest " in done.out
    assert "\n  as expected       R1 fails without failures (any timing)\n" in done.out
    assert "  Place      sound.yaml:9:3\n" in done.out


def test_an_expectation_that_is_not_met_changes_no_exit_code(typed: Typed, draft: Path) -> None:
    draft.write_text(LIT.replace("{rule: R1, failures: 0}", "{rule: R1, failures: 0, also: [H1]}"), encoding="utf-8")
    done = typed("check", draft)
    assert done.code == 1
    assert "\n  not as expected   R1 fails without failures (any timing), and so does H1: H1\n" in done.out
    assert "                    holds\n" in done.out


def test_what_was_not_asked_about_is_not_known(typed: Typed, draft: Path) -> None:
    done = typed("check", draft, "--rule", "R2")
    assert done.code == 0
    assert "\n  not known         R1 fails without failures (any timing): R1 was not" in done.out


def test_the_digest_is_that_of_the_digests_of_both_files(typed: Typed, here: str, draft: Path) -> None:
    found = json.loads(typed("check", here, "--format", "json").out)
    Draft202012Validator(schema("interlock.report", "schema_check.json")).validate(found)
    first, second = (hashlib.sha256(text.encode()).hexdigest() for text in (LIT, SOUND))
    assert found["spec"]["based_on"] == [{"file": "sound.yaml", "digest": second}]
    assert found["spec"]["digest"] == hashlib.sha256(f"{first}\n{second}\n".encode()).hexdigest()
    assert found["expected"][0]["met"] is True
    assert found["expected"][0]["place"]["file"] == "drafts/lit.yaml"


def test_no_absolute_path_is_in_the_results_of_a_draft_elsewhere(typed: Typed, draft: Path) -> None:
    found = typed("check", draft, "--format", "json").out
    assert json.loads(found)["spec"]["based_on"][0]["file"] == "../sound.yaml"
    assert str(draft.parents[1]) not in found


def test_find_and_exercise_take_a_draft(typed: Typed, here: str) -> None:
    assert typed("find", here, "lamp is lit", "-q").code == 0
    done = typed("exercise", here, "--runs", "20")
    assert done.code == 1
    assert "based on sound.yaml" in done.out


def test_a_condition_with_a_mistake_is_told_at_the_condition_alone(typed: Typed, here: str) -> None:
    done = typed("find", here, "lamp is lti")
    assert done.code == 2
    assert "CONDITION:1:9" in done.err
    assert "lit.yaml" not in done.err


def test_a_draft_on_standard_input_is_read_as_if_it_had_the_name_it_is_given(typed: Typed, here: str) -> None:
    done = typed("check", "-", "-q", "--stdin-name", "drafts/unsaved.yaml", stdin=LIT.encode())
    assert done.code == 1
    done = typed("check", "-", "-q", stdin=LIT.replace("../sound.yaml", "sound.yaml").encode())
    assert done.code == 1
    done = typed("check", "-", "-q", stdin=LIT.encode())
    assert done.code == 2
    assert "error[base-not-read]" in done.err
    assert "stdin:3:11" in done.err


def test_a_mistake_in_the_file_beneath_is_told_there_and_shows_the_change(typed: Typed, here: str, draft: Path) -> None:
    draft.write_text(LIT.replace("- replace: rules R1 never\n    with: lamp is lit", "- remove: equipment lamp"))
    done = typed("check", here)
    assert (done.code, done.out) == (2, "")
    assert "sound.yaml:7:41" in done.err
    assert "drafts/lit.yaml:5:13" in done.err
    assert "after this change" in done.err


def test_a_mistake_in_what_is_put_in_is_told_in_the_draft(typed: Typed, here: str, draft: Path) -> None:
    draft.write_text(LIT.replace("with: lamp is lit", "with: lamp is lti"))
    done = typed("check", here)
    assert done.code == 2
    assert "drafts/lit.yaml:6:19" in done.err
    assert "sound.yaml:" not in done.err.split("to cure")[0]


@pytest.mark.parametrize("command", [("check", "lit"), ("find", "lit", "lamp is lit")], ids=" ".join)
def test_no_result_overwrites_the_file_beneath(typed: Typed, here: str, draft: Path, command: tuple[str, ...]) -> None:
    words = [here if word == "lit" else word for word in command]
    done = typed(*words, "--output", "json=sound.yaml")
    assert done.code == 2
    assert "is a file that the draft is based on" in done.err
    assert (draft.parents[1] / "sound.yaml").read_text(encoding="utf-8") == SOUND
