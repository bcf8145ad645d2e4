"""On two thousand random systems, all engines give the same verdicts, counts and scenarios, limits included.

Small systems are asked of the reference engine too; large ones are held against the plain walk, which goes another way
altogether (see `plain_walk.py`), and so is a part of the small ones. What the systems are like is counted, printed and
asserted, so that agreement on easy cases cannot pass for agreement.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from interlock.core.question import Answer, Counts, Question, Scenario, Verdict
from interlock.core.system import Action, ActionKind, PropertyKind, Tier
from interlock.engines.api import Engine, Limits
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.reference.engine import ReferenceEngine
from interlock.engines.replay import replay
from tests.engines.plain_walk import Reached, TooMany, Walk, owed_length, reach, unended, without_way
from tests.random_systems import USUAL_LIMIT, Asked, Case, random_case

pytestmark = pytest.mark.no_cover

N_CHUNKS = 4
N_CASES = 500
"""Cases in a chunk; in all 2,000 a test run."""

LARGE_SHARE = 0.4
JUDGED_ON_RUNS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE)
REFERENCE_UP_TO = 400
WALK_UP_TO = USUAL_LIMIT + 500
"""What the plain walk takes; more than any limit asked, so that "undecided" is checked too."""


@pytest.mark.parametrize("chunk", range(N_CHUNKS))
def test_engines_agree_on_random_systems_of_a_good_mix(chunk: int) -> None:
    mix: Counter[str] = Counter()
    for i in range(N_CASES):
        large = i % 5 < 5 * LARGE_SHARE
        disagreement = check_case(random_case(chunk * N_CASES + i, large), mix)
        assert disagreement is None, disagreement
    cases, rules = mix["cases"], mix["rules"]
    shares = {name: mix[name] / cases for name in ("over 1,000", "immediate", "conflict", "repair", "observers")}
    verdicts = {name: mix[name] / rules for name in ("holds", "fails", "undecided")}
    print(f"\n{cases} systems, {rules} questions, {mix['situations']:,} situations;", *sorted(mix.items()))
    assert cases == N_CASES
    assert shares.pop("over 1,000") >= 0.30
    assert min(shares.values()) >= 0.20, shares
    assert min(verdicts.values()) >= 0.15, verdicts


def check_case(case: Case, mix: Counter[str] | None = None) -> str | None:
    """Ask everything of the engines that can take it, and compare; None, or what disagrees, in words."""
    mix = Counter() if mix is None else mix
    walks = Walks(case)
    seen = walks.everything()
    small = sum(seen.counts()[:2]) <= REFERENCE_UP_TO
    engines: list[Engine] = [QuickEngine(), *([ReferenceEngine()] if small else [])]
    for asked in case.asked:
        answers = [engine.answer(case.system, (asked.question,), asked.limits)[0] for engine in engines]
        _count_answer(mix, case, asked, answers[0])
        disagreement = different(answers)
        if disagreement is None and (not small or case.seed % 5 == 0):
            disagreement = walks.disagree(asked, answers[0])
        if disagreement is None and answers[0].scenario is not None:
            disagreement = replay(case.system, asked.question, answers[0].scenario)
        if disagreement is not None:
            return f"seed {case.seed}, {asked}: {disagreement}"
    if small:
        probes = () if case.conflict is None else (case.conflict,)
        surveys = [replace(engine.survey(case.system, case.survey, probes, Limits()), engine="") for engine in engines]
        if surveys[0] != surveys[1]:
            return f"seed {case.seed}: surveys {surveys}"
    _count_case(mix, case, seen)
    return None


def different(answers: list[Answer]) -> str | None:
    """Whether answers differ in more than the name of the engine."""
    alike = {replace(answer, engine="") for answer in answers}
    return None if len(alike) == 1 else " differs from ".join(map(str, answers))


def _count_case(mix: Counter[str], case: Case, seen: Reached) -> None:
    mix["cases"] += 1
    kinds = {case.system.property(asked.question.property) for asked in case.asked}
    mix["observers"] += any(rule.every_event or rule.kind is PropertyKind.BEFORE for rule in kinds)
    n_situations = sum(seen.counts()[:2])
    mix["situations"] += n_situations
    mix["over 1,000"] += n_situations > 1_000
    actions: dict[str, Action] = {action.id: action for action in case.system.actions}
    happened = [actions[id] for id in seen.happened]
    mix["immediate"] += any(action.tier is Tier.LOGIC for action in happened)
    mix["repair"] += any(action.kind is ActionKind.REPAIR for action in happened)
    if case.conflict is not None:
        test = seen.walk.test(case.conflict.expression)
        mix["conflict"] += any(test(v, v) and seen.walk.after(v)[0] is not Tier.CONSEQUENCE for v, _, _ in seen.nodes)


def _count_answer(mix: Counter[str], case: Case, asked: Asked, answer: Answer) -> None:
    mix["rules"] += 1
    mix[answer.verdict.value] += 1
    mix[f"{case.system.property(asked.question.property).kind.value} {answer.verdict.value}"] += 1


class Walks:
    """The plain walk through one case; what it works out about valuations is kept by overlay and allowed failures."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self._walks: dict[object, Walk] = {}

    def walk(self, question: Question) -> Walk:
        """The walk for a question."""
        key = (question.overlay, question.allowed)
        if key not in self._walks:
            self._walks[key] = Walk(self.case.system, question)
        return self._walks[key]

    def everything(self) -> Reached:
        """All that can be reached, or as much of it as the walk takes."""
        try:
            return reach(self.walk(self.case.survey), self.case.survey, None, WALK_UP_TO)
        except TooMany as beyond:
            return beyond.reached

    def disagree(self, asked: Asked, answer: Answer) -> str | None:
        """Whether the walk comes to another verdict, other counts, or another length of a scenario."""
        if answer.verdict is Verdict.UNDECIDED:
            return self._not_beyond(asked)
        try:
            verdict, shortest, counts, n_nodes = self.expected(asked.question)
        except TooMany:
            return None if answer.scenario is not None else "decided though there is too much for the walk"
        if verdict is not answer.verdict:
            return f"the walk says {verdict}, the engine {answer}"
        if (shortest is None) != (answer.scenario is None):
            return f"the walk says {shortest}, the engine {answer.scenario}"
        if answer.counts is not None and answer.counts != counts:
            return f"the walk counts {counts}, the engine {answer.counts}"
        if shortest is not None and answer.scenario is not None:
            length = _length(self.case, answer.scenario)
            # Where the limit was hit, only a breach straight from what was known is told: perhaps a longer way.
            if length < shortest or (length > shortest and n_nodes <= asked.limits.states):
                return f"the walk needs {shortest}, the engine {length}"
        return None

    def expected(self, question: Question) -> tuple[Verdict, tuple[int, int] | None, Counts, int]:
        """Verdict, failures and events of a shortest scenario, counts, nodes, all by the plain walk."""
        walk = self.walk(question)
        rule = walk.system.property(question.property)
        reached = reach(walk, question, rule if rule.kind in JUDGED_ON_RUNS else None, WALK_UP_TO)
        if rule.kind in JUDGED_ON_RUNS:
            length = reached.shortest(question.budget)
        elif rule.kind is PropertyKind.ALWAYS_POSSIBLE:
            bad = without_way(reached, rule)
            length = reached.shortest(question.budget, lambda node: node[0] in bad)
        else:
            owed = unended(reached, rule, question.budget)
            length = owed_length(reached, rule, owed, question.budget)
        holds = (length is not None) == (rule.kind is PropertyKind.POSSIBLE)
        verdict = Verdict.HOLDS if holds else Verdict.FAILS
        return verdict, length, Counts(*reached.counts()), len(reached.nodes)

    def _not_beyond(self, asked: Asked) -> str | None:
        """What is undecided must have more nodes than its limit."""
        walk = self.walk(asked.question)
        rule = walk.system.property(asked.question.property)
        try:
            reached = reach(walk, asked.question, rule if rule.kind in JUDGED_ON_RUNS else None, asked.limits.states)
        except TooMany:
            return None
        return f"undecided with {len(reached.nodes)} nodes"


def _length(case: Case, scenario: Scenario) -> tuple[int, int]:
    """Failures and events of a scenario, without its loop."""
    costs = {action.id: action.cost for action in case.system.actions}
    n_events = len(scenario.events) if scenario.loop_from is None else scenario.loop_from
    return len(scenario.at_start) + sum(costs[event] for event in scenario.events), n_events
