"""What the teaching spec and the starter promise: short, no windows, everything decided, everything holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Verdict
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.loading import load
from interlock.spec.model import ChangeKind, RuleKind, Spec

TOP = Path(__file__).parents[2]
TEACHING = TOP / "specs" / "teaching.yaml"
STARTER = TOP / "interlock" / "cli" / "starter.yaml"


def read(path: Path) -> Spec:
    spec, bag, _ = load(path)
    assert spec is not None, bag.sorted()
    return spec


def test_the_teaching_spec_is_read_in_two_minutes() -> None:
    lines = TEACHING.read_text(encoding="utf-8").splitlines()
    assert 50 <= len(lines) <= 80
    assert max(map(len, lines)) <= 120


def test_the_starter_is_short() -> None:
    assert 30 <= len(STARTER.read_text(encoding="utf-8").splitlines()) <= 40


@pytest.mark.parametrize("path", [TEACHING, STARTER], ids=lambda path: path.stem)
def test_a_first_spec_has_no_windows(path: Path) -> None:
    system = elaborate(read(path))
    assert not [action.id for action in system.actions if action.window is not None and action.window.bears]


@pytest.mark.parametrize("path", [TEACHING, STARTER], ids=lambda path: path.stem)
@pytest.mark.parametrize("engine", sorted(ENGINES))
def test_every_rule_and_hazard_of_a_first_spec_is_decided_and_holds(path: Path, engine: str) -> None:
    spec = read(path)
    system = elaborate(spec)
    claimed = {rule.id: rule.withstands for rule in spec.rules}
    for hazard in spec.hazards:
        guards = (rule.withstands for rule in spec.rules if hazard.id in rule.guards_against)
        claimed[hazard.id] = max(guards, default=0)
    questions = tuple(Question(id, budget=n) for id, most in claimed.items() for n in range(most + 1))
    assert all(ENGINES[engine].decides(system, question) for question in questions)
    answers = ENGINES[engine].answer(system, questions, Limits())
    assert {answer.verdict for answer in answers} == {Verdict.HOLDS}


def test_the_teaching_spec_shows_what_a_spec_is_made_of() -> None:
    spec = read(TEACHING)
    (ground,) = spec.sequences
    assert ChangeKind.TRIP in {change.kind for change in ground.changes}
    assert len(spec.readings) >= 4
    assert len(spec.failures) >= 2
    assert len(spec.hazards) == 3
    kinds = {rule.kind for rule in spec.rules}
    assert {RuleKind.NEVER, RuleKind.WHILE, RuleKind.BEFORE, RuleKind.POSSIBLE, RuleKind.ALWAYS_POSSIBLE} <= kinds
    assert {rule.withstands for rule in spec.rules} == {0, 1}


def test_what_the_teaching_spec_withstands_it_does_not_withstand_twice() -> None:
    system = elaborate(read(TEACHING))
    for rule, budget in (("R1", 2), ("R2", 1), ("R3", 2)):
        (answer,) = ENGINES["quick"].answer(system, (Question(rule, budget=budget),), Limits())
        assert answer.verdict is Verdict.FAILS, rule
