"""The explicit engine agrees with the quick one (and that with the reference, see `test_agreement.py`), however its
situations are packed; its large explorations agree with one situation a block and with counts measured elsewhere.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from interlock.core.question import Counts, Question, Verdict
from interlock.core.system import PropertyKind, System
from interlock.engines.api import Engine, Limits
from interlock.engines.explicit import explore, survey, tables
from interlock.engines.explicit import style as styles
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.explicit.explore import Exploration, Sought
from interlock.engines.explicit.parts import STARTS
from interlock.engines.explicit.prepare import ON_RUNS, Pieces
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.replay import replay
from tests.bench import coupled_berths, two_berths
from tests.random_systems import random_case

pytestmark = pytest.mark.no_cover

STYLES = {
    "blocks": {"sample": 2},
    "one situation a block": {"blocks": False},
    "blocks under keys of several words": {"sample": 2, "least_words": 3},
}
FEW_TURNS = 40
"""Blocks between two looks at the limit, so that explorations are broken off in the middle."""

CASES = {"blocks": 120, "one situation a block": 40, "blocks under keys of several words": 40}


@pytest.mark.parametrize("style", STYLES)
def test_answers_are_those_of_the_quick_engine_limits_included(style: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(explore, "TURNS", FEW_TURNS)
    mix: Counter[str] = Counter()
    for i in range(CASES[style]):
        case = random_case(50_000 + i, i % 4 == 0)
        explicit = ExplicitEngine(**STYLES[style])  # type: ignore[arg-type]
        for asked in case.asked:
            (expected,) = QuickEngine().answer(case.system, (asked.question,), asked.limits)
            (found,) = explicit.answer(case.system, (asked.question,), asked.limits)
            assert replace(found, engine="") == replace(expected, engine=""), (case.seed, asked)
            if found.scenario is not None:
                assert replay(case.system, asked.question, found.scenario) is None
            kind = case.system.property(asked.question.property).kind
            mix.update([found.verdict.value, kind.value, "rules", f"{kind.value} {found.verdict.value}"])
            mix["cut"] += bool(asked.question.cut)
            mix["failures"] += asked.question.budget > 0
    print(f"\n{style}: {sorted(mix.items())}")
    assert min(mix[verdict.value] for verdict in Verdict) >= 0.1 * mix["rules"]
    asked_kinds = [kind for kind in PropertyKind if kind not in (PropertyKind.AFTER, PropertyKind.LASTS)]
    assert min(mix[kind.value] for kind in asked_kinds) >= 0.04 * mix["rules"]
    assert min(mix["cut"], mix["failures"]) >= 0.1 * mix["rules"]


def test_questions_that_share_an_exploration_are_answered_as_if_asked_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(explore, "TURNS", FEW_TURNS)
    mix: Counter[str] = Counter()
    for i in range(60):
        case = random_case(80_000 + i, i % 4 == 0)
        limits = Limits(states=60) if i % 3 == 0 else Limits()
        rules = [rule for rule in case.system.properties if rule.kind in ON_RUNS]
        asked = tuple(Question(rule.id, budget=budget) for rule in rules for budget in (1, 0))
        together = ExplicitEngine(sample=2).answer(case.system, asked, limits)
        for question, found in zip(asked, together, strict=True):
            (expected,) = QuickEngine().answer(case.system, (question,), limits)
            assert replace(found, engine="") == replace(expected, engine=""), (case.seed, question)
            mix[f"on events {found.verdict.value}"] += case.system.property(question.property).every_event
            at_once = found.scenario is not None and not found.scenario.events
            mix["ends at the start"] += at_once and case.system.property(question.property).every_event
    print(sorted(mix.items()))
    assert min(mix[f"on events {verdict.value}"] for verdict in Verdict) >= 5, mix
    assert mix["ends at the start"] >= 2, mix


def test_surveys_are_those_of_the_quick_engine() -> None:
    mix: Counter[str] = Counter()
    for i in range(120):
        case = random_case(60_000 + i, i % 5 == 0)
        probes = () if case.conflict is None else (case.conflict,)
        expected = QuickEngine().survey(case.system, case.survey, probes, Limits())
        found = ExplicitEngine(sample=2).survey(case.system, case.survey, probes, Limits())
        assert replace(found, engine="") == replace(expected, engine=""), case.seed
        mix["stuck"] += expected.stuck is not None
        mix["unsettling"] += expected.unsettling is not None
        mix["orders"] += expected.orders is not None
        mix["seen"] += bool(expected.seen)
    assert min(mix["stuck"], mix["unsettling"], mix["seen"]) >= 10, mix
    assert mix["orders"] >= 1, mix


def test_a_survey_that_cannot_compare_all_orders_still_tells_everything_else(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(survey, "MOST_COMPARED", 0)
    open_still = 0
    for i in range(60):
        case = random_case(60_000 + i, i % 5 == 0)
        expected = QuickEngine().survey(case.system, case.survey, (), Limits())
        found = ExplicitEngine(sample=2).survey(case.system, case.survey, (), Limits())
        open_still += found.not_compared is not None
        orders = expected.orders if found.not_compared is None else None
        assert replace(found, engine="", not_compared=None) == replace(expected, engine="", orders=orders), case.seed
    assert open_still >= 2


def counted(engine: Engine, budget: int) -> Counts:
    system = coupled_berths.with_failures()
    (answer,) = engine.answer(system, (Question("holds", budget=budget),), Limits(states=10_000_000))
    assert answer.verdict is Verdict.HOLDS
    assert answer.counts is not None
    return answer.counts


def test_a_million_situations_with_failures_count_the_same_in_blocks_and_one_by_one() -> None:
    in_blocks = counted(ExplicitEngine(), 1)
    assert in_blocks == counted(ExplicitEngine(blocks=False), 1)
    assert in_blocks.settled + in_blocks.passing == 886_608


def test_an_exploration_whose_blocks_are_sparse_begins_anew_with_fuller_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(explore, "WATCHED", 100_000)
    monkeypatch.setattr(explore, "SPARSE", 64)
    monkeypatch.setattr(styles, "places_for", lambda layout, log: ("train 0", "rail 0", "rail 1"))
    begun: list[tuple[str, ...]] = []
    original = Exploration.run

    def run(self: Exploration, starts: U64, sought: list[Sought]) -> None:
        begun.append(tuple(self.ground.layout.low))
        original(self, starts, sought)

    monkeypatch.setattr(Exploration, "run", run)
    counts = counted(ExplicitEngine(), 1)
    assert counts.settled + counts.passing == 886_608
    assert begun[0] == ("train 0", "rail 0", "rail 1")
    assert len(begun) == 2
    assert begun[1] not in (begun[0], ())


def fused(system: System, rule: str) -> int:
    """Rows after whose event runs of immediate logic are gone on with at once."""
    prepared = Pieces.of(system, [Question(rule, budget=1)]).prepared()
    return int(prepared.ground.tables.rows[:, STARTS].sum())


def test_logic_fused_into_the_event_before_it_always_or_never_changes_no_count(monkeypatch: pytest.MonkeyPatch) -> None:
    system = coupled_berths.with_failures()
    usual, n_usual = counted(ExplicitEngine(), 1), fused(system, "holds")
    monkeypatch.setattr(tables, "FEW", 0)
    never, n_never = counted(ExplicitEngine(), 1), fused(system, "holds")
    monkeypatch.setattr(tables, "FEW", 1000)
    always, n_always = counted(ExplicitEngine(), 1), fused(system, "holds")
    assert usual == never == always
    assert 0 == n_never < n_usual < n_always


def test_answers_are_those_of_the_quick_engine_where_logic_is_fused_always(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "FEW", 1000)
    passing = 0
    for i in range(40):
        case = random_case(70_000 + i, i % 4 == 0)
        for asked in case.asked:
            (expected,) = QuickEngine().answer(case.system, (asked.question,), asked.limits)
            (found,) = ExplicitEngine(sample=2).answer(case.system, (asked.question,), asked.limits)
            assert replace(found, engine="") == replace(expected, engine=""), (case.seed, asked)
            passing += found.counts is not None and found.counts.passing > 0
    assert passing >= 20


def test_two_berths_side_by_side_have_the_known_counts() -> None:
    (answer,) = ExplicitEngine().answer(two_berths.berths(2), (Question("hazard"),), Limits())
    assert answer.counts == Counts(two_berths.SITUATIONS, 0, two_berths.EVENTS)


def test_one_situation_a_block_and_keys_of_two_words_have_the_known_counts_too() -> None:
    engine = ExplicitEngine(blocks=False, least_words=2)
    (answer,) = engine.answer(two_berths.berths(2), (Question("hazard"),), Limits())
    assert answer.counts == Counts(two_berths.SITUATIONS, 0, two_berths.EVENTS)


def test_coupled_berths_have_the_counts_that_independent_programs_found() -> None:
    system = coupled_berths.coupled_berths()
    (answer,) = ExplicitEngine().answer(system, (Question("holds"),), Limits(states=100_000_000))
    assert answer.verdict is Verdict.HOLDS
    assert answer.counts == Counts(coupled_berths.SITUATIONS, 0, coupled_berths.EVENTS)


def test_the_shortest_scenario_of_a_large_system_is_that_of_one_situation_a_block() -> None:
    system = coupled_berths.with_failures()
    asked = (Question("is broken", budget=6),)
    limits = Limits(states=20_000_000)
    (first,) = ExplicitEngine().answer(system, asked, limits)
    (second,) = ExplicitEngine(blocks=False).answer(system, asked, limits)
    assert first.verdict is Verdict.FAILS
    assert first == second
    assert first.scenario is not None
    assert replay(system, asked[0], first.scenario) is None
