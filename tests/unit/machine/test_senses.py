"""The evaluator: every kind of formula against its value worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.logic.formula import (
    And,
    AtMost,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    Not,
    Or,
    Ref,
    Same,
    Sum,
    Thing,
    Was,
)
from interlock.machine.machine import Machine
from interlock.machine.senses import CircleError
from tests.unit.machine.small_specs import run, spec_of, start_of

SPEC = """
equipment:
  a: {states: [x, y], start: x, moves: {turns: {from: x, to: y}}}
  b: {states: [x, y], start: y}
  n: {states: 0 .. 3, start: 2, moves: {counts: {from: 2, to: 3}}}
conditions:
  a_is_x: a is x
rules:
  R1: {never: a is y}
"""
A, B, N = Ref(Thing.ITEM, "a"), Ref(Thing.ITEM, "b"), Ref(Thing.ITEM, "n")
YES, NO = Const(True), Const(False)


def total(constant: int, *terms: tuple[int, Ref]) -> Sum:
    return Sum(constant, terms)


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        (YES, True),
        (NO, False),
        (Is(A, ("x",)), True),
        (Is(A, ("y",)), False),
        (Is(A, ("y", "x")), True),
        (Same(A, B), False),
        (Not(Same(A, B)), True),
        (And(()), True),
        (And((YES, NO)), False),
        (Or(()), False),
        (Or((NO, YES)), True),
        (AtMost(0, (NO, NO)), True),
        (AtMost(1, (YES, YES, NO)), False),
        (AtMost(2, (YES, YES, NO)), True),
        (Compare("=", total(0, (1, N)), total(2)), True),
        (Compare("<", total(0, (1, N)), total(2)), False),
        (Compare("<=", total(0, (1, N)), total(2)), True),
        (Compare("<", total(5, (-1, N), (-1, N)), total(2)), True),
        (Condition("a_is_x"), True),
        (Not(Condition("a_is_x")), False),
    ],
)
def test_a_formula_has_the_value_it_says(formula: Formula, value: bool) -> None:
    machine = Machine(spec_of(SPEC), 0)
    assert machine.senses.test(formula)(start_of(machine).situation) is value


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        (Is(A, ("x",)), False),
        (Was(Is(A, ("x",))), True),
        (And((Is(A, ("y",)), Not(Was(Is(A, ("y",)))))), True),
        (Was(Condition("a_is_x")), True),
        (Not(Was(Not(Condition("a_is_x")))), True),
        (Was(Was(Is(A, ("x",)))), True),
    ],
)
def test_was_is_read_before_the_event_and_all_else_after_it(formula: Formula, value: bool) -> None:
    machine = Machine(spec_of(SPEC), 0)
    before = start_of(machine)
    after = run(machine, before, "a turns")
    assert machine.senses.judgement(formula)(after.situation, before.situation) is value


def test_a_comparison_that_does_not_exist_is_refused() -> None:
    machine = Machine(spec_of(SPEC), 0)
    with pytest.raises(ValueError, match="no comparison"):
        machine.senses.test(Compare(">", total(0), total(0)))


def test_a_supply_that_depends_on_the_commands_it_feeds_is_refused() -> None:
    spec = spec_of("""
equipment:
  lamp: {states: [dark, lit], start: dark, moves: {lights: {from: dark, to: lit, when: command light}}}
logic:
  ground:
    reacts: immediately
    powered_by: lamp is dark
    steps: {rest: {start: true, drives: [light]}}
rules:
  R1: {never: lamp is lit}
""")
    (ground,) = spec.sequences
    circle = replace(ground, powered_by=Is(Ref(Thing.COMMAND, "light"), (True,)))
    with pytest.raises(CircleError):
        Machine(replace(spec, sequences=(circle,)), 0)


def test_an_item_that_is_deaf_to_a_command_hears_it_as_not_given() -> None:
    machine = Machine(
        spec_of("""
equipment:
  lamp: {states: [dark, lit], start: dark, moves: {lights: {from: dark, to: lit, when: command light}}}
  bell: {states: [quiet, rings], start: quiet, moves: {starts: {from: quiet, to: rings, when: command light}}}
logic:
  ground:
    reacts: immediately
    steps: {rest: {start: true, drives: [light]}}
failures:
  deaf: {of: lamp, effect: {ignores: light}}
rules:
  R1: {never: lamp is lit}
"""),
        1,
    )
    deaf = run(machine, start_of(machine), "deaf happens")
    assert {event.id for event in machine.events(deaf)} == {"bell starts"}
