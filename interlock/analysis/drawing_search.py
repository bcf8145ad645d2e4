"""The scenario that a picture shows, looked for as `check` and `find` look.

In: a spec; a rule or hazard, or a condition to look for; how many failures to allow; which reading of time. The engine
is asked with no failure, then one and so on, and the first scenario is taken: for any timing first, then, where windows
bear on it, for the declared timing, which has the last word. Out: a `Found`, or why there is none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from interlock.analysis.grid import DEADLINE, TIMED, in_time, left_open, withstands_of
from interlock.analysis.inquiry import Asked, Inquiry
from interlock.analysis.options import Options
from interlock.analysis.result import ToldScenario
from interlock.analysis.telling import Observed, asked_text
from interlock.core.elaborate import elaborate, expression_of
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind, System
from interlock.engines.table import pick
from interlock.logic.expression import has_was
from interlock.logic.formula import Formula
from interlock.spec.model import Spec

SOUGHT = "what was asked for"
NO_TIMES = "what repeats for ever, or has no times, is not drawn against time; the picture `scenario` shows it"
ANY_ALONE = "for any timing alone there are no times"


@dataclass(frozen=True, slots=True)
class NoScenario:
    """There is no scenario to draw: why, in words. `limit`: it was not decided, as a limit was hit."""

    why: str
    limit: bool


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for: a property of the system, with at most so many failures. `heading`: in words. `id`: of the
    rule or hazard (empty: a condition)."""

    system: System
    asked: Property
    most: int
    heading: str
    id: str


@dataclass(frozen=True, slots=True)
class Found:
    """A scenario that was found. `says`: what was asked, in the words of the language (empty: as the heading says).
    `timed`: it is one of the declared timing, so its events have times. `unless_timing`: of any timing, and the
    declared one may forbid it."""

    wanted: Wanted
    told: ToldScenario
    says: str
    timed: bool
    unless_timing: bool


def wanted_rule(spec: Spec, id: str, options: Options) -> Wanted:
    """A rule or hazard, with as many failures as `options.failures` (None: as many as it claims to withstand)."""
    system = elaborate(spec)
    asked = system.property(id)
    most = _claimed(spec, id) if options.failures is None else options.failures
    told = {rule.id: rule.words for rule in spec.rules} | {hazard.id: hazard.words for hazard in spec.hazards}
    sort = "hazard" if asked.hazard else "rule"
    return Wanted(system, asked, most, f"{sort} {id}" + (f": {told[id]}" if told[id] else ""), id)


def wanted_condition(spec: Spec, formula: Formula, text: str, options: Options) -> Wanted:
    """A condition, with as many failures as `options.failures` (None: none)."""
    system = elaborate(spec)
    condition = expression_of(spec, formula)
    asked = Property(SOUGHT, PropertyKind.POSSIBLE, False, condition, every_event=has_was(condition))
    system = replace(system, properties=(*system.properties, asked))
    return Wanted(system, asked, options.failures or 0, f"a way to {text}", "")


def _claimed(spec: Spec, id: str) -> int:
    for rule in spec.rules:
        if rule.id == id:
            return rule.withstands
    return next(withstands_of(spec, hazard) for hazard in spec.hazards if hazard.id == id)


def look_for(
    wanted: Wanted, options: Options, *, with_times: bool = False, observed: Observed = ()
) -> Found | NoScenario:
    """The first scenario. `with_times`: only one of the declared timing will do, even where no window bears on it.
    `observed`: conditions whose values on the way are wanted."""
    if not options.declared_timing and (with_times or wanted.asked.kind in TIMED):
        return NoScenario(f"{wanted.id or SOUGHT}: {DEADLINE if wanted.asked.kind in TIMED else ANY_ALONE}", limit=True)
    inquiry = Inquiry(wanted.system, pick(options.engine), options.limits, observed=observed)
    for failures in range(wanted.most + 1):
        question = Question(wanted.asked.id, budget=failures)
        answer = _answer(inquiry, wanted.asked, question, options, with_times)
        found = _taken(wanted, answer, with_times)
        if found is not None:
            return found
    return _none(wanted, options)


def _answer(inquiry: Inquiry, asked: Property, question: Question, options: Options, with_times: bool) -> Asked:
    """The answer that counts: of the declared timing if it was asked and says something; else of any timing, with the
    reason why the declared one says nothing."""
    kind = asked.kind
    plain = None if kind in TIMED else inquiry.ask(question)
    open_yet = options.declared_timing and left_open(inquiry, kind, question, plain)
    if plain is not None and not open_yet and not (with_times and plain.told is not None):
        return plain
    (declared,) = inquiry.ask_in_time((in_time(question),))
    if plain is None or declared.verdict is not Verdict.UNDECIDED:
        return declared
    return replace(plain, limit=declared.limit or plain.limit)


def _taken(wanted: Wanted, answer: Asked, with_times: bool) -> Found | NoScenario | None:
    """What an answer comes to; None: with so many failures there is no scenario."""
    timed = answer.question.timing is Timing.DECLARED
    told = answer.told
    if told is not None and with_times and not (timed and _has_times(told)):
        return NoScenario(answer.limit or NO_TIMES, limit=True)
    if told is not None:
        says = asked_text(wanted.system, wanted.asked) if wanted.id else ""
        return Found(wanted, told, says, timed, not timed and answer.windows)
    if answer.verdict is Verdict.UNDECIDED:
        return NoScenario(answer.limit or "it stayed undecided", limit=True)
    return None


def _has_times(told: ToldScenario) -> bool:
    """Whether all events have times, and it comes to an end."""
    return told.loop_from is None and all(event.at is not None for event in told.events)


def _none(wanted: Wanted, options: Options) -> NoScenario:
    most = wanted.most
    allowed = f"with {most} failure{'s' if most > 1 else ''} or fewer" if most else "without failures"
    if wanted.asked.kind is PropertyKind.POSSIBLE:
        return NoScenario(f"there is no way to it {allowed}", limit=False)
    return NoScenario(f"{wanted.id} holds {allowed}", limit=False)
