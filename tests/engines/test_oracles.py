"""`before` and `always_ends` judged run by run, from their words alone, on random small systems.

No flag, no component, no product: every run up to a length is written out and its history read. What is found must be
what the engines say, and what the engines show must be found, if it is short enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from interlock.core.question import Ends, Question, Verdict
from interlock.core.system import Action, Property, PropertyKind, Valuation
from interlock.engines.api import Limits
from interlock.engines.quick.engine import QuickEngine
from tests.engines.plain_walk import Test, Walk
from tests.random_systems import random_case

pytestmark = pytest.mark.no_cover

MAX_EVENTS = 7
MAX_RUNS = 1_500
N_CASES = 160


@dataclass(frozen=True, slots=True)
class Run:
    """A run: situations, and the actions between them."""

    situations: tuple[Valuation, ...]
    actions: tuple[Action, ...]
    spent: int


def runs(walk: Walk, budget: int, prune: Callable[[Run], bool] = lambda run: False) -> Iterator[Run]:
    """Every run of up to `MAX_EVENTS` events, shorter ones first; none that goes on from a pruned one.

    Ends after `MAX_RUNS` runs; `complete_up_to` below says which lengths were then written out in full.
    """
    level = [Run((v,), (), n) for v, n in walk.starts(budget)]
    for _ in range(MAX_EVENTS + 1):
        yield from level
        level = [
            Run((*run.situations, after), (*run.actions, action), run.spent + action.cost)
            for run in level
            if not prune(run)
            for action, after in walk.after(run.situations[-1])[1]
            if run.spent + action.cost <= budget
        ]
        if len(level) > MAX_RUNS:
            return


def complete_up_to(walk: Walk, budget: int) -> int:
    """Up to how many events all runs are written out."""
    return max((len(run.actions) for run in runs(walk, budget)), default=0)


def rises(test: Test, situations: tuple[Valuation, ...], i: int) -> bool:
    """Whether event i (the one that leads to situation i) makes the condition true that was false before."""
    before, after = situations[i - 1], situations[i]
    return test(after, before) and not test(before, before)


def breaks_before(walk: Walk, rule: Property, run: Run) -> bool:
    """Whether the last event raises X though Y has not come since Z last rose: read from the history alone.

    Y came at situation j (the start counts), and no event after j and before the last one raised Z.
    """
    assert rule.first is not None
    last = len(run.situations) - 1
    if last == 0 or not rises(walk.test(rule.condition), run.situations, last):
        return False
    y = walk.test(rule.first)
    for j in range(last):
        if y(run.situations[j], run.situations[max(j - 1, 0)]):
            since = [] if rule.since is None else range(j + 1, last)
            if not any(rule.since and rises(walk.test(rule.since), run.situations, i) for i in since):
                return False
    return True


def test_before_says_what_its_words_say_of_every_short_run() -> None:
    told = {Verdict.HOLDS: 0, Verdict.FAILS: 0}
    for seed in range(N_CASES):
        case = random_case(seed, large=False)
        for id in ("before", "before2"):
            for budget in (0, 1):
                question = Question(id, budget=budget)
                answer = QuickEngine().answer(case.system, (question,), Limits())[0]
                walk = Walk(case.system, question)
                rule = case.system.property(id)
                found = [(r.spent, len(r.actions)) for r in runs(walk, budget) if breaks_before(walk, rule, r)]
                told[answer.verdict] += 1
                if answer.verdict is Verdict.HOLDS:
                    assert not found, (seed, question)
                else:
                    assert answer.scenario is not None
                    costs = {action.id: action.cost for action in case.system.actions}
                    n_failures = len(answer.scenario.at_start) + sum(costs[e] for e in answer.scenario.events)
                    shown = (n_failures, len(answer.scenario.events))
                    if shown[1] <= complete_up_to(walk, budget):
                        assert min(found) == shown, (seed, question)
    assert min(told.values()) > N_CASES / 4, told


def stays_for_ever(walk: Walk, rule: Property, run: Run) -> Iterator[tuple[Ends, int]]:
    """The ways in which a run that ends here never comes to B: it stops here, or goes round from an earlier situation.

    Gives how, and the number of events before the loop begins (for a stop: all of them).
    """
    begun = walk.test(rule.start) if rule.start is not None else lambda now, then: True
    ended = walk.test(rule.condition)
    situations = run.situations
    settled = [walk.settled(v) for v in situations]
    owed_from = None
    for i, v in enumerate(situations):
        if settled[i]:
            if begun(v, v) and owed_from is None:
                owed_from = i
            if ended(v, v):
                owed_from = None
    if owed_from is None:
        return
    last = situations[-1]
    if settled[-1] and not _obliged(walk, rule, last):
        yield Ends.STUCK, len(run.actions)
    for begin in range(owed_from, len(situations) - 1):
        if situations[begin] == last and not any(action.cost for action in run.actions[begin:]):
            loop = [v for v, calm in zip(situations[begin:], settled[begin:], strict=True) if calm]
            happened = {action.id for action in run.actions[begin:]}
            restarted = {id for action in run.actions[begin:] for id in action.restarts}
            always = set.intersection(*(_obliged(walk, rule, v) for v in loop)) if loop else set()
            if not always - happened - restarted:
                yield Ends.LOOP, begin


def _obliged(walk: Walk, rule: Property, valuation: Valuation) -> set[str]:
    return {
        action.id
        for action, _ in walk.after(valuation)[1]
        if (action.obliged or action.id in rule.helped_by) and not action.cost
    }


def test_always_ends_says_what_its_words_say_of_every_short_run() -> None:
    told = {Verdict.HOLDS: 0, Verdict.FAILS: 0}
    compared = 0
    for seed in range(N_CASES):
        case = random_case(seed, large=False)
        for id in ("always ends", "always ends too"):
            for budget in (0, 1):
                question = Question(id, budget=budget)
                answer = QuickEngine().answer(case.system, (question,), Limits())[0]
                walk = Walk(case.system, question)
                rule = case.system.property(id)
                told[answer.verdict] += 1
                found = [
                    (run.spent, n_before, ends)
                    for run in runs(walk, budget)
                    for ends, n_before in stays_for_ever(walk, rule, run)
                ]
                if answer.verdict is Verdict.HOLDS:
                    assert not found, (seed, question)
                    continue
                scenario = answer.scenario
                assert scenario is not None
                if len(scenario.events) <= complete_up_to(walk, budget):
                    costs = {action.id: action.cost for action in case.system.actions}
                    n_failures = len(scenario.at_start) + sum(costs[e] for e in scenario.events)
                    n_before = len(scenario.events) if scenario.loop_from is None else scenario.loop_from
                    assert (n_failures, n_before, scenario.ends) in found, (seed, question)
                    assert min((spent, n) for spent, n, _ in found) == (n_failures, n_before), (seed, question)
                    compared += 1
    assert min(told.values()) > N_CASES / 4, told
    assert compared > N_CASES / 4


@pytest.mark.parametrize("kind", [PropertyKind.BEFORE, PropertyKind.ALWAYS_ENDS])
def test_the_cases_ask_such_rules(kind: PropertyKind) -> None:
    case = random_case(0, large=False)
    assert [rule.kind for rule in case.system.properties].count(kind) == 2
