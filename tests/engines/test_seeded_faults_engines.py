"""Faults put into the meaning and the engines on purpose, one at a time: each must turn a named check of the
conformance suite red. A fault that no check shows would mean that the suite is blind there."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from interlock.core.meaning import Meaning
from interlock.core.system import Tier
from interlock.engines.api import Engine, EngineFault
from interlock.engines.quick import engine as quick_engine
from interlock.engines.quick import observe
from interlock.engines.quick.endings import Ending as QuickEnding
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.quick.events import Events
from interlock.engines.quick.explore import Exploration
from interlock.engines.reference.endings import Ending as ReferenceEnding
from interlock.engines.reference.engine import ReferenceEngine
from interlock.engines.reference.graph import Graph
from tests.engines.test_conformance import TestEveryEngine as Conformance
from tests.engines.test_conformance_ways import TestEveryEngine as ConformanceOfWays

pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch
CHECKS: dict[str, Callable[[Engine], None]] = {
    name: getattr(suite(), name)
    for suite in (Conformance, ConformanceOfWays)
    for name in dir(suite)
    if name.startswith("test_")
}


def tiers_are_ignored(patch: Patch) -> None:
    patch.setattr(Graph, "tier", lambda self, valuation: Tier.OTHER)


def logic_goes_before_consequences(patch: Patch) -> None:
    patch.setattr(Events, "tier", lambda self, s: next((t for t in (1, 0) if any(c.some(s) for c in self.free[t])), 2))
    patch.setattr(
        Events,
        "by_tier",
        lambda self, states: tuple([s for s in states if self.tier(s) == tier] for tier in (0, 1, 2)),
    )


def one_failure_more_than_allowed(patch: Patch) -> None:
    original = Meaning.__init__

    def init(self, system, question):  # type: ignore[no-untyped-def]
        original(self, system, question)
        self.budget += 1

    patch.setattr(Meaning, "__init__", init)


def one_failure_fewer_than_allowed(patch: Patch) -> None:
    original = Exploration.run

    def run(self, starts, sought):  # type: ignore[no-untyped-def]
        self.budget = max(self.budget - 1, 0)
        original(self, starts, sought)

    patch.setattr(Exploration, "run", run)


def common_causes_happen_unasked(patch: Patch) -> None:
    patch.setattr(Meaning, "may_fail", lambda self, action: True)


def failures_are_never_there_at_the_start(patch: Patch) -> None:
    original = Meaning.starts_with_failures

    def starts(self):  # type: ignore[no-untyped-def]
        return (pair for pair in original(self) if not pair[1])

    patch.setattr(Meaning, "starts_with_failures", starts)


def before_and_after_are_swapped(patch: Patch) -> None:
    original = Meaning.true

    def true(self, expression, now, before=None):  # type: ignore[no-untyped-def]
        return original(self, expression, now if before is None else before, None if before is None else now)

    patch.setattr(Meaning, "true", true)


def a_flag_counts_the_event_itself(patch: Patch) -> None:
    original = Meaning.breaks_order

    def breaks(self, rule, flag, before, after):  # type: ignore[no-untyped-def]
        return original(self, rule, self.flag_after(rule, flag, before, after), before, after)

    patch.setattr(Meaning, "breaks_order", breaks)


def a_flag_is_never_cleared(patch: Patch) -> None:
    patch.setattr(Meaning, "flag_after", lambda self, rule, flag, b, a: flag or self.true(rule.first, a, b))


def observers_are_counted(patch: Patch) -> None:
    patch.setattr(quick_engine, "recounted", lambda events, layers, budget: layers)


def passing_situations_are_judged(patch: Patch) -> None:
    original = observe.seek

    def seek(layout, rule):  # type: ignore[no-untyped-def]
        found = original(layout, rule)
        return lambda unsettled, settled: found(unsettled, unsettled + settled)

    patch.setattr(quick_engine, "seek", seek)


def the_limit_is_silent(patch: Patch) -> None:
    original = Exploration._stop

    def stop(self, spent, sought):  # type: ignore[no-untyped-def]
        original(self, spent, sought)
        for one in sought:
            one.beyond = False

    patch.setattr(Exploration, "_stop", stop)


def cuts_are_ignored(patch: Patch) -> None:
    patch.setattr(quick_engine, "cut_conditions", lambda layout, cuts: (None, None))


def fairness_is_ignored(patch: Patch) -> None:
    patch.setattr(ReferenceEnding, "_fair", lambda self, members: True)


def free_moves_are_taken_for_obliged(patch: Patch) -> None:
    original = Graph.obliged
    patch.setattr(Graph, "obliged", lambda self, valuation, helpers: original(self, valuation, self._all_ids()))
    patch.setattr(Graph, "_all_ids", lambda self: tuple(a.id for a in self.meaning.system.actions), raising=False)


def loops_are_overlooked(patch: Patch) -> None:
    patch.setattr(QuickEnding, "_fair", lambda self, members: False)


def a_way_may_use_failures_and_repairs(patch: Patch) -> None:
    patch.setattr(Graph, "way_edges", lambda self, valuation: self.edges(valuation))


def settled_and_passing_are_swapped(patch: Patch) -> None:
    original = Graph.settled
    patch.setattr(Graph, "settled", lambda self, valuation: not original(self, valuation))


def an_overlay_is_forgotten(patch: Patch) -> None:
    patch.setattr("interlock.core.meaning.with_overlay", lambda system, overlay: system)


def starts_beyond_the_first_are_forgotten(patch: Patch) -> None:
    original = Meaning.starts_with_failures

    def starts(self):  # type: ignore[no-untyped-def]
        return (pair for i, pair in enumerate(original(self)) if i == 0)

    patch.setattr(Meaning, "starts_with_failures", starts)


QUICK, REFERENCE = QuickEngine, ReferenceEngine

FAULTS: list[tuple[Callable[[Patch], None], type[QuickEngine] | type[ReferenceEngine], str]] = [
    (tiers_are_ignored, REFERENCE, "test_a_failure_that_rides_on_an_event_does_not_unsettle"),
    (logic_goes_before_consequences, QUICK, "test_consequences_go_before_logic_and_logic_before_all_else"),
    (one_failure_more_than_allowed, QUICK, "test_a_survey_tells_what_happened_and_what_was_seen"),
    (one_failure_fewer_than_allowed, QUICK, "test_a_failure_may_be_there_at_the_start"),
    (common_causes_happen_unasked, QUICK, "test_only_allowed_failures_happen_and_common_causes_only_if_named"),
    (common_causes_happen_unasked, REFERENCE, "test_only_allowed_failures_happen_and_common_causes_only_if_named"),
    (failures_are_never_there_at_the_start, QUICK, "test_a_failure_may_be_there_at_the_start"),
    (before_and_after_are_swapped, REFERENCE, "test_becomes_speaks_of_the_event_and_nothing_becomes_at_the_start"),
    (a_flag_counts_the_event_itself, REFERENCE, "test_before_is_judged_by_the_flag_as_it_was_before_the_event"),
    (a_flag_is_never_cleared, REFERENCE, "test_before_permits_stale_proof"),
    (observers_are_counted, QUICK, "test_rules_on_events_cut_at_the_event"),
    (passing_situations_are_judged, QUICK, "test_never_looks_at_settled_situations_only"),
    (the_limit_is_silent, QUICK, "test_beyond_the_limit_nothing_is_said_to_hold"),
    (cuts_are_ignored, QUICK, "test_a_breach_that_cuts_is_not_one_of_the_rule_asked"),
    (fairness_is_ignored, REFERENCE, "test_a_bound_move_comes_though_free_moves_come_for_ever"),
    (free_moves_are_taken_for_obliged, REFERENCE, "test_a_free_move_may_never_come"),
    (loops_are_overlooked, QUICK, "test_a_bound_move_that_is_interrupted_again_and_again_may_never_come"),
    (a_way_may_use_failures_and_repairs, REFERENCE, "test_a_way_needs_neither_a_failure_nor_a_repair"),
    (settled_and_passing_are_swapped, REFERENCE, "test_a_breach_at_the_start_is_a_scenario_without_events"),
    (an_overlay_is_forgotten, REFERENCE, "test_an_overlay_pins_named_conditions_and_moves_windows"),
    (starts_beyond_the_first_are_forgotten, REFERENCE, "test_every_start_is_explored"),
]


@pytest.mark.parametrize(
    ("fault", "engine", "check"), FAULTS, ids=[f"{fault.__name__}-{engine.__name__}" for fault, engine, _ in FAULTS]
)
def test_a_named_check_turns_red_when(
    fault: Callable[[Patch], None],
    engine: type[QuickEngine] | type[ReferenceEngine],
    check: str,
    monkeypatch: Patch,
) -> None:
    CHECKS[check](engine())
    fault(monkeypatch)
    with pytest.raises((AssertionError, EngineFault)):
        CHECKS[check](engine())
