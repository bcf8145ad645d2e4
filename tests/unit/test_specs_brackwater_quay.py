"""What the first stage of Brackwater Quay promises.

That all of it withstands any one failure takes a minute to explore and is what `interlock check` on the spec says; here
failures that taught its authors something are tried one at a time.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Overlay, Question, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.loading import load
from interlock.spec.model import RuleKind, Spec

QUAY = Path(__file__).parents[2] / "specs" / "brackwater_quay.yaml"
LIMITS = Limits(states=500_000)

NEEDS_TIME = {
    "H8",
    "H10",
    "H11",
    "stop_cuts",
    "lost_contact_cuts",
    "live_within_a_stop",
    "released_in_time",
}
"""Hazards and rules about how long something lasts: undecided until there is an engine for declared timing."""

SAFETY = ("H1", "H2", "H3", "H4", "H5", "H6", "H7", "H9")
"""The safety hazards that any timing decides."""

TRIED = (
    "front shoe up_contact_lies",
    "front shoe air_is_lost",
    "positive pole welds_under_load",
    "positive pole close_output_driven",
    "near earth apply_output_driven",
    "near earth lift_output_driven",
    "service hold release_output_driven",
    "voltage_detector 1 reads_dead",
    "train_contactor_welds",
    "permit_frozen",
    "isolator_contact_lies",
    "tag_misread",
    "supply_lost",
    "controller_restarts",
)


@pytest.fixture(scope="module")
def spec() -> Spec:
    found, bag, _ = load(QUAY)
    assert found is not None, bag.sorted()
    return found


@pytest.fixture(scope="module")
def system(spec: Spec) -> System:
    return elaborate(spec)


def test_it_has_the_size_of_a_first_stage(spec: Spec) -> None:
    assert len(spec.items) >= 14
    assert len([failure for failure in spec.failures if not failure.common_cause]) >= 10
    assert len(spec.hazards) >= 8
    assert len(spec.rules) >= 15


def test_what_comes_in_pairs_is_written_once(spec: Spec) -> None:
    items = {item.id for item in spec.items}
    for pair in (("front shoe", "rear shoe"), ("positive pole", "negative pole"), ("near earth", "far earth")):
        first, second = ({item.removeprefix(name) for item in items if item.startswith(name)} for name in pair)
        assert first == second
        assert first


def test_every_failure_has_a_rate_or_probability_a_source_and_a_way_to_be_found(spec: Spec) -> None:
    for failure in spec.failures:
        assert (failure.rate_per_h is None) != (failure.probability is None), failure.id
        assert failure.source, failure.id
        if not failure.common_cause:
            assert failure.found_by, failure.id
            assert failure.found_within_s is not None, failure.id


def test_every_hazard_has_a_rule_and_everything_that_is_judged_has_words(spec: Spec) -> None:
    guarded = {hazard for rule in spec.rules for hazard in rule.guards_against}
    assert guarded == {hazard.id for hazard in spec.hazards}
    assert all(hazard.words for hazard in spec.hazards)
    assert all(rule.words for rule in spec.rules)
    assert all(assumption.words and assumption.owner for assumption in spec.assumptions)


def test_every_kind_of_rule_is_there(spec: Spec) -> None:
    assert {rule.kind for rule in spec.rules} == set(RuleKind)


def test_the_notes_carry_the_cautions_and_the_standards(spec: Spec) -> None:
    for standard in ("EN 50126", "EN 50129", "EN 50716", "EN 50122-1", "IEC 61508", "EN 50110-1"):
        assert standard in spec.standards
    notes = " ".join(spec.notes.split())
    for caution in (
        "Local rules and the duty holder's procedures take precedence",
        "only as good as this model",
        "confirmed on site",
        "sign-off belongs to competent signalling and electrical safety engineers",
        "short circuit and overcurrent protection",
        "movement authority and signal protection",
    ):
        assert caution in notes


def test_only_what_needs_time_is_undecided_and_everything_else_holds_without_failure(system: System) -> None:
    quick = ENGINES["quick"]
    questions = tuple(Question(rule.id) for rule in system.properties)
    assert {q.property for q in questions if not quick.decides(system, q)} == NEEDS_TIME
    answers = quick.answer(system, tuple(q for q in questions if quick.decides(system, q)), LIMITS)
    assert {answer.question.property: answer.verdict for answer in answers if answer.verdict is not Verdict.HOLDS} == {}
    counts = next(answer.counts for answer in answers if answer.question.property == "H1")
    assert counts is not None
    assert counts.settled + counts.passing > 10_000


@pytest.mark.parametrize("failure", TRIED)
def test_no_safety_hazard_is_reached_by_one_of_the_failures_that_taught_something(system: System, failure: str) -> None:
    questions = tuple(Question(hazard, budget=1, allowed=(failure,)) for hazard in SAFETY)
    for answer in ENGINES["quick"].answer(system, questions, LIMITS):
        assert answer.verdict is Verdict.HOLDS, answer.question.property


LESSONS = [
    ("H4", ("ground/begin/contactor_open",), "train_contactor_welds"),
    ("H2", ("ground/release/shoes_proved_up",), None),
    ("H5", ("ground/raise/earths_proved", "ground/release/earths_proved"), None),
    (
        "H1",
        (
            "ground/secure/poles_proved_open",
            "ground/earth/proved_dead",
            "ground/earth/contactor_open",
            "ground/raise/earths_proved",
            "ground/release/shoes_proved_up",
            "ground/release/earths_proved",
        ),
        None,
    ),
]


@pytest.mark.parametrize(("hazard", "permissives", "failure"), LESSONS)
def test_the_permissives_behind_a_hazard_are_needed(
    system: System, hazard: str, permissives: tuple[str, ...], failure: str | None
) -> None:
    overlay = Overlay(pins=tuple((permissive, True) for permissive in permissives))
    allowed = () if failure is None else (failure,)
    question = Question(hazard, budget=len(allowed), allowed=allowed, overlay=overlay)
    (answer,) = ENGINES["quick"].answer(system, (question,), LIMITS)
    assert answer.verdict is Verdict.FAILS
