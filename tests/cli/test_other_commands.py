"""`find`, `exercise`, `explain`, `new`, `schema`, and the help of all."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from interlock import __version__
from interlock.cli.app import COMMANDS, HELP, command_named
from interlock.diag.registry import all_kinds
from tests.cli.conftest import TINY, Typed

# --- find ---


def test_find_gives_0_and_the_shortest_way_if_there_is_one(typed: Typed, failing: Path) -> None:
    done = typed("find", failing, "lamp is lit")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("holds: there is a way to `lamp is lit` without failures, in 2 events\n")
    assert "  2  at once  lamp becomes lit " in done.out


def test_find_gives_1_if_there_is_no_way(typed: Typed, failing: Path) -> None:
    done = typed("find", failing, "lamp is lit and key is rest")
    assert (done.code, done.err) == (1, "")
    assert done.out.startswith("fails: there is no way to `lamp is lit and key is rest` without failures\n")


def test_find_gives_3_if_not_everything_was_seen(typed: Typed, failing: Path) -> None:
    done = typed("find", failing, "lamp is lit and key is rest", "--limit", "1", "-q")
    assert done.code == 3
    assert done.out.startswith("undecided: no way to ")


def test_find_underlines_the_wrong_word_of_a_condition(typed: Typed, failing: Path) -> None:
    done = typed("find", failing, "lamp is lit and lmap is dark")
    assert (done.code, done.out) == (2, "")
    assert (
        "  CONDITION:1:17\n    1 | lamp is lit and lmap is dark\n      |                 ^^^^ not defined\n" in done.err
    )
    assert "to cure: `lamp` is defined at" in " ".join(done.err.split())


@pytest.mark.parametrize(
    "condition", ["", "  ", "lamp is", "lamp is lit and\nkey is", "(", "lamp", "key = 3", "\x1b[2J"]
)
def test_a_condition_that_makes_no_sense_gives_2_and_is_told(typed: Typed, failing: Path, condition: str) -> None:
    done = typed("find", failing, condition)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("error[")
    assert "internal-error" not in done.err
    assert "\x1b" not in done.err


def test_find_tells_the_mistakes_of_the_spec_itself(typed: Typed, wrong: Path) -> None:
    done = typed("find", wrong, "lamp is lit")
    assert done.code == 2
    assert f"{wrong}:" in done.err


def test_a_condition_may_use_the_conditions_of_the_spec_and_speak_of_events(typed: Typed, tmp_path: Path) -> None:
    file = tmp_path / "named.yaml"
    file.write_text(TINY + "conditions:\n  shining: lamp is lit\n  sought: key is rest\n", encoding="utf-8")
    assert typed("find", file, "becomes(shining) and not sought").code == 0
    assert typed("find", file, "shining and not was(key is turned)").code == 1


def test_find_looks_with_more_failures_only_after_fewer_were_not_enough(typed: Typed, repository: Path) -> None:
    words = ("find", repository / "specs/teaching.yaml", "train is away and shoe is down")
    assert typed(*words).code == 1
    data = json.loads(typed(*words, "--failures", "3", "--format", "json").out)
    assert [(one["failures"], one["verdict"]) for one in data["grid"]] == [(0, "fails"), (1, "holds")]


# --- exercise ---


def test_exercise_gives_1_and_the_run_if_it_finds_a_breach(typed: Typed, failing: Path) -> None:
    done = typed("exercise", failing, "--runs", "5", "--length", "6")
    assert (done.code, done.err) == (1, "")
    assert done.out.startswith("fails: H1 is broken in ")
    assert "key turns" in done.out


def test_exercise_gives_3_if_it_finds_none_for_a_sample_proves_nothing(typed: Typed, sound: Path) -> None:
    done = typed("exercise", sound, "--runs", "5", "--length", "6", "-q")
    assert (done.code, done.out, done.err) == (
        3,
        "undecided: no breach was found in 5 walks, which proves nothing\n",
        "",
    )


def test_the_same_seed_gives_the_same_walks(typed: Typed, repository: Path) -> None:
    words = ("exercise", repository / "specs/teaching.yaml", "--runs", "20", "--seed", "3")
    assert typed(*words) == typed(*words)


# --- explain ---


def test_every_kind_is_listed_and_explained(typed: Typed) -> None:
    listed = typed("explain")
    assert listed.code == 0
    for name, kind in all_kinds().items():
        assert re.search(rf"^  {name}\b", listed.out, re.MULTILINE)
        told = typed("explain", name)
        assert told.code == 0
        assert told.out.startswith(f"{kind.severity.value}[{name}]\n")
        assert max(map(len, told.out.split("\n"))) <= 80
    assert max(map(len, listed.out.split("\n"))) <= 80


def test_a_kind_may_be_typed_as_it_is_printed(typed: Typed) -> None:
    assert typed("explain", "error[unknown-name]:").out == typed("explain", "unknown-name").out


def test_an_unknown_kind_gives_2_and_the_one_that_was_meant(typed: Typed) -> None:
    done = typed("explain", "unknwon-name")
    assert (done.code, done.out) == (2, "")
    assert "did you mean `unknown-name`?" in done.err
    assert "`interlock explain` lists all kinds" in typed("explain", "zebra").err


# --- new ---


def test_a_new_spec_is_written_once_and_can_be_checked(
    typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = typed("new")
    assert (done.code, done.out) == (0, "")
    assert done.err == "wrote station.yaml; next: interlock check station.yaml\n"
    assert typed("check", "station.yaml", "-q").code == 0
    before = Path("station.yaml").read_bytes()
    again = typed("new")
    assert again.code == 2
    assert "exists already" in again.err
    assert Path("station.yaml").read_bytes() == before


def test_a_new_spec_can_go_to_standard_output(typed: Typed) -> None:
    done = typed("new", "-")
    assert (done.code, done.err) == (0, "")
    assert done.out.count("format: interlock/1\n") == 1


def test_a_new_spec_is_refused_where_it_cannot_be_written(typed: Typed, tmp_path: Path) -> None:
    assert "there is no directory" in " ".join(typed("new", tmp_path / "nowhere" / "a.yaml").err.split())
    assert "it is a directory" in " ".join(typed("new", tmp_path).err.split())
    link = tmp_path / "link.yaml"
    link.symlink_to(tmp_path / "elsewhere.yaml")
    assert typed("new", link).code == 2
    assert not (tmp_path / "elsewhere.yaml").exists()


# --- schema ---


@pytest.mark.parametrize("words", [(), ("spec",), ("check",), ("system",)])
def test_each_schema_is_printed(typed: Typed, words: tuple[str, ...]) -> None:
    done = typed("schema", *words)
    assert (done.code, done.err) == (0, "")
    assert "$schema" in json.loads(done.out)


def test_a_schema_that_is_not_there_is_refused(typed: Typed) -> None:
    done = typed("schema", "chekc")
    assert (done.code, done.out) == (2, "")
    assert "did you mean `check`?" in done.err


# --- help ---


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_a_command_names_every_option_and_no_other(name: str) -> None:
    command = command_named(name)
    said = set(re.findall(r"(?<![\w-])(--?[a-z][a-z-]*)", command.help.partition("\nExamples:")[0]))
    there = {option for option in command.options() if option != "--color"}
    assert said - {"-h", "--help"} == there
    for option in re.findall(r"(?<![\w-])(--[a-z][a-z-]*)", command.help.partition("\nExamples:")[2]):
        assert option in there


@pytest.mark.parametrize("text", [HELP, *(command_named(name).help for name in COMMANDS)])
def test_help_fits_80_columns_and_has_examples(text: str) -> None:
    assert max(map(len, text.split("\n"))) <= 80
    assert "\nExamples:\n" in text


@pytest.mark.parametrize("name", COMMANDS)
def test_help_is_printed_wherever_it_is_asked_for(typed: Typed, name: str) -> None:
    told = {typed(*words).out for words in ((name, "--help"), (name, "x.yaml", "-h"), ("--help", name))}
    assert told == {command_named(name).help}


def test_the_help_of_the_program_names_every_command(typed: Typed) -> None:
    done = typed("--help")
    assert (done.code, done.out, done.err) == (0, HELP, "")
    assert re.findall(r"^  (\w+)  ", HELP.partition("Commands:")[2].partition("Options:")[0], re.M) == list(COMMANDS)


def test_without_a_word_the_help_goes_to_standard_error(typed: Typed) -> None:
    done = typed()
    assert (done.code, done.out, done.err) == (2, "", HELP)


def test_the_version_is_printed(typed: Typed) -> None:
    assert typed("--version").out == f"interlock {__version__}\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["chek"], "did you mean `check`?"),
        (["zebra"], "the commands are check, find, draw, timing, exercise, explain, new, schema"),
        (["--verson"], "did you mean `--version`?"),
        (["check"], "`interlock check` needs SPEC"),
        (["find"], "`interlock find` needs SPEC and CONDITION"),
        (["find", "a.yaml"], "`interlock find` needs CONDITION"),
        (["find", "a.yaml", "lamp", "is", "lit"], "put quotes round the condition"),
        (["exercise", "a.yaml", "--runs", "0"], "`0` is not a whole number from 1 to 1000000"),
        (["explain", "a", "b"], "one argument too many"),
    ],
)
def test_words_that_make_no_sense_give_2_and_a_cure(typed: Typed, words: list[str], said: str) -> None:
    done = typed(*words)
    assert (done.code, done.out) == (2, "")
    assert said in " ".join(done.err.split())
