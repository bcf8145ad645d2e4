"""What the explicit engine does at its limits: it says so, and neither dies nor calls anything proved."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from interlock.core.question import Question, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.explicit import machine
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.logic.expression import FALSE
from tests.small_systems import Event, Table, avoid


def counters(n: int, rule: Mapping[str, list[int]] | None = None) -> System:
    """`n` counters of ten values that go up by themselves, round and round: 10 ** n situations."""
    table = Table({f"counter {i}": range(10) for i in range(n)})
    events: list[Event] = [
        (f"{i} from {value}", {f"counter {i}": [value]}, {f"counter {i}": (value + 1) % 10})
        for i in range(n)
        for value in range(10)
    ]
    asked = avoid(FALSE if rule is None else table.all(rule))
    return table.system({f"counter {i}": 0 for i in range(n)}, events, (asked,))


def test_a_system_of_a_million_million_situations_is_undecided_within_the_limit() -> None:
    (answer,) = ExplicitEngine().answer(counters(12), (Question("hazard"),), Limits(states=300_000))
    assert answer.verdict is Verdict.UNDECIDED
    assert answer.counts is None
    assert answer.limit is not None
    assert "300,000 situations" in answer.limit


def test_where_the_memory_does_not_do_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "available_bytes", lambda: 4 << 20)
    (answer,) = ExplicitEngine().answer(counters(12), (Question("hazard"),), Limits(states=10**12))
    assert answer.verdict is Verdict.UNDECIDED
    assert answer.limit is not None
    assert answer.limit.startswith("memory is full at ")
    survey = ExplicitEngine().survey(counters(12), Question(""), (), Limits(states=10**12))
    assert survey.limit is not None
    assert survey.limit.startswith("memory is full")


def test_a_breach_near_the_start_of_a_vast_system_is_found_before_the_limit() -> None:
    vast = counters(12, {"counter 3": [1], "counter 7": [2]})
    (found,) = ExplicitEngine().answer(vast, (Question("hazard"),), Limits(states=100_000))
    assert found.verdict is Verdict.FAILS
    assert found.scenario is not None
    assert found.scenario.events == ("3 from 0", "7 from 0", "7 from 1")


def test_progress_tells_situations_now_and_then() -> None:
    told: list[int] = []
    limits = Limits(states=200_000, progress=lambda known, depth: told.append(known))
    ExplicitEngine().answer(counters(8), (Question("hazard"),), limits)
    assert max(told) > 200_000
