"""What slices say the whole says: `always_ends` and `always_possible`, for any and for the declared timing.

Held against the whole on random timed systems, under the conditions of `analysis/inquiry.py`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from interlock.analysis.inquiry import Inquiry, _keeps_ages
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import ON_GRAPHS, PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES, in_time_on_graphs
from tests.random_timed import random_timed_case

pytestmark = pytest.mark.no_cover

LIMITS = Limits(states=1_000)
N_CASES = 60


def verdict(system: System, question: Question) -> Verdict:
    if question.timing is Timing.ANY:
        engine = ENGINES["quick"]
    else:
        engine = next(one for one in in_time_on_graphs() if one.decides(system, question))
    return engine.answer(system, (question,), LIMITS)[0].verdict


def test_slices_and_the_whole_say_the_same() -> None:
    mix: Counter[tuple[object, ...]] = Counter()
    for seed in range(N_CASES):
        case = random_timed_case(seed, closed=seed % 3 != 0)
        inquiry = Inquiry(case.system, ENGINES["quick"], LIMITS)
        for number, rule in enumerate(one for one in case.system.properties if one.kind in ON_GRAPHS):
            question = Question(rule.id, Timing.DECLARED, number % 2)
            part = inquiry.part(question)
            if not part.dropped or not (_keeps_ages(part) and inquiry._rest_settles(part)):
                continue
            ends = rule.kind is PropertyKind.ALWAYS_ENDS
            for asked in (question, replace(question, timing=Timing.ANY)) if ends else (question,):
                small, whole = verdict(part.system, asked), verdict(case.system, asked)
                if Verdict.UNDECIDED in (small, whole):
                    continue
                mix[rule.kind, asked.timing, whole] += 1
                if ends and small is Verdict.HOLDS:
                    assert whole is Verdict.HOLDS, (seed, asked)
                if asked.timing is Timing.DECLARED and inquiry._as_the_whole(part, asked):
                    assert small is whole, (seed, asked)
    for kind, timing in ((k, t) for k in ON_GRAPHS for t in Timing if k is ON_GRAPHS[1] or t is Timing.DECLARED):
        assert mix[kind, timing, Verdict.HOLDS] >= 10
        assert mix[kind, timing, Verdict.FAILS] >= 10
