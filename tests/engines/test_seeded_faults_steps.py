"""Faults put into the engines by ticks, regions and ways: each turns hand cases or the comparison of engines red.

A fault may show as a verdict that differs, or as a run that cannot be replayed (an EngineFault).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest

from interlock.core.system import TickWindow
from interlock.engines.aged import endings, ways
from interlock.engines.aged.stage import Stage
from interlock.engines.api import EngineFault
from interlock.engines.components import components
from interlock.engines.regions import ages as regions
from interlock.engines.regions.ages import RegionAges
from interlock.engines.ticks.ages import TickAges
from interlock.engines.timed.zones import AT_MOST_ZERO, FREE
from interlock.engines.ways import ages as backwards
from interlock.engines.ways import sets, whatever
from tests.engines import test_timed_steps_agreement as agreement
from tests.engines.test_timed_conformance_ways import FAILS, HOLDS
from tests.engines.test_timed_conformance_ways import TestAlwaysEnds as AlwaysEnds
from tests.engines.test_timed_conformance_ways import TestAlwaysPossible as AlwaysPossible

pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch
MOST_CASES = 60


# --- whole ticks ---


def no_tick_starts_afresh(patch: Patch) -> None:
    original = TickAges.after
    patch.setattr(TickAges, "after", lambda self, ages, afresh, running: original(self, ages, (), running))


def every_tick_starts_afresh(patch: Patch) -> None:
    original = TickAges.after
    patch.setattr(
        TickAges, "after", lambda self, ages, afresh, running: original(self, ages, range(len(ages)), running)
    )


def ticks_stop_at_the_largest_constant(patch: Patch) -> None:
    original = TickAges.__init__

    def init(self: Any, *given: Any) -> None:
        original(self, *given)
        self._caps = tuple(cap - 1 for cap in self._caps)

    patch.setattr(TickAges, "__init__", init)


def ticks_are_never_too_early(patch: Patch) -> None:
    patch.setattr(TickAges, "early", lambda self, ages, clock, window: False)


def the_unit_leaves_out_the_rule(patch: Patch) -> None:
    original = Stage.__init__

    def init(self: Any, *given: Any, **more: Any) -> None:
        original(self, *given, **more)
        if self.deadline is not None:
            self.unit *= 2

    patch.setattr(Stage, "__init__", init)


# --- regions ---


def no_region_starts_afresh(patch: Patch) -> None:
    original = RegionAges.after
    patch.setattr(RegionAges, "after", lambda self, ages, afresh, running: original(self, ages, (), running))


def the_order_within_a_tick_is_lost(patch: Patch) -> None:
    patch.setattr(regions, "_in_order", lambda ages: tuple((code, min(rank, 1)) for code, rank in ages))


def open_ends_of_regions_are_closed(patch: Patch) -> None:
    def closing(original: Any) -> Callable[..., bool]:
        return lambda self, ages, clock, window: original(
            self, ages, clock, replace(window, earliest_open=False, latest_open=False)
        )

    patch.setattr(RegionAges, "early", closing(RegionAges.early))
    patch.setattr(RegionAges, "beyond", closing(RegionAges.beyond))


def the_constant_of_the_rule_is_forgotten(patch: Patch) -> None:
    original = RegionAges.__init__

    def init(self: Any, n_clocks: int, windows: tuple[tuple[int, TickWindow], ...], unit: int) -> None:
        last = max((clock for clock, _ in windows), default=0)
        original(self, n_clocks, tuple(one for one in windows if one[0] != last), unit)

    patch.setattr(RegionAges, "__init__", init)


def whole_ages_stay_whole(patch: Patch) -> None:
    original = RegionAges.later
    patch.setattr(RegionAges, "later", lambda self, ages: original(self, original(self, ages)))


# --- both, and what is judged on graphs ---


def time_passes_before_consequences(patch: Patch) -> None:
    original = Stage._place
    patch.setattr(Stage, "_place", lambda self, valuation: replace(original(self, valuation), settled=True))


def nothing_holds_time_back(patch: Patch) -> None:
    original = Stage._place
    patch.setattr(Stage, "_place", lambda self, valuation: replace(original(self, valuation), holding=()))


def loops_need_no_time(patch: Patch) -> None:
    patch.setattr(endings, "_for_ever", lambda walk, members: len(members) > 1)


def helpers_may_be_put_off_for_ever(patch: Patch) -> None:
    patch.setattr(endings, "_helpers", lambda walk: frozenset())


def what_never_settles_is_forgotten(patch: Patch) -> None:
    calls: Iterator[bool] = iter([False, True] * 1000)
    patch.setattr(endings, "components", lambda nodes, onward: [] if next(calls) else components(nodes, onward))


def a_way_may_take_a_repair(patch: Patch) -> None:
    patch.setattr(ways, "NOT_ON_A_WAY", ())


# --- backwards, by sets of ages ---


def what_is_new_has_any_age(patch: Patch) -> None:
    original = sets.before_event

    def found(zone: Any, n: int, came: list[int], n_before: int) -> Any:
        free = list(zone)
        for i, source in enumerate(came, start=1):
            for j in range(n):
                if source == 0 and i != j:
                    free[i * n + j], free[j * n + i] = FREE, FREE if j else AT_MOST_ZERO
        return original(free, n, came, n_before)

    patch.setattr(backwards, "before_event", found)


def nothing_waits_on_a_way(patch: Patch) -> None:
    patch.setattr(backwards, "before_time", lambda zone, n: None)


def a_way_waits_beyond_what_is_obliged(patch: Patch) -> None:
    patch.setattr(backwards, "held", lambda zone, n, latest: True)


def a_set_is_taken_off_with_its_edge_left(patch: Patch) -> None:
    original = sets.minus
    patch.setattr(backwards, "minus", lambda zones, taken, n: original(zones, [(v >> 1) * 2 + 1 for v in taken], n))


def sets_of_ages_may_take_a_failure(patch: Patch) -> None:
    patch.setattr(backwards, "on_a_way", lambda actions, before, stride: True)


def one_obliged_event_is_enough(patch: Patch) -> None:
    patch.setattr(
        whatever,
        "_is_good",
        lambda ways, obliged, now, waits, good: any(not good.isdisjoint(targets) for targets in ways.values()),
    )


def the_earliest_is_no_hindrance(patch: Patch) -> None:
    patch.setattr(whatever, "may_happen_now", lambda action: True)


FAULTS = [
    no_tick_starts_afresh,
    every_tick_starts_afresh,
    ticks_stop_at_the_largest_constant,
    ticks_are_never_too_early,
    the_unit_leaves_out_the_rule,
    no_region_starts_afresh,
    the_order_within_a_tick_is_lost,
    open_ends_of_regions_are_closed,
    the_constant_of_the_rule_is_forgotten,
    whole_ages_stay_whole,
    time_passes_before_consequences,
    nothing_holds_time_back,
    loops_need_no_time,
    helpers_may_be_put_off_for_ever,
    what_never_settles_is_forgotten,
    a_way_may_take_a_repair,
    what_is_new_has_any_age,
    nothing_waits_on_a_way,
    a_way_waits_beyond_what_is_obliged,
    a_set_is_taken_off_with_its_edge_left,
    sets_of_ages_may_take_a_failure,
    one_obliged_event_is_enough,
    the_earliest_is_no_hindrance,
]


def by_hand() -> Iterator[Callable[[], None]]:
    """Hand cases of what is judged on graphs, cheap ones."""
    possible, ends = AlwaysPossible(), AlwaysEnds()
    yield possible.test_an_offset_that_is_chosen_once_and_for_all_shuts_the_way
    yield lambda: possible.test_one_single_moment_may_shut_the_way(False, FAILS)
    yield possible.test_time_that_passes_is_part_of_the_way_and_may_also_shut_it
    yield possible.test_a_way_needs_no_failure_and_no_repair
    yield ends.test_ever_shorter_turns_are_no_way_to_stay_for_ever
    yield lambda: ends.test_what_never_settles_never_ends_though_no_time_passes(False, FAILS)
    yield lambda: ends.test_a_run_may_stop_where_nothing_is_obliged(TickWindow(1, None), ("x comes",), HOLDS)
    yield lambda: ends.test_runs_go_round_for_ever_only_if_time_passes_for_ever(
        TickWindow(0, 0), TickWindow(0, 1), HOLDS
    )


def test_hand_cases_are_green_without_a_fault() -> None:
    for case in by_hand():
        case()


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_in_ticks_regions_or_ways_turns_a_comparison_red(fault: Any, monkeypatch: Patch) -> None:
    fault(monkeypatch)
    # A faulty walk may end in anything: an assertion, an EngineFault, a search in what is not there.
    found = (EngineFault, AssertionError, IndexError, KeyError, StopIteration, ValueError)
    for case in by_hand():
        try:
            case()
        except found:
            return
    for seed in range(MOST_CASES):
        case_of = agreement.drawn(seed)
        for question in case_of.asked:
            try:
                told = agreement.disagreement(case_of.system, question, Counter())
            except found:
                return
            if told is not None:
                return
    pytest.fail(f"{fault.__name__} was not noticed in {MOST_CASES} systems")
