"""Two small systems with known answers, and one question to one engine."""

from __future__ import annotations

from interlock.core.question import Answer, Overlay, Question
from interlock.core.system import (
    System,
)
from interlock.engines.api import Engine, Limits
from tests.engines.plan import Plan


def door() -> Plan:
    """A door and a lamp that follows it: shut makes the lamp go on, at once."""
    plan = Plan()
    plan.item("door", "open", "shut")
    plan.item("lamp", "off", "on")
    plan.free("door shuts", {"door": "open"}, {"door": "shut"})
    plan.free("door opens", {"door": "shut"}, {"door": "open"})
    plan.instant("lamp becomes on", {"door": "shut", "lamp": "off"}, {"lamp": "on"})
    plan.instant("lamp becomes off", {"door": "open", "lamp": "on"}, {"lamp": "off"})
    return plan


def chain(length: int) -> Plan:
    """A counter that goes up to its last value, freely, never back."""
    plan = Plan()
    plan.item("n", *range(length))
    for value in range(length - 1):
        plan.free(f"n to {value + 1}", {"n": value}, {"n": value + 1})
    return plan


def ask(
    engine: Engine,
    system: System,
    id: str,
    *,
    limit: int = 10_000,
    budget: int = 0,
    allowed: tuple[str, ...] | None = None,
    overlay: Overlay | None = None,
    cut: tuple[str, ...] = (),
) -> Answer:
    """One question, one answer."""
    question = Question(id, budget=budget, allowed=allowed, overlay=overlay or Overlay(), cut=cut)
    answers = engine.answer(system, (question,), Limits(states=limit))
    assert len(answers) == 1
    assert answers[0].question == question
    assert answers[0].engine == engine.name
    return answers[0]
