"""For any one failure, one mode after the other says what all modes together say, on random timed systems."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import partial

import pytest

from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.timed import bulk
from interlock.engines.timed.bulk import Bulk
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.timed.graph import Graph, TooMany, Unsettling
from interlock.engines.timed.refine import Refinement
from interlock.engines.timed.search import Counting, search
from interlock.engines.timed.singly import Singly, modes_singly
from tests.random_timed import random_timed_case

MOST = 50_000
N_CASES = 150


def deciding(system: System, question: Question) -> Refinement:
    graph = Graph(system, question, MOST)
    return Refinement(graph, partial(search, graph, most=MOST, told=None))


def questions() -> list[tuple[System, Question]]:
    found = []
    for seed in range(N_CASES):
        case = random_timed_case(seed, closed=seed % 3 != 0)
        for question in case.asked:
            asked = replace(question, budget=1)
            if modes_singly(case.system, asked):
                found.append((case.system, asked))
    return found


def test_one_mode_after_the_other_says_what_all_together_say_and_rests_on_no_end_that_can_be_left_out() -> None:
    mix: Counter[str] = Counter()
    for system, question in questions():
        try:
            together = deciding(system, question)
            wanted = together.decide(Counting())

            def alone(mode: str, system: System = system, question: Question = question) -> Refinement:
                return deciding(system, replace(question, allowed=(mode,)))

            _, found = Singly(modes_singly(system, question), alone).decide(Counting())
        except (Unsettling, TooMany):
            mix["not decided"] += 1
            continue
        assert (found.run is None) == (wanted.run is None), question
        mix["a run" if found.run else "no run"] += 1
        if found.run is not None:
            continue
        assert together.search(found.counting)[0] is None
        mix["rests on times"] += bool(found.rests_on)
        for one in found.counting.bounds:
            smaller = Counting(found.counting.always - {one}, found.counting.while_open - {one})
            assert together.search(smaller)[0] is not None
    print(sorted(mix.items()))
    assert min(mix["a run"], mix["no run"]) > 50
    assert mix["rests on times"] > 10


def test_the_engine_takes_one_mode_after_the_other_where_all_together_are_too_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[tuple[str, ...] | None] = []
    usual = bulk.bulk_of

    def refusing(system: System, question: Question, most: int) -> Bulk:
        made.append(question.allowed)
        if question.allowed is None or len(question.allowed) > 1:
            raise TooMany("the memory is used up")
        return usual(system, question, most)

    mix: Counter[Verdict] = Counter()
    for system, question in questions()[:60]:
        if question.cut or system.property(question.property).every_event:
            continue
        (wanted,) = ZonesEngine(small=MOST).answer(system, (question,), Limits(states=MOST))
        with monkeypatch.context() as patched:
            patched.setattr(bulk, "bulk_of", refusing)
            (found,) = ZonesEngine(small=0, near=False).answer(system, (question,), Limits(states=MOST))
        assert found.verdict is wanted.verdict
        mix[found.verdict] += 1
    assert {Verdict.HOLDS, Verdict.FAILS} <= set(mix)
    assert {len(allowed) for allowed in made if allowed is not None} == {1}


def test_modes_are_taken_one_after_the_other_for_one_failure_only() -> None:
    system, question = questions()[0]
    modes = modes_singly(system, question)
    assert len(modes) > 1
    assert modes_singly(system, replace(question, budget=2)) == ()
    assert modes_singly(system, replace(question, budget=0)) == ()
    assert modes_singly(system, replace(question, allowed=modes[:1])) == ()
    assert modes_singly(system, replace(question, allowed=modes[:2])) == modes[:2]
    assert question.timing is Timing.DECLARED
