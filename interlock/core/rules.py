"""Rules and hazards of a spec as properties of the core."""

from __future__ import annotations

from fractions import Fraction

from interlock.core.draft import Draft
from interlock.core.phrases import Phrases
from interlock.core.system import Origin, Property, PropertyKind, TickWindow
from interlock.logic.expression import Expression, conjunction, negate
from interlock.logic.formula import Condition, Formula, Was, operands_of
from interlock.spec.model import Hazard, Rule, RuleKind

KINDS = {
    RuleKind.NEVER: PropertyKind.NEVER,
    RuleKind.WHILE: PropertyKind.NEVER,
    RuleKind.BEFORE: PropertyKind.BEFORE,
    RuleKind.AFTER: PropertyKind.AFTER,
    RuleKind.LASTS: PropertyKind.LASTS,
    RuleKind.POSSIBLE: PropertyKind.POSSIBLE,
    RuleKind.ALWAYS_POSSIBLE: PropertyKind.ALWAYS_POSSIBLE,
    RuleKind.ALWAYS_ENDS: PropertyKind.ALWAYS_ENDS,
}


def speaks_of_events(formula: Formula, phrases: Phrases) -> bool:
    """Whether a formula is written with `was` or `becomes`, even if that comes to nothing in the end."""
    if isinstance(formula, Condition):
        return speaks_of_events(phrases.conditions[formula.id], phrases)
    return isinstance(formula, Was) or any(speaks_of_events(part, phrases) for part in operands_of(formula))


def rule_property(rule: Rule, draft: Draft, phrases: Phrases) -> Property:
    """The property of a rule."""

    def maybe(formula: Formula | None) -> Expression | None:
        return None if formula is None else phrases.expression(formula)

    eventful = speaks_of_events(rule.condition, phrases)
    condition = phrases.expression(rule.condition)
    must = maybe(rule.must)
    start = maybe(rule.start)
    trigger: Expression | None = None
    if rule.kind is RuleKind.WHILE:
        assert must is not None
        assert rule.must is not None
        eventful = eventful or speaks_of_events(rule.must, phrases)
        trigger, condition, must = condition, conjunction((condition, negate(must))), None
    elif rule.kind in (RuleKind.BEFORE, RuleKind.AFTER, RuleKind.LASTS):
        trigger = condition
    elif rule.kind is RuleKind.ALWAYS_ENDS:
        trigger = start
    draft.origin[rule.id] = Origin(rule.words, rule.span)
    return Property(
        rule.id,
        KINDS[rule.kind],
        False,
        condition,
        first=maybe(rule.first),
        since=maybe(rule.since),
        must=must,
        unless=maybe(rule.unless),
        start=start,
        trigger=trigger,
        within=None if rule.within is None else draft.window(rule.within),
        helped_by=rule.helped_by,
        every_event=eventful,
        passing=rule.passing,
    )


def hazard_property(hazard: Hazard, draft: Draft, phrases: Phrases) -> Property:
    """The property of a hazard: its situation is never reached, or never lasts longer than stated."""
    condition = phrases.expression(hazard.happens)
    draft.origin[hazard.id] = Origin(hazard.words, hazard.span)
    if hazard.longer_than_s is None:
        return Property(
            hazard.id,
            PropertyKind.NEVER,
            True,
            condition,
            every_event=speaks_of_events(hazard.happens, phrases),
            passing=hazard.passing,
        )
    within = TickWindow(0, draft.ticks(Fraction(hazard.longer_than_s)))
    return Property(hazard.id, PropertyKind.LASTS, True, condition, trigger=condition, within=within)
