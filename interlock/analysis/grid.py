"""The verdict grid: every rule and hazard, for each number of failures, for any and for the declared timing.

How the timings combine is the table of 2-meaning, section 3: what holds for any timing holds; what fails for any timing
is as the declared timing says, unless no window bears on it, when the two readings are one. So the declared timing is
asked only where any timing leaves something open.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from interlock.analysis.common_causes import alone, together
from interlock.analysis.inquiry import Asked, Inquiry
from interlock.analysis.margins import margins
from interlock.analysis.options import Options
from interlock.analysis.result import Cell, Judged
from interlock.analysis.telling import asked_text, bound_text
from interlock.core.question import Bound, Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind
from interlock.diag.place import Span
from interlock.spec.model import Hazard, Rule, Spec

NOT_ASKED = "the declared timing was not asked for"
ONE_READING = "no window bears on it: the same for any timing"
DEADLINE = "a deadline has a verdict for the declared timing only"

WORST = (Verdict.FAILS, Verdict.UNDECIDED, Verdict.HOLDS)


@dataclass(frozen=True, slots=True)
class Claim:
    """A rule or hazard as it is claimed: how many failures it withstands, what it guards against."""

    property: Property
    kind: str
    hazard: bool
    words: str
    severity: str
    guards_against: tuple[str, ...]
    withstands: int
    even_common_cause: bool
    place: Span | None


def claims_of(spec: Spec, inquiry: Inquiry, only: tuple[str, ...] = ()) -> tuple[Claim, ...]:
    """The claims of a spec, hazards first, in file order; `only` picks ids (empty: all)."""
    claims = [_hazard_claim(spec, hazard, inquiry) for hazard in spec.hazards]
    claims += [_rule_claim(rule, inquiry) for rule in spec.rules]
    return tuple(claim for claim in claims if not only or claim.property.id in only)


def withstands_of(spec: Spec, hazard: Hazard) -> int:
    """How many failures a hazard is claimed to withstand: its own number, else the largest among its rules, else 0."""
    if hazard.withstands is not None:
        return hazard.withstands
    return max((rule.withstands for rule in spec.rules if hazard.id in rule.guards_against), default=0)


def _hazard_claim(spec: Spec, hazard: Hazard, inquiry: Inquiry) -> Claim:
    guarding = [rule for rule in spec.rules if hazard.id in rule.guards_against]
    return Claim(
        inquiry.system.property(hazard.id),
        "hazard",
        True,
        hazard.words,
        hazard.severity,
        (),
        withstands_of(spec, hazard),
        any(rule.even_common_cause for rule in guarding),
        hazard.span,
    )


def _rule_claim(rule: Rule, inquiry: Inquiry) -> Claim:
    return Claim(
        inquiry.system.property(rule.id),
        rule.kind.value,
        False,
        rule.words,
        "",
        rule.guards_against,
        rule.withstands,
        rule.even_common_cause,
        rule.span,
    )


@dataclass(frozen=True, slots=True)
class Row:
    """One number of failures to ask about; `claimed` rows make the verdict."""

    failures: int
    common_cause: bool
    claimed: bool


def rows_of(spec: Spec, claim: Claim, failures: int | None) -> tuple[Row, ...]:
    """The rows of a claim: 0 up to what it withstands, beyond that only if asked; common causes in a row of their
    own."""
    if claim.property.kind is PropertyKind.POSSIBLE:
        return (Row(0, False, True),)
    most = max(claim.withstands, failures or 0)
    rows = [Row(n, False, n <= claim.withstands) for n in range(most + 1)]
    if claim.withstands and any(failure.common_cause for failure in spec.failures):
        rows.append(Row(claim.withstands, True, claim.even_common_cause))
    return tuple(rows)


Known = Callable[[Property, Row], Verdict | None]
"""A verdict for any timing that is already known from a survey, or None."""

TIMED = (PropertyKind.AFTER, PropertyKind.LASTS)


def judge_all(
    spec: Spec, inquiry: Inquiry, claims: tuple[Claim, ...], options: Options, known: Known
) -> tuple[Judged, ...]:
    """All claims judged in all their rows; what a survey does not tell is asked in one go."""
    asked: dict[Question, Asked | None] = {}
    for claim in claims:
        for row in rows_of(spec, claim, options.failures):
            if claim.property.kind not in TIMED and known(claim.property, row) is None:
                asked[question_for(spec, claim.property.id, row)] = None
    questions = tuple(asked)
    asked.update(zip(questions, inquiry.ask_all(questions), strict=True))
    timed: dict[Question, Asked | None] = {}
    apart: list[tuple[Property, Question, Question]] = []
    for claim in claims:
        for row in rows_of(spec, claim, options.failures):
            question = question_for(spec, claim.property.id, row)
            if options.declared_timing and left_open(inquiry, claim.property.kind, question, asked.get(question)):
                wanted = in_time(question)
                common = alone(inquiry.system, wanted) if row.common_cause and not row.claimed else None
                timed[common or wanted] = None
                if common is not None:
                    apart.append((claim.property, wanted, common))
    questions = tuple(timed)
    answers = dict(zip(questions, inquiry.ask_in_time(questions), strict=True))
    asked.update(answers)
    for rule, wanted, common in apart:
        asked[wanted] = together(rule, wanted, asked.get(replace(wanted, allowed=None)), answers[common])
    return tuple(_judge(spec, inquiry, claim, options, asked) for claim in claims)


def in_time(question: Question) -> Question:
    """The same question for the declared timing."""
    return replace(question, timing=Timing.DECLARED)


def left_open(inquiry: Inquiry, kind: PropertyKind, question: Question, any_timing: Asked | None) -> bool:
    """Whether the declared timing has to say something: for deadlines always; else where a window bears on the question
    and what any timing says does not carry over. What is not asked for any timing is known to hold."""
    if kind in TIMED:
        return True
    verdict = Verdict.HOLDS if any_timing is None else any_timing.verdict
    return inquiry.windows_bear(question) and not carries_over(kind, verdict)


def _judge(
    spec: Spec, inquiry: Inquiry, claim: Claim, options: Options, asked: Mapping[Question, Asked | None]
) -> Judged:
    cells: list[Cell] = []
    combined: list[tuple[int, bool, Verdict]] = []
    reasons: list[str] = []
    worst: list[Verdict] = []
    for row in rows_of(spec, claim, options.failures):
        made, verdict, reason = _row(spec, inquiry, claim, row, asked)
        cells += [
            cell for cell in made if (options.any_timing if cell.timing is Timing.ANY else options.declared_timing)
        ]
        combined.append((row.failures, row.common_cause, verdict))
        if row.claimed:
            worst.append(verdict)
            if reason is not None and reason not in reasons:
                reasons.append(reason)
    verdict = next(candidate for candidate in WORST if candidate in worst)
    rests, widest = _rests_on(inquiry, claim, rows_of(spec, claim, options.failures), spec, asked)
    if verdict is not Verdict.HOLDS:
        rests = None
    told = None
    if rests is not None and options.margins:
        told = () if widest is None else margins(inquiry, widest, rests)
    return Judged(
        id=claim.property.id,
        kind=claim.kind,
        hazard=claim.hazard,
        words=claim.words,
        says=asked_text(inquiry.system, claim.property),
        severity=claim.severity,
        guards_against=claim.guards_against,
        withstands=claim.withstands,
        verdict=verdict,
        grid=tuple(cells),
        combined=tuple(combined),
        rests_on=None if rests is None else tuple(bound_text(inquiry.system, bound) for bound in rests),
        slow_logic=None,
        undecided_because="; ".join(reasons) if verdict is Verdict.UNDECIDED else None,
        place=claim.place,
        margins=told,
    )


def question_for(spec: Spec, id: str, row: Row) -> Question:
    """The question of a row: with common causes allowed, all modes are named."""
    allowed = tuple(failure.id for failure in spec.failures) if row.common_cause else None
    return Question(id, budget=row.failures, allowed=allowed)


def _row(
    spec: Spec, inquiry: Inquiry, claim: Claim, row: Row, answers: Mapping[Question, Asked | None]
) -> tuple[tuple[Cell, ...], Verdict, str | None]:
    kind = claim.property.kind

    def cell(timing: Timing, verdict: Verdict, limit: str | None, asked: Asked | None) -> Cell:
        return Cell(
            row.failures,
            row.common_cause,
            timing,
            row.claimed,
            verdict,
            None if asked is None else asked.told,
            limit,
            "" if asked is None else asked.engine,
            None if asked is None else asked.clocks,
        )

    question = question_for(spec, claim.property.id, row)
    declared = answers.get(in_time(question))
    if kind in TIMED:
        if declared is None:
            undecided = cell(Timing.DECLARED, Verdict.UNDECIDED, NOT_ASKED, None)
            return (undecided,), Verdict.UNDECIDED, f"{DEADLINE}; {NOT_ASKED}"
        there = cell(Timing.DECLARED, declared.verdict, declared.limit, declared)
        return (there,), declared.verdict, declared.limit
    windows = inquiry.windows_bear(question)
    asked = answers.get(question)
    verdict = Verdict.HOLDS if asked is None else asked.verdict  # what is not asked is known to hold
    limit = None if asked is None else asked.limit
    here = cell(Timing.ANY, verdict, limit, asked)
    if not windows:
        there = cell(Timing.DECLARED, verdict, limit or ONE_READING, None)
        return (here, there), verdict, limit
    if carries_over(kind, verdict):
        there = cell(Timing.DECLARED, verdict, None, None)
        return (here, there), verdict, None
    if declared is None:
        there = cell(Timing.DECLARED, Verdict.UNDECIDED, NOT_ASKED, None)
        return (here, there), Verdict.UNDECIDED, limit or NOT_ASKED
    there = cell(Timing.DECLARED, declared.verdict, declared.limit, declared)
    reason = (limit or declared.limit) if declared.verdict is Verdict.UNDECIDED else None
    return (here, there), declared.verdict, reason


def carries_over(kind: PropertyKind, any_timing: Verdict) -> bool:
    """Whether a verdict for any timing is one for the declared timing too, whatever the windows.

    ALWAYS_ENDS carries over when it holds: a run of the declared timing whose time does not converge is a fair run of
    any timing, and time cannot lock, since an obliged event whose guard is true may always happen by its latest.
    """
    if kind in (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.ALWAYS_ENDS):
        return any_timing is Verdict.HOLDS
    return kind is PropertyKind.POSSIBLE and any_timing is Verdict.FAILS


def _rests_on(
    inquiry: Inquiry, claim: Claim, rows: tuple[Row, ...], spec: Spec, answers: Mapping[Question, Asked | None]
) -> tuple[tuple[Bound, ...] | None, Question | None]:
    """The ends of windows that the claimed rows rest on (None: not known), and the question of the row with the most
    failures that was decided by them (None: there is none): its runs are those of the others and more."""
    found: list[Bound] = []
    widest: Question | None = None
    for row in rows:
        question = question_for(spec, claim.property.id, row)
        answer = answers.get(in_time(question))
        if not row.claimed:
            continue
        if answer is None:
            if claim.property.kind in TIMED or not holds_as_told(inquiry, claim, question, answers.get(question)):
                return None, None
        elif answer.rests_on is None:
            return None, None
        else:
            found += answer.rests_on
            widest = in_time(question)
    return tuple(dict.fromkeys(found)), widest


def holds_as_told(inquiry: Inquiry, claim: Claim, question: Question, asked: Asked | None) -> bool:
    """Whether a verdict stands without any window: it holds for any timing, or no window bears on it."""
    verdict = Verdict.HOLDS if asked is None else asked.verdict
    return not inquiry.windows_bear(question) or carries_over(claim.property.kind, verdict)
