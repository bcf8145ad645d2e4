"""How verdicts, counts, times and names are written in every report.

In: numbers, verdicts, ids. Out: a few words each. Also the standing cautions and what lies outside every model, which
no report leaves out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from interlock.analysis.result import ALL_FINDINGS, Age, CheckResult, Expected, Judged, ToldMargin
from interlock.core.question import Margin, Timing, Verdict
from interlock.spec.quantities import exact, show_time
from interlock.spec.units import UNITS

DIGITS = 5
"""Digits behind the point of a time on a picture."""

STANDARDS = ("EN 50126", "EN 50129", "EN 50716", "EN 50122-1", "IEC 61508", "EN 50110-1")
"""The families of standards that apply to the work around such a spec."""

CAUTIONS = (
    "The result is only as good as the model; assumptions are to be confirmed on site.",
    "Local rules and the duty holder's procedures take precedence. Sign-off belongs to competent signalling and "
    "electrical safety engineers, under " + ", ".join(STANDARDS) + ".",
)

OUTSIDE = (
    "short circuit and overcurrent protection",
    "bonding and return path",
    "heating",
    "fire and evacuation",
    "flooding",
    "lightning",
    "exposed rail ends and half-covered sections",
    "movement authority and signal protection",
    "degraded working rules",
)
"""What no spec models: conditions for others to meet."""


def natural(id: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts ids as people do: R2 before R10."""
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.findall(r"[0-9]+|[^0-9]+", id))


def counted(n: int, one: str, many: str = "") -> str:
    """A number with its noun: `1 rule`, `1,204 events`."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def listed(names: Iterable[str]) -> str:
    """Names in a row: `R1, R2 and R3`."""
    *rest, last = list(names) or [""]
    return f"{', '.join(rest)} and {last}" if rest else last


def margins_by_window(one: Judged) -> dict[str, str]:
    """What the margins say of each window that a verdict rests on."""
    told: dict[str, list[ToldMargin]] = {}
    for margin in one.margins or ():
        told.setdefault(margin.window, []).append(margin)
    return {window: _margins_say(both_ways) for window, both_ways in told.items()}


def _margins_say(both_ways: list[ToldMargin]) -> str:
    says = {made_later(told.relying): told.says for told in both_ways}
    if len(set(says.values())) == 1:
        return both_ways[0].says
    return "; ".join(f"made {'later' if later else 'sooner'}, {says[later]}" for later in sorted(says, reverse=True))


def made_later(margin: Margin) -> bool:
    """Whether the times are made later, or sooner."""
    return margin.ends[0].latest is margin.wider


def with_failures(n: int, common_cause: bool = False) -> str:
    """`without failures`, `with 1 failure`, `with 2 failures, common causes among them`."""
    text = f"with {counted(n, 'failure')}" if n else "without failures"
    return f"{text}, common causes included" if common_cause else text


def met(one: Expected) -> str:
    """Whether an expectation is met, in words."""
    return {True: "as expected", False: "not as expected", None: "not known"}[one.met]


def told_expectation(one: Expected) -> str:
    """An expectation in words, and why it is not met or not known."""
    timing = "any timing" if one.timing is Timing.ANY else "the declared timing"
    also = f", and so {'does' if len(one.also) == 1 else 'do'} {listed(one.also)}" if one.also else ""
    claim = f"{one.id} fails {with_failures(one.failures)} ({timing}){also}"
    return f"{claim}: {one.reason}" if one.reason else claim


def headline(result: CheckResult) -> str:
    """The first line of every report: the verdict, then the counts that make it."""
    told: list[str] = []
    for verdict, verb in ((Verdict.FAILS, "fail"), (Verdict.UNDECIDED, "undecided"), (Verdict.HOLDS, "hold")):
        groups = [_share(result.rules, "rule", verdict), _share(result.hazards, "hazard", verdict)]
        counts = [n for n, _ in groups if n]
        if counts and (verdict is not Verdict.HOLDS or not told):
            agrees = f"{verb}s" if counts == [1] and verdict is not Verdict.UNDECIDED else verb
            shared = listed(text for n, text in groups if n)
            told.append(shared if verdict is result.verdict else f"{shared} {agrees}")
    errors = sum(finding.is_error for finding in result.findings)
    notes = len(result.findings) - errors
    kinds = [counted(n, noun) for n, noun in ((errors, "error"), (notes, "note")) if n]
    looked = all(left_out.what != ALL_FINDINGS for left_out in result.not_checked)
    found = ", ".join(kinds) if kinds else "no findings" if looked else "findings not looked for"
    nothing = [] if result.rules or result.hazards else ["no rule and no hazard was checked"]
    but = ", but an error is found" if errors and result.verdict is not Verdict.FAILS else ""
    return f"{result.verdict.value}{but}: {'; '.join([*nothing, *told, found])}"


def _share(judged: tuple[Judged, ...], noun: str, verdict: Verdict) -> tuple[int, str]:
    """How many have the verdict, and as words: `2 of 7 rules`, `all 7 rules`, `1 rule`."""
    n, total = sum(one.verdict is verdict for one in judged), len(judged)
    if n < total:
        return n, f"{n} of {counted(total, noun)}"
    return n, counted(n, noun) if total == 1 else f"all {counted(total, noun)}"


def age(at: Age, tick_s: Fraction, *, latest: bool) -> str:
    """An age on a way; an open one is only approached."""
    told = show_time(at.ticks * tick_s)
    return told if not at.open else f"{'just before' if latest else 'just after'} {told}"


def short_time(value_s: Fraction) -> str:
    """A time with a unit, at most five digits behind the point: what was rounded is told so."""
    told = show_time(value_s)
    number, unit = told.split(" ")
    if "/" not in number and len(number.partition(".")[2]) <= DIGITS:
        return told
    size = UNITS[unit][1]
    return f"about {exact(round(value_s / size, DIGITS))} {unit}"
