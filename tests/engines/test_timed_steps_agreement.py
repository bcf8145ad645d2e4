"""On random timed systems the engines of declared timing say the same: whole ticks, regions, zones, zones over arrays.

Ticks and regions walk step by step and share the walk; zones share nothing with them but the plain meaning. Of rules
judged on runs all that can be decided so are compared, with failures and events of the scenario. `always_ends` is
decided by ticks and by regions, `always_possible` by regions and backwards by zones (`engines/ways`), with a proof that
looks at no age before it and without. What a walk of regions reaches, any timing reaches.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from interlock.core.question import Answer, Question, Timing, Verdict
from interlock.core.system import ON_GRAPHS, System
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import Walk, explore
from interlock.engines.api import Limits
from interlock.engines.regions.ages import RegionAges
from tests.engines.in_time import ENGINES
from tests.engines.test_timed_agreement import any_timing, cost
from tests.engines.tick_walk import is_closed, windows_of
from tests.random_timed import random_timed_case

pytestmark = pytest.mark.no_cover

FIRST = 5_000
"""Seeds apart from those of `test_timed_agreement.py`."""

N_CHUNKS = 3
N_CASES = 22
LIMITS = Limits(states=1_000)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A random system and all that is asked about it."""

    seed: int
    system: System
    asked: tuple[Question, ...]


def drawn(seed: int) -> Drawn:
    """The random case of a seed, with its rules that are judged on graphs asked as well. Every third is closed by
    luck alone."""
    case = random_timed_case(seed, closed=seed % 3 != 0)
    graphs = [p.id for p in case.system.properties if p.kind in ON_GRAPHS]
    ways = tuple(Question(id, Timing.DECLARED, i % 2) for i, id in enumerate(graphs))
    return Drawn(seed, case.system, (*case.asked, *ways))


def chunk(number: int) -> Iterator[Drawn]:
    """One part of the random cases."""
    return (drawn(FIRST + number * N_CASES + i) for i in range(N_CASES))


@pytest.mark.parametrize("number", range(N_CHUNKS))
def test_engines_of_declared_timing_say_the_same(number: int) -> None:
    mix: Counter[str] = Counter()
    for case in chunk(number):
        for question in case.asked:
            wrong = disagreement(case.system, question, mix)
            assert wrong is None, f"seed {case.seed}, {question}: {wrong}"
    print(sorted(mix.items()))
    assert mix["compared"] >= 0.6 * mix["asked"]
    for word, least in LEAST.items():
        assert mix[word] >= least, (word, sorted(mix.items()))


LEAST = {
    "open": 12,
    "always_ends": 12,
    "always_possible": 10,
    "no way to": 2,
    "holds": 40,
    "fails": 25,
    "deadline": 15,
    "loop": 1,
    "a failure": 10,
}
"""How many of each kind are compared in a chunk at the least."""


def disagreement(system: System, question: Question, mix: Counter[str]) -> str | None:
    """None, or what disagrees."""
    able = {name: engine for name, engine in ENGINES.items() if engine.decides(system, question)}
    answers: dict[str, Answer] = {}
    for name, engine in able.items():
        (answer,) = engine.answer(system, (question,), LIMITS)
        if answer.verdict is not Verdict.UNDECIDED:
            answers[name] = answer
    mix["asked"] += len(able) > 1
    if len(answers) < 2:
        return None
    told = {name: (a.verdict, a.scenario and a.scenario.ends, cost(system, a)) for name, a in answers.items()}
    rule = system.property(question.property)
    first = next(iter(answers.values()))
    mix["compared"] += 1
    mix[rule.kind.value] += 1
    mix[first.verdict.value] += 1
    mix["open"] += not is_closed(system, question)
    mix["deadline"] += rule.within is not None
    mix["a failure"] += question.budget > 0
    if first.scenario is not None:
        mix[first.scenario.ends.value] += 1
    if rule.kind in ON_GRAPHS:
        # Which loop is shown is each engine's own.
        return None if len({verdict for verdict, _, _ in told.values()}) == 1 else str(told)
    return None if len(set(told.values())) == 1 else str(told)


def test_what_regions_reach_any_timing_reaches() -> None:
    some_less = complete = 0
    for number in range(N_CHUNKS):
        for case in chunk(number):
            question = next(q for q in case.asked if case.system.property(q.property).kind in ON_GRAPHS)
            stage = Stage(case.system, question)
            found = explore(Walk(stage, RegionAges(stage.n_clocks, stage.windows(), stage.unit)), LIMITS)
            reached = {aged.valuation for aged in found.came}
            anyhow = any_timing(case.system, question)
            assert reached <= anyhow, case.seed
            complete += not found.beyond
            some_less += not found.beyond and reached < anyhow
    # Times forbid something in many, or nothing would be compared.
    assert complete >= 0.7 * N_CHUNKS * N_CASES
    assert some_less >= 0.2 * N_CHUNKS * N_CASES


def test_what_is_compared_is_of_all_kinds() -> None:
    cases = [case for number in range(N_CHUNKS) for case in chunk(number)]
    actions = [action for case in cases for action in case.system.actions]
    windows = [window for case in cases for window in windows_of(case.system, case.asked[0])]
    assert sum(bool(action.ages_with) for action in actions) >= 10
    assert sum(bool(action.restarts) for action in actions) >= 10
    assert sum((window.latest or 0) > 1_000 for window in windows) >= 2
    assert sum(window.earliest == window.latest for window in windows) >= 50
    assert sum(window.earliest_open or window.latest_open for window in windows) >= 50
    assert sum(window.latest == 0 for window in windows) >= 10
