"""Times of a spec, measured: from one condition to another, and how near each deadline comes to being missed.

In: a spec. Out: a `TimingResult`. A rule `after ... within` is exposed from its condition until what it demands, or
what excuses it, holds; a rule `lasts`, or a hazard that may not last longer than a time, while its condition holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from interlock.analysis.check import heading_of
from interlock.analysis.extremes import Asked, Stopwatch
from interlock.analysis.grid import withstands_of
from interlock.analysis.options import Options
from interlock.analysis.result_stop import TimingResult
from interlock.analysis.result_timing import Exposure, Extreme, Length, MeasuredBetween
from interlock.analysis.stop import stop_result
from interlock.analysis.telling import asked_text
from interlock.core.elaborate import elaborate, expression_of
from interlock.core.question import Verdict
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.logic.expression import disjunction, has_was
from interlock.logic.formula import Formula
from interlock.spec.model import Spec

CODES = {Verdict.HOLDS: 0, Verdict.FAILS: 1, Verdict.UNDECIDED: 3}


@dataclass(frozen=True, slots=True)
class Between:
    """From one condition to another: each as a formula over the spec, and as the user wrote it."""

    begins: Formula
    ends: Formula
    begins_text: str
    ends_text: str


def timing(spec: Spec, between: Between | None, options: Options, *, only_stop: bool = False) -> TimingResult:
    """Measure with up to `options.failures` failures (None: 0). FAILS: what is asked for never comes, or a limit that
    is claimed for so many failures is exceeded, or the stop budget is not met. UNDECIDED also where there is nothing to
    measure. `only_stop`: the stop budget alone."""
    system = elaborate(spec)
    failures = options.failures or 0
    stopwatch = Stopwatch(system, options.limits, failures)
    heading = heading_of(spec, system)
    if between is not None:
        begins, ends = (expression_of(spec, one) for one in (between.begins, between.ends))
        measured = stopwatch.measure(Asked(begins, ends))
        verdict = Verdict.HOLDS if measured.decided else Verdict.UNDECIDED
        if measured.earliest.never:
            verdict = Verdict.FAILS
        told = MeasuredBetween(between.begins_text, between.ends_text, measured)
        return TimingResult(heading, failures, verdict, CODES[verdict], between=told)
    stated = {one.id: (one.words, one.withstands) for one in spec.rules}
    stated |= {one.id: (one.words, withstands_of(spec, one)) for one in spec.hazards}
    rows = [
        row
        for rule in system.properties
        if rule.within is not None and not only_stop and (not options.only or rule.id in options.only)
        for row in _exposures(system, rule, stated[rule.id], stopwatch, failures)
    ]
    stop = None
    if spec.stop_budget is not None and not options.only:
        stop = stop_result(spec, system, spec.stop_budget, options.limits)
    verdicts = [row.verdict for row in rows if row.claimed]
    verdicts += () if stop is None else stop.verdicts
    worst = next((one for one in (Verdict.FAILS, Verdict.UNDECIDED) if one in verdicts), Verdict.HOLDS)
    verdict = worst if rows or stop is not None else Verdict.UNDECIDED
    return TimingResult(heading, failures, verdict, CODES[verdict], exposures=tuple(rows), stop=stop)


def speaks_of_an_event(spec: Spec, formula: Formula) -> bool:
    """Whether a condition needs an event to be judged: it has `was` or `becomes` in it."""
    return has_was(expression_of(spec, formula))


def _exposures(
    system: System, rule: Property, stated: tuple[str, int], stopwatch: Stopwatch, failures: int
) -> Iterator[Exposure]:
    words, withstands = stated
    claimed = failures <= withstands
    within = rule.within or TickWindow()
    closes = [one for one in (rule.must, rule.unless) if one is not None]
    asked = Asked(rule.condition, disjunction(closes) if rule.kind is PropertyKind.AFTER else None)
    says = asked_text(system, rule)
    if within.latest is not None:
        allowed = Length(within.latest, within.latest_open)
        measured = stopwatch.latest(asked)
        verdict, slack = _judged(measured, allowed, longest=True)
        yield Exposure(rule.id, rule.hazard, words, says, True, allowed, measured, verdict, slack, claimed)
    if rule.kind is PropertyKind.LASTS and (within.earliest or within.earliest_open):
        allowed = Length(within.earliest, within.earliest_open)
        measured = stopwatch.earliest(asked)
        verdict, slack = _judged(measured, allowed, longest=False)
        yield Exposure(rule.id, rule.hazard, words, says, False, allowed, measured, verdict, slack, claimed)


def _judged(measured: Extreme, allowed: Length, *, longest: bool) -> tuple[Verdict, int | None]:
    """Whether what is measured keeps to the time, and what is left of it if that is known exactly."""
    if measured.endless:
        return Verdict.FAILS, None
    if measured.never:
        return Verdict.HOLDS, None
    if measured.length is not None and _breaks(measured.length, allowed, longest=longest):
        exact = measured.verdict is Verdict.HOLDS
        return Verdict.FAILS, _left(measured.length, allowed, longest=longest) if exact else None
    if measured.verdict is Verdict.HOLDS and measured.length is not None:
        return Verdict.HOLDS, _left(measured.length, allowed, longest=longest)
    if measured.proved is not None and not _breaks(measured.proved, allowed, longest=longest):
        return Verdict.HOLDS, None
    return Verdict.UNDECIDED, None


def _left(length: Length, allowed: Length, *, longest: bool) -> int:
    return allowed.ticks - length.ticks if longest else length.ticks - allowed.ticks


def _breaks(length: Length, allowed: Length, *, longest: bool) -> bool:
    """Whether some run with such an extreme breaks the time that is allowed."""
    if length.ticks == allowed.ticks:
        return allowed.open and not length.open
    return (length.ticks > allowed.ticks) == longest
