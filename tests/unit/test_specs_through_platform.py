"""What the spec of the through platform promises: both sections keep their rules with any one failure, and a long train
charges from both."""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Verdict
from interlock.core.system import PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.loading import load
from interlock.spec.model import Spec

THROUGH = Path(__file__).parents[2] / "specs" / "through_platform.yaml"
LIMITS = Limits(states=5_000_000)


@pytest.fixture(scope="module")
def spec() -> Spec:
    found, bag, _ = load(THROUGH)
    assert found is not None, bag.sorted()
    return found


@pytest.fixture(scope="module")
def system(spec: Spec) -> System:
    return elaborate(spec)


def test_no_single_failure_reaches_a_hazard_or_breaks_a_rule_that_withstands_one(spec: Spec, system: System) -> None:
    withstanding = {rule.id for rule in spec.rules if rule.withstands} | {hazard.id for hazard in spec.hazards}
    asked = [p.id for p in system.properties if p.kind is PropertyKind.NEVER and p.id in withstanding]
    assert len(asked) >= 13
    answers = ENGINES["explicit"].answer(system, tuple(Question(id, budget=1) for id in asked), LIMITS)
    assert [answer.question.property for answer in answers if answer.verdict is not Verdict.HOLDS] == []


def test_a_short_train_is_charged_over_either_section_and_a_long_one_over_both(system: System) -> None:
    ways = [p.id for p in system.properties if p.kind is PropertyKind.POSSIBLE]
    assert ways == ["long_train_charges_twice", "west section can_charge", "east section can_charge"]
    for answer in ENGINES["quick"].answer(system, tuple(map(Question, ways)), LIMITS):
        assert answer.verdict is Verdict.HOLDS, answer.question.property


def test_both_sections_prove_dead_before_they_earth(system: System) -> None:
    order = [p.id for p in system.properties if p.kind is PropertyKind.BEFORE]
    assert len(order) == 2
    for answer in ENGINES["quick"].answer(system, tuple(map(Question, order)), LIMITS):
        assert answer.verdict is Verdict.HOLDS, answer.question.property
