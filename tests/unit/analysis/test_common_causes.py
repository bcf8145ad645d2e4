"""A row with common causes, beyond what is claimed, is answered by these alone: as if it were asked as a whole."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from interlock.analysis.common_causes import alone, together
from interlock.analysis.inquiry import Asked
from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import PropertyKind
from interlock.engines.api import Limits
from interlock.engines.timed.engine import ZonesEngine
from tests.random_specs import random_spec
from tests.random_timed import random_timed_case

N_SYSTEMS = 40
N_SPECS = 60
LIMITS = Limits(states=1_500)
KINDS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.AFTER, PropertyKind.LASTS)


def test_both_together_say_what_the_whole_says() -> None:
    """On random systems in which every second mode of failure is taken for a common cause."""
    mix: Counter[str] = Counter()
    engine = ZonesEngine()
    for seed in range(N_SYSTEMS):
        system = random_timed_case(seed, closed=False).system
        modes = tuple(replace(mode, common_cause=bool(i % 2)) for i, mode in enumerate(system.modes))
        system = replace(system, modes=modes)
        every = tuple(mode.id for mode in modes)
        for rule in system.properties:
            wanted = Question(rule.id, Timing.DECLARED, 1, allowed=every)
            common = alone(system, wanted)
            if rule.kind not in KINDS or common is None or len(every) < 2:
                continue
            without, apart, whole = (
                Asked(one.question, one.verdict, True, None, one.limit, one.engine)
                for one in engine.answer(system, (replace(wanted, allowed=None), common, wanted), LIMITS)
            )
            found = together(rule, wanted, without, apart)
            assert found.question == wanted
            if Verdict.UNDECIDED not in (found.verdict, whole.verdict):
                assert found.verdict is whole.verdict, (seed, rule.id)
                mix[f"{whole.verdict.value}, {without.verdict.value} without"] += 1
    assert mix["holds, holds without"] >= 10, mix
    assert mix["fails, holds without"] >= 3, mix
    assert mix["fails, fails without"] >= 10, mix


def test_it_is_undecided_where_a_way_is_open_on_one_side_and_none_is_known_on_the_other() -> None:
    rule = elaborate(random_spec(0)).properties[0]
    asked = Question(rule.id)

    def one(verdict: Verdict) -> Asked:
        return Asked(asked, verdict, True, None, "a limit" if verdict is Verdict.UNDECIDED else None, "zones")

    holds, fails, undecided = map(one, (Verdict.HOLDS, Verdict.FAILS, Verdict.UNDECIDED))
    never = replace(rule, kind=PropertyKind.NEVER)
    assert together(never, asked, undecided, holds).verdict is Verdict.UNDECIDED
    assert together(never, asked, undecided, holds).limit == "a limit"
    assert together(never, asked, undecided, fails).verdict is Verdict.FAILS
    assert together(never, asked, fails, undecided).verdict is Verdict.FAILS
    assert together(never, asked, None, undecided).verdict is Verdict.UNDECIDED
    assert together(never, asked, None, holds).verdict is Verdict.HOLDS


def test_more_than_one_failure_is_asked_whole() -> None:
    spec = next(s for s in map(random_spec, range(N_SPECS)) if any(failure.common_cause for failure in s.failures))
    every = tuple(failure.id for failure in spec.failures)
    assert alone(elaborate(spec), Question("any", budget=2, allowed=every)) is None
    assert alone(elaborate(spec), Question("any", budget=1)) is None
    assert alone(elaborate(spec), Question("any", budget=1, allowed=every)) is not None
