"""Checks that keep an author honest: are hazards wider than the rules against them, is it the plant model that holds
them, which results rest on an assumption, and which only on logic that outruns the plant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from interlock.analysis.findings import finding
from interlock.analysis.grid import TIMED, Claim, withstands_of
from interlock.analysis.inquiry import Asked, Inquiry
from interlock.analysis.result import Finding, Judged, NotChecked
from interlock.core.elaborate import Logic, elaborate, names_logic
from interlock.core.question import Question, Verdict
from interlock.core.system import PropertyKind
from interlock.engines.api import Engine, Limits
from interlock.spec.model import Spec

ANSWERED_FOR_ANY_TIMING = (PropertyKind.NEVER, PropertyKind.BEFORE)


def with_arbitrary_logic(spec: Spec, engine: Engine, limits: Limits) -> Iterator[Finding | NotChecked]:
    """Hazards with the logic replaced by arbitrary commands: held by the plant alone? wider than the rules against
    them?"""
    if not spec.hazards or not spec.commands:
        return
    inquiry = Inquiry(elaborate(spec, Logic.ARBITRARY), engine, limits)
    known = {asked.id: asked for asked in inquiry.system.properties}
    timed = [h for h in spec.hazards if h.id not in known or known[h.id].kind is not PropertyKind.NEVER]
    for hazard in timed:
        yield NotChecked(f"whether {hazard.id} is wider than its rules", "it needs the declared timing")
    hazards = [hazard for hazard in spec.hazards if hazard not in timed]
    questions = tuple(Question(hazard.id, budget=withstands_of(spec, hazard)) for hazard in hazards)
    for hazard, question, free in zip(hazards, questions, inquiry.ask_all(questions), strict=True):
        if free.verdict is Verdict.UNDECIDED:
            yield _beyond(hazard.id, question.budget, free)
            free = inquiry.ask(replace(question, budget=0))
            if free.verdict is not Verdict.FAILS:
                continue
        if free.verdict is Verdict.HOLDS:
            if hazard.safety:
                yield finding(
                    "held-by-the-plant",
                    f"hazard `{hazard.id}` cannot happen whatever the logic commands: the plant model holds it",
                    hazard.span,
                    "check that the equipment really cannot do it; if it can, give it the move",
                )
            continue
        guarding = [rule for rule in spec.rules if hazard.id in rule.guards_against]
        if not guarding:
            continue
        usable = [
            rule.id
            for rule in guarding
            if rule.id in known and known[rule.id].kind in ANSWERED_FOR_ANY_TIMING and not names_logic(spec, rule)
        ]
        left_out = [rule.id for rule in guarding if rule.id not in usable]
        cut = inquiry.ask(replace(question, cut=tuple(usable)))
        if cut.verdict is Verdict.UNDECIDED:
            yield _beyond(hazard.id, question.budget, cut)
            cut = inquiry.ask(replace(question, budget=0, cut=tuple(usable)))
        if cut.verdict is Verdict.FAILS:
            without = f" (left out, since they name steps or need time: {', '.join(left_out)})" if left_out else ""
            yield finding(
                "hazard-wider-than-rules",
                f"hazard `{hazard.id}` can happen though every rule that guards against it is kept{without}",
                hazard.span,
                "widen a rule, add one, or say in a rule what keeps the hazard away",
                scenario=cut.told,
            )


def _beyond(id: str, failures: int, asked: Asked) -> NotChecked:
    """What a limit left open; it is asked again without failures, which may still show a way."""
    many = f"with up to {failures} failure{'s' if failures != 1 else ''}" if failures else "without failures"
    return NotChecked(f"whether {id} is wider than its rules, {many}", asked.limit or "a limit was hit")


def slow_logic(spec: Spec, engine: Engine, limits: Limits, judged: tuple[Judged, ...]) -> dict[str, Verdict]:
    """The verdict of each rule and hazard that holds, with logic that reacts immediately taken to be slow."""
    if all(sequence.reacts is not None for sequence in spec.sequences):
        return {}
    inquiry = Inquiry(elaborate(spec, Logic.SLOW), engine, limits)
    holding = [
        one
        for one in judged
        if one.verdict is Verdict.HOLDS and inquiry.system.property(one.id).kind in ANSWERED_FOR_ANY_TIMING
    ]
    answers = inquiry.ask_all(tuple(Question(one.id, budget=one.withstands) for one in holding))
    return {one.id: answer.verdict for one, answer in zip(holding, answers, strict=True)}


def without_assumption(
    spec: Spec, id: str, engine: Engine, limits: Limits, claims: tuple[Claim, ...], judged: tuple[Judged, ...]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The rules and hazards that hold, but no longer when the assumption is dropped; and those for which that is not
    known, because a limit was hit."""
    dropped = replace(spec, assumptions=tuple(a for a in spec.assumptions if a.id != id))
    inquiry = Inquiry(elaborate(dropped), engine, limits)
    verdicts = {one.id: one.verdict for one in judged}
    holding = [c for c in claims if verdicts[c.property.id] is Verdict.HOLDS and c.property.kind not in TIMED]
    answers = inquiry.ask_all(tuple(Question(claim.property.id, budget=claim.withstands) for claim in holding))

    def those(verdict: Verdict) -> tuple[str, ...]:
        pairs = zip(holding, answers, strict=True)
        return tuple(claim.property.id for claim, answer in pairs if answer.verdict is verdict)

    return those(Verdict.FAILS), those(Verdict.UNDECIDED)


def emptied_rules(spec: Spec, id: str, engine: Engine, limits: Limits, empty: tuple[str, ...]) -> tuple[str, ...]:
    """Of the rules that say nothing, those whose trigger occurs once the assumption is dropped: it empties them."""
    dropped = replace(spec, assumptions=tuple(a for a in spec.assumptions if a.id != id))
    inquiry = Inquiry(elaborate(dropped), engine, limits)
    found = []
    for rule in empty:
        asked = inquiry.system.property(rule)
        if asked.trigger is not None:
            occurs = replace(asked, id=f"{rule} is triggered", kind=PropertyKind.NEVER, condition=asked.trigger)
            occurs = replace(occurs, first=None, since=None, must=None, unless=None, start=None, helped_by=())
            answer = inquiry.ask_about(occurs, Question(occurs.id))
            if answer.verdict is Verdict.FAILS:
                found.append(rule)
    return tuple(found)
