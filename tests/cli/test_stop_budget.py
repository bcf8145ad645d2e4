"""The stop budget as typed, on a stop that is worked out by hand.

Braking is stated, 5 to 10 s. The shoe goes down in 2 to 4 s and is seen down 0.1 to 0.5 s later: 2.1 to 4.5 s. The
feeder closes and opens in 0.1 to 0.2 s each, the shoe goes up in 3 to 5 s. All but charging: 10.3 to 19.9 s: of 100 s
there are left 80.1 to 89.7 s. Charging takes 60 to 61 s.

720 kW with ramps of 4 and 2 s: in 60 s 720 * (60 - 3) = 41,040 kJ = 11.4 kWh; in 80.1 s 55,512 kJ. 10 kWh = 36,000 kJ
take 50 + 3 = 53 s, so a train may be 80.1 - 53 = 27.1 s late. In 61 s the battery gives 720 * 58 / 0.9 = 46,400 kJ; in
900 - 61 s it gets 60 * 839 = 50,340 kJ back.
"""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from interlock.core.elaborate import elaborate
from interlock.spec.loading import load
from tests.cli.conftest import Typed

SPEC = """\
format: interlock/1
title: A stop worked out by hand
parameters: {stop: 100 s, charge: 60 s .. 61 s}
equipment:
  shoe:
    states: [up, down]
    start: up
    moves:
      lowers: {from: up, to: down, when: command lower, takes: 2 s .. 4 s}
      rises: {from: down, to: up, when: not command lower, takes: 3 s .. 5 s}
  feeder:
    states: [open, closed]
    start: open
    moves:
      closes: {from: open, to: closed, when: command close_feeder, takes: 100 ms .. 200 ms}
      opens: {from: closed, to: open, when: not command close_feeder, takes: 100 ms .. 200 ms}
  train: {states: [away, standing], start: away, moves: {stops: {from: away, to: standing}}}
readings:
  there: {shows: train is standing}
  down: {shows: shoe is down, late: 100 ms .. 500 ms}
  live: {shows: feeder is closed}
  up: {shows: shoe is up}
logic:
  ground:
    steps:
      idle: {start: true}
      lowering: {drives: [lower]}
      closing: {drives: [lower, close_feeder]}
      charging: {drives: [lower, close_feeder], timeout: {after: charge, to: opening}}
      opening: {drives: [lower]}
      raising: {}
      done: {}
    moves:
      begin: {from: idle, to: lowering, needs: {there: there}}
      close: {from: lowering, to: closing, needs: {down: down}}
      charge: {from: closing, to: charging, needs: {live: live}}
      raise: {from: opening, to: raising, needs: {dead: not live}}
      end: {from: raising, to: done, needs: {up: up}}
rules:
  R: {possible: ground is done}
"""

BUDGET = """\
stop_budget:
  stop: stop
  needs: 10 kWh
  power: 720 kW
  ramp_up: 4 s
  ramp_down: 2 s
  charging: charge
  phases:
    braking: {takes: 5 s .. 10 s}
    lowering: {from: ground is lowering, until: ground is closing}
    closing: {until: ground is charging}
    charge: {until: ground is opening}
    opening: {until: ground is raising}
    raising: {until: ground is done}
  battery: {holds: 40 kWh, recharged_with: 60 kW, next_train: 15 min, efficiency: 90 %}
"""

Stop = dict[str, Any]


def written(tmp_path: Path, budget: str) -> Path:
    file = tmp_path / "stop.yaml"
    file.write_text(SPEC + budget, encoding="utf-8")
    return file


def budget_of(typed: Typed, tmp_path: Path, budget: str, code: int) -> Stop:
    done = typed("timing", written(tmp_path, budget), "--stop", "--format", "json")
    assert done.code == code
    data = json.loads(done.out)
    schema = json.loads(files("interlock.report").joinpath("schema_timing.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(data)
    stop: Stop = data["stop"]
    return stop


def test_a_stop_brings_what_was_worked_out_by_hand(typed: Typed, tmp_path: Path) -> None:
    stop = budget_of(typed, tmp_path, BUDGET, 0)
    assert [(phase["least"]["s"], phase["greatest"]["s"]) for phase in stop["phases"]] == [
        ("5", "10"), ("21/10", "9/2"), ("1/10", "1/5"), ("60", "61"), ("1/10", "1/5"), ("3", "5"),
    ]  # fmt: skip
    assert (stop["left_s"], stop["left_most_s"]) == ("801/10", "897/10")
    assert (stop["charged_s"], stop["charged_j"], stop["possible_j"]) == ("60", "41040000", "55512000")
    assert (stop["needed_s"], stop["late_s"]) == ("53", "271/10")
    assert stop["battery"]["drawn_j"] == "46400000"
    assert stop["battery"]["regained_j"] == "50340000"
    assert [stop["fits"], stop["enough"], stop["battery"]["holds"], stop["battery"]["recovers"]] == ["holds"] * 4


def test_the_report_shows_the_stop_as_bars_within_eighty_columns(typed: Typed, tmp_path: Path) -> None:
    out = typed("timing", written(tmp_path, BUDGET), "--stop").out
    assert out.startswith("holds: the stop budget is met\n")
    assert "  lowering  |   ##.                                |  2.1 s .. 4.5 s\n" in out
    assert "  charge    |     ========================         |  1 min .. 61 s\n" in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("old", "new", "fails"),
    [
        # All but charging takes 19.9 s, charging 61 s: a stop of 80.9 s has room for both, a shorter one has not.
        ("stop: stop", "stop: 80.9 s", ()),
        ("stop: stop", "stop: 80.8 s", ("fits",)),
        # 60 s bring 41,040 kJ = 11.4 kWh, and no more, though the stop has room for more.
        ("needs: 10 kWh", "needs: 11.4 kWh", ()),
        ("needs: 10 kWh", "needs: 11.5 kWh", ("enough",)),
        # 46,400 kJ are 12.888... kWh.
        ("holds: 40 kWh", "holds: 12.88 kWh", ("holds",)),
        # 46,400 kJ take 773.3... s with 60 kW, and 61 s of charging go before.
        ("next_train: 15 min", "next_train: 835 s", ()),
        ("next_train: 15 min", "next_train: 834 s", ("recovers",)),
    ],
)
def test_what_is_not_met_is_told(typed: Typed, tmp_path: Path, old: str, new: str, fails: tuple[str, ...]) -> None:
    stop = budget_of(typed, tmp_path, BUDGET.replace(old, new), 1 if fails else 0)
    judged = {name: stop[name] for name in ("fits", "enough")}
    judged |= {name: stop["battery"][name] for name in ("holds", "recovers")}
    assert {name for name, verdict in judged.items() if verdict == "fails"} == set(fails)


def test_charging_without_a_time_of_its_own_takes_what_is_left(typed: Typed, tmp_path: Path) -> None:
    budget = BUDGET.replace("charge: {until: ground is opening}", "charge: {}")
    budget = budget.replace("opening: {until", "opening: {from: ground is opening, until")
    stop = budget_of(typed, tmp_path, budget, 1)
    assert (stop["charged_s"], stop["charged_j"]) == ("801/10", "55512000")
    assert stop["late_s"] == "271/10"
    # The battery may be drawn on for all that is left at the best: 720 * (89.7 - 3) / 0.9 kJ.
    assert stop["battery"]["drawn_j"] == "69360000"
    assert [stop["fits"], stop["enough"], stop["battery"]["recovers"]] == ["holds", "holds", "fails"]


def test_a_phase_that_may_never_end_promises_nothing(typed: Typed, tmp_path: Path) -> None:
    phases = "    waiting: {from: ground is idle, until: ground is lowering}\n    lowering: {from"
    stop = budget_of(typed, tmp_path, BUDGET.replace("    lowering: {from", phases), 1)
    assert stop["phases"][1]["endless"]
    assert (stop["fits"], stop["enough"], stop["left_s"], stop["late_s"]) == ("fails", "fails", None, None)


def test_what_gives_a_phase_up_ends_the_waiting(typed: Typed, tmp_path: Path) -> None:
    given_up = "    waiting: {from: ground is idle, until: ground is lowering, unless: train is away}\n"
    budget = BUDGET.replace("    lowering: {from", given_up + "    lowering: {from")
    stop = budget_of(typed, tmp_path, budget, 0)
    assert stop["phases"][1]["greatest"] == {"s": "0", "open": False}


def test_shortening_a_window_buys_what_the_longest_stop_loses(typed: Typed, tmp_path: Path) -> None:
    stop = budget_of(typed, tmp_path, BUDGET + "  shorten_by: 300 ms\n", 0)
    gains = {one["windows"][0]: one["gain_s"] for one in stop["shortened"]}
    # The feeder takes 100 ms at the least, so no more than 100 ms can be had of each of its moves.
    assert gains == {
        "shoe lowers": "3/10", "shoe rises": "3/10", "down arrives from 1": "3/10",
        "feeder closes": "1/10", "feeder opens": "1/10",
    }  # fmt: skip
    assert [one["gain_s"] for one in stop["shortened"]] == ["3/10", "3/10", "3/10", "1/10", "1/10"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("charging: charge", "charging: charg", "did you mean `charge`?"),
        ("  needs: 10 kWh\n", "", "`stop_budget` lacks `needs`"),
        ("needs: 10 kWh", "needs: 10 kW", "`needs` of `stop_budget` must be an energy, not a power"),
        ("power: 720 kW", "power: 720", "`power` of `stop_budget` needs a unit"),
        ("power: 720 kW", "power: 0 kW", "`power` of `stop_budget` is zero"),
        ("efficiency: 90 %", "efficiency: 110 %", "`efficiency` of the battery of the stop budget is more than 1"),
        ("lowering: {from: ground is lowering, until", "lowering: {until", "phase `lowering` lacks `from`"),
        ("lowering: {from: ground is lowering, until: ground is closing}", "lowering: {from: ground is lowering}",
         "phase `lowering` lacks `until`"),
        ("braking: {takes: 5 s .. 10 s}", "braking: {takes: 5 s .. 10 s, until: ground is idle}", "has no key `until`"),
        ("until: ground is closing", "until: becomes(ground is closing)", "a phase of the stop"),
        ("    raising: {until: ground is done}\n", "    raising: {}\n", "phase `raising` lacks `until`"),
    ],
)  # fmt: skip
def test_a_slip_in_a_budget_is_told_with_its_place(typed: Typed, tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in BUDGET
    done = typed("timing", written(tmp_path, BUDGET.replace(old, new)), "--stop")
    assert done.code == 2
    assert said in " ".join(done.err.split())
    assert "stop.yaml:" in done.err


def test_only_the_stop_of_a_spec_without_a_budget_is_refused(typed: Typed, tmp_path: Path) -> None:
    done = typed("timing", written(tmp_path, ""), "--stop")
    assert done.code == 2
    assert "`--stop`: the spec has no `stop_budget`" in done.err


def test_the_budget_of_brackwater_quay_leaves_its_core_as_it_is() -> None:
    specs = Path(__file__).resolve().parents[2] / "specs"
    cores = []
    for name in ("brackwater_quay.yaml", "budgets/brackwater_stop.yaml"):
        spec, bag, _ = load(specs / name)
        assert spec is not None, bag
        cores.append((elaborate(spec).digest, spec.stop_budget is not None))
    assert [has_budget for _, has_budget in cores] == [False, True]
    assert cores[0][0] == cores[1][0]


def test_a_budget_changes_nothing_that_is_checked(typed: Typed, tmp_path: Path) -> None:
    digests = []
    for budget in ("", BUDGET):
        data = json.loads(typed("check", written(tmp_path, budget), "--format", "json").out)
        digests.append((data["system"]["digest"], data["verdict"]))
    assert digests[0] == digests[1]
