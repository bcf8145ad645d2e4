"""Random cores with windows and deadlines: those of `random_systems.py`, given time. The same seed, the same case.

Windows are short, with open ends, equal ends, ends that are never, some ends over a thousand times as late as others;
failures that ride on an event share its age; timers are restarted; some systems come to a point where time cannot pass,
or where events come ever sooner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from interlock.core.question import Question, Timing
from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Property,
    PropertyKind,
    System,
    TickWindow,
    Tier,
)
from interlock.logic.expression import Expression, conjunction, disjunction, has
from tests.random_systems import random_case

KINDS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE, PropertyKind.AFTER, PropertyKind.LASTS)
LONG = 1_500


@dataclass(frozen=True, slots=True)
class TimedCase:
    """A system with windows, and what is asked about it."""

    seed: int
    system: System
    asked: tuple[Question, ...]


def random_timed_case(seed: int, closed: bool) -> TimedCase:
    """A random case; `closed`: without open ends."""
    rng = Random(10_000_000 + seed)
    plain = random_case(seed, False).system
    far = rng.random() < 0.05
    windows = {a.id: _window(rng, a, closed, far) for a in plain.actions if a.tier is Tier.OTHER and not a.modes}
    actions = tuple(_timed(a, windows, plain) for a in plain.actions)
    properties = (*plain.properties, *_deadlines(rng, plain, closed))
    system = replace(plain, actions=actions, properties=properties)
    rules = [one for one in properties if one.kind in KINDS]
    deadlines = [one for one in rules if one.within is not None]
    asked = []
    for _ in range(4):
        rule = rng.choice(deadlines if rng.random() < 0.5 else rules)
        cuts = [p.id for p in properties if p.kind in (PropertyKind.NEVER, PropertyKind.BEFORE) and p is not rule]
        cut = (rng.choice(cuts),) if rng.random() < 0.1 else ()
        asked.append(Question(rule.id, Timing.DECLARED, rng.choice([0, 0, 1]), cut=cut))
    return TimedCase(seed, system, tuple(asked))


def _window(rng: Random, action: Action, closed: bool, far: bool) -> TickWindow:
    kind = rng.random()
    if kind < 0.15 and action.kind is not ActionKind.TIMER:
        return ANY_AGE
    earliest = rng.choice([0, 0, 1, 1, 2, 3])
    latest: int | None = earliest + rng.choice([0, 1, 1, 2])
    if kind < 0.3 and action.kind is not ActionKind.TIMER:
        latest = None
    if far and rng.random() < 0.3:
        latest = LONG
    if closed:
        return TickWindow(earliest, latest)
    early_open = rng.random() < 0.3
    late_open = latest is not None and latest > earliest and rng.random() < 0.3
    if early_open and latest is not None and latest == earliest:
        latest += 1
    return TickWindow(earliest, latest, early_open, late_open)


def _timed(action: Action, windows: dict[str, TickWindow], system: System) -> Action:
    if action.id in windows:
        window = windows[action.id]
        return replace(action, window=window, obliged=window.latest is not None)
    ridden = next((a for a in system.actions if a.id in windows and action.id.startswith(f"{a.id} and ")), None)
    return action if ridden is None else replace(action, window=windows[ridden.id], ages_with=ridden.id)


def _deadlines(rng: Random, system: System, closed: bool) -> list[Property]:
    variables = [v for v in system.variables if len(v.values) > 1]

    def some() -> Expression:
        picked = []
        for variable in rng.sample(variables, min(len(variables), rng.choice([1, 1, 2]))):
            size = len(variable.values)
            picked.append(has(variable.name, rng.sample(range(size), rng.randint(1, size - 1)), size))
        return conjunction(picked) if rng.random() < 0.6 else disjunction(picked)

    found = []
    for i in range(3):
        latest = rng.randint(0, 4)
        late_open = not closed and latest > 0 and rng.random() < 0.4
        within = TickWindow(0, latest, False, late_open)
        after = Property(f"after {i}", PropertyKind.AFTER, False, some(), must=some(), within=within)
        found.append(replace(after, unless=some()) if rng.random() < 0.4 else after)
        earliest = rng.choice([0, 0, 1, 2])
        within = TickWindow(earliest, earliest + latest, not closed and rng.random() < 0.3 and latest > 0, late_open)
        found.append(Property(f"lasts {i}", PropertyKind.LASTS, rng.random() < 0.3, some(), within=within))
    return found
