"""Elaboration: a spec becomes a core. The construction is the one written down in specs/MEANING.md, in its order.

In: a `Spec` and how its logic is to be taken. Out: a `System`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from enum import Enum
from itertools import product

from interlock.core.controllers import Controllers, Reacting
from interlock.core.digest import digest_of
from interlock.core.draft import Draft, index_of, tick_of
from interlock.core.failing import Faults
from interlock.core.failures import Failures
from interlock.core.phrases import Phrases
from interlock.core.plant import Plant
from interlock.core.rules import hazard_property, rule_property
from interlock.core.signals import Signals
from interlock.core.system import Action, ActionKind, Assignment, System, Tier, Valuation, VariableKind
from interlock.logic.expression import Expression, Kind, conjunction, fold, negate
from interlock.logic.formula import Condition, Formula, Thing, operands_of, refs_of
from interlock.spec.model import Assumption, Hazard, Rule, Spec


class Logic(Enum):
    """How the logic of a spec is taken.

    DECLARED: as written. SLOW: every sequence decides and acts, however slowly. ARBITRARY: all sequences replaced by
    commands that change as they like, several at once too; links, and what failures do to sequences, are left out.
    """

    DECLARED = "declared"
    SLOW = "slow"
    ARBITRARY = "arbitrary"


MAX_STARTS = 4096


class TooManyStarts(Exception):
    """The spec allows more than `MAX_STARTS` combinations of start states."""


def elaborate(spec: Spec, logic: Logic = Logic.DECLARED) -> System:
    """The core of a spec. With `Logic.ARBITRARY`, rules and hazards that name steps, memories or links are left out
    (see `names_logic`). TooManyStarts if the start states multiply beyond measure."""
    draft = Draft(tick_of(spec))
    faults = Faults(spec)
    arbitrary = logic is Logic.ARBITRARY
    phrases = Phrases(spec, draft, faults, free_commands=arbitrary)
    plant = Plant(spec, draft, faults, phrases)
    signals = Signals(spec, draft, faults, phrases)
    reacting = Reacting.SLOW if logic is Logic.SLOW else Reacting.DECLARED
    controllers = None if arbitrary else Controllers(spec, draft, faults, phrases, reacting)
    failures = Failures(spec, draft, phrases, plant, controllers)

    plant.variables()
    if controllers is not None:
        controllers.variables()
    else:
        _command_variables(spec, draft)
    failures.variables()
    signals.variables(links=not arbitrary)

    plant.actions()
    _strengthen(spec, draft, phrases, plant)
    signals.actions(links=not arbitrary)
    if controllers is not None:
        controllers.actions()
    failures.actions()
    if arbitrary:
        _command_actions(spec, draft)

    asked: list[Hazard | Rule] = [*spec.hazards, *spec.rules]
    properties = tuple(
        hazard_property(one, draft, phrases) if isinstance(one, Hazard) else rule_property(one, draft, phrases)
        for one in asked
        if not (arbitrary and names_logic(spec, one))
    )
    conditions = tuple(
        (name, phrases.expression(formula))
        for name, formula, _ in spec.conditions
        if not (arbitrary and _names_logic(spec, formula))
    )
    system = System(
        title=spec.title,
        variables=tuple(draft.variables.values()),
        start=tuple(_starts(spec, draft, signals)),
        actions=tuple(draft.actions),
        modes=tuple(draft.modes),
        properties=properties,
        conditions=conditions,
        origin=draft.origin,
        tick_s=draft.tick_s,
    )
    return replace(system, digest=digest_of(system))


def expression_of(spec: Spec, formula: Formula) -> Expression:
    """A formula of the spec as an expression over its declared core."""
    return _phrases(spec).expression(formula)


def commands_of(spec: Spec) -> tuple[tuple[str, Expression], ...]:
    """When each command that some step drives is given, as an expression over the declared core."""
    phrases = _phrases(spec)
    driven = {command for sequence in spec.sequences for step in sequence.steps for command in step.drives}
    return tuple((command, phrases.given(command)) for command in spec.commands if command in driven)


def _phrases(spec: Spec) -> Phrases:
    """What reads formulas, over the variables of the declared core."""
    draft = Draft(tick_of(spec))
    faults = Faults(spec)
    phrases = Phrases(spec, draft, faults, free_commands=False)
    plant = Plant(spec, draft, faults, phrases)
    controllers = Controllers(spec, draft, faults, phrases, Reacting.DECLARED)
    plant.variables()
    controllers.variables()
    Failures(spec, draft, phrases, plant, controllers).variables()
    Signals(spec, draft, faults, phrases).variables(links=True)
    return phrases


def _strengthen(spec: Spec, draft: Draft, phrases: Phrases, plant: Plant) -> None:
    """Assumptions strengthen the guards of the free moves they name."""
    for i, action in enumerate(draft.actions):
        assumed = [a for a in spec.assumptions if action.id in a.strengthens]
        if assumed and action.kind is ActionKind.FREE:
            draft.actions[i] = stronger = _with_guard(action, assumed, phrases)
            for k, making in enumerate(plant.makings):
                if making.action is action:
                    plant.makings[k] = replace(making, action=stronger)


def _with_guard(action: Action, assumed: list[Assumption], phrases: Phrases) -> Action:
    return replace(action, guard=conjunction((action.guard, *(phrases.expression(a.condition) for a in assumed))))


def _starts(spec: Spec, draft: Draft, signals: Signals) -> Iterator[Valuation]:
    """Every combination of the items' start states; signals start as what is true then."""
    counts = 1
    for item in spec.items:
        counts *= len(item.start)
    if counts > MAX_STARTS:
        raise TooManyStarts(counts)
    names = list(draft.variables)
    for chosen in product(*(item.start for item in spec.items)):
        now = dict(draft.default)
        for item, value in zip(spec.items, chosen, strict=True):
            now[item.id] = index_of(draft.variables[item.id].values, value)
        for variable, shown in signals.starting:
            domain = draft.variables[variable].values
            now[variable] = next(i for i, value in enumerate(domain) if _true(shown((value,)), now))
        yield tuple(now[name] for name in names)


def _true(expression: Expression, now: dict[str, int]) -> bool:
    def combine(node: Expression, operands: tuple[bool, ...]) -> bool:
        if node.kind is Kind.CONSTANT:
            return node.values[0] == 1
        if node.kind is Kind.IN:
            return now[node.name] in node.values
        if node.kind is Kind.NOT:
            return not operands[0]
        if node.kind is Kind.OR:
            return any(operands)
        if node.kind is Kind.AT_MOST:
            return sum(operands) <= node.values[0]
        return all(operands)

    return fold(expression, combine)


# --- logic replaced by arbitrary commands ---

CHOOSING = "commands being chosen"


def _command_variables(spec: Spec, draft: Draft) -> None:
    draft.variable(CHOOSING, (False, True), VariableKind.COMMAND, False, "arbitrary commands are being set", None)
    for command in spec.commands:
        draft.variable(f"command {command}", (False, True), VariableKind.COMMAND, False, command, None)


def _command_actions(spec: Spec, draft: Draft) -> None:
    """Between two events any set of commands may change at once: while commands are being chosen nothing else happens,
    and a situation in which they are is passing."""
    choosing = draft.has(CHOOSING, True)
    quiet = negate(choosing)
    draft.actions = [replace(a, guard=conjunction((a.guard, quiet))) for a in draft.actions]
    consequence = (ActionKind.CONSEQUENCE, Tier.CONSEQUENCE)
    draft.action("commands", "begin to change", ActionKind.FREE, Tier.OTHER, quiet, (draft.to(CHOOSING, True),), None)
    for command in spec.commands:
        name = f"command {command}"
        now = draft.has(name, True)
        flip = (Assignment(name, ((now, 0), (negate(now), 1))),)
        draft.action(name, "changes", *consequence, choosing, flip, None)
    draft.action("commands", "are set", *consequence, choosing, (draft.to(CHOOSING, False),), None)


def names_logic(spec: Spec, one: Hazard | Rule) -> bool:
    """Whether a rule or hazard speaks of steps, memories or links."""
    if isinstance(one, Hazard):
        return _names_logic(spec, one.happens)
    formulas = (one.condition, one.must, one.first, one.since, one.unless, one.start)
    return any(_names_logic(spec, formula) for formula in formulas if formula is not None)


def _names_logic(spec: Spec, formula: Formula) -> bool:
    conditions = {name: inner for name, inner, _ in spec.conditions}
    stack = [formula]
    while stack:
        node = stack.pop()
        if isinstance(node, Condition):
            stack.append(conditions[node.id])
        if any(ref.thing in (Thing.STEP, Thing.MEMORY, Thing.CARRIED, Thing.LINK) for ref in refs_of(node)):
            return True
        stack.extend(operands_of(node))
    return False
