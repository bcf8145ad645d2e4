"""Faults put into the margins: each turns what is known about them by hand, or a walk in ticks, red.

A fault may show as another value, or as a run that cannot be followed (an EngineFault).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from interlock.core.question import Bound, Margin, Moment, Question, Timing
from interlock.engines.api import EngineFault
from interlock.engines.ends import with_ends_at
from interlock.engines.timed import margins
from interlock.engines.timed.constraints import Difference, Run
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.timed.refine import Refinement
from interlock.engines.timed.search import Counting
from tests.engines import test_margins as walked
from tests.engines import test_margins_by_hand as by_hand

pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch
MOST_RACES = 3


def an_end_counts_once_on_a_circle(patch: Patch) -> None:
    original = margins.least_change

    def once(found: Any, ends: frozenset[Bound], declared: Fraction) -> Moment:
        seen = False
        kept = []
        for one in found:
            if one.bound not in ends or not seen:
                kept.append(one)
            seen = seen or one.bound in ends
        return original(kept, ends, declared)

    patch.setattr(margins, "least_change", once)


def strict_ends_do_not_count(patch: Patch) -> None:
    original = margins.least_change
    patch.setattr(
        margins,
        "least_change",
        lambda found, ends, declared: original([replace(d, strict=False) for d in found], ends, declared),
    )


def the_first_run_is_taken_for_the_least(patch: Patch) -> None:
    original = margins.margin

    def first(*given: Any) -> tuple[Margin, Run | None]:
        patch.setattr(margins, "MOST_ROUNDS", 1)
        told, run = original(*given)
        return replace(told, limit=None), run

    patch.setattr(margins, "margin", first)


def inside_is_where_it_breaks(patch: Patch) -> None:
    patch.setattr(margins, "_just_inside", lambda breaks: Moment(breaks.ticks, breaks.open))


def only_the_end_is_told_in_finer_ticks(patch: Patch) -> None:
    original = with_ends_at

    def moved(system: Any, ends: Any, end: Any) -> Any:
        made = original(system, ends, end)
        kept = {action.id: action for action in system.actions}
        actions = tuple(
            a if a.id in {one.of for one in ends} else replace(a, window=kept[a.id].window) for a in made.actions
        )
        return replace(made, actions=actions)

    patch.setattr(margins, "with_ends_at", moved)


def the_end_is_not_left_out(patch: Patch) -> None:
    original = margins.with_end
    patch.setattr(margins, "with_end", lambda graph, ends, end: graph if end is None else original(graph, ends, end))


def what_is_not_relied_on_stays(patch: Patch) -> None:
    patch.setattr(margins, "relying_on", lambda graph, kept: graph)


def only_what_counted_before_counts(patch: Patch) -> None:
    class Hasty(Refinement):
        def sought(self, begin: Counting) -> tuple[Run | None, list[Difference], Counting]:
            return self.search(begin)[0], [], begin

    patch.setattr(margins, "Refinement", Hasty)


FAULTS = [
    an_end_counts_once_on_a_circle,
    strict_ends_do_not_count,
    the_first_run_is_taken_for_the_least,
    inside_is_where_it_breaks,
    only_the_end_is_told_in_finer_ticks,
    the_end_is_not_left_out,
    what_is_not_relied_on_stays,
    only_what_counted_before_counts,
]

KNOWN: list[Callable[[str], None]] = [
    by_hand.test_an_end_that_occurs_three_times_on_a_way_counts_three_times,
    by_hand.test_with_open_ends_the_crossing_breaks_beyond_where_they_touch,
    by_hand.test_the_longer_way_counts_where_it_needs_less,
    by_hand.test_where_another_time_stands_in_no_change_breaks_it_unless_that_one_is_not_relied_on,
]


def red() -> bool:
    """Whether something that is known does not come out."""
    try:
        for known in KNOWN:
            known("plain")
        for seed in range(MOST_RACES):
            system = walked.race(seed)
            for rule in system.properties:
                question = Question(rule.id, Timing.DECLARED)
                if walked.check_all(system, question, Counter(), in_bulk=False) is not None:
                    return True
    except (AssertionError, EngineFault):
        return True
    return False


def test_without_a_fault_nothing_is_red() -> None:
    assert not red()


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_in_the_margins_is_noticed(fault: Callable[[Patch], None], monkeypatch: Patch) -> None:
    fault(monkeypatch)
    fresh = {"plain": ZonesEngine(small=1_000_000)}
    monkeypatch.setattr(by_hand, "ENGINES", fresh)
    monkeypatch.setattr(walked, "ENGINES", fresh)
    assert red()
