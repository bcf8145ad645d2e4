"""Random walks: the same for the same seed, short in what they find, modest in what they say."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from interlock.machine.exercise import Breach, Exercise, exercise
from interlock.machine.explore import judge_all
from interlock.machine.judge import Judge
from interlock.machine.machine import Machine
from interlock.spec.loading import load
from interlock.spec.model import Spec
from tests.random_specs import random_spec
from tests.unit.machine.small_specs import spec_of

TOP = Path(__file__).resolve().parents[3]

CHAIN = """
equipment:
  train:
    states: [away, near, here]
    start: away
    moves: {comes: {from: away, to: near}, stops: {from: near, to: here}, goes: {from: [near, here], to: away}}
  shoe:
    states: [up, down]
    start: up
    moves:
      falls: {from: up, to: down, when: command lower, takes: 2 s .. 4 s}
      rises: {from: down, to: up, when: not command lower, takes: 2 s .. 4 s}
  earth:
    states: [closed, lifted]
    start: closed
    moves:
      lifts: {from: closed, to: lifted, when: command lift, takes: 1 s .. 2 s}
      closes: {from: lifted, to: closed, when: not command lift, takes: 1 s .. 2 s}
  feeder:
    states: [open, closed]
    start: open
    moves:
      closes: {from: open, to: closed, when: command close, takes: 30 ms .. 120 ms}
      opens: {from: closed, to: open, when: not command close, takes: 30 ms .. 120 ms}
readings:
  here_seen: {shows: train is here}
  down_seen: {shows: shoe is down}
  lifted_seen: {shows: earth is lifted}
  closed_seen: {shows: feeder is closed}
logic:
  ground:
    reacts: immediately
    steps:
      rest: {start: true}
      lowering: {drives: [lower]}
      lifting: {drives: [lower, lift]}
      closing: {drives: [lower, lift, close]}
      charging: {drives: [lower, lift, close]}
    moves:
      lower: {from: rest, to: lowering, needs: {here: here_seen}}
      lift: {from: lowering, to: lifting, needs: {here: here_seen, down: down_seen}}
      close: {from: lifting, to: closing, needs: {here: here_seen, down: down_seen, lifted: lifted_seen}}
      charge: {from: closing, to: charging, needs: {here: here_seen, closed: closed_seen}}
    trips:
      gone: {from: [lowering, lifting, closing, charging], to: rest, when: not here_seen}
failures:
  here_lies: {of: here_seen, effect: {reads: true}}
rules:
  charged: {possible: ground is charging}
  live_only_under_train: {never: ground is charging and train is away, withstands: 1}
  never_charging: {never: ground is charging}
"""


@pytest.fixture(scope="module")
def chain() -> Spec:
    return spec_of(CHAIN)


@pytest.fixture(scope="module")
def walked(chain: Spec) -> Exercise:
    return exercise(chain, runs=80, length=60, seed=1)


def breach(found: Exercise, id: str) -> Breach:
    (one,) = (breach for breach in found.breaches if breach.id == id)
    return one


def test_walks_get_to_the_end_of_a_chain_of_permissives(walked: Exercise) -> None:
    assert walked.reached == ("charged",)
    assert breach(walked, "never_charging").failures == 0


def test_a_breach_is_shrunk_until_nothing_can_be_left_out(walked: Exercise) -> None:
    lies = breach(walked, "live_only_under_train")
    assert lies.failures == 1
    assert len(lies.events) == len({happened.event for happened in lies.events})
    shortest = ["train comes", "train stops", "ground lower", "shoe falls", "ground lift", "earth lifts"]
    assert [h.event for h in breach(walked, "never_charging").events if h.event in shortest] == shortest


def test_a_breach_can_be_walked_again_event_by_event(chain: Spec, walked: Exercise) -> None:
    for one in walked.breaches:
        machine = Machine(chain, walked.budget)
        judge = Judge(machine)
        starts = {(tuple(start.items()), present): start for start, present in machine.starts()}
        before = starts[one.start, one.at_start]
        watch, broke = judge.begin(before, one.at_start)
        for happened in one.events:
            assert one.id not in broke
            (event,) = (e for e in machine.events(before) if e.id == happened.event)
            after = machine.after(before, event)
            assert happened.changes == tuple((n, before[n], after[n]) for n in before if before[n] != after[n])
            assert happened.failures == event.modes
            watch, broke = judge.step(watch, before, event, after)
            before = after
        assert one.id in broke
        assert before.spent == one.failures


def test_the_same_seed_gives_the_same_walks_and_another_seed_others(chain: Spec) -> None:
    one = exercise(chain, runs=20, length=40, seed=1)
    assert exercise(chain, runs=20, length=40, seed=1) == one
    other = exercise(chain, runs=20, length=40, seed=2)
    assert (other.events, other.situations) != (one.events, one.situations)


PROGRAM = """
import sys
from interlock.machine.exercise import exercise
from interlock.spec.loading import load
spec, _, _ = load(sys.argv[1])
assert spec is not None
print(exercise(spec, runs=12, length=30, seed=3))
"""


def test_the_walks_do_not_depend_on_the_process_and_leave_no_files(tmp_path: Path) -> None:
    path = TOP / "tests" / "corpus" / "two_orders.yaml"
    outputs = set()
    for hash_seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM, str(path)],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(TOP), "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            text=True,
            check=True,
        )
        outputs.add(done.stdout)
    spec, _, _ = load(path)
    assert spec is not None
    assert outputs == {f"{exercise(spec, runs=12, length=30, seed=3)}\n"}
    assert list(tmp_path.iterdir()) == []


def test_walks_never_say_that_a_rule_holds(walked: Exercise) -> None:
    kept = CHAIN.replace("  never_charging: {never: ground is charging}\n", "").replace(
        "withstands: 1", "withstands: 0"
    )
    found = exercise(spec_of(kept), runs=20, length=30, seed=1)
    assert found.verdict == "no breach found in 20 walks"
    assert "hold" not in found.verdict
    assert walked.verdict == "broken in 80 walks: live_only_under_train, never_charging"


def test_where_nothing_can_be_judged_walks_say_so() -> None:
    spec = spec_of(CHAIN[: CHAIN.index("rules:")] + "rules:\n  charged: {possible: ground is charging}\n")
    found = exercise(spec, runs=5, length=10, seed=1)
    assert found.verdict.startswith("nothing was judged")
    assert found.not_judged == (("charged", "no single run can break it"),)


def test_no_failure_happens_beyond_the_budget(chain: Spec) -> None:
    found = exercise(chain, runs=40, length=60, seed=1, budget=0)
    assert [breach.id for breach in found.breaches] == ["never_charging"]
    assert "here_lies happens" in found.never_happened
    assert found.budget == 0


def test_a_walk_may_be_longer_than_hypothesis_decides() -> None:
    spec = spec_of(CHAIN.replace("  never_charging: {never: ground is charging}\n", ""))
    found = exercise(spec, runs=4, length=8_000, seed=1, budget=0)
    assert found.walks == 4
    assert found.events > 0


def test_walks_find_only_what_is_there_in_random_specs_and_most_of_it() -> None:
    there = found_too = 0
    for seed in range(18):
        spec = random_spec(seed)
        known = judge_all(spec, 1_500)
        if known.complete:
            found = {breach.id for breach in exercise(spec, runs=30, length=30, seed=seed).breaches}
            assert found <= known.broken
            there += len(known.broken)
            found_too += len(found)
    assert found_too >= there * 0.8 > 5
