"""By hand: a sign that is told of a rail over a slow line needs the line alone, unless the rail flickers unseen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Bound, Question, Timing, Verdict
from interlock.core.surroundings import FLICKERS, flickers
from interlock.core.system import System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.timed.graph import TooMany
from interlock.engines.timed.near import near_the_rule
from interlock.engines.timed.search import Counting
from interlock.spec.loading import load_text

SIGN = """\
format: interlock/1
title: a sign beside a rail
equipment:
  supply: {states: [cut, there, weak], start: cut, moves: {comes: {from: cut, to: there}, goes: {from: there, to: cut}}}
  breaker: {states: [open, closed, racked], start: open, moves: {closes: {from: open, to: closed}}}
  rail:
    states: [dead, live]
    start: dead
    moves:
      goes_live: {from: dead, to: live, when: supply is there and breaker is closed, takes: 1 s .. 2 s}
      goes_dead: {from: live, to: dead, when: supply is cut, takes: 1 s .. 2 s}
  lamp: {states: [dark, lit], follows: command light}
readings:
  told: {shows: rail is live, late: 50 ms .. 200 ms, in_flight: 1}
logic:
  sign:
    reacts: immediately
    steps: {quiet: {start: true}, warning: {drives: [light]}}
    moves:
      warn: {from: quiet, to: warning, needs: {live: told}}
      rest: {from: warning, to: quiet, needs: {dead: not told}}
rules:
  warns: {after: rail is live, within: 500 ms, must: lamp is lit, unless: rail is not live}
  too_soon: {after: rail is live, within: 100 ms, must: lamp is lit, unless: rail is not live}
"""


def system_of(text: str) -> System:
    spec, bag, _ = load_text(text, "sign.yaml")
    assert spec is not None, bag.sorted()
    return elaborate(spec)


def test_what_lets_the_rail_go_live_is_not_looked_at() -> None:
    system = system_of(SIGN)
    question = Question("warns", Timing.DECLARED)
    told = near_the_rule(system, question, Limits(), Counting())
    assert told is not None
    graph, decided = told
    seen = {variable.name for variable in graph.system.variables}
    assert {"rail", "lamp", "sign"} <= seen
    assert not any(name.startswith(("supply", "breaker", "rail goes")) for name in seen)
    # 200 ms on the line at the most: either of two messages that may be the last.
    assert set(decided.rests_on) == {Bound("told arrives from 1", True), Bound("told newest arrives", True)}
    # The whole says the same, and there a shorter limit is broken.
    for rule, verdict in (("warns", Verdict.HOLDS), ("too_soon", Verdict.FAILS)):
        for engine in (ZonesEngine(), ZonesEngine(small=0)):
            (answer,) = engine.answer(system, (Question(rule, Timing.DECLARED),), Limits())
            assert answer.verdict is verdict
    assert near_the_rule(system, Question("too_soon", Timing.DECLARED), Limits(), Counting()) is None


def test_a_rail_that_flickers_while_nobody_looks_is_told_apart() -> None:
    steadies = "\n      steadies: {from: pulse, to: live, takes: nothing}"
    flickering = SIGN.replace("states: [dead, live]", "states: [dead, pulse, live]")
    flickering = flickering.replace("{from: dead, to: live,", "{from: dead, to: pulse,")
    flickering = flickering.replace("\n      goes_dead", steadies + "\n      goes_dead")
    for text, verdict in ((SIGN, Verdict.HOLDS), (flickering, Verdict.FAILS)):
        (answer,) = ExplicitEngine().answer(flickers(system_of(text), "rail"), (Question(FLICKERS),), Limits())
        assert answer.verdict is verdict


def test_where_it_was_in_vain_for_one_time_all_situations_come_first_and_what_is_near_last(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    system = system_of(SIGN)
    engine = ZonesEngine(small=0)
    question = Question("warns", Timing.DECLARED)
    looked: list[int] = []

    def near(system: System, question: Question, limits: Limits, begin: Counting) -> object:
        looked.append(1)
        return near_the_rule(system, question, limits, begin)

    def too_many(*_: object) -> object:
        raise TooMany("too many")

    def within(ticks: int) -> Verdict:
        rules = tuple(
            replace(rule, within=TickWindow(0, ticks)) if rule.id == "warns" else rule for rule in system.properties
        )
        (answer,) = engine.answer(replace(system, properties=rules), (question,), Limits())
        return answer.verdict

    monkeypatch.setattr("interlock.engines.timed.near.near_the_rule", near)
    declared = system.property("warns").within
    assert declared is not None
    assert declared.latest is not None
    assert within(declared.latest // 5) is Verdict.FAILS
    assert len(looked) == 1
    assert within(declared.latest) is Verdict.HOLDS
    assert within(declared.latest // 4) is Verdict.FAILS
    assert len(looked) == 1
    monkeypatch.setattr(ZonesEngine, "_large", too_many)
    assert within(declared.latest) is Verdict.HOLDS
    assert len(looked) == 2
