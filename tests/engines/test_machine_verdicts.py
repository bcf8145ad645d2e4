"""What the machine's own observers say of all runs of a small spec is what the engines say of its core.

`test_two_meanings.py` compares situations and events; here the reading of rules and hazards is compared, which both
sides also take from the same text and write apart.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Verdict
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.machine.exercise import exercise
from interlock.machine.explore import judge_all
from interlock.machine.judge import Judge, withstood
from interlock.machine.machine import Machine
from interlock.spec.loading import load, load_text
from interlock.spec.model import RuleKind, Spec
from tests.random_specs import SMALL, USUAL, Size, random_spec

pytestmark = pytest.mark.no_cover

CORPUS = sorted((Path(__file__).resolve().parents[1] / "corpus").glob("*.yaml"))
LIMIT = 1_500
SEEDS_A_TEST = 40


def questions(spec: Spec) -> dict[str, Question]:
    """The question of each rule and hazard that a run can break or fulfil, at what it claims."""
    judge = Judge(Machine(spec, 0))
    rules = {rule.id: rule for rule in spec.rules}
    found = {}
    for id in (*judge.judged, *judge.goals):
        rule = rules.get(id)
        common = rule is not None and rule.even_common_cause
        allowed = tuple(f.id for f in spec.failures if common or not f.common_cause)
        claim = withstood(spec, id) if rule is None else 0 if rule.kind is RuleKind.POSSIBLE else rule.withstands
        found[id] = Question(id, budget=claim, allowed=allowed)
    return found


def differences(spec: Spec, engine: str, limit: int) -> tuple[list[str], Counter[Verdict]]:
    """Where machine and engine differ, and how often each verdict came; nothing if the spec is too large."""
    judged = judge_all(spec, limit)
    if not judged.complete:
        return [], Counter()
    asked = questions(spec)
    goals = Judge(Machine(spec, 0)).goals
    answers = ENGINES[engine].answer(elaborate(spec), tuple(asked.values()), Limits(states=100_000))
    wrong = []
    for id, answer in zip(asked, answers, strict=True):
        kept = id in judged.reached if id in goals else id not in judged.broken
        if answer.verdict is not (Verdict.HOLDS if kept else Verdict.FAILS):
            wrong.append(f"{spec.title}: {id}: the {engine} engine says {answer.verdict.value}, the machine {kept}")
    return wrong, Counter(answer.verdict for answer in answers)


@pytest.mark.parametrize("engine", sorted(ENGINES))
@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_the_machine_and_the_engines_judge_a_spec_of_the_corpus_alike(path: Path, engine: str) -> None:
    spec, bag, _ = load(path)
    assert spec is not None, bag.sorted()
    wrong, _ = differences(spec, engine, 20_000)
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("size", "first"),
    [(SMALL, 0), (SMALL, 40), (SMALL, 80), (USUAL, 0), (USUAL, 40), (USUAL, 80)],
    ids=lambda value: {SMALL: "small", USUAL: "usual"}[value] if isinstance(value, Size) else str(value),
)
def test_the_machine_and_the_quick_engine_judge_random_specs_alike(size: Size, first: int) -> None:
    wrong: list[str] = []
    verdicts: Counter[Verdict] = Counter()
    for seed in range(first, first + SEEDS_A_TEST):
        found, counted = differences(random_spec(seed, size), "quick", LIMIT)
        wrong += found
        verdicts += counted
    assert not wrong, "\n".join(wrong)
    assert min(verdicts[Verdict.HOLDS], verdicts[Verdict.FAILS]) >= 8, verdicts


EVENTFUL = """format: interlock/1
title: what comes first is itself an event
revision: A
equipment:
  proof:
    states: [none, given]
    start: none
    moves: {{comes: {{from: none, to: given}}, goes: {{from: given, to: none}}}}
  rail: {{states: [dead, live], start: dead, moves: {{goes_live: {{from: dead, to: live, when: {when}}}}}}}
rules:
  R1: {{before: rail is live, first: {first}}}
"""


@pytest.mark.parametrize("engine", sorted(ENGINES))
@pytest.mark.parametrize(
    ("first", "when", "verdict"),
    [
        ("becomes(proof is given)", "proof is given", Verdict.HOLDS),
        ("becomes(proof is given)", "proof is none", Verdict.FAILS),
        # `comes` does not set the flag: before it there was no proof.
        ("was(proof is given)", "proof is given", Verdict.FAILS),
    ],
)
def test_what_a_before_rule_puts_first_may_speak_of_events(
    engine: str, first: str, when: str, verdict: Verdict
) -> None:
    spec, bag, _ = load_text(EVENTFUL.format(first=first, when=when), "eventful.yaml")
    assert spec is not None, bag.sorted()
    wrong, verdicts = differences(spec, engine, LIMIT)
    assert not wrong, "\n".join(wrong)
    assert verdicts == Counter([verdict])


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_walks_find_every_breach_of_a_corpus_spec_and_no_other_and_cut_it_short(path: Path) -> None:
    spec, bag, _ = load(path)
    assert spec is not None, bag.sorted()
    known = judge_all(spec)
    assert known.complete
    found = exercise(spec, runs=60, length=40, seed=1)
    assert {breach.id for breach in found.breaches} == known.broken
    assert set(found.reached) == known.reached
    asked, system = questions(spec), elaborate(spec)
    for breach in found.breaches:
        (answer,) = ENGINES["quick"].answer(system, (asked[breach.id],), Limits(states=100_000))
        assert answer.scenario is not None
        shortest = len(answer.scenario.events)
        assert shortest <= len(breach.events) <= 1.25 * shortest
        assert len(breach.at_start) >= len(answer.scenario.at_start)
