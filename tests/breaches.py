"""Which rules and hazards of a spec any timing breaks: asked of the engine for whole installations, together where one
exploration serves several."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Scenario, Verdict
from interlock.core.slice import slice_for
from interlock.core.system import Property, PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.loading import load
from interlock.spec.model import Spec

QUAY = Path(__file__).parents[1] / "specs" / "brackwater_quay.yaml"
DRAFTS = QUAY.parent / "drafts"
LIMITS = Limits(states=20_000_000)


@dataclass(frozen=True, slots=True)
class Loaded:
    """A spec and its core."""

    spec: Spec
    system: System


@cache
def read(path: Path) -> Spec:
    """The spec of a file; every message of the reading is a failure of the test."""
    spec, bag, _ = load(path)
    assert spec is not None, bag.sorted()
    return spec


def loaded(path: Path) -> Loaded:
    """The spec of a file and its core."""
    spec = read(path)
    return Loaded(spec, elaborate(spec))


def decided_by_any_timing(system: System) -> tuple[str, ...]:
    """The rules `never`, `while` and `before` and the hazards without a duration."""
    return tuple(p.id for p in system.properties if p.kind in {PropertyKind.NEVER, PropertyKind.BEFORE})


def broken(system: System, ids: Iterable[str], failures: int = 0, modes: tuple[str, ...] = ()) -> dict[str, Scenario]:
    """Those of the properties that are broken with up to so many failures, only these modes happening, each with its
    shortest scenario; the others hold. What is judged in settled situations is asked in one exploration, what is judged
    on events in another, each `before` by itself. Cost for Brackwater Quay: about 5 s in all."""
    unknown = set(modes) - {mode.id for mode in system.modes}
    assert not unknown, unknown
    found: dict[str, Scenario] = {}
    for together in _together([system.property(id) for id in ids]):
        part = slice_for(system, together).system
        allowed = tuple(mode.id for mode in part.modes if mode.id in modes)
        questions = tuple(Question(id, budget=failures, allowed=allowed) for id in together)
        for answer in ENGINES["explicit"].answer(part, questions, LIMITS):
            assert answer.verdict is not Verdict.UNDECIDED, (answer.question.property, answer.limit)
            if answer.scenario is not None:
                found[answer.question.property] = answer.scenario
    return found


def _together(chosen: list[Property]) -> list[tuple[str, ...]]:
    """The ids, in groups that one exploration answers."""
    never = [p for p in chosen if p.kind is PropertyKind.NEVER]
    groups = [tuple(p.id for p in never if p.every_event is on_events) for on_events in (False, True)]
    groups += [(p.id,) for p in chosen if p.kind is PropertyKind.BEFORE]
    return [group for group in groups if group]
