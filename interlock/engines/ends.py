"""Ends of windows: leaving them out, moving them, and the fewest of them by which something holds.

In: a system, or ends and whether something holds by some of them. Out: the system with the others left out, or with
some elsewhere; a set of ends none of which can be left out.

An end that is left out says nothing: no earliest, no latest. What is obliged stays so: it comes some time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

from interlock.core.question import Bound, Moment
from interlock.core.system import Action, System, TickWindow, changed_by, read_by
from interlock.core.timed import age_of
from interlock.logic.expression import variables_of

SomeEnds: TypeAlias = frozenset[Bound]


def ends_of(system: System, among: SomeEnds | None = None) -> tuple[Bound, ...]:
    """Every end of a window that says anything (of `among`; None: of all), by the event whose age it is about, in the
    order of events."""
    found: dict[Bound, None] = {}
    for action in system.actions:
        window = action.window
        if window is None:
            continue
        if window.earliest or window.earliest_open:
            found[Bound(age_of(action), False)] = None
        if window.latest is not None:
            found[Bound(age_of(action), True)] = None
    return tuple(end for end in found if among is None or end in among)


def with_only(system: System, ends: SomeEnds) -> System:
    """The system in which only these ends say anything."""

    def kept(action: Action) -> Action:
        window, of = action.window, age_of(action)
        if window is None:
            return action
        early, late = Bound(of, False) in ends, Bound(of, True) in ends
        smaller = TickWindow(
            window.earliest if early else 0,
            window.latest if late else None,
            window.earliest_open and early,
            window.latest_open and late,
        )
        return replace(action, window=smaller)

    return replace(system, actions=tuple(map(kept, system.actions)), digest="")


def with_ends_at(system: System, ends: SomeEnds, at: Moment | None) -> System:
    """The system with some ends moved (None: left out), all times in ticks so fine that theirs is whole. What has the
    age of another goes with that one."""
    scale = 1 if at is None else at.ticks.denominator
    value = 0 if at is None else int(at.ticks * scale)
    is_open = at is not None and at.open
    finer = in_finer_ticks(system, scale)

    def moved(window: TickWindow, of: str) -> TickWindow:
        if Bound(of, True) in ends:
            return replace(window, latest=None if at is None else value, latest_open=is_open)
        if Bound(of, False) in ends:
            return replace(window, earliest=value, earliest_open=is_open)
        return window

    actions = tuple(
        action if action.window is None else replace(action, window=moved(action.window, age_of(action)))
        for action in finer.actions
    )
    return replace(finer, actions=actions)


def in_finer_ticks(system: System, scale: int) -> System:
    """The same system, so many ticks for each of it."""

    def finer(window: TickWindow) -> TickWindow:
        latest = None if window.latest is None else window.latest * scale
        return replace(window, earliest=window.earliest * scale, latest=latest)

    actions = tuple(
        action if action.window is None else replace(action, window=finer(action.window)) for action in system.actions
    )
    rules = tuple(
        rule if rule.within is None else replace(rule, within=finer(rule.within)) for rule in system.properties
    )
    return replace(system, actions=actions, properties=rules, tick_s=system.tick_s / scale, digest="")


def in_order(ends: SomeEnds) -> tuple[Bound, ...]:
    """Ends that move together, by their events."""
    return tuple(sorted(ends, key=lambda end: end.of))


def as_declared(system: System, ends: SomeEnds) -> Moment:
    """The value of ends that move together, and whether they are open. ValueError if they differ."""
    found = {
        Moment(Fraction(window.latest or 0), window.latest_open)
        if latest
        else Moment(Fraction(window.earliest), window.earliest_open)
        for action in system.actions
        if (window := action.window) is not None
        for latest in (False, True)
        if Bound(action.id, latest) in ends
    }
    if len(found) != 1:
        raise ValueError(f"ends that differ cannot move together: {sorted(one.of for one in ends)}")
    (value,) = found
    return value


def far_from(system: System, rule: str) -> dict[str, int]:
    """How far events are from what a rule speaks of: 0 if they change that, 1 if they change what such an event looks
    at, and so on."""
    reading: frozenset[str] = variables_of(*system.property(rule).expressions())
    found: dict[str, int] = {}
    distance = 0
    while len(found) < len(system.actions):
        here = [action for action in system.actions if action.id not in found and changed_by(action) & reading] or [
            action for action in system.actions if action.id not in found
        ]
        found.update((action.id, distance) for action in here)
        reading = reading.union(*map(read_by, here))
        distance += 1
    return found


def nearest(ends: SomeEnds, far: dict[str, int]) -> SomeEnds:
    """Those of the ends, at least one, whose events are least far (`far_from`)."""
    least = min(far[end.of] for end in ends)
    return frozenset(end for end in ends if far[end.of] == least)


def fewest(ends: tuple[Bound, ...], holds: Callable[[SomeEnds], bool]) -> tuple[Bound, ...] | None:
    """Some of the ends by which it holds, none of which can be left out; in their order. None: it does not hold by all.

    `holds`: by more ends wherever by fewer. By halves, so that few are tried where few are needed: k of n ends take
    some k log(n / k) trials (Junker 2004). What is found is tried once more, lest `holds` does not keep to that.
    """
    if holds(frozenset()):
        return ()
    if not ends:
        return None
    chosen = set(_needed((), ends, holds, known=True))
    if not holds(frozenset(chosen)):
        chosen = set(ends)
        if not holds(frozenset(chosen)):
            return None
    for one in ends:
        if one in chosen and holds(frozenset(chosen - {one})):
            chosen.remove(one)
    return tuple(one for one in ends if one in chosen)


def _needed(
    given: tuple[Bound, ...], ends: tuple[Bound, ...], holds: Callable[[SomeEnds], bool], *, known: bool
) -> tuple[Bound, ...]:
    """Those of the ends that are needed beside what is given. `known`: that some are."""
    if not known and holds(frozenset(given)):
        return ()
    if len(ends) == 1:
        return ends
    half = len(ends) // 2
    first, second = ends[:half], ends[half:]
    of_second = _needed((*given, *first), second, holds, known=False)
    of_first = _needed((*given, *of_second), first, holds, known=not of_second)
    return (*of_first, *of_second)
