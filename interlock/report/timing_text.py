"""Measured times as text: the verdict, both extremes with a run to each, or the deadlines as bars.

In: a `TimingResult`. Out: text for a terminal, within its width.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result_stop import StopResult, TimingResult
from interlock.analysis.result_timing import Exposure, Extreme, Length, MeasuredBetween
from interlock.core.question import Verdict
from interlock.report.as_text import INKS, Look, what_was_checked
from interlock.report.bars import bar
from interlock.report.page import Page, Piece, fitted
from interlock.report.scenario import ROOM, one_run, summary, tell_way
from interlock.report.stop_text import tell_stop
from interlock.report.words import CAUTIONS, counted, with_failures
from interlock.spec.quantities import show_time

LABELS = 15
ID_MOST = 24
BAR = 20


def render_timing(result: TimingResult, look: Look, *, quiet: bool = False) -> str:
    """The whole report; `quiet`: its first line alone."""
    page = Page(colour=look.colour, width=look.width)
    page.line(headline(result), INKS[result.verdict])
    if quiet:
        return page.text()
    page.gap()
    what_was_checked(page, result.heading)
    page.labelled("Failures", _up_to(result.failures), LABELS)
    tick_s = result.heading.tick_s
    if result.between is not None:
        _between(page, result.between, tick_s)
    if result.stop is not None:
        tell_stop(page, result.stop)
    if result.exposures:
        _exposures(page, result.exposures, tick_s)
    page.gap()
    page.paragraph(CAUTIONS[0])
    return page.text()


def headline(result: TimingResult) -> str:
    """The first line: the verdict, and what was measured in short."""
    verdict = result.verdict.value
    with_so_many = _up_to(result.failures)
    if result.between is not None:
        return f"{verdict}: {_between_in_short(result.between, result.heading.tick_s)}, {with_so_many}"
    stop = [] if result.stop is None else [f"the stop budget {_MET[_worst(result.stop)]}"]
    if not result.exposures and not stop:
        return f"{verdict}: the spec has no time limit to measure; write --from CONDITION --to CONDITION"
    if not result.exposures:
        return f"{verdict}: {stop[0]}"
    claimed = [row for row in result.exposures if row.claimed]
    told = []
    for one, words in ((Verdict.FAILS, "exceeded"), (Verdict.UNDECIDED, "not known"), (Verdict.HOLDS, "kept")):
        n = sum(row.verdict is one for row in claimed)
        if n:
            told.append(f"{n} {words}")
    left = len(result.exposures) - len(claimed)
    beyond = [f"{left} not claimed {with_so_many}"] if left else []
    limits = f"{counted(len(result.exposures), 'time limit')}: {', '.join([*told, *beyond])}"
    return f"{verdict}: {'; '.join([*stop, limits])}"


_MET = {Verdict.HOLDS: "is met", Verdict.FAILS: "is not met", Verdict.UNDECIDED: "is not decided"}


def _worst(stop: StopResult) -> Verdict:
    return next((one for one in (Verdict.FAILS, Verdict.UNDECIDED) if one in stop.verdicts), Verdict.HOLDS)


def _up_to(failures: int) -> str:
    return with_failures(failures) if failures < 2 else f"with up to {failures} failures"


def _between_in_short(one: MeasuredBetween, tick_s: Fraction) -> str:
    begins, ends = f"`{one.begins}`", f"`{one.ends}`"
    earliest, latest = one.measured.earliest, one.measured.latest
    if earliest.never:
        return f"{ends} never comes after {begins}" if earliest.risen else f"{begins} holds in no settled situation"
    told = [
        f"earliest {length(earliest.length, tick_s, latest=False)}" if _exact(earliest) else "earliest not known",
        "may never come"
        if latest.endless
        else f"latest {length(latest.length, tick_s, latest=True)}"
        if _exact(latest)
        else "latest not known",
    ]
    return f"from {begins} to {ends}: {', '.join(told)}"


def _exact(extreme: Extreme) -> bool:
    return extreme.verdict is Verdict.HOLDS


def length(one: Length | None, tick_s: Fraction, *, latest: bool) -> str:
    """A length as people write it; an open one is only approached."""
    if one is None:
        return "-"
    told = show_time(one.ticks * tick_s)
    return told if not one.open else f"{'just under' if latest else 'just over'} {told}"


def _between(page: Page, one: MeasuredBetween, tick_s: Fraction) -> None:
    page.labelled("From", f"`{one.begins}`: each time it comes to hold in a settled situation", LABELS)
    page.labelled("To", f"`{one.ends}`: the first settled situation from then on in which it holds", LABELS)
    if one.measured.earliest.never:
        return
    _extreme(page, "Earliest", one.measured.earliest, tick_s, latest=False)
    _extreme(page, "Latest", one.measured.latest, tick_s, latest=True)


def _extreme(page: Page, name: str, one: Extreme, tick_s: Fraction, *, latest: bool) -> None:
    if one.endless:
        page.heading(f"{name}: it may never come")
    elif _exact(one):
        page.heading(f"{name}: {length(one.length, tick_s, latest=latest)}")
    else:
        page.heading(f"{name}: not known")
        page.labelled("Reason", one.limit or "", ROOM, 2)
        if one.length is not None:
            page.labelled("Seen", length(one.length, tick_s, latest=latest), ROOM, 2)
        if one.proved is not None:
            side = "no later than" if latest else "no sooner than"
            page.labelled("Proved", f"{side} {length(one.proved, tick_s, latest=latest)}", ROOM, 2)
    _scenario(page, one, tick_s)
    if one.rests_on:
        page.labelled("Rests on", "; ".join(one.rests_on), ROOM, 2)


def _scenario(page: Page, one: Extreme, tick_s: Fraction) -> None:
    told = one.scenario
    if told is None or one.begins_at is None or one.ends_at is None:
        return
    tell_way(page, told, tick_s, in_one_run=True)
    begins = f"event {one.begins}" if one.begins else "the start"
    begins = f"from {begins} at {show_time(one.begins_at * tick_s)}"
    if one.endless:
        ends = "for ever, if things go on so"
    else:
        at = show_time(one.ends_at * tick_s)
        ends = f"to {at}, in waiting" if one.ends is None else f"to event {one.ends} at {at}"
        ends = f"to the start at {at}" if one.ends == 0 else ends
        if one.length is not None and one.length.open:
            ends = f"{ends} (or as near to {length(Length(one.length.ticks), tick_s, latest=True)} as one likes)"
    page.labelled("Measured", f"{begins} {ends}", ROOM, 2)


def _exposures(page: Page, rows: tuple[Exposure, ...], tick_s: Fraction) -> None:
    page.heading("Time limits of the spec, and how near they come to being exceeded")
    ids = fitted((row.id for row in rows), ID_MOST)
    widths = (ids, BAR, page.width - ids - BAR - 6)
    for row in rows:
        piece = Piece(_exposure(row, tick_s), INKS[row.verdict])
        page.row((Piece(row.id), Piece(_bar(row)), piece), widths)
    page.gap()
    page.paragraph("Each bar is as long as the time allowed; # is what of it is used at the worst.", 2)
    for row in rows:
        page.heading(f"{row.id}: {row.words or row.says}")
        if row.words:
            page.labelled("Asked", row.says, ROOM, 2)
        if row.measured.scenario is not None:
            page.labelled("Worst", summary(row.measured.scenario), ROOM, 2)
            page.labelled("One run", one_run(row.measured.scenario, tick_s, "waiting"), ROOM, 2)
        if row.measured.limit is not None:
            page.labelled("Reason", row.measured.limit, ROOM, 2)
        if row.measured.rests_on:
            page.labelled("Rests on", "; ".join(row.measured.rests_on), ROOM, 2)


def _bar(row: Exposure) -> str:
    if row.measured.endless:
        return bar(1, 1, BAR)
    if row.measured.length is None or not row.longest:
        return ""
    return bar(row.measured.length.ticks, row.allowed.ticks, BAR)


def _exposure(row: Exposure, tick_s: Fraction) -> str:
    allowed = length(row.allowed, tick_s, latest=row.longest)
    claim = "" if row.claimed else "; not claimed with so many failures"
    if row.measured.endless:
        return f"no end to it, of {allowed} allowed{claim}"
    found = row.measured.length
    if found is None:
        return f"not known, of {allowed}{claim}" if not row.measured.never else f"never, of {allowed}{claim}"
    told = length(found, tick_s, latest=row.longest)
    if row.slack is None:
        most = row.measured.proved
        known = f", at most {length(most, tick_s, latest=True)}" if most is not None and row.longest else ""
        return f"{row.verdict.value}: at least {told}{known}, of {allowed}{claim}" if row.longest else f"{told}{claim}"
    left = show_time(abs(row.slack) * tick_s)
    if row.verdict is Verdict.FAILS:
        return (
            f"{told} of {allowed}: exceeded by {left}{claim}" if row.longest else f"{told}: too short by {left}{claim}"
        )
    return f"{told} of {allowed}: {left} left{claim}" if row.longest else f"{told}, {allowed} asked: {left} more{claim}"
