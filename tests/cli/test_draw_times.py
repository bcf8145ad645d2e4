"""`interlock draw` of scenarios that the declared timing decides: the chart with times, and against an axis of time."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.cli.conftest import Typed
from tests.cli.test_declared_timing import SPEC
from tests.svg_boxes import clashes, spilled

RULES = """\
  cut: {after: contact is none, within: 150 ms, must: pole is open}
  kept: {after: contact is none, within: 160 ms, must: pole is open}
  brief: {condition: contact is none and pole is closed, lasts: 50 ms .. 200 ms}
  first: {never: shutter is ajar and pole is closed}
  can: {possible: shutter is ajar and pole is open}
"""


@pytest.fixture
def pole(tmp_path: Path) -> Path:
    file = tmp_path / "pole.yaml"
    file.write_text(SPEC + RULES, encoding="utf-8")
    return file


def svg_words(svg: str) -> str:
    return " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", svg))


def test_a_missed_deadline_is_a_scenario_with_times(typed: Typed, pole: Path) -> None:
    done = typed("draw", pole, "scenario", "--rule", "cut")
    assert (done.code, done.err) == (0, "")
    told = svg_words(done.out)
    assert "when one run" in told
    assert "from just after 30 ms on" in told
    assert "at the earliest just after 150 ms after the start; in the one run at" in told
    assert "unless timing forbids" not in told
    assert not clashes(done.out.encode())


def test_what_timing_forbids_is_no_scenario_unless_it_is_left_out_of_account(typed: Typed, pole: Path) -> None:
    done = typed("draw", pole, "scenario", "--rule", "first")
    assert (done.code, done.err) == (1, "no scenario to draw: first holds without failures\n")
    done = typed("draw", pole, "scenario", "--rule", "first", "--timing", "any")
    assert done.code == 0
    assert "this is a way unless timing forbids it" in svg_words(done.out)
    done = typed("draw", pole, "scenario", "--rule", "cut", "--timing", "any")
    assert done.code == 3
    assert "no scenario to draw: cut: a deadline has a verdict for the declared timing only" in done.err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--rule", "cut"], ["within 150 ms", "not met, and so broken here", "closed", "read here", "BREACH"]),
        (["--rule", "brief"], ["at least 50 ms", "broken here", "for less than 50 ms"]),
        (["--rule", "can"], ["reached here", "from 140 ms on"]),
        (["--to", "shutter is ajar"], ["reached here", "a way to shutter is ajar", "times"]),
    ],
)
def test_times_are_drawn_of_deadlines_and_of_ways(typed: Typed, pole: Path, words: list[str], told: list[str]) -> None:
    done = typed("draw", pole, "times", *words)
    assert (done.code, done.err) == (0, "")
    assert [piece for piece in told if piece not in svg_words(done.out)] == []
    assert not clashes(done.out.encode())
    assert not spilled(done.out.encode())


def test_where_no_scenario_is_in_time_none_is_drawn(typed: Typed, pole: Path) -> None:
    for rule in ("kept", "first"):
        done = typed("draw", pole, "times", "--rule", rule)
        assert (done.code, done.out, done.err) == (1, "", f"no scenario to draw: {rule} holds without failures\n")
    done = typed("draw", pole, "times", "--rule", "cut", "--limit", "1")
    assert (done.code, done.out) == (3, "")
    assert "more than 1 situations" in done.err


def test_a_rule_that_any_timing_breaks_is_drawn_against_time_too(typed: Typed, repository: Path) -> None:
    done = typed("draw", repository / "specs" / "teaching.yaml", "times", "--rule", "H2", "--failures", "1")
    assert done.code == 0
    assert "FAILURE: hold_fails is present at the start" in svg_words(done.out)


def test_times_go_to_files_as_svg_and_as_text(typed: Typed, pole: Path, tmp_path: Path) -> None:
    svg, text = tmp_path / "a.svg", tmp_path / "a.txt"
    done = typed("draw", pole, "times", "--rule", "cut", "--output", svg, "--output", text)
    assert (done.code, done.out, done.err) == (0, "", f"wrote {svg}\nwrote {text}\n")
    assert svg.read_text(encoding="utf-8") == typed("draw", pole, "times", "--rule", "cut").out
    told = text.read_text(encoding="utf-8")
    assert told == typed("draw", pole, "times", "--rule", "cut", "--format", "text").out
    assert "contact: made -> none" in told
    assert "pole is closed" in told


@pytest.mark.parametrize(
    ("words", "headline", "cure"),
    [
        (["times"], "which scenario is to be drawn?", "`--rule cut`"),
        (["times", "--rule", "cut", "--output", "a.png"], "`times` is not written as png", "svg or text"),
        (["times", "--rule", "cut", "--output", "a"], "which format is meant?", ".svg, .txt"),
        (["times", "--rule", "cut", "--format", "dot"], "there is no format `dot`", "svg, text"),
        (["scenario", "--rule", "cut", "--output", "a.txt"], "`scenario` is not written as text", "svg or png or dot"),
        (["times", "--rule", "cut", "--timing", "any"], "`--timing` says nothing", "scenario --timing"),
        (["scenario", "--rule", "cut", "--timing", "some"], "there is no `some`", "any, both"),
    ],
)
def test_what_makes_no_sense_gives_2_with_a_cure(
    typed: Typed, pole: Path, words: list[str], headline: str, cure: str
) -> None:
    done = typed("draw", pole, *words)
    assert (done.code, done.out) == (2, "")
    assert headline in " ".join(done.err.split())
    assert cure in " ".join(done.err.split())


def test_the_same_spec_gives_the_same_bytes_whatever_the_order_of_hashes(typed_apart: Typed, pole: Path) -> None:
    told = {
        typed_apart("draw", pole, "times", "--rule", "cut", env={"PYTHONHASHSEED": seed}, cwd=pole.parent).out
        for seed in ("1", "2")
    }
    assert len(told) == 1


def test_commands_have_lanes_and_lanes_can_be_chosen(typed: Typed, pole: Path) -> None:
    told = typed("draw", pole, "times", "--rule", "can", "--format", "text").out
    assert "command open_pole: not given -> given" in told
    assert "contact: made -> none" in told
    told = typed("draw", pole, "times", "--rule", "can", "--format", "text", "--lanes", "pole, touches").out
    assert "pole: closed -> open" in told
    assert "touches shown: true -> false" in told
    assert "command open_pole:" not in told
    assert "contact: made -> none" not in told
    assert "contact is_lost" in told  # events are told all the same
    done = typed("draw", pole, "times", "--rule", "can", "--lanes", "pole,shuter")
    assert (done.code, done.out) == (2, "")
    assert "did you mean `shutter`?" in done.err


def test_commands_have_no_lanes_where_there_would_be_too_many_unless_they_are_named(
    typed: Typed, pole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("interlock.analysis.drawing_times.MOST_LANES", 5)
    words = ["draw", str(pole), "times", "--rule", "can", "--format", "text"]
    assert "command open_pole" not in typed(*words).out
    assert "command open_pole: not given -> given" in typed(*words, "--lanes", "command open_pole").out


def test_a_command_whose_output_is_driven_is_given_whatever_the_logic_says(typed: Typed, tmp_path: Path) -> None:
    file = tmp_path / "pole.yaml"
    failing = "failures: {driven: {of: command open_pole, effect: {output: driven}}}\n"
    file.write_text(SPEC.replace("rules:\n", f"{failing}rules:\n  open: {{never: pole is open}}\n"), encoding="utf-8")
    words = ["--to", "pole is open and ground is charging", "--failures", "1", "--lanes", "ground,command open_pole"]
    told = typed("draw", file, "times", *words, "--format", "text").out
    assert "FAILURE: driven is present at the start" in told
    assert "command open_pole is given" in told


def test_of_a_draft_that_is_drawn_which_it_expects_to_be_broken(typed: Typed, repository: Path, tmp_path: Path) -> None:
    draft = repository / "specs" / "drafts" / "fault_told_too_late.yaml"
    told = typed("draw", draft, "times", "--format", "text", "--lanes", "ground,control_room").out
    assert "rule fault_is_told: a fault is told to the control room" in told
    assert "control_room is content" in told
