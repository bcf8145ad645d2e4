"""For any one failure, one mode after the other says what all modes together say, on random timed systems."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import partial

import pytest

from interlock.core.one_failure import one_at_a_time
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.timed import bulk
from interlock.engines.timed.bulk import Bulk
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.timed.graph import Graph, TooMany, Unsettling
from interlock.engines.timed.refine import Refinement
from interlock.engines.timed.search import Counting, search
from interlock.engines.timed.singly import Singly
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
            if len(one_at_a_time(case.system, asked)) > 1:
                found.append((case.system, asked))
    return found


def test_one_mode_after_the_other_says_what_all_together_say_and_rests_on_no_end_that_can_be_left_out() -> None:
    mix: Counter[str] = Counter()
    for system, question in questions():
        try:
            together = deciding(system, question)
            wanted = together.decide(Counting())

            _, found = Singly(one_at_a_time(system, question), partial(deciding, system)).decide(Counting())
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


def test_a_question_is_taken_apart_for_one_failure_only() -> None:
    system, question = questions()[0]
    parts = one_at_a_time(system, question)
    modes = tuple(mode.id for mode in system.modes if not mode.common_cause)
    assert len(parts) > 1
    assert parts == tuple(replace(question, allowed=(mode,)) for mode in modes)
    for budget in (0, 2):
        asked = replace(question, budget=budget)
        assert one_at_a_time(system, asked) == (asked,)
    assert one_at_a_time(system, replace(question, allowed=modes[:1])) == parts[:1]
    assert one_at_a_time(system, replace(question, allowed=modes[:2])) == parts[:2]
    assert question.timing is Timing.DECLARED


class OutOfMemory:
    """Decides each of so many parts once; then the memory is used up."""

    def __init__(self, system: System, n: int) -> None:
        self.system = system
        self.left = n

    def __call__(self, part: Question) -> Refinement:
        if not self.left:
            raise TooMany("the memory is used up")
        self.left -= 1
        return deciding(self.system, part)


def test_memory_that_runs_out_while_ends_are_left_out_loses_no_verdict() -> None:
    kept = 0
    for system, question in questions():
        parts = one_at_a_time(system, question)
        try:
            _, wanted = Singly(parts, partial(deciding, system)).decide(Counting())
        except (Unsettling, TooMany):
            continue
        if wanted.run is None and wanted.rests_on:
            _, found = Singly(parts, OutOfMemory(system, len(parts))).decide(Counting())
            assert found.run is None
            assert set(wanted.rests_on) <= set(found.rests_on)
            kept += 1
    assert kept > 10
