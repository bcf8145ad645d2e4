"""Two berths that share a supply, with three things each that may go wrong: 29,000,704 situations, 410,439,680 events.

The counts were measured before by independent programs. Material for measurement: situations are many, and blocks of
them can be full. What goes wrong is written as free events here, so that every engine and every peer sees the same
system; `with_failures` has the same as failures under a budget, and logic that reacts at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction

from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Assignment,
    Mode,
    Property,
    PropertyKind,
    System,
    Tier,
    Variable,
    VariableKind,
)
from interlock.logic.expression import TRUE, Expression, at_most, conjunction, disjunction, has, negate

SITUATIONS, EVENTS = 29_000_704, 410_439_680

SIZES = {
    "train": 4,
    "id": 2,
    "shoe": 4,
    "contact": 2,
    "ready": 2,
    "rail": 3,
    "step": 8,
    "stop": 2,
    "brake": 2,
}
FAULTS = ("position", "proof", "weld")
LOGIC = ("identified", "held", "proved", "energise", "charge", "trip", "open", "raise", "release", "abort")


def coupled_berths(n: int = 2, limit: int = 1) -> System:
    """`n` berths of which at most `limit` may be energised; all events free, faults among them."""
    sizes = {f"{name} {b}": size for b in range(n) for name, size in SIZES.items()}
    sizes |= {f"{fault} {b}": 2 for b in range(n) for fault in FAULTS}
    variables = tuple(
        Variable(f"{name} {b}", tuple(range(size)), VariableKind.ITEM)
        for b in range(n)
        for name, size in (*SIZES.items(), *((fault, 2) for fault in FAULTS))
    )
    actions = tuple(action for b in range(n) for action in _berth(b, n, limit, sizes))

    def at(name: str, value: int) -> Expression:
        return has(name, (value,), sizes[name])

    moving = conjunction([at("rail 0", 2), at("step 0", 0)])
    faults = [at(f"{fault} {b}", 1) for b in range(n) for fault in FAULTS]
    deep = conjunction([at("step 0", 5), at(f"step {n - 1}", 3), *faults])
    properties = (
        Property("holds", PropertyKind.NEVER, True, moving),
        Property("is broken", PropertyKind.NEVER, True, deep),
    )
    start = tuple(0 for _ in variables)
    return System("coupled berths", variables, (start,), actions, (), properties, (), {}, Fraction(1))


def with_failures(n: int = 2, limit: int = 1) -> System:
    """The same with logic that reacts at once and faults as failures under a budget."""
    plain = coupled_berths(n, limit)
    faults = {f"{fault} {b}" for b in range(n) for fault in FAULTS}
    variables = tuple(replace(v, kind=VariableKind.FAILURE) if v.name in faults else v for v in plain.variables)
    actions = []
    modes = []
    for action in plain.actions:
        if action.name in faults:
            failing = replace(action, kind=ActionKind.FAILURE, modes=(action.name,), cost=1)
            actions.append(failing)
            modes.append(Mode(action.name, False, (), failing.guard, failing.update))
        elif action.name.split()[0] in LOGIC:
            actions.append(replace(action, kind=ActionKind.LOGIC, tier=Tier.LOGIC, window=None, obliged=True))
        else:
            actions.append(action)
    return replace(plain, variables=variables, actions=tuple(actions), modes=tuple(modes))


def _berth(b: int, n: int, limit: int, sizes: Mapping[str, int]) -> list[Action]:
    def at(name: str, *values: int) -> Expression:
        return has(f"{name} {b}", values, sizes[f"{name} {b}"])

    found: list[Action] = []

    def event(name: str, guard: Expression, changes: Mapping[str, int]) -> None:
        update = tuple(Assignment(f"{variable} {b}", ((TRUE, value),)) for variable, value in changes.items())
        name = f"{name} {b}"
        found.append(
            Action(f"berth: {name}", f"berth {b}", name, ActionKind.FREE, Tier.OTHER, guard, update, ANY_AGE, False)
        )

    said: Callable[..., Expression] = lambda *parts: conjunction(parts)  # noqa: E731
    others = [negate(has(f"rail {o}", (0,), 3)) for o in range(n) if o != b]
    event("comes", at("train", 0), {"train": 1})
    event("stops", at("train", 1), {"train": 2})
    clear = disjunction([at("shoe", 0), said(at("position", 1), at("shoe", 3))])
    event("moves off", said(at("train", 2), at("brake", 0), clear), {"train": 3})
    event("is gone", at("train", 3), {"train": 0, "id": 0, "ready": 0})
    event("identity read", said(at("train", 2), at("id", 0)), {"id": 1})
    event("identity lost", said(at("id", 1), at("train", 2)), {"id": 0})
    event("brake on", said(at("train", 2), at("brake", 0)), {"brake": 1})
    event("brake off", at("brake", 1), {"brake": 0})
    event("shoe down", at("shoe", 1), {"shoe": 2})
    event("shoe up", at("shoe", 3), {"shoe": 0})
    event("contact made", said(at("shoe", 2), at("contact", 0)), {"contact": 1})
    event("contact lost", at("contact", 1), {"contact": 0})
    event("becomes ready", said(at("train", 2), at("ready", 0)), {"ready": 1})
    event("not ready", at("ready", 1), {"ready": 0})
    event("stop pressed", at("stop", 0), {"stop": 1})
    event("stop pulled", at("stop", 1), {"stop": 0})
    event("identified", said(at("step", 0), at("id", 1), disjunction([at("train", 2), at("position", 1)])), {"step": 1})
    event("held", said(at("step", 1), at("brake", 1)), {"step": 2, "shoe": 1})
    proof = disjunction([said(at("shoe", 2), at("contact", 1)), at("proof", 1)])
    event("proved", said(at("step", 2), proof), {"step": 3})
    free = [at_most(limit - 1, others)] if limit < n else []
    event("energise", said(at("step", 3), at("ready", 1), at("stop", 0), *free), {"step": 4, "rail": 1})
    event("charge", said(at("step", 4), at("contact", 1)), {"step": 5, "rail": 2})
    tripping = disjunction([at("contact", 0), at("stop", 1), at("ready", 0)])
    event("trip", said(at("step", 5), tripping), {"step": 6, "rail": 1})
    event("open", at("step", 6), {"step": 7, "rail": 0})
    event("raise", said(at("step", 7), at("shoe", 2)), {"shoe": 3})
    event("release", said(at("step", 7), at("shoe", 0)), {"step": 0})
    event("abort", said(at("step", 1, 2, 3, 4), at("stop", 1)), {"step": 6})
    for fault in FAULTS:
        event(fault, at(fault, 0), {fault: 1})
    event("welded rail", said(at("weld", 1), at("rail", 1)), {"rail": 2})
    return found
