"""The core and the machine give every spec the same situations and events (specs/MEANING.md), both ways.

The two were written apart from one text, and share nothing but the spec; so an error of either one shows here.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from interlock.core.elaborate import Logic, elaborate
from interlock.logic.formula import TRUE
from interlock.spec.loading import load
from interlock.spec.model import Item, Spec, Window
from tests.random_specs import LARGE, SMALL, USUAL, Size, random_spec, some_allowed
from tests.side_by_side import Compared, compare, fine_print

pytestmark = pytest.mark.no_cover

TOP = Path(__file__).resolve().parents[2]
CORPUS = sorted((TOP / "tests" / "corpus").glob("*.yaml"))
SHIPPED = sorted((TOP / "specs").glob("*.yaml"))

SIZES = {SMALL: "small", USUAL: "usual", LARGE: "large"}
SEEDS_A_TEST = 30
LIMIT = 120
"""Situations compared of one random spec."""


def read(path: Path) -> Spec:
    spec, bag, _ = load(path)
    assert spec is not None, bag
    return spec


def agree(spec: Spec, budget: int, allowed: tuple[str, ...] | None, limit: int) -> Compared:
    one = compare(spec, budget, allowed, limit)
    assert one.difference is None, f"{spec.title}, {budget} failures of {allowed}\n{one.difference}"
    return one


def everything(spec: Spec) -> tuple[str, ...]:
    return tuple(failure.id for failure in spec.failures)


def slowed(spec: Spec) -> Spec:
    """All sequences decide and act, without windows."""
    never = Window(Fraction(0), None)
    return replace(spec, sequences=tuple(replace(sequence, reacts=never) for sequence in spec.sequences))


def test_there_is_a_corpus_to_compare() -> None:
    assert len(CORPUS) >= 40
    assert SHIPPED


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_a_spec_of_the_corpus_means_the_same_to_both(path: Path) -> None:
    spec = read(path)
    for budget, allowed in ((0, None), (1, None), (2, None), (2, everything(spec))):
        assert agree(spec, budget, allowed, 5_000).complete


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_shipped_spec_means_the_same_to_both_as_far_as_it_is_compared(path: Path) -> None:
    spec = read(path)
    for budget, allowed in ((0, None), (1, everything(spec))):
        assert agree(spec, budget, allowed, 300).situations >= 20


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_slow_logic_means_the_same_to_both(path: Path) -> None:
    spec = read(path)
    slow = compare(spec, 1, None, 2_000, system=elaborate(spec, Logic.SLOW), of_machine=slowed(spec))
    assert slow.difference is None, slow.difference


@cache
def compared(size: Size, first: int) -> tuple[Compared, ...]:
    """A batch of random specs compared; a difference is an AssertionError."""
    found = []
    for seed in range(first, first + SEEDS_A_TEST):
        spec = random_spec(seed, size)
        found.append(agree(spec, seed % 3, some_allowed(spec, seed), LIMIT))
    return tuple(found)


BATCHES = [
    *((SMALL, first) for first in range(0, 2 * SEEDS_A_TEST, SEEDS_A_TEST)),
    *((USUAL, first) for first in range(0, 12 * SEEDS_A_TEST, SEEDS_A_TEST)),
    *((LARGE, first) for first in range(0, 2 * SEEDS_A_TEST, SEEDS_A_TEST)),
]


@pytest.mark.parametrize(
    ("size", "first"), BATCHES, ids=lambda value: SIZES[value] if isinstance(value, Size) else str(value)
)
def test_random_specs_mean_the_same_to_both(size: Size, first: int) -> None:
    least = 5 if size == SMALL else 15
    assert sum(one.situations >= least for one in compared(size, first)) >= SEEDS_A_TEST // 2


def test_random_specs_bring_every_kind_of_event_and_common_causes_allowed_by_name() -> None:
    happened: Counter[str] = Counter()
    for size, first in BATCHES:
        for one in compared(size, first):
            happened += one.events
    for kind in EVENTS:
        assert any(re.search(f"{kind}$", id) for id in happened), f"no random spec has an event like: {kind}"


def test_both_give_the_events_the_same_kind_tier_window_and_duty() -> None:
    specs = [read(path) for path in (*CORPUS, *SHIPPED)]
    specs += [random_spec(seed, (SMALL, USUAL, LARGE)[seed % 3]) for seed in range(150)]
    for spec in specs:
        found = fine_print(spec)
        assert not found, f"{spec.title}\n" + "\n".join(found)


def test_a_window_that_one_side_has_otherwise_is_reported() -> None:
    spec = read(TOP / "tests" / "corpus" / "contactor_glitch.yaml")
    hours = Window(Fraction(3600), Fraction(7200))
    item = next(item for item in spec.items if any(move.takes for move in item.moves))
    moves = tuple(replace(move, takes=hours) if move.takes else move for move in item.moves)
    found = fine_print(spec, of_machine=with_item(spec, replace(item, moves=moves)))
    assert found
    assert all(line.startswith(f"{item.id} ") and "7200" in line for line in found)


EVENTS = (
    # equipment
    r"train goes",
    r"feeder turns",
    r"(goes|turns|drifts) starts",
    r"(goes|turns|drifts) is withdrawn",
    r"(goes|turns|drifts) resumes",
    r"(goes|turns|drifts) though withdrawn",
    r"(goes|turns|drifts) is dropped",
    r"(goes|turns|drifts) after resuming",
    r"becomes (closed|made)",
    r"becomes (open|none)",
    # readings
    r"settles on \w+",
    r"(at stop|seen) sends \w+",
    r"(at stop|seen) overruns with \w+",
    r"(at stop|seen) arrives from 1",
    r"(at stop|seen) arrives from 2",
    r"(at stop|seen) newest arrives",
    r"(at stop|seen) shows \w+ at random",
    # links
    r"link 1 ready sends \w+",
    r"link 1 ready arrives from \d",
    r"link 1 \w+ carries \w+",
    r"link 1 is lost",
    r"link 1 is back",
    # logic
    r"ground trip_1",
    r"ground move_1",
    r"ground (rest|prove|charge|trip) timeout",
    r"timeout starts",
    r"timeout is cleared",
    r"timeout elapses",
    r"timer starts",
    r"timer is cleared",
    r"timer elapses",
    r"ground decides (trip_1|move_1)",
    r"ground loses power",
    # failures
    r"fault 1 happens",
    r"fault 1 is repaired",
    r"common cause happens",
    r"(at stop|seen) shows \w+ by fault \d",
    r"link 1 \w+ shows \w+ by fault \d",
    r"(goes|turns|drifts), slowly by fault \d",
    r"though withdrawn, slowly by fault \d",
    r"is dropped, slowly by fault \d",
    r"arrives from \d, slowly by fault \d",
    r"(goes|turns|drifts) and fault \d",
    r"though withdrawn and fault \d",
)


# --- that the comparison can fail ---


def test_a_variable_that_one_side_lacks_is_reported() -> None:
    spec = random_spec(1)
    lamp = replace(spec.items[0], id="lamp", moves=(), follows=None)
    lacking = compare(spec, of_machine=replace(spec, items=(*spec.items, lamp)))
    assert lacking.difference is not None
    assert "lamp: core None, machine" in lacking.difference


def test_an_event_that_one_side_lacks_is_reported() -> None:
    spec = read(TOP / "tests" / "corpus" / "contactor_glitch.yaml")
    moves = [(item, move) for item in spec.items for move in item.moves if move.free]
    item, move = moves[0]
    fewer = replace(item, moves=tuple(other for other in item.moves if other is not move))
    lacking = compare(spec, of_machine=with_item(spec, fewer))
    assert lacking.difference is not None
    assert f"only the core: {item.id} {move.name}" in lacking.difference


def test_an_event_that_leads_elsewhere_is_reported() -> None:
    spec = read(TOP / "tests" / "corpus" / "contactor_glitch.yaml")
    item = next(item for item in spec.items if any(move.free for move in item.moves))
    move = next(move for move in item.moves if move.free)
    other = next(i for i in spec.items if i is not item and i.follows is None)
    changed = replace(move, also=((other.id, other.states[-1]),))
    moves = tuple(changed if m is move else m for m in item.moves)
    differing = compare(spec, of_machine=with_item(spec, replace(item, moves=moves)))
    assert differing.difference is not None
    assert f"differently: {item.id} {move.name}" in differing.difference


def test_a_guard_that_one_side_lacks_is_reported() -> None:
    found = 0
    for seed in range(40):
        spec = random_spec(seed)
        items = tuple(
            replace(item, moves=tuple(m if m.takes else replace(m, when=TRUE) for m in item.moves))
            for item in spec.items
        )
        found += compare(spec, limit=LIMIT, of_machine=replace(spec, items=items)).difference is not None
    assert found >= 10


def test_a_failure_that_only_one_side_may_spend_is_reported() -> None:
    spec = read(TOP / "tests" / "corpus" / "common_cause.yaml")
    common = next(failure.id for failure in spec.failures if failure.common_cause)
    single = replace(spec, failures=tuple(f for f in spec.failures if not f.common_cause))
    differing = compare(spec, 1, (common,), of_machine=single)
    assert differing.difference is not None
    assert common in differing.difference


def with_item(spec: Spec, item: Item) -> Spec:
    return replace(spec, items=tuple(item if other.id == item.id else other for other in spec.items))
