"""The whole check of a spec: grid, findings, honesty checks, what was assumed and what was not checked.

In: a `Spec` and options. Out: a `CheckResult`. Nothing is printed and no file is touched.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.analysis.expected import expected
from interlock.analysis.findings import failures_without_effect, finding, findings_of
from interlock.analysis.grid import Claim, Row, claims_of, judge_all, rows_of
from interlock.analysis.honesty import emptied_rules, slow_logic, with_arbitrary_logic, without_assumption
from interlock.analysis.inquiry import Inquiry
from interlock.analysis.loose_ends import loose_ends
from interlock.analysis.options import Options
from interlock.analysis.result import (
    ALL_FINDINGS,
    Assumed,
    CheckResult,
    EngineUse,
    Finding,
    Heading,
    Judged,
    NotChecked,
)
from interlock.analysis.survey import Surveys, survey_all
from interlock.analysis.time_stops import time_stops
from interlock.core.elaborate import elaborate
from interlock.core.question import Timing, Verdict
from interlock.core.system import ON_GRAPHS, Property, System
from interlock.diag.diagnostic import Severity
from interlock.engines.scenario import limit_words
from interlock.engines.table import pick
from interlock.spec.model import Spec


def check(spec: Spec, options: Options) -> CheckResult:
    """Judge everything. EngineFault if engines disagree; KeyError with an id in `options.only` that the spec lacks."""
    system = elaborate(spec)
    for id in options.only:
        system.property(id)
    engine = pick(options.engine)
    inquiry = Inquiry(system, engine, options.limits)
    claims = claims_of(spec, inquiry, options.only)
    surveys = survey_all(spec, system, engine, options.survey_limits, _most(spec, claims, options))
    inquiry.settles = surveys.settles

    def known(asked: Property, row: Row) -> Verdict | None:
        return None if row.common_cause else surveys.known(asked, row.failures)

    judged = judge_all(spec, inquiry, claims, options, known)
    slow = slow_logic(spec, engine, options.side_limits, judged)
    judged = tuple(replace(one, slow_logic=slow.get(one.id)) for one in judged)

    findings: list[Finding] = []
    not_checked: list[NotChecked] = [*_not_checked(spec, surveys), *_times_not_known(judged)]
    if not options.only:
        findings += [*findings_of(surveys, inquiry, judged), *failures_without_effect(surveys), *loose_ends(spec)]
        for result in with_arbitrary_logic(spec, engine, options.side_limits):
            if isinstance(result, Finding):
                findings.append(result)
            else:
                not_checked.append(result)
        most = len(surveys.by_failures) - 1
        stops, open_still = time_stops(spec, system, options.side_limits, most, settles=surveys.settles)
        findings += stops
        not_checked += open_still
    else:
        not_checked.append(NotChecked(ALL_FINDINGS, "only some rules were asked for"))
    assumptions, more, unknown = _assumptions(spec, options, inquiry, claims, judged, findings)
    findings += more
    not_checked += unknown
    findings.sort(key=_finding_order)
    rules = tuple(one for one in judged if not one.hazard)
    hazards = tuple(one for one in judged if one.hazard)
    verdict, code = _verdict(judged, tuple(findings))
    return CheckResult(
        heading=heading_of(spec, system),
        verdict=verdict,
        exit_code=code,
        rules=rules,
        hazards=hazards,
        findings=tuple(findings),
        assumptions=assumptions,
        engines=_engines(surveys, judged),
        not_checked=tuple(not_checked),
        n_items=len(spec.items),
        n_failures=len(spec.failures),
        expected=expected(spec, judged),
        worked_out=spec.worked_out,
        taken=spec.taken,
    )


def heading_of(spec: Spec, system: System) -> Heading:
    """What is being checked."""
    return Heading(
        title=spec.title,
        revision=spec.revision,
        prepared_by=spec.prepared_by,
        standards=spec.standards,
        file=spec.file,
        file_digest=spec.digest,
        system_digest=system.digest,
        tick_s=system.tick_s,
        based_on=tuple((one.file, one.digest) for one in spec.based_on),
    )


def _most(spec: Spec, claims: tuple[Claim, ...], options: Options) -> int:
    most = max((row.failures for claim in claims for row in rows_of(spec, claim, options.failures)), default=0)
    return max(most, 1) if spec.failures and not options.only else most


def _verdict(judged: tuple[Judged, ...], findings: tuple[Finding, ...]) -> tuple[Verdict, int]:
    """The verdict of the whole and the exit code. Nothing judged is never success."""
    if any(one.verdict is Verdict.FAILS for one in judged):
        return Verdict.FAILS, 1
    undecided = not judged or any(one.verdict is Verdict.UNDECIDED for one in judged)
    verdict = Verdict.UNDECIDED if undecided else Verdict.HOLDS
    if any(one.is_error for one in findings):
        return verdict, 1
    return verdict, 3 if undecided else 0


def _not_checked(spec: Spec, surveys: Surveys) -> list[NotChecked]:
    found = []
    for failures, survey in enumerate(surveys.by_failures):
        if survey.limit is not None:
            what = f"what is never reached, never happens or never false, with {failures} failures"
            found.append(NotChecked(what, survey.limit))
        elif survey.not_compared is not None:
            what = f"whether the order of logic decides where things settle, with {failures} failures"
            found.append(NotChecked(what, survey.not_compared))
    return found


def _times_not_known(judged: tuple[Judged, ...]) -> list[NotChecked]:
    """Of rules judged on graphs: which times they rest on."""
    on_graphs = {kind.value for kind in ON_GRAPHS}
    holding = [one for one in judged if one.kind in on_graphs and one.verdict is Verdict.HOLDS]
    return [
        NotChecked(f"which times {one.id} rests on", "more than is looked at to find that out")
        for one in holding
        if one.rests_on is None
    ]


def _assumptions(
    spec: Spec,
    options: Options,
    inquiry: Inquiry,
    claims: tuple[Claim, ...],
    judged: tuple[Judged, ...],
    findings: list[Finding],
) -> tuple[tuple[Assumed, ...], list[Finding], list[NotChecked]]:
    assumed, more, unknown = [], [], []
    limits = options.side_limits
    empty = tuple(
        rule.id
        for rule in spec.rules
        if any(f.diagnostic.kind == "rule-says-nothing" and f"`{rule.id}`" in f.diagnostic.headline for f in findings)
    )
    for assumption in spec.assumptions:
        rests, open_still = without_assumption(spec, assumption.id, inquiry.engine, limits, claims, judged)
        if open_still:
            what = f"whether {_listed(open_still)} on assumption {assumption.id}"
            unknown.append(NotChecked(what, limit_words(limits)))
        assumed.append(Assumed(assumption.id, assumption.words, assumption.owner, rests))
        if rests:
            headline = f"{_listed(rests)} on assumption `{assumption.id}`"
            more.append(finding("rests-on-an-assumption", headline, assumption.span, "confirm the assumption on site"))
        for rule in emptied_rules(spec, assumption.id, inquiry.engine, limits, empty):
            headline = f"assumption `{assumption.id}` empties rule `{rule}`: without it, its trigger occurs"
            more.append(finding("assumption-empties-rule", headline, assumption.span))
    for sequence in spec.sequences:
        if sequence.reacts is None:
            fast = tuple(one.id for one in judged if one.slow_logic is Verdict.FAILS)
            words = f"the logic of `{sequence.id}` is faster than anything in the plant"
            assumed.append(Assumed(f"{sequence.id} reacts immediately", words, "", fast))
    return tuple(assumed), more, unknown


def _listed(ids: tuple[str, ...]) -> str:
    verb = "rests" if len(ids) == 1 else "rest"
    return f"{', '.join(ids)} {verb}"


def _engines(surveys: Surveys, judged: tuple[Judged, ...]) -> tuple[EngineUse, ...]:
    """Who decided what: the surveys and what goes with them for any timing, then who was asked in declared timing."""
    used = []
    in_time = _in_time(judged)
    by_time = {(use.failures, id) for use in in_time for id in use.decided}
    for failures, survey in enumerate(surveys.by_failures):
        decided = tuple(
            one.id
            for one in judged
            if (failures, one.id) not in by_time
            and any(n == failures and not common and v is not Verdict.UNDECIDED for n, common, v in one.combined)
        )
        whole = survey.limit is None
        counted = [one for _, one in survey.parts]
        name = " and ".join(dict.fromkeys(one.engine for one in counted))
        used.append(
            EngineUse(
                name,
                failures,
                decided,
                sum(one.counts.settled for one in counted) if whole else None,
                sum(one.counts.passing for one in counted) if whole else None,
                sum(one.counts.events for one in counted) if whole else None,
                survey.limit,
                len(counted),
            )
        )
    return (*used, *in_time)


def _in_time(judged: tuple[Judged, ...]) -> tuple[EngineUse, ...]:
    """What was decided by exploring the declared timing, for each number of failures."""
    decided: dict[tuple[int, str], list[str]] = {}
    limits: dict[tuple[int, str], list[str]] = {}
    for one in judged:
        for cell in one.grid:
            if cell.timing is Timing.DECLARED and cell.engine and not cell.common_cause:
                key = (cell.failures, cell.engine)
                decided.setdefault(key, []).extend([] if cell.verdict is Verdict.UNDECIDED else [one.id])
                limits.setdefault(key, []).extend([] if cell.limit is None else [cell.limit])
    return tuple(
        EngineUse(
            name,
            failures,
            tuple(decided[failures, name]),
            None,
            None,
            None,
            "; ".join(dict.fromkeys(limits[failures, name])) or None,
            timing=Timing.DECLARED,
        )
        for failures, name in sorted(decided)
    )


def _finding_order(one: Finding) -> tuple[int, str, int, int, str, str]:
    diagnostic = one.diagnostic
    rank = 0 if diagnostic.severity is Severity.ERROR else 1
    if diagnostic.at is None:
        return (rank, "", 0, 0, diagnostic.kind, diagnostic.headline)
    span = diagnostic.at.span
    return (rank, span.file, span.line, span.column, diagnostic.kind, diagnostic.headline)
