"""Situations merged by some variables: held against the plain meaning, walked one event at a time."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.meaning import Meaning, State
from interlock.core.question import Question
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.quick.merging import merged
from interlock.pipeline import load

REPOSITORY = Path(__file__).resolve().parents[2]
SPECS = [
    (REPOSITORY / "specs" / "teaching.yaml", ("ground", "train"), 1),
    (REPOSITORY / "specs" / "teaching.yaml", ("rail",), 0),
    (REPOSITORY / "tests" / "corpus" / "late_reading.yaml", None, 0),
    (REPOSITORY / "tests" / "corpus" / "timeout_and_trip.yaml", None, 1),
    (REPOSITORY / "tests" / "corpus" / "link_late_and_lost.yaml", None, 1),
]


def plainly(system: System, names: tuple[str, ...], budget: int) -> tuple[object, object]:
    """Combinations with their counts and starts, and events between them with theirs."""
    meaning = Meaning(system, Question("", budget=budget))
    places = [meaning.index[name] for name in names]

    def part(state: State) -> tuple[int, ...]:
        return tuple(state.valuation[i] for i in places)

    starts = list(meaning.starts())
    seen, waiting = set(starts), list(starts)
    settled: Counter[tuple[int, ...]] = Counter()
    passing: Counter[tuple[int, ...]] = Counter()
    between: Counter[tuple[tuple[int, ...], tuple[int, ...], str]] = Counter()
    while waiting:
        state = waiting.pop()
        (settled if meaning.settled(state.valuation) else passing)[part(state)] += 1
        for action in meaning.enabled(state):
            after = meaning.after(action, state)
            if part(after) != part(state):
                between[part(state), part(after), action.id] += 1
            if after not in seen:
                seen.add(after)
                waiting.append(after)
    begun = {part(state) for state in starts}
    boxes = {values: (settled[values], passing[values], values in begun) for values in settled | passing}
    return boxes, dict(between)


@pytest.mark.parametrize(("file", "names", "budget"), SPECS, ids=lambda one: getattr(one, "stem", str(one)))
def test_merging_gives_what_a_plain_walk_gives(file: Path, names: tuple[str, ...] | None, budget: int) -> None:
    spec = load(file.read_bytes(), file.name).spec
    assert spec is not None
    system = elaborate(spec)
    chosen = names or tuple(variable.name for variable in system.variables[:2])
    found = merged(system, Question("", budget=budget), chosen, Limits())
    boxes = {one.values: (one.n_settled, one.n_passing, one.start) for one in found.combinations}
    values = [one.values for one in found.combinations]
    between = {(values[before], values[after], name): n for before, after, name, n in found.between}
    assert (boxes, between) == plainly(system, chosen, budget)
    assert values == sorted(values)
    assert found.limit is None


def test_a_limit_that_is_hit_is_told() -> None:
    spec = load((REPOSITORY / "specs" / "teaching.yaml").read_bytes(), "teaching.yaml").spec
    assert spec is not None
    found = merged(elaborate(spec), Question("", budget=1), ("ground", "train"), Limits(5))
    assert found.limit is not None
    assert "more than 5 situations" in found.limit
