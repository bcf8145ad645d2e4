"""Slicing: the part of a system that can influence a question, and the way back for scenarios.

A variable is kept if the question reads it, or if it can influence a kept one: it stands in the guard, or in the update
of a kept variable, of an action that changes a kept variable. Actions that change no kept variable are dropped. For any
timing this keeps every verdict, provided that what is dropped of tiers 0 and 1 always settles: a dropped action of a
lower tier only makes kept actions wait. Where that is not known, a slice still allows every run of the whole
(projected), so "never reached" carries over; a scenario carries over if `lift` finds its way.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from interlock.core.meaning import Meaning, State
from interlock.core.question import Question, Scenario
from interlock.core.system import Action, Assignment, Mode, Property, PropertyKind, System, Tier, Valuation
from interlock.logic.expression import FALSE, Expression, Kind, fold, has_was, negate, rebuild, variables_of


@dataclass(frozen=True, slots=True)
class Slice:
    """The part `system` of `whole` that was kept; `dropped` names the variables left out, in their order."""

    whole: System
    system: System
    dropped: tuple[str, ...]

    def bears_windows(self) -> bool:
        """Whether any window says something about the kept actions: if not, declared timing adds nothing."""
        return any(action.window is not None and action.window.bears for action in self.system.actions)


def slice_for(system: System, properties: Iterable[str]) -> Slice:
    """The slice for some properties (ids) together; the whole if one of them is judged on events that change nothing it
    reads. Cost: actions times kept variables."""
    chosen = [system.property(id) for id in properties]
    if not all(map(needs_a_change, chosen)):
        return Slice(system, system, ())
    roots = [expression for one in chosen for expression in one.expressions()]
    helpers = {id for one in chosen for id in one.helped_by}
    guards = [action.guard for action in system.actions if action.id in helpers]
    return slice_on(system, variables_of(*roots, *guards), tuple(one.id for one in chosen))


def slice_on(system: System, names: Iterable[str], properties: tuple[str, ...] = ()) -> Slice:
    """The slice that keeps these variables and all that can influence them."""
    return _kept(system, _influences(system).on(names), properties)


def parts_of(system: System, wanted: Iterable[frozenset[str]]) -> tuple[Slice, ...]:
    """The system as few parts, each with all that can influence it: every variable lies in one of them, and every
    `wanted` set of variables wholly in one. Parts overlap in what influences several of them. The properties of the
    system are left out. Cost: as `slice_for`, for each part."""
    influences = _influences(system)
    found: list[frozenset[str]] = []
    for names in (*wanted, *(frozenset((v.name,)) for v in system.variables)):
        if not any(names <= part for part in found):
            found.append(influences.on(names))
    largest = [part for part in dict.fromkeys(found) if not any(part < other for other in found)]
    return tuple(_kept(system, part, ()) for part in largest)


@dataclass(frozen=True, slots=True)
class _Influences:
    """What each event changes, what its guard reads, and what each change reads."""

    events: tuple[tuple[frozenset[str], frozenset[str], dict[str, frozenset[str]]], ...]

    def on(self, names: Iterable[str]) -> frozenset[str]:
        """These variables and all that can influence them."""
        kept = set(names)
        grown = True
        while grown:
            grown = False
            for changed, guard_reads, reads in self.events:
                touched = changed & kept
                if touched:
                    needed = guard_reads.union(*(reads[name] for name in touched))
                    if not needed <= kept:
                        kept |= needed
                        grown = True
        return frozenset(kept)


def _influences(system: System) -> _Influences:
    changing = []
    for guard, update in [(a.guard, a.update) for a in system.actions] + [
        (mode.guard, mode.at_start) for mode in system.modes if mode.at_start is not None
    ]:
        reads = {a.variable: variables_of(*(condition for condition, _ in a.cases)) for a in update}
        changing.append((frozenset(reads), variables_of(guard), reads))
    return _Influences(tuple(changing))


def _kept(system: System, kept: frozenset[str], properties: tuple[str, ...]) -> Slice:
    variables = tuple(v for v in system.variables if v.name in kept)
    places = [i for i, v in enumerate(system.variables) if v.name in kept]
    actions = tuple(_kept_action(a, kept) for a in system.actions if any(u.variable in kept for u in a.update))
    known = {action.id for action in actions}
    actions = tuple(replace(a, restarts=tuple(r for r in a.restarts if r in known)) for a in actions)
    starts = dict.fromkeys(tuple(start[i] for i in places) for start in system.start)
    smaller = replace(
        system,
        variables=variables,
        start=tuple(starts),
        actions=actions,
        modes=tuple(kept_mode(mode, kept) for mode in system.modes if _mode_kept(mode, kept, actions)),
        properties=tuple(p for p in system.properties if p.id in properties),
        conditions=tuple((n, e) for n, e in system.conditions if variables_of(e) <= kept),
        digest="",
    )
    return Slice(system, smaller, tuple(v.name for v in system.variables if v.name not in kept))


def _kept_update(update: tuple[Assignment, ...], kept: frozenset[str]) -> tuple[Assignment, ...]:
    return tuple(assignment for assignment in update if assignment.variable in kept)


def _kept_action(action: Action, kept: frozenset[str]) -> Action:
    return replace(action, update=_kept_update(action.update, kept))


def _mode_kept(mode: Mode, kept: frozenset[str], actions: tuple[Action, ...]) -> bool:
    if mode.at_start is not None:
        return any(assignment.variable in kept for assignment in mode.at_start)
    return any(mode.id in action.modes for action in actions)


def kept_mode(mode: Mode, kept: frozenset[str]) -> Mode:
    """The mode with what it changes at the start of these variables alone."""
    return replace(mode, at_start=None if mode.at_start is None else _kept_update(mode.at_start, kept))


def needs_a_change(asked: Property) -> bool:
    """Whether an event that changes nothing the property reads can neither break it nor help it. `never: was(X)`, for
    one, is broken by any event after X: dropping events that do not touch X would hide that."""
    if asked.kind is PropertyKind.BEFORE:
        return asked.first is None or not has_was(asked.first) or _false_if_nothing_changes(asked.first)
    return not asked.every_event or _false_if_nothing_changes(asked.condition)


def _false_if_nothing_changes(condition: Expression) -> bool:
    """Whether a condition on an event is surely false when what it reads is the same before and after."""

    def combine(node: Expression, operands: tuple[Expression, ...]) -> Expression:
        if node.kind in (Kind.WAS, Kind.NAMED):
            return operands[0]
        made = rebuild(node, operands)
        if made.kind is Kind.AND and any(negate(part) in made.operands for part in made.operands):
            return FALSE
        return made

    return fold(condition, combine) is FALSE


MAX_SETTLING = 10_000


def lift(part: Slice, question: Question, scenario: Scenario) -> Scenario | None:
    """The scenario of the slice as one of the whole: before an event of a higher tier, what was dropped of tiers 0 and
    1 happens first; at the end too, where the question is about settled situations. None if what was dropped does not
    settle within `MAX_SETTLING` events, or does not allow the scenario. A lifted loop closes in the slice, not
    necessarily in the whole.
    """
    whole = Meaning(part.whole, question)
    small = Meaning(part.system, question)
    places = [i for i, v in enumerate(part.whole.variables) if v.name in small.index]
    kept = {action.id for action in part.system.actions}

    def projected(valuation: Valuation) -> Valuation:
        return tuple(valuation[i] for i in places)

    candidates = [
        state
        for state, present in whole.starts_with_failures()
        if present == scenario.at_start and projected(state.valuation) == scenario.situations[0]
    ]
    if not candidates:
        return None
    state: State = candidates[0]
    situations, events = [state.valuation], []

    def settle(down_to: Tier) -> bool:
        nonlocal state
        for _ in range(MAX_SETTLING):
            tier = whole.tier_of(state.valuation)
            if tier.value >= down_to.value:
                return True
            waiting = [a for a in whole.enabled(state) if a.id not in kept and a.cost == 0]
            if not waiting:
                return False
            step(waiting[0])
        return False

    def step(action: Action) -> None:
        nonlocal state
        state = whole.after(action, state)
        situations.append(state.valuation)
        events.append(action.id)

    by_id = {action.id: action for action in part.whole.actions}
    loop_from: int | None = None
    for i, (event, expected) in enumerate(zip(scenario.events, scenario.situations[1:], strict=True)):
        if scenario.loop_from == i:
            loop_from = len(situations) - 1
        action = by_id[event]
        if not settle(action.tier) or action not in whole.enabled(state):
            return None
        step(action)
        if projected(state.valuation) != expected:
            return None
    asked = part.system.property(question.property)
    at_once = asked.every_event or asked.passing or asked.kind is PropertyKind.BEFORE
    if not at_once and small.settled(scenario.situations[-1]) and not settle(Tier.OTHER):
        return None
    return replace(scenario, situations=tuple(situations), events=tuple(events), loop_from=loop_from)
