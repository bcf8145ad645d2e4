"""Faults put into tables, stores and searches of the explicit engine: each turns a named test red."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Question
from interlock.core.system import System
from interlock.engines.api import EngineFault, Limits
from interlock.engines.explicit import kernels, tables
from interlock.engines.explicit.arrays import U64, Tables
from interlock.engines.explicit.codes import Codes
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.explicit.explore import Exploration
from interlock.engines.explicit.limited import LimitedSearch
from interlock.engines.explicit.marks import Marks
from interlock.engines.explicit.parts import CHANGE, INNER_END, KEEP, OFF, ON, ORDINARY, PLACES
from interlock.engines.explicit.store import Store
from interlock.engines.quick.engine import QuickEngine
from interlock.spec import load
from tests.engines import plain_kernels
from tests.engines import test_explicit_agreement as agreement
from tests.engines import test_explicit_limits as limits
from tests.engines.test_conformance import TestEveryEngine as Conformance
from tests.engines.test_conformance_ways import TestEveryEngine as ConformanceOfWays

pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch


def conformance(name: str) -> Callable[[], None]:
    suite = Conformance if hasattr(Conformance, name) else ConformanceOfWays
    return lambda: getattr(suite(), name)(ExplicitEngine())


def with_tables(patch: Patch, spoil: Callable[[Tables], None]) -> None:
    original = tables.tables_of

    def tables_of(*given: Any) -> Tables:
        made = original(*given)
        spoil(made)
        return made

    patch.setattr("interlock.engines.explicit.prepare.tables_of", tables_of)


def a_mask_lacks_a_place(patch: Patch) -> None:
    def spoil(t: Tables) -> None:
        t.rows[:, PLACES] &= ~np.uint64(1)

    with_tables(patch, spoil)


def an_index_is_off_by_one(patch: Patch) -> None:
    def spoil(t: Tables) -> None:
        t.chunks[1, 3] += t.chunks[1, 4]

    with_tables(patch, spoil)


def what_changes_in_the_second_word_is_lost(patch: Patch) -> None:
    def spoil(t: Tables) -> None:
        t.rows[:, KEEP + 2], t.rows[:, KEEP + 3] = np.uint64((1 << 64) - 1), 0

    with_tables(patch, spoil)


def situations_stay_at_their_place_in_the_block(patch: Patch) -> None:
    def spoil(t: Tables) -> None:
        t.rows[:, [ON, OFF]] = 0

    with_tables(patch, spoil)


def events_that_leave_a_block_are_taken_to_stay(patch: Patch) -> None:
    def spoil(t: Tables) -> None:
        t.sections[INNER_END] = t.sections[ORDINARY + 1]

    with_tables(patch, spoil)


def blocks_are_looked_at_in_the_order_of_the_store(patch: Patch) -> None:
    original = Store.enqueue

    def enqueue(self: Store, least: int, most: int) -> None:
        original(self, least, most)
        self.queue[: self.waiting].sort()

    patch.setattr(Store, "enqueue", enqueue)


def failures_leave_no_trace(patch: Patch) -> None:
    def spoil(t: Tables) -> None:
        t.rows[:, CHANGE] = 0

    with_tables(patch, spoil)


def a_growing_store_drops_blocks(patch: Patch) -> None:
    original = kernels.rehash

    def rehash(words: Any, old: U64, new: U64) -> None:
        original(words, old[: old.shape[0] // 2], new)

    patch.setattr(kernels, "rehash", rehash)


def failures_never_happen(patch: Patch) -> None:
    patch.setattr(Codes, "below", lambda self, budget: 0)


def situations_reached_with_more_failures_count_again(patch: Patch) -> None:
    patch.setattr(Exploration, "_has_twins", property(lambda self: False))


def the_limit_is_silent(patch: Patch) -> None:
    original = LimitedSearch.run

    def run(self: LimitedSearch, starts: Any, seekers: Any) -> None:
        original(self, starts, seekers)
        for seeker in seekers:
            seeker.sought.beyond = False

    patch.setattr(LimitedSearch, "run", run)


def marks_do_not_spread(patch: Patch) -> None:
    patch.setattr(Marks, "add_leading", lambda self, system: None)


def a_way_may_use_repairs(patch: Patch) -> None:
    original = Marks.add_leading
    patch.setattr(Marks, "add_leading", lambda self, system: original(self, system, without=()))


def a_fuse_ignores_a_branch(patch: Patch) -> None:
    plain_kernels.put_in(
        patch, ("run_on", "twice |= once & here", "twice |= ZERO"), ("run_on", ONE_OUTCOME, FIRST_OUTCOME)
    )


def a_fuse_ignores_failures(patch: Patch) -> None:
    plain_kernels.put_in(patch, ("run_on", "twice |= once & covered(", "twice |= ZERO & covered("))


def what_a_fuse_passes_is_not_known(patch: Patch) -> None:
    plain_kernels.put_in(patch, ("known_only", "= before | bits", "= before"))


ONE_OUTCOME = "here = alone & rows[r, PLACES]"
FIRST_OUTCOME = "here = alone & rows[r, PLACES]; alone &= ~here"


def as_quick(system: System, budget: int) -> None:
    """Fused wherever it can be, everything reachable is what the quick engine sees."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tables, "FEW", 1000)
        expected = QuickEngine().survey(system, Question("", budget=budget), (), Limits())
        found = ExplicitEngine(sample=2).survey(system, Question("", budget=budget), (), Limits())
        assert found.counts == expected.counts


def fused_as_quick() -> None:
    """Logic with branches, and failures that come with what follows at once."""
    for name in ("two_orders", "riding_failures", "stuck_and_goes"):
        spec, _, _ = load(Path(__file__).parents[1] / "corpus" / f"{name}.yaml")
        assert spec is not None
        for budget in (0, 1, 2):
            as_quick(elaborate(spec), budget)


def test_the_kernel_in_plain_python_without_a_fault_passes(monkeypatch: Patch) -> None:
    plain_kernels.put_in(monkeypatch)
    fused_as_quick()


KNOWN = agreement.test_two_berths_side_by_side_have_the_known_counts
WIDE = agreement.test_one_situation_a_block_and_keys_of_two_words_have_the_known_counts_too
FAILING = agreement.test_a_million_situations_with_failures_count_the_same_in_blocks_and_one_by_one

FAULTS: list[tuple[Callable[[Patch], None], Callable[[], None]]] = [
    (a_mask_lacks_a_place, KNOWN),
    (an_index_is_off_by_one, KNOWN),
    (what_changes_in_the_second_word_is_lost, WIDE),
    (situations_stay_at_their_place_in_the_block, KNOWN),
    (events_that_leave_a_block_are_taken_to_stay, KNOWN),
    (blocks_are_looked_at_in_the_order_of_the_store, limits.test_blocks_lie_about_evenly_in_a_store_that_has_grown),
    (a_fuse_ignores_a_branch, fused_as_quick),
    (a_fuse_ignores_failures, fused_as_quick),
    (what_a_fuse_passes_is_not_known, fused_as_quick),
    (failures_leave_no_trace, FAILING),
    (a_growing_store_drops_blocks, WIDE),
    (failures_never_happen, conformance("test_only_allowed_failures_happen_and_common_causes_only_if_named")),
    (situations_reached_with_more_failures_count_again, agreement.test_surveys_are_those_of_the_quick_engine),
    (the_limit_is_silent, limits.test_a_system_of_a_million_million_situations_is_undecided_within_the_limit),
    (marks_do_not_spread, conformance("test_a_way_needs_neither_a_failure_nor_a_repair")),
    (a_way_may_use_repairs, conformance("test_a_way_needs_neither_a_failure_nor_a_repair")),
]


@pytest.mark.parametrize(("fault", "check"), FAULTS, ids=[fault.__name__ for fault, _ in FAULTS])
def test_a_named_check_turns_red_when(
    fault: Callable[[Patch], None], check: Callable[[], None], monkeypatch: Patch
) -> None:
    fault(monkeypatch)
    with pytest.raises((AssertionError, EngineFault, KeyError, IndexError)):
        check()
