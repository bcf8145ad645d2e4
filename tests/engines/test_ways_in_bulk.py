"""The proof that a way leads on whatever the ages are: over arrays it says what it says in plain Python, and what it
proves holds."""

from __future__ import annotations

from collections import Counter

from interlock.core.one_failure import one_at_a_time
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import PropertyKind
from interlock.engines.api import Limits
from interlock.engines.timed.bulk import bulk_of
from interlock.engines.timed.graph import Graph, Unsettling
from interlock.engines.ways.engine import WaysEngine
from interlock.engines.ways.whatever import surely_good
from interlock.engines.ways.whatever_bulk import not_surely_good, surely_good_in_bulk
from tests.random_timed import random_timed_case

MOST = 5_000
N_CASES = 60


def test_the_proof_over_arrays_is_the_one_in_plain_python_and_what_it_proves_holds() -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_CASES):
        system = random_timed_case(seed, closed=seed % 3 != 0).system
        for rule in system.properties:
            if rule.kind is not PropertyKind.ALWAYS_POSSIBLE or rule.passing:
                continue
            question = Question(rule.id, Timing.DECLARED, seed % 2)
            try:
                plain = surely_good(Graph(system, question, MOST))
            except Unsettling:
                mix["unsettling"] += 1
                continue
            bulk = bulk_of(system, question, MOST)
            bad = not_surely_good(system, rule, bulk)
            assert plain == (not bad[bulk.tier == 2].any()), seed
            assert plain == (not bad.any()), seed
            single = list(one_at_a_time(system, question))
            mix["one failure at a time"] += len(single) > 1
            known: set[Question] = set()
            assert plain == surely_good_in_bulk(system, question, Limits(states=MOST), known), seed
            assert (known == set(single)) == plain, seed
            # What is known is not looked at again, nor is anything else taken for known.
            assert plain == surely_good_in_bulk(system, question, Limits(states=MOST), known), seed
            whole = {bulk.valuation(i) for i in range(len(bad))}
            bulks = [bulk_of(system, one, MOST) for one in single]
            assert whole == {one.valuation(i) for one in bulks for i in range(one.tier.shape[0])}, seed
            (answer,) = WaysEngine(whatever=False).answer(system, (question,), Limits(states=2_000))
            mix[f"proved: {plain}, {answer.verdict.value}"] += 1
            assert not plain or answer.verdict is not Verdict.FAILS
    assert mix["one failure at a time"] >= 6, mix
    assert mix["proved: True, holds"] >= 10, mix
    assert mix["proved: False, fails"] >= 10, mix
