"""Faults put into the engine of declared timing: each turns the comparison with the walk in ticks red.

A fault may show as a verdict that differs, or as a run that cannot be timed or replayed (an EngineFault).
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from interlock.core.question import Question
from interlock.engines.api import EngineFault, Limits
from interlock.engines.timed import bulk_graph, graph, kernels_graph, on_ways, zones
from interlock.engines.timed import kernels_zones as kernels
from interlock.engines.timed.engine import ZonesEngine
from interlock.logic.expression import FALSE
from tests.engines import test_timed_agreement as agreement
from tests.random_timed import TimedCase, random_timed_case

pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch
MOST_CASES = 400
FEW = 1_000
"""Zones at the most where kernels are not compiled."""


def ages_never_start_afresh(patch: Patch) -> None:
    patch.setattr(graph, "afresh_by", lambda system, owners: [0] * len(system.actions))


def ages_do_not_start_afresh_over_arrays(patch: Patch) -> None:
    patch.setattr(bulk_graph, "afresh_by", lambda system, owners: [0] * len(system.actions))


def time_passes_without_end(patch: Patch) -> None:
    original = zones.passed
    patch.setattr(
        "interlock.engines.timed.search.passed", lambda zone, n, latest: original(zone, n, [zones.FREE] * len(latest))
    )


def inclusion_is_reversed(patch: Patch) -> None:
    original = zones.inside
    patch.setattr("interlock.engines.timed.search.inside", lambda zone, other: original(other, zone))


def the_constant_of_the_rule_is_forgotten(patch: Patch) -> None:
    original = zones.widened

    def widened(zone: Any, n: int, lower: list[int], upper: list[int]) -> None:
        original(zone, n, [*lower[:-1], -1] if lower else lower, [*upper[:-1], -1] if upper else upper)

    patch.setattr("interlock.engines.timed.search.widened", widened)


def open_ends_are_closed(patch: Patch) -> None:
    original = zones.bound
    patch.setattr("interlock.engines.timed.search.bound", lambda ticks, strict: original(ticks, False))


def what_is_kept_begins_at_zero(patch: Patch) -> None:
    original = zones.carried
    patch.setattr("interlock.engines.timed.search.carried", lambda zone, n, kept: original(zone, n, [0] * len(kept)))


def with_asked(patch: Patch, spoil: Callable[[kernels.Asked], None]) -> None:
    original = bulk_graph.BulkGraph._asked

    def asked(self: Any, *given: Any) -> kernels.Asked:
        made = original(self, *given)
        spoil(made)
        return made

    patch.setattr(bulk_graph.BulkGraph, "_asked", asked)


def time_passes_without_end_over_arrays(patch: Patch) -> None:
    with_asked(patch, lambda asked: asked.latest.fill(kernels.FREE))


def the_earliest_is_ignored_over_arrays(patch: Patch) -> None:
    with_asked(patch, lambda asked: asked.early.fill(kernels.FREE))


def a_deadline_is_a_tick_late_over_arrays(patch: Patch) -> None:
    def spoil(asked: kernels.Asked) -> None:
        asked.rule[kernels.TOO_LATE] += 2

    with_asked(patch, spoil)


def consequences_may_wait_over_arrays(patch: Patch) -> None:
    original = bulk_graph.BulkGraph._places

    def places(self: Any, clocks: list[int]) -> kernels.Places:
        made = original(self, clocks)
        enabled = np.zeros(made.tier.size, np.uint32)
        enabled[self.settled] = made.enabled
        self.settled = np.ones_like(self.settled)
        rank = np.arange(made.tier.size, dtype=np.int32)
        return made._replace(tier=np.full_like(made.tier, 2), rank=rank, enabled=enabled)

    patch.setattr(bulk_graph.BulkGraph, "_places", places)


def a_deadline_opened_by_consequences_is_missed_over_arrays(patch: Patch) -> None:
    patch.setattr(kernels_graph, "rising", lambda *given: False)


def what_comes_before_a_deadline_costs_nothing_over_arrays(patch: Patch) -> None:
    patch.setattr(kernels_graph, "events_before", lambda *given: None)


def the_constant_of_the_rule_is_forgotten_over_arrays(patch: Patch) -> None:
    def spoil(asked: kernels.Asked) -> None:
        asked.lower[:, -1] = asked.upper[:, -1] = -1

    with_asked(patch, spoil)


def with_text(*change: str) -> Callable[[Patch], None]:
    """Kernels with some text of theirs replaced, run without compiling them: old, new, old, new ..."""

    def fault(patch: Patch) -> None:
        text = Path(kernels.__file__).read_text(encoding="utf-8").replace("@compiled\n", "")
        for old, new in zip(change[::2], change[1::2], strict=True):
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        module = ModuleType("kernels_with_a_fault")
        patch.setitem(sys.modules, module.__name__, module)
        exec(compile(text, module.__name__, "exec"), module.__dict__)
        patch.setattr(bulk_graph, "kernels", module)
        patch.setattr(bulk_graph, "TURNS", FEW)
        patch.setattr(agreement, "Limits", lambda states: Limits(states=FEW))

    return fault


IN_KERNELS = {
    "inclusion is reversed": (13, "if zone[i, j] > known:", "if zone[i, j] < known:",
                              "elif zone[i, j] < known:", "elif zone[i, j] > known:"),
    "ages do not start afresh": (13, "(afresh >> np.uint32(c)) & np.uint32(1) or ", ""),
    "ages of what was not enabled go on": (16, " or (enabled >> np.uint32(c)) & np.uint32(1) == 0", ""),
    "what is kept begins at zero": (10, "source[i] = index[c] if index[c] > 0 else UNKNOWN", "source[i] = 0"),
    "what nothing is known of begins at zero": (29, "index[c] if index[c] > 0 else UNKNOWN", "index[c]"),
    "time passes beyond the latest": (0, "if latest < FREE and not", "if False and not"),
}  # fmt: skip
"""The system that shows a fault (the first one that did), and the texts."""

ON_EVENTS = {
    "the first event of a stride is not judged": (3, "if on_events and s.ends[way]:", "if False:"),
    "events inside a stride are not judged": (7, "if on_events and s.ends[onward]:", "if False:"),
}
"""The same for rules that are judged on events."""


FAULTS = {
    ages_never_start_afresh: 13,
    ages_do_not_start_afresh_over_arrays: 13,
    time_passes_without_end: 0,
    inclusion_is_reversed: 13,
    the_constant_of_the_rule_is_forgotten: 10,
    open_ends_are_closed: 16,
    what_is_kept_begins_at_zero: 10,
    time_passes_without_end_over_arrays: 0,
    the_earliest_is_ignored_over_arrays: 10,
    a_deadline_is_a_tick_late_over_arrays: 13,
    consequences_may_wait_over_arrays: 1,
    a_deadline_opened_by_consequences_is_missed_over_arrays: 16,
    what_comes_before_a_deadline_costs_nothing_over_arrays: 13,
    the_constant_of_the_rule_is_forgotten_over_arrays: 10,
}
"""The fault, and the system that the search for one that shows it begins with (the first one that did)."""


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_in_the_engine_of_declared_timing_turns_the_comparison_red(fault: Any, monkeypatch: Patch) -> None:
    fault(monkeypatch)
    assert noticed(monkeypatch, MOST_CASES, FAULTS[fault]), f"{fault.__name__} was not noticed"


@pytest.mark.parametrize("name", IN_KERNELS)
def test_a_fault_in_the_kernels_of_declared_timing_turns_the_comparison_red(name: str, monkeypatch: Patch) -> None:
    seed, *change = IN_KERNELS[name]
    with_text(*map(str, change))(monkeypatch)
    assert noticed(monkeypatch, 1, int(seed)), f"{name} was not noticed"


@pytest.mark.parametrize("name", ON_EVENTS)
def test_a_fault_in_what_the_kernels_make_of_rules_on_events_turns_it_red(name: str, monkeypatch: Patch) -> None:
    seed, *change = ON_EVENTS[name]
    with_text(*map(str, change))(monkeypatch)
    assert noticed(monkeypatch, 1, int(seed), agreement.on_events), f"{name} was not noticed"


def test_what_happened_before_an_order_forgotten_over_arrays_turns_the_comparison_red(monkeypatch: Patch) -> None:
    monkeypatch.setattr(on_ways, "has", lambda *given: FALSE)
    assert noticed(monkeypatch, MOST_CASES, asked=agreement.on_events)


def test_kernels_without_a_fault_agree_uncompiled_too(monkeypatch: Patch) -> None:
    with_text()(monkeypatch)
    assert not any(noticed(monkeypatch, 1, int(seed)) for seed, *_ in IN_KERNELS.values())
    assert not any(noticed(monkeypatch, 1, int(seed), agreement.on_events) for seed, *_ in ON_EVENTS.values())


def noticed(
    monkeypatch: Patch,
    cases: int,
    first: int = 0,
    asked: Callable[[TimedCase], tuple[Question, ...]] = lambda case: case.asked,
) -> bool:
    """Whether the comparison turns red within so many systems."""
    fresh = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0, near=False)}
    monkeypatch.setattr(agreement, "ENGINES", fresh)
    for seed in range(first, first + cases):
        case = random_timed_case(seed, closed=seed % 3 != 0)
        for question in asked(case):
            try:
                told = agreement.check(case.system, question, Counter())
            except (EngineFault, IndexError, AssertionError, StopIteration, ValueError):
                return True
            if told is not None:
                return True
    return False
