"""Over arrays a run has room for so many events; where more are needed that is said, and nothing is called proved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.engines.api import Limits
from interlock.engines.timed import bulk_graph
from interlock.engines.timed.engine import ZonesEngine
from tests.engines.plan import Plan, never

ROUNDS = 30


@pytest.fixture
def _room_for_few_events(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bulk_graph, "MOST_EVENTS", 512)
    monkeypatch.setattr(bulk_graph, "MOST_ON_WAY", 64)
    monkeypatch.setattr(bulk_graph, "LONG_RUNS", "runs of more than 448 events bear on it")


def far_lamp() -> System:
    """Two counters like the hands of a clock, 900 events until both are at their last, then a lamp lights, for ever."""
    plan = Plan()
    plan.item("slow", *range(ROUNDS))
    plan.item("fast", *range(ROUNDS))
    plan.item("lamp", "dark", "lit")
    last = ROUNDS - 1
    for i in range(last):
        plan.free(f"fast from {i}", {"fast": i}, {"fast": i + 1})
        plan.free(f"slow from {i}", {"fast": last, "slow": i}, {"fast": 0, "slow": i + 1})
    plan.free("lamp lights", {"fast": last, "slow": last, "lamp": "dark"}, {"lamp": "lit"})
    plan.event("cleaning", {"lamp": "dark"}, {"slow": 0})
    plan.actions[-1] = replace(plan.actions[-1], window=TickWindow(5, None))
    lit = plan.at({"lamp": "lit"})
    deadline = Property("lit for a while", PropertyKind.LASTS, False, lit, within=TickWindow(0, 2))
    system = plan.system(never("never lit", lit))
    return replace(system, properties=(*system.properties, deadline))


@pytest.mark.usefixtures("_room_for_few_events")
@pytest.mark.parametrize("rule", ["lit for a while", "never lit"])
def test_what_lies_beyond_the_room_for_events_is_not_called_out_of_reach(rule: str) -> None:
    """Both are broken, after 900 events."""
    (answer,) = ZonesEngine(small=0, near=False).answer(far_lamp(), (Question(rule, Timing.DECLARED),), Limits())
    assert (answer.verdict, answer.limit) == (Verdict.UNDECIDED, "runs of more than 448 events bear on it")


@pytest.mark.parametrize("rule", ["lit for a while", "never lit"])
def test_with_room_for_the_events_both_are_broken(rule: str) -> None:
    (answer,) = ZonesEngine(small=0, near=False).answer(far_lamp(), (Question(rule, Timing.DECLARED),), Limits())
    assert answer.verdict is Verdict.FAILS
    assert answer.scenario is not None
    assert len(answer.scenario.events) == ROUNDS**2
