"""The order of the five safety rules, on Brackwater Quay and on a switch of four steps.

Source: EN 50110-1 (as quoted by manufacturers; open the printed standard before quoting it to a reviewer): 1 disconnect
completely, 2 secure against reconnection, 3 verify dead, 4 earth and short-circuit, 5 protect against adjacent live
parts. The first four are about an order of events and stand as `before` rules in specs/brackwater_quay.yaml; the fifth
is about people near by, for whom the train is let go last.

The four tests on the small switch are the usual questions to such a sequence: earthing while fed is out of reach; a
stuck supply contactor blocks earthing; without "prove dead" the stuck contactor alone is a hazard; without "secure" an
unbidden closing alone is one.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.overlay import with_overlay
from interlock.core.question import Answer, Overlay, Question, Verdict
from interlock.core.slice import slice_for
from interlock.core.system import PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.loading import load, load_text

ORDER = ("order_disconnect", "order_secure", "order_prove_dead", "order_earth")
LIMITS = Limits(states=20_000_000)


@pytest.fixture(scope="module")
def quay() -> System:
    spec, bag, _ = load(Path(__file__).parents[2] / "specs" / "brackwater_quay.yaml")
    assert spec is not None, bag.sorted()
    return elaborate(spec)


def ask(system: System, rule: str, *pinned: str, budget: int = 0, allowed: tuple[str, ...] | None = None) -> Answer:
    """The answer for any timing, with permissives taken away (pinned true)."""
    overlay = Overlay(pins=tuple((name, True) for name in pinned))
    part = slice_for(with_overlay(system, overlay), (rule,)).system
    (answer,) = ENGINES["explicit"].answer(part, (Question(rule, budget=budget, allowed=allowed),), LIMITS)
    assert answer.limit is None
    return answer


@pytest.mark.parametrize("rule", ORDER)
def test_the_order_stands_in_the_spec_as_before_rules_and_holds(quay: System, rule: str) -> None:
    assert quay.property(rule).kind is PropertyKind.BEFORE
    assert ask(quay, rule).verdict is Verdict.HOLDS


def test_without_proving_the_poles_open_securing_comes_before_disconnecting(quay: System) -> None:
    answer = ask(quay, "order_disconnect", "ground/secure/poles_proved_open")
    assert answer.verdict is Verdict.FAILS


def test_without_proving_the_lock_one_output_that_is_driven_lets_earthing_come_before_securing(quay: System) -> None:
    driven = ("lock_output_driven",)
    lock_proved = ("ground/earth/lock_proved", "ground/earth_after_raising/lock_proved")
    assert ask(quay, "order_secure", budget=1, allowed=driven).verdict is Verdict.HOLDS
    assert ask(quay, "order_secure", *lock_proved).verdict is Verdict.HOLDS
    assert ask(quay, "order_secure", *lock_proved, budget=1, allowed=driven).verdict is Verdict.FAILS


def test_without_proving_dead_a_stuck_voltage_relay_lets_earthing_come_before_the_proof(quay: System) -> None:
    stuck = ("voltage_relay_sticks",)
    proved_dead = "ground/earth/proved_dead"
    assert ask(quay, "order_prove_dead", budget=1, allowed=stuck).verdict is Verdict.HOLDS
    assert ask(quay, "order_prove_dead", proved_dead).verdict is Verdict.HOLDS
    assert ask(quay, "order_prove_dead", proved_dead, budget=1, allowed=stuck).verdict is Verdict.FAILS


def test_without_proving_the_earths_the_train_is_let_go_before_earthing(quay: System) -> None:
    answer = ask(quay, "order_earth", "ground/raise/earths_proved", "ground/release/earths_proved")
    assert answer.verdict is Verdict.FAILS


# --- a switch of four steps ---

SWITCH = """\
format: interlock/1
title: One supply contactor and one earth
revision: A
equipment:
  request:
    states: [none, work]
    start: none
    moves: {is_made: {from: none, to: work}, is_withdrawn: {from: work, to: none}}
  contactor:
    states: [open, closed]
    start: open
    moves:
      closes: {from: open, to: closed, when: command close_contactor and lock is released, takes: nothing}
      opens: {from: closed, to: open, when: not (command close_contactor and lock is released), takes: nothing}
  lock: {states: [locked, released], follows: command release_lock}
  earth:
    states: [lifted, applied]
    start: lifted
    moves:
      closes: {from: lifted, to: applied, when: command apply_earth}
      opens: {from: applied, to: lifted, when: not command apply_earth}
readings:
  work_wanted: {shows: request is work}
  dead: {shows: contactor is open}
  locked: {shows: lock is locked}
  lifted: {shows: earth is lifted}
logic:
  ground:
    reacts: immediately
    steps:
      fed: {start: true, drives: [close_contactor, release_lock]}
      disconnecting: {drives: [release_lock]}
      securing: {}
      earthing: {drives: [apply_earth]}
      lifting: {}
    moves:
      disconnect: {from: fed, to: disconnecting, needs: {wanted: work_wanted}}
      secure: {from: disconnecting, to: securing, needs: {}}
      earth: {from: securing, to: earthing, needs: {lock_proved: locked, proved_dead: dead}}
      lift: {from: earthing, to: lifting, needs: {over: not work_wanted}}
      feed: {from: lifting, to: fed, needs: {earth_lifted: lifted}}
failures:
  contactor_welds: {of: contactor, effect: {stays: closed}}
  closes_unbidden: {of: command close_contactor, effect: {output: driven}}
rules:
  earth_and_supply: {never: earth is applied and contactor is closed, withstands: 1}
  earth_ordered_on_supply: {never: ground is earthing and contactor is closed, withstands: 1}
  earthing: {possible: earth is applied}
"""


def switch(text: str = SWITCH) -> System:
    spec, bag, _ = load_text(text, "switch.yaml")
    assert spec is not None, bag.sorted()
    return elaborate(spec)


def failures_in(system: System, answer: Answer) -> set[str]:
    """The failures that happen in the scenario of an answer."""
    assert answer.scenario is not None
    modes = {action.id: action.modes for action in system.actions}
    return set(answer.scenario.at_start).union(*(modes[event] for event in answer.scenario.events))


def test_earthing_while_fed_is_out_of_reach_without_failure_and_earthing_is_possible() -> None:
    assert ask(switch(), "earth_and_supply").verdict is Verdict.HOLDS
    assert ask(switch(), "earthing").verdict is Verdict.HOLDS


def test_a_stuck_supply_contactor_blocks_earthing() -> None:
    welded = ("contactor_welds",)
    assert ask(switch(), "earth_ordered_on_supply", budget=1, allowed=welded).verdict is Verdict.HOLDS
    assert ask(switch(), "earth_and_supply", budget=1).verdict is Verdict.HOLDS


def test_without_prove_dead_the_stuck_contactor_alone_is_a_hazard() -> None:
    system = switch()
    answer = ask(system, "earth_and_supply", "ground/earth/proved_dead", budget=1, allowed=("contactor_welds",))
    assert answer.verdict is Verdict.FAILS
    assert failures_in(system, answer) == {"contactor_welds"}


def test_without_secure_an_unbidden_closing_alone_is_a_hazard() -> None:
    unsecured = SWITCH.replace("follows: command release_lock", "follows: true").replace("lock_proved: locked, ", "")
    system = switch(unsecured)
    assert ask(system, "earth_and_supply").verdict is Verdict.HOLDS
    answer = ask(system, "earth_and_supply", budget=1)
    assert answer.verdict is Verdict.FAILS
    assert failures_in(system, answer) == {"closes_unbidden"}
