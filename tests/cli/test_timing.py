"""`interlock timing` as typed, on specs whose times are worked out by hand."""

from __future__ import annotations

import json
from fractions import Fraction
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.cli.conftest import Typed

POLE = """\
format: interlock/1
title: A pole that is to open
equipment:
  contact:
    states: [made, none]
    start: made
    moves: {is_lost: {from: made, to: none}}
  pole:
    states: [closed, open]
    start: closed
    moves: {opens: {from: closed, to: open, when: command open_pole, takes: 30 ms .. 120 ms}}
  shutter:
    states: [shut, ajar]
    start: shut
    moves: {falls: {from: shut, to: ajar, when: command open_pole, takes: 130 ms .. 200 ms}}
readings:
  touches: {shows: contact is made, late: 10 ms .. 40 ms}
logic:
  ground:
    steps: {charging: {start: true}, opening: {drives: [open_pole]}}
    trips: {contact_lost: {from: [charging], to: opening, when: not touches}}
failures:
  pole_sticks: {of: pole, effect: {stuck: true}, rate: 1e-6 /h, source: invented}
"""
"""The loss is seen 10 to 40 ms later, the pole opens 30 to 120 ms after that, the shutter falls 130 to 200 ms after it:
pole 40 to 160 ms, shutter 140 to 240 ms after the loss, the shutter 10 to 170 ms after the pole."""

LIMITS = """\
hazards:
  H: {words: no contact under a closed pole, severity: critical,
      happens: {condition: contact is none and pole is closed, longer_than: 100 ms}}
rules:
  cut: {after: contact is none, within: 200 ms, must: pole is open, withstands: 1}
  shut: {condition: pole is closed and contact is none, lasts: 30 ms .. 160 ms}
"""

LAMP = """\
format: interlock/1
title: A lamp that blinks while a key is turned
equipment:
  key: {states: [rest, turned], start: rest, moves: {turns: {from: rest, to: turned}}}
  lamp:
    states: [dark, lit]
    start: dark
    moves:
      lights: {from: dark, to: lit, takes: over 2 s .. 3 s}
      goes_dark: {from: lit, to: dark, takes: 1 s .. under 5 s}
"""


TWICE = """\
format: interlock/1
title: A lamp that is lit twice
equipment:
  lamp:
    states: [dark, lit, dark_again, lit_again, over]
    start: dark
    moves:
      lights: {from: dark, to: lit}
      fades: {from: lit, to: dark_again, takes: 1 s .. 2 s}
      lights_again: {from: dark_again, to: lit_again, takes: 2 s .. 3 s}
      ends: {from: lit_again, to: over, takes: 4 s .. 6 s}
"""


def written(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "spec.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def measured(typed: Typed, file: Path, begins: str, ends: str, *more: str) -> dict[str, Any]:
    done = typed("timing", file, "--from", begins, "--to", ends, "--format", "json", *more)
    data = json.loads(done.out)
    schema = json.loads(files("interlock.report").joinpath("schema_timing.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(data)
    assert data["exit_code"] == done.code
    between: dict[str, Any] = data["between"]
    assert data["system"]["time_unit"].endswith(" s")
    between["tick_s"] = Fraction(data["system"]["time_unit"].split()[0])
    between["code"] = done.code
    return between


def seconds(between: dict[str, Any], extreme: str) -> tuple[float, bool]:
    """In seconds (floats serve for these short decimals), and whether it is open."""
    length = between[extreme]["length"]
    return float(length["ticks"] * between["tick_s"]), length["open"]


@pytest.mark.parametrize(
    ("begins", "ends", "earliest_ms", "latest_ms"),
    [
        ("contact is none", "pole is open", 40, 160),
        ("contact is none", "shutter is ajar", 140, 240),
        ("pole is open", "shutter is ajar", 10, 170),
        ("not touches", "pole is open", 30, 120),
        ("pole is open", "contact is none", 0, 0),
    ],
)
def test_times_between_conditions_are_those_worked_out_by_hand(
    typed: Typed, tmp_path: Path, begins: str, ends: str, earliest_ms: int, latest_ms: int
) -> None:
    between = measured(typed, written(tmp_path, POLE), begins, ends)
    assert between["code"] == 0
    assert seconds(between, "earliest") == (earliest_ms / 1000, False)
    assert seconds(between, "latest") == (latest_ms / 1000, False)


def test_the_runs_shown_take_what_the_extremes_say(typed: Typed, tmp_path: Path) -> None:
    between = measured(typed, written(tmp_path, POLE), "contact is none", "shutter is ajar")
    for extreme, expected in (("earliest", 140), ("latest", 240)):
        told = between[extreme]
        took = Fraction(told["ends"]["at"]) - Fraction(told["begins"]["at"])
        assert took * between["tick_s"] == Fraction(expected, 1000)
    assert between["earliest"]["ends"]["event"] == len(between["earliest"]["scenario"]["events"])
    assert between["latest"]["ends"]["event"] is None
    ends = [
        (between[e]["scenario"]["ends"], between[e]["scenario"]["breach"]["expression"]) for e in ("earliest", "latest")
    ]
    assert ends == [("reached", "shutter is ajar"), ("breach", "still not: shutter is ajar")]


def test_extremes_name_the_windows_that_they_rest_on(typed: Typed, tmp_path: Path) -> None:
    between = measured(typed, written(tmp_path, POLE), "contact is none", "pole is open")
    assert between["earliest"]["rests_on"] == ["pole opens: at least 30 ms", "touches arrives from 1: at least 10 ms"]
    assert between["latest"]["rests_on"] == ["pole opens: at most 120 ms", "touches arrives from 1: at most 40 ms"]


def test_what_is_only_approached_is_told_so(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, LAMP)
    between = measured(typed, file, "lamp is dark", "lamp is lit")
    assert (seconds(between, "earliest"), seconds(between, "latest")) == ((2, True), (3, False))
    between = measured(typed, file, "lamp is lit", "lamp is dark")
    assert (seconds(between, "earliest"), seconds(between, "latest")) == ((1, False), (5, True))
    out = typed("timing", file, "--from", "lamp is lit", "--to", "lamp is dark").out
    assert out.startswith("holds: from `lamp is lit` to `lamp is dark`: earliest 1 s, latest just under 5 s")


def test_a_wait_begins_anew_with_every_rising_for_the_earliest_and_with_the_first_for_the_latest(
    typed: Typed, tmp_path: Path
) -> None:
    # The lamp is lit again and again while the key rests: from the last time it can be at once that the key is turned,
    # and it need not be turned ever.
    between = measured(typed, written(tmp_path, LAMP), "lamp is lit", "key is turned")
    assert seconds(between, "earliest") == (0, False)
    assert between["latest"]["endless"]
    assert between["latest"]["length"] is None
    assert between["code"] == 0


def test_where_it_rises_twice_the_earliest_is_from_the_last_time_and_the_latest_from_the_first(
    typed: Typed, tmp_path: Path
) -> None:
    between = measured(typed, written(tmp_path, TWICE), "lamp in {lit, lit_again}", "lamp is over")
    assert (seconds(between, "earliest"), seconds(between, "latest")) == ((4, False), (11, False))
    assert between["earliest"]["begins"] == {"event": 3, "at": "3"}


def test_what_comes_round_beside_a_wait_does_not_make_it_endless(typed: Typed, tmp_path: Path) -> None:
    # The lamp comes back to where it was, but the key has waited longer by then. At the latest the lamp is lit and then
    # the key turned, both at 22 s; it is dark again just under 5 s later.
    file = written(tmp_path, LAMP.replace("to: turned}", "to: turned, takes: 20 s .. 22 s}"))
    between = measured(typed, file, "key is rest", "key is turned and lamp is dark")
    assert (seconds(between, "earliest"), seconds(between, "latest")) == ((20, False), (27, True))


def test_a_condition_that_never_comes_gives_exit_code_1(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, POLE)
    done = typed("timing", file, "--from", "pole is open", "--to", "contact is made")
    assert (done.code, done.out.split("\n")[0]) == (
        1,
        "fails: `contact is made` never comes after `pole is open`, without failures",
    )
    done = typed("timing", file, "--from", "pole is open and contact is made", "--to", "shutter is ajar", "-q")
    assert (done.code, done.out) == (
        1,
        "fails: `pole is open and contact is made` holds in no settled situation, without failures\n",
    )


def test_failures_lengthen_what_they_can(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, POLE)
    between = measured(typed, file, "contact is none", "pole is open", "--failures", "1")
    assert seconds(between, "earliest") == (0.04, False)
    assert between["latest"]["endless"]


def test_time_limits_are_told_with_what_is_left_of_them(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, POLE + LIMITS)
    done = typed("timing", file, "--format", "json")
    data = json.loads(done.out)
    rows = {(row["id"], row["measures"]): row for row in data["deadlines"]}
    tick_ms = Fraction(data["system"]["time_unit"].split()[0]) * 1000
    told = {key: (row["verdict"], row["slack"] * tick_ms) for key, row in rows.items()}
    assert told == {
        ("cut", "longest"): ("holds", 40),
        ("shut", "longest"): ("holds", 0),
        ("shut", "shortest"): ("holds", 10),
        ("H", "longest"): ("fails", -60),
    }
    assert done.code == 1
    out = typed("timing", file).out
    assert "  cut   ################....  160 ms of 200 ms: 40 ms left\n" in out
    assert "  One run    events 1 to 2 at 0 s, 3 to 5 at 40 ms, waiting at 160 ms\n" in out
    assert "  H     ###################!  160 ms of 100 ms: exceeded by 60 ms\n" in out


def test_only_the_rules_named_are_measured_and_what_is_not_claimed_never_counts(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, POLE + LIMITS)
    assert typed("timing", file, "--rule", "cut").code == 0
    assert typed("timing", file, "--rule", "shut", "--failures", "1").code == 0
    done = typed("timing", file, "--rule", "cut", "--failures", "1")
    assert done.code == 1
    assert "no end to it, of 200 ms allowed" in done.out


def test_nothing_to_measure_is_not_success(typed: Typed, tmp_path: Path) -> None:
    done = typed("timing", written(tmp_path, POLE + "rules: {R: {possible: pole is open}}\n"), "-q")
    assert done.code == 3
    assert done.out.startswith("undecided: the spec has no time limit")


def test_a_limit_that_is_hit_is_told_and_undecided(typed: Typed, tmp_path: Path) -> None:
    done = typed("timing", written(tmp_path, POLE), "--from", "contact is none", "--to", "pole is open", "--limit", "2")
    assert done.code == 3
    assert "more than 2 situations can be reached" in done.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "pole is open"), "`--from` without `--to`"),
        (("--to", "pole is open"), "`--to` without `--from`"),
        (("--from", "becomes(pole is open)", "--to", "contact is none"), "`--from`: the condition speaks of an event"),
        (("--from", "contact is none", "--to", "pole is opne"), "item `pole` has no state `opne`"),
        (("--rule", "cutt"), "the spec has no rule and no hazard `cutt`"),
        (("--rule", "cut", "--from", "pole is open", "--to", "pole is open"), "`--rule` with `--from` and `--to`"),
    ],
)
def test_what_makes_no_sense_is_refused(typed: Typed, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = typed("timing", written(tmp_path, POLE + LIMITS), *words)
    assert (done.code, done.out) == (2, "")
    assert said in done.err


def test_a_mistake_in_a_condition_is_told_under_the_name_of_its_option(typed: Typed, tmp_path: Path) -> None:
    done = typed("timing", written(tmp_path, POLE), "--from", "contact is none", "--to", "pole is opne")
    assert "--to:1:9" in done.err
    assert "did you mean `open`?" in done.err


def test_the_same_spec_gives_the_same_bytes(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, POLE + LIMITS)
    first, second = (typed("timing", file, "--format", "json").out for _ in range(2))
    assert first == second
