"""Laying an overlay over a system: `Named` nodes pinned true or false, windows of actions moved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from interlock.core.question import Overlay
from interlock.core.system import Action, Assignment, Mode, Property, System, TickWindow
from interlock.logic.expression import Expression, pin


def with_overlay(system: System, overlay: Overlay) -> System:
    """The system under the overlay; the same object if the overlay is empty. An unknown id: KeyError with it."""
    if not overlay.pins and not overlay.windows:
        return system
    pins = dict(overlay.pins)
    windows = dict(overlay.windows)
    known = {action.id for action in system.actions}
    for name in [*(p for p in pins if p not in system.origin), *(w for w in windows if w not in known)]:
        raise KeyError(name)
    pinned = mapped(system, lambda expression: pin(expression, pins))
    return replace(pinned, actions=tuple(_moved(action, windows) for action in pinned.actions), digest="")


def _moved(action: Action, windows: dict[str, TickWindow]) -> Action:
    """The action with its window moved; an event with a failure in it goes with the event that it rides on."""
    if action.id in windows:
        return replace(action, window=windows[action.id], obliged=windows[action.id].latest is not None)
    if action.ages_with in windows:
        return replace(action, window=windows[action.ages_with])
    return action


def mapped(system: System, change: Callable[[Expression], Expression]) -> System:
    """The system with every expression changed (guards, updates, properties, conditions, modes)."""

    def update(assignments: tuple[Assignment, ...]) -> tuple[Assignment, ...]:
        return tuple(
            Assignment(a.variable, tuple((change(condition), value) for condition, value in a.cases))
            for a in assignments
        )

    def maybe(expression: Expression | None) -> Expression | None:
        return None if expression is None else change(expression)

    def action(old: Action) -> Action:
        return replace(old, guard=change(old.guard), update=update(old.update))

    def mode(old: Mode) -> Mode:
        return replace(old, guard=change(old.guard), at_start=None if old.at_start is None else update(old.at_start))

    def rule(old: Property) -> Property:
        return replace(
            old,
            condition=change(old.condition),
            first=maybe(old.first),
            since=maybe(old.since),
            must=maybe(old.must),
            unless=maybe(old.unless),
            start=maybe(old.start),
            trigger=maybe(old.trigger),
        )

    return replace(
        system,
        actions=tuple(map(action, system.actions)),
        modes=tuple(map(mode, system.modes)),
        properties=tuple(map(rule, system.properties)),
        conditions=tuple((name, change(expression)) for name, expression in system.conditions),
    )
