"""The core and the machine give every spec the same timed situations, tick by tick, both ways: which events may happen
at which ages, whether time may pass, and which ages are there afterwards (specs/MEANING.md, section 1).

The core's side is the plain timed meaning that engines of declared timing are held against; the machine's clock was
written apart from it, from the text.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from interlock.machine.clock import Clock, OpenEndError
from interlock.machine.explore import explore, explore_in_ticks
from interlock.machine.machine import Machine
from interlock.spec.loading import load
from interlock.spec.model import Spec, Window
from tests.random_closed_specs import random_closed_spec
from tests.random_specs import LARGE, SMALL, USUAL, some_allowed
from tests.side_by_side_in_time import PASSES, ComparedInTime, compare_in_time, with_short_windows
from tests.unit.machine.small_specs import spec_of

pytestmark = pytest.mark.no_cover

TOP = Path(__file__).resolve().parents[2]
CORPUS = sorted((TOP / "tests" / "corpus").glob("*.yaml"))
SHIPPED = sorted((TOP / "specs").glob("*.yaml"))
AT_LEAST_SO_OLD = 3
"""Largest age in ticks of specs that bring something to compare."""


def read(path: Path) -> Spec:
    spec, bag, _ = load(path)
    assert spec is not None, bag
    return spec


def agree(spec: Spec, budget: int, allowed: tuple[str, ...] | None, limit: int, seed: int = 0) -> ComparedInTime:
    one = compare_in_time(spec, budget, allowed, limit, seed=seed)
    assert one.difference is None, f"{spec.title}, {budget} failures of {allowed}\n{one.difference}"
    return one


def everything(spec: Spec) -> tuple[str, ...]:
    return tuple(failure.id for failure in spec.failures)


# --- specs that people wrote ---


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_a_spec_of_the_corpus_with_short_windows_means_the_same_to_both_in_time(path: Path) -> None:
    spec = with_short_windows(read(path))
    for budget, allowed, limit in ((0, None, 2_000), (1, None, 2_000), (2, everything(spec), 500)):
        one = agree(spec, budget, allowed, limit)
        assert one.complete or budget == 2


def test_a_third_of_the_corpus_has_windows_to_compare() -> None:
    timed = [path for path in CORPUS if Clock(Machine(with_short_windows(read(path)), 0)).oldest >= AT_LEAST_SO_OLD]
    assert len(timed) >= 15


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_shipped_spec_means_the_same_to_both_in_time_as_far_as_it_is_compared(path: Path) -> None:
    spec = with_short_windows(read(path))
    for budget, allowed in ((0, None), (1, everything(spec))):
        agree(spec, budget, allowed, 60)


WITH_TIMES_AS_WRITTEN = ("debounce_loss", "deadlines", "late_reading", "link_lost", "slow_logic", "urgent_timeout")


@pytest.mark.parametrize("name", WITH_TIMES_AS_WRITTEN)
def test_times_as_written_mean_the_same_to_both(name: str) -> None:
    spec = read(TOP / "tests" / "corpus" / f"{name}.yaml")
    agree(spec, 1, None, 1_500)


# --- random specs ---

SEEDS_A_TEST = 30
LIMIT = 60
"""Situations with ages compared of one random spec."""


@cache
def compared(first: int) -> tuple[ComparedInTime, ...]:
    """A batch of random specs compared; a difference is an AssertionError."""
    found = []
    for seed in range(first, first + SEEDS_A_TEST):
        spec = random_closed_spec(seed, (SMALL, USUAL, USUAL, LARGE)[seed % 4])
        found.append(agree(spec, seed % 3, some_allowed(spec, seed), LIMIT, seed))
    return tuple(found)


BATCHES = (30, 60, 90, 240)
"""First seeds; together they bring every kind of event."""


@pytest.mark.parametrize("first", BATCHES)
def test_random_specs_mean_the_same_to_both_in_time(first: int) -> None:
    batch = compared(first)
    assert sum(one.events[PASSES] > 0 for one in batch) >= SEEDS_A_TEST // 2
    assert sum(one.kept_an_age > 0 for one in batch) >= SEEDS_A_TEST // 4
    assert any(one.stopped_time > 0 for one in batch)


def test_random_specs_bring_every_kind_of_event_with_a_window() -> None:
    happened: Counter[str] = Counter()
    for first in BATCHES:
        for one in compared(first):
            happened += one.events
    for kind in EVENTS:
        assert any(re.search(f"{kind}$", id) for id in happened), f"no random spec has an event like: {kind}"


EVENTS = (
    # equipment
    r"(goes|turns|drifts)",
    r"(goes|turns|drifts) though withdrawn",
    r"(goes|turns|drifts) is dropped",
    r"(goes|turns|drifts) after resuming",
    # readings
    r"settles on \w+",
    r"(at stop|seen) overruns with \w+",
    r"(at stop|seen) arrives from 1",
    r"(at stop|seen) arrives from 2",
    r"(at stop|seen) newest arrives",
    # links
    r"link 1 ready arrives from \d",
    r"link 1 is lost",
    r"link 1 is back",
    # logic
    r"timeout starts",
    r"timeout is cleared",
    r"timeout elapses",
    r"timer starts",
    r"timer is cleared",
    r"timer elapses",
    r"ground decides (trip_1|move_1)",
    # failures
    r"(goes|turns|drifts), slowly by fault \d",
    r"arrives from \d, slowly by fault \d",
    r"(goes|turns|drifts) and fault \d",
)


# --- the machine's own exploration in ticks ---


@pytest.mark.parametrize("name", [*WITH_TIMES_AS_WRITTEN, "withdrawn_moves", "riding_failures", "steady_reading"])
def test_exploring_the_machine_in_ticks_finds_what_was_compared_and_nothing_else(name: str) -> None:
    spec = with_short_windows(read(TOP / "tests" / "corpus" / f"{name}.yaml"))
    one = agree(spec, 1, None, 5_000)
    explored = explore_in_ticks(spec, 1)
    assert one.complete
    assert explored.complete

    def told(timed: tuple[tuple[object, ...], tuple[tuple[str, int], ...]]) -> tuple[object, ...]:
        values = sorted(zip(explored.names, timed[0], strict=True), key=lambda pair: pair[0])
        return tuple(values), tuple(sorted(timed[1]))

    assert {told(timed) for timed in explored.situations} == {known[:2] for known in one.known}
    events = {(told(before), id, told(after)) for before, id, after in explored.events}
    ticks = {(told(before), PASSES, told(after)) for before, after in explored.ticks}
    assert events | ticks == {(before[:2], id, after[:2]) for before, id, after in one.steps}


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_what_is_reached_in_time_is_reached_with_any_timing(path: Path) -> None:
    spec = with_short_windows(read(path))
    anyhow = explore(spec, 1)
    in_time = explore_in_ticks(spec, 1)
    assert {values for values, _ in in_time.situations} <= anyhow.situations
    assert {(b[0], id, a[0]) for b, id, a in in_time.events} <= anyhow.events


# --- that the comparison can fail ---

SLIDE = """
equipment:
  slide:
    states: [home, out]
    start: home
    moves: {extend: {from: home, to: out, takes: 1 s .. 2 s}, back: {from: out, to: home}}
  brake: {states: [on, off], start: on, moves: {release: {from: on, to: off, takes: 1 s .. 3 s}}}
rules:
  R1: {never: slide is out and brake is off}
"""


@pytest.mark.parametrize(("earliest", "latest"), [(0, 2), (2, 2), (1, 1), (1, 3), (1, None)])
def test_a_window_that_one_side_has_otherwise_is_reported(earliest: int, latest: int | None) -> None:
    spec = spec_of(SLIDE)
    slide, brake = spec.items
    extend, back = slide.moves
    window = Window(Fraction(earliest), None if latest is None else Fraction(latest))
    other = replace(slide, moves=(replace(extend, takes=window), back))
    found = compare_in_time(spec, of_machine=replace(spec, items=(other, brake)))
    assert found.difference is not None
    assert re.search(r"differently: (slide extend|\(a tick of time\))", found.difference)


def test_ticks_that_differ_are_reported() -> None:
    spec = spec_of(SLIDE)
    slide, brake = spec.items
    half = Window(Fraction(1, 2), Fraction(3))
    other = replace(brake, moves=tuple(replace(move, takes=half) if move.takes else move for move in brake.moves))
    found = compare_in_time(spec, of_machine=replace(spec, items=(slide, other)))
    assert found.difference is not None
    assert "tick and greatest age" in found.difference


def test_open_ends_are_refused() -> None:
    spec = spec_of(SLIDE)
    slide, brake = spec.items
    extend, back = slide.moves
    for window in (Window(Fraction(1), Fraction(2), True), Window(Fraction(1), Fraction(2), False, True)):
        opened = replace(spec, items=(replace(slide, moves=(replace(extend, takes=window), back)), brake))
        with pytest.raises(OpenEndError, match="slide extend"):
            Clock(Machine(opened, 0))
