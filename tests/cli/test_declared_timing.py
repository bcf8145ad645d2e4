"""The declared timing through the door: deadlines, what they rest on, what timing forbids, worked out by hand.

A contact may be lost at any moment. The reading shows it 10 to 40 ms later, the logic trips at once, the pole opens 30
to 120 ms after that: at the latest 40 + 120 = 160 ms after the contact was lost.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from tests.cli.conftest import Typed

SPEC = """\
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
rules:
"""


def written(tmp_path: Path, rules: str) -> Path:
    file = tmp_path / "pole.yaml"
    file.write_text(SPEC + rules, encoding="utf-8")
    return file


@pytest.mark.parametrize(("within", "verdict"), [("160 ms", "holds"), ("159 ms", "fails")])
def test_a_deadline_holds_from_the_sum_of_the_latest_times_on(
    typed: Typed, tmp_path: Path, within: str, verdict: str
) -> None:
    file = written(tmp_path, f"  cut: {{after: contact is none, within: {within}, must: pole is open}}\n")
    done = typed("check", file, "--rule", "cut")
    assert done.out.startswith(verdict)
    assert done.code == {"holds": 0, "fails": 1}[verdict]


def test_a_deadline_names_the_times_that_it_rests_on(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, "  cut: {after: contact is none, within: 160 ms, must: pole is open}\n")
    (rule,) = json.loads(typed("check", file, "--format", "json").out)["rules"]
    assert rule["rests_on"] == ["pole opens: at most 120 ms", "touches arrives from 1: at most 40 ms"]
    assert [(cell["timing"], cell["verdict"]) for cell in rule["grid"]] == [("declared", "holds")]
    out = typed("check", file).out
    assert "Times that verdicts rest on, to be verified on site\n  pole opens: at most 120 ms\n" in out


def test_margins_tell_how_far_each_time_may_move(typed: Typed, tmp_path: Path) -> None:
    # 200 ms leave 80 for the reading beside the 120 of the pole, and 160 for the pole beside the 40 of the reading. All
    # events by which the pole opens, and by which the reading arrives, take the same time.
    file = written(tmp_path, "  cut: {after: contact is none, within: 200 ms, must: pole is open}\n")
    data = json.loads(typed("check", file, "--margins", "--format", "json").out)
    (rule,) = data["rules"]
    assert data["system"]["time_unit"] == "1/100 s"
    told = {margin["window"]: margin for margin in rule["margins"]}
    assert list(told) == rule["rests_on"]
    pole, reading = told["pole opens: at most 120 ms"], told["touches arrives from 1: at most 40 ms"]
    assert (pole["declared"], pole["breaks"], pole["margin"]) == (
        {"ticks": "12", "open": False}, {"ticks": "16", "open": True}, "4"
    )  # fmt: skip
    assert pole["says"] == "breaks beyond 160 ms"
    assert pole["together"] == [
        "pole opens", "pole opens after resuming", "pole opens is dropped", "pole opens though withdrawn"
    ]  # fmt: skip
    assert (reading["breaks"], reading["end"]) == ({"ticks": "8", "open": True}, "latest")
    assert reading["together"] == ["touches arrives from 1", "touches arrives from 2", "touches newest arrives"]
    out = typed("check", file, "--margins").out
    assert "  pole opens: at most 120 ms\n    rests on it: cut (breaks beyond 160 ms)\n" in out
    cases = typed("check", file, "--margins", "--format", "junit").out
    assert "pole opens: at most 120 ms (breaks beyond 160 ms)" in cases


def test_how_many_clocks_a_rule_needed_is_told(typed: Typed, tmp_path: Path) -> None:
    # A clock for the pole, for the reading, and for the deadline.
    file = written(tmp_path, "  cut: {after: contact is none, within: 160 ms, must: pole is open}\n")
    (rule,) = json.loads(typed("check", file, "--format", "json").out)["rules"]
    assert [cell["clocks"] for cell in rule["grid"]] == [3]
    assert "clocks needed cut 3 " in " ".join(typed("check", file, "--statistics").out.split())


def test_without_being_asked_for_margins_are_not_worked_out_and_the_report_says_how(
    typed: Typed, tmp_path: Path
) -> None:
    file = written(tmp_path, "  cut: {after: contact is none, within: 200 ms, must: pole is open}\n")
    (rule,) = json.loads(typed("check", file, "--format", "json").out)["rules"]
    assert rule["margins"] is None
    assert "`--margins` tells how far each may move." in typed("check", file).out


def test_a_breach_has_the_times_of_its_events(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, "  cut: {after: contact is none, within: 150 ms, must: pole is open}\n")
    data = json.loads(typed("check", file, "--format", "json").out)
    (cell,) = data["rules"][0]["grid"]
    told = {event["action"]: event for event in cell["scenario"]["events"]}
    # 120 ms remain of 150 to the latest opening, so the reading came later than 30 ms after the loss.
    assert told["contact is_lost"]["earliest"] == {"ticks": 0, "open": False}
    tick_ms = 10
    assert told["touches arrives from 1"]["earliest"] == {"ticks": 30 // tick_ms, "open": True}
    arrival, broken = Fraction(told["touches arrives from 1"]["at"]), cell["scenario"]["missed"]
    loss = Fraction(told["contact is_lost"]["at"])
    assert 30 < (arrival - loss) * tick_ms <= 40
    assert broken["limit"] == {"ticks": 150 // tick_ms, "open": True}
    assert loss * tick_ms + 150 < Fraction(broken["at"]) * tick_ms <= arrival * tick_ms + 120


def test_each_engine_is_credited_with_what_it_decided(typed: Typed, tmp_path: Path) -> None:
    first = "  first: {never: shutter is ajar and pole is closed}\n"
    file = written(tmp_path, first + "  same: {never: pole is open and not command open_pole}\n")
    engines = json.loads(typed("check", file, "--format", "json").out)["engines"]
    assert [(use["name"], use["timing"], use["decided"]) for use in engines] == [
        ("quick", "any", ["same"]),
        ("zones", "declared", ["first"]),
    ]
    assert "Explored" in (out := " ".join(typed("check", file).out.split()))
    assert "engine `zones`: declared timing decided for first" in out


def test_what_only_some_timing_breaks_holds_and_rests_on_timing(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, "  first: {never: shutter is ajar and pole is closed}\n")
    data = json.loads(typed("check", file, "--format", "json").out)
    (rule,) = data["rules"]
    assert {cell["timing"]: cell["verdict"] for cell in rule["grid"]} == {"any": "fails", "declared": "holds"}
    assert rule["verdict"] == "holds"
    assert rule["rests_on"] == ["pole opens: at most 120 ms", "shutter falls: at least 130 ms"]
    (rule,) = json.loads(typed("check", file, "--margins", "--format", "json").out)["rules"]
    assert [margin["says"] for margin in rule["margins"]] == ["breaks from 130 ms on", "breaks at 120 ms and below"]
    assert "Rests on timing: first." in typed("check", file).out


def test_asked_for_any_timing_alone_it_stays_open(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, "  first: {never: shutter is ajar and pole is closed}\n")
    done = typed("check", file, "--rule", "first", "--timing", "any")
    assert done.code == 3
    assert "the declared timing was not asked for" in done.out


def test_find_knows_what_timing_forbids(typed: Typed, tmp_path: Path) -> None:
    file = written(tmp_path, "  can: {possible: pole is open}\n")
    assert typed("find", file, "shutter is ajar and pole is closed").code == 1
    found = typed("find", file, "shutter is ajar and pole is open")
    assert found.code == 0
    assert "shutter falls (from 140 ms on)" in " ".join(found.out.split())


WHEEL = """\
format: interlock/1
title: A lamp, and a wheel that may turn in no time
equipment:
  lamp:
    states: [dark, lit]
    start: dark
    moves: {lights: {from: dark, to: lit, when: true, takes: 100 ms .. 200 ms}}
  wheel:
    states: [left, right]
    start: left
    moves:
      goes: {from: left, to: right, when: true, takes: 0 ms .. TURN}
      comes: {from: right, to: left, when: true, takes: 0 ms .. TURN}
rules:
  soon: {after: lamp is dark, within: 50 ms, must: lamp is lit}
  can: {possible: lamp is lit}
"""


@pytest.mark.parametrize(("turn", "soon", "can"), [("0 ms", "holds", "fails"), ("1 ms", "fails", "holds")])
def test_what_a_rule_does_not_read_can_stop_time_for_it(
    typed: Typed, tmp_path: Path, turn: str, soon: str, can: str
) -> None:
    # Turning for ever in no time, the wheel leaves the lamp no 100 ms; from 1 ms a turn on, time can pass.
    file = tmp_path / "wheel.yaml"
    file.write_text(WHEEL.replace("TURN", turn), encoding="utf-8")
    rules = json.loads(typed("check", file, "--format", "json").out)["rules"]
    assert {rule["id"]: rule["verdict"] for rule in rules} == {"soon": soon, "can": can}


DEBOUNCE = """\
format: interlock/1
title: A lamp that goes dark once the loss of a contact has lasted
equipment:
  contact:
    states: [made, none]
    start: made
    moves: {is_lost: {from: made, to: none}}
  lamp:
    states: [lit, dark]
    start: lit
    moves: {goes_dark: {from: lit, to: dark, when: command darken, takes: nothing}}
readings:
  lost: {shows: contact is none, steady: 500 ms .. 500 ms}
logic:
  ground:
    steps: {shining: {start: true}, resting: {drives: [darken]}}
    trips: {told: {from: [shining], to: resting, when: lost}}
rules:
  soon: {after: contact is none, within: WITHIN, must: lamp is dark}
"""


@pytest.mark.parametrize(("within", "verdict"), [("300 ms", "fails"), ("500 ms", "holds"), ("600 ms", "holds")])
def test_a_debounce_longer_than_the_deadline_breaks_it(typed: Typed, tmp_path: Path, within: str, verdict: str) -> None:
    file = tmp_path / "debounce.yaml"
    file.write_text(DEBOUNCE.replace("WITHIN", within), encoding="utf-8")
    (rule,) = json.loads(typed("check", file, "--format", "json").out)["rules"]
    assert rule["verdict"] == verdict
    out = " ".join(typed("check", file).out.split())
    if verdict == "holds":
        (window,) = rule["rests_on"]
        assert window.endswith(": at most 500 ms")
    else:
        assert "Broken 300 ms after contact is none, and still not: lamp is dark One run event" in out


VANE = """\
format: interlock/1
title: A vane and a pump
equipment:
  vane:
    states: [left, right]
    start: left
    moves: {swings: {from: left, to: right, takes: 2 s .. 3 s}, returns: {from: right, to: left, takes: 2 s .. 3 s}}
  pump:
    states: [still, running, dry]
    start: still
    moves:
      runs_up: {from: still, to: running, when: vane is left, takes: RUN_UP}
      runs_dry: {from: running, to: dry, takes: 1 s .. 4 s}
rules:
  ends: {always_ends: pump is not still, from: pump is still}
  way: {always_possible: pump is running}
"""


def vane(tmp_path: Path, run_up: str) -> Path:
    file = tmp_path / "vane.yaml"
    file.write_text(VANE.replace("RUN_UP", run_up), encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("run_up", "engine", "verdict"),
    [
        ("1 s .. 1 s", "ticks", "holds"),  # before the vane swings
        ("3 s .. 3 s", "ticks", "fails"),  # the vane may swing at 2 s, each time
        ("0 s .. under 2 s", "regions", "holds"),
        ("0 s .. 2 s", "ticks", "fails"),  # at 2 s either may be first
        ("over 1 s .. 3 s", "regions", "fails"),
    ],
)
def test_that_a_run_always_ends_is_decided_by_the_declared_times(
    typed: Typed, tmp_path: Path, run_up: str, engine: str, verdict: str
) -> None:
    done = typed("check", vane(tmp_path, run_up), "--rule", "ends", "--format", "json")
    result = json.loads(done.out)
    assert result["verdict"] == verdict
    assert done.code == {"holds": 0, "fails": 1}[verdict]
    (by,) = [used["name"] for used in result["engines"] if "ends" in used["decided"]]
    assert by == engine
    (rule,) = result["rules"]
    (cell,) = [cell for cell in rule["grid"] if cell["timing"] == "declared"]
    if verdict == "fails":
        told = cell["scenario"]
        assert told["ends"] == "loop"
        assert all(event["at"] is not None for event in told["events"])


def test_where_no_way_is_left_the_time_is_told(typed: Typed, tmp_path: Path) -> None:
    done = typed("check", vane(tmp_path, "1 s .. 1 s"), "--rule", "way")
    assert done.code == 1
    assert "engine `ways`: declared timing decided for way" in " ".join(done.out.split())
    # It runs from 1 s on and may be dry 1 s later.
    assert "One run    events 1 at 0 s, 2 at 1 s, 3 at 2 s, no way left at 2 s" in done.out


def test_beyond_the_limit_of_situations_what_always_ends_is_undecided_and_the_limit_is_named(
    typed: Typed, tmp_path: Path
) -> None:
    done = typed("check", vane(tmp_path, "1 s .. 1 s"), "--rule", "ends", "--limit", "5")
    assert done.code == 3
    assert "more than 5 situations" in " ".join(done.out.split())


CORPUS = Path(__file__).parents[1] / "corpus"


def test_what_is_always_possible_or_always_ends_names_the_times_that_it_rests_on(typed: Typed) -> None:
    # Each pair by hand, in the notes of the spec: what comes in time, and what gives it that time.
    file = CORPUS / "ends_in_time.yaml"
    data = json.loads(typed("check", file, "--margins", "--format", "json").out)
    rules = {rule["id"]: rule for rule in data["rules"]}
    assert {id: rule["rests_on"] for id, rule in rules.items() if rule["verdict"] == "holds"} == {
        "R1": ["vane swings: at least 2 s", "fast_pump runs_up: at most 1 s"],
        "R3": ["fuse taken_out: at most 1 s", "fuse blows: at least 2 s"],
        "R5": ["bell strikes: at least 1 s", "latch falls: sooner than 1 s"],
    }
    assert data["not_checked"] == []
    out = typed("check", file).out
    assert "  fuse blows: at least 2 s\n    rests on it: R3\n" in out
    told = " ".join(out.split())
    assert "A rule `always_possible` or `always_ends` holds whatever all other times are" in told
    assert "For `always_possible` none can be left out of the proof" in told
    assert "`--margins` tells how far each may move." in told


def test_margins_of_what_is_always_possible_or_always_ends_by_hand(typed: Typed) -> None:
    """The pump must be through before the vane turns, the fuse out before it blows, the latch down before the bell."""
    file = CORPUS / "ends_in_time.yaml"
    data = json.loads(typed("check", file, "--margins", "--format", "json").out)
    told = {(margin["window"], margin["moved"]): margin for rule in data["rules"] for margin in rule["margins"] or ()}
    assert {key: margin["says"] for key, margin in told.items()} == {
        ("vane swings: at least 2 s", "sooner"): "breaks at 1 s and below",
        ("fast_pump runs_up: at most 1 s", "later"): "breaks from 2 s on",
        ("fuse taken_out: at most 1 s", "later"): "breaks at 2 s",
        ("fuse taken_out: at most 1 s", "sooner"): "no change of it alone breaks it",
        ("fuse blows: at least 2 s", "later"): "no change of it alone breaks it",
        ("fuse blows: at least 2 s", "sooner"): "breaks at 1 s",
        ("bell strikes: at least 1 s", "sooner"): "breaks at 875 ms and below, holds down to 1 s, what lies between "
        "was not looked into",
        ("latch falls: sooner than 1 s", "later"): "breaks from 1 s on",
    }
    bell = told["bell strikes: at least 1 s", "sooner"]
    assert (bell["breaks"], bell["holds"]) == ({"ticks": "7/8", "open": False}, {"ticks": "1", "open": False})
    out = " ".join(typed("check", file, "--margins").out.split())
    assert "rests on it: R3 (made later, breaks at 2 s; made sooner, no change of it alone breaks it)" in out
