"""The report of a check as text: the verdict first, then what was checked, verdicts, scenarios, findings, assumptions.

In: a `CheckResult` and the texts its findings point into. Out: text for a terminal or a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from interlock.analysis.result import Cell, CheckResult, Finding, Heading, Judged, ToldScenario
from interlock.core.dump import Json
from interlock.core.question import Timing, Verdict
from interlock.core.system import ON_GRAPHS
from interlock.diag.diagnostic import Severity
from interlock.diag.place import Sources
from interlock.diag.render import render as render_diagnostics
from interlock.report.page import GAP, Ink, Page, Piece, fitted
from interlock.report.scenario import summary, tell_scenario, unless_timing_forbids
from interlock.report.words import (
    CAUTIONS,
    OUTSIDE,
    counted,
    headline,
    listed,
    margins_by_window,
    met,
    natural,
    told_expectation,
    with_failures,
)
from interlock.report.worked_out import tell_worked_out

INKS = {Verdict.HOLDS: Ink.HOLDS, Verdict.FAILS: Ink.FAILS, Verdict.UNDECIDED: Ink.UNDECIDED}

ROOM = 15
"""Cells for labels."""

ID_MOST = 24
WORDS_INSIDE = 34
"""Cells of a table: for ids at most, and for words that stand beside the verdicts."""

FAILURES = "failures allowed:"
COMMON = "common causes too"

DIGEST = 12
"""So many digits of a digest are shown."""

Row = tuple[int, bool]
"""A number of failures, and whether common causes are allowed."""


@dataclass(frozen=True, slots=True)
class Look:
    """How the report is to look. `every_scenario`: also those beyond what the rules claim."""

    colour: bool = False
    width: int = 80
    every_scenario: bool = False


PLAIN = Look()


def render(
    result: CheckResult, sources: Sources, look: Look = PLAIN, statistics: Mapping[str, Json] | None = None
) -> str:
    """The whole report; `statistics` only if asked for, since they differ from run to run."""
    page = Page(colour=look.colour, width=look.width)
    page.line(headline(result), INKS[result.verdict])
    page.gap()
    what_was_checked(page, result.heading)
    page.labelled(
        "Size", f"{counted(result.n_items, 'item')} of equipment, {counted(result.n_failures, 'failure')}", ROOM
    )
    _explored(page, result)
    _table(page, "Hazards", result.hazards)
    _table(page, "Rules", result.rules)
    _legend(page, result)
    _expected(page, result)
    _scenarios(page, result, look)
    _undecided(page, result)
    _findings(page, result, sources, look)
    _times(page, result)
    tell_worked_out(page, result)
    _assumptions(page, result)
    _not_checked(page, result)
    if statistics is not None:
        _statistics(page, statistics, result)
    _cautions(page)
    return page.text()


def verdict_line(result: CheckResult, *, colour: bool = False) -> str:
    """The first line alone."""
    page = Page(colour=colour)
    page.line(headline(result), INKS[result.verdict])
    return page.text()


def what_was_checked(page: Page, heading: Heading) -> None:
    """Title, file, digests, standards."""
    revision = f", revision {heading.revision}" if heading.revision else ""
    page.labelled("Checked", f"{heading.title}{revision}", ROOM)
    if heading.prepared_by:
        page.labelled("Prepared by", heading.prepared_by, ROOM)
    page.labelled("File", f"{heading.file}, digest {heading.file_digest[:DIGEST]}", ROOM)
    label = "Based on"
    for file, digest in heading.based_on:
        page.labelled(label, f"{file}, digest {digest[:DIGEST]}", ROOM)
        label = ""
    page.labelled("Core", f"digest {heading.system_digest[:DIGEST]}", ROOM)
    if heading.standards:
        page.labelled("Standards", f"claimed: {', '.join(heading.standards)}", ROOM)


def _explored(page: Page, result: CheckResult) -> None:
    label = "Explored"
    for use in result.engines:
        told = f"{with_failures(use.failures)}, engine `{use.name}`: "
        if use.settled is not None and use.passing is not None and use.events_explored is not None:
            told += f"{use.settled:,} settled and {use.passing:,} passing situations"
            told += f", {counted(use.events_explored, 'event')}"
            if use.parts > 1:
                told += f", summed over {use.parts} parts that each hold all that can influence them"
        elif use.timing is Timing.DECLARED:
            told += f"declared timing decided for {listed(sorted(use.decided, key=natural)) or 'nothing'}"
        else:
            told += "not counted"
        if use.limit is not None:
            told += f"; {use.limit}"
        page.labelled(label, told, ROOM)
        label = ""


# --- verdicts ---


def _table(page: Page, title: str, judged: Iterable[Judged]) -> None:
    """A row each: id, verdict, words, then the verdict at each number of failures. Where ids and numbers leave little
    room for the words, they stand on lines of their own."""
    rows = sorted(judged, key=lambda one: natural(one.id))
    if not rows:
        return
    numbers = sorted({n for one in rows for n, _, _ in one.combined})
    id_width = fitted((one.id for one in rows), ID_MOST)
    wide = any("(" in _cell(one, n, common).text for one in rows for n in numbers for common in (False, True))
    column = 11 if wide else 9
    room = page.width - id_width - 9 - 3 * len(GAP) - len(numbers) * (column + len(GAP))
    if room >= WORDS_INSIDE:
        page.heading(title)
        widths = (id_width, 9, room, *(column for _ in numbers))
        blank = Piece("")
        page.row((blank, blank, Piece(FAILURES, Ink.FAINT), *_heads(numbers)), widths)
        for one in rows:
            page.row((*_named(one), Piece(_words(one)), *(_cell(one, n, False) for n in numbers)), widths)
            if _asks_common_causes(one):
                cells = (_cell(one, n, True) for n in numbers)
                page.row((blank, blank, Piece(COMMON, Ink.FAINT), *cells), widths)
        return
    id_width = max(id_width, len(FAILURES), len(COMMON))
    per_line = max((page.width - id_width - 9 - 2 * len(GAP)) // (column + len(GAP)), 1)
    for i in range(0, len(numbers), per_line):
        group = numbers[i : i + per_line]
        page.heading(f"{title}, with more failures" if i else title)
        widths = (id_width, 9, *(column for _ in group))
        page.row((Piece(FAILURES, Ink.FAINT), Piece(""), *_heads(group)), widths)
        for one in rows:
            page.row((*_named(one), *(_cell(one, n, False) for n in group)), widths)
            if _asks_common_causes(one):
                cells = (_cell(one, n, True) for n in group)
                page.row((Piece(COMMON, Ink.FAINT), Piece(""), *cells), widths)
            if not i:
                page.paragraph(_words(one), indent=6)


def _heads(numbers: Iterable[int]) -> tuple[Piece, ...]:
    return tuple(Piece(str(n), Ink.FAINT) for n in numbers)


def _named(one: Judged) -> tuple[Piece, Piece]:
    return Piece(one.id), Piece(one.verdict.value, INKS[one.verdict])


def _asks_common_causes(one: Judged) -> bool:
    return any(common for _, common, _ in one.combined)


def _words(one: Judged) -> str:
    if one.hazard:
        return f"{one.words} ({one.severity})" if one.severity else one.words
    guards = f"guards against {listed(one.guards_against)}" if one.guards_against else ""
    return "; ".join(part for part in (one.words or one.says, guards) if part)


def _cell(one: Judged, failures: int, common_cause: bool) -> Piece:
    """The verdict at a number of failures, in parentheses where nothing is claimed; `-` where nothing was asked."""
    for n, common, verdict in one.combined:
        if (n, common) == (failures, common_cause):
            claimed = any(c.claimed for c in one.grid if (c.failures, c.common_cause) == (n, common))
            return Piece(verdict.value if claimed else f"({verdict.value})", INKS[verdict] if claimed else Ink.PLAIN)
    return Piece("-" if not common_cause else "", Ink.FAINT)


def _legend(page: Page, result: CheckResult) -> None:
    both = (*result.hazards, *result.rules)
    if not both:
        return
    told = ["A hazard holds when there is no way to it."] if result.hazards else []
    if any(not cell.claimed for one in both for cell in one.grid):
        told.append("In parentheses: more failures than the spec claims to withstand; they do not count.")
    page.gap()
    if told:
        page.paragraph(" ".join(told), indent=2)
    timed = [one.id for one in sorted(both, key=lambda one: natural(one.id)) if _rests_on_timing(one)]
    if timed:
        page.paragraph(f"Rests on timing: {listed(timed)}.", indent=2)


def _rests_on_timing(one: Judged) -> bool:
    """Holds, but not for any timing."""
    return one.verdict is Verdict.HOLDS and any(
        cell.claimed and cell.timing is Timing.ANY and cell.verdict is Verdict.FAILS for cell in one.grid
    )


def _expected(page: Page, result: CheckResult) -> None:
    if not result.expected:
        return
    page.heading("What the draft is there to show")
    for one in result.expected:
        page.labelled(met(one), told_expectation(one), 18, 2)


# --- scenarios ---


def _scenarios(page: Page, result: CheckResult, look: Look) -> None:
    told: dict[ToldScenario, str] = {}
    beyond: list[str] = []
    for one in _in_order(result):
        for cell in _first_of_each(one):
            if combined_at(one, cell) is not Verdict.FAILS:
                continue
            claim = f"{one.id} fails {with_failures(cell.failures, cell.common_cause)}"
            if not cell.claimed and not look.every_scenario:
                way = f": {summary(cell.scenario)}" if cell.scenario is not None else ""
                beyond.append(claim + way)
                continue
            page.heading(claim if cell.claimed else f"{claim} (more than is claimed)")
            _about(page, one)
            _told_once(page, cell, told, claim, result.heading)
    if beyond:
        page.heading("Beyond what is claimed")
        for line in beyond:
            page.paragraph(line, indent=2, hang=4)
        page.paragraph("`--every-scenario` tells them step by step.", indent=2, ink=Ink.FAINT)


def _in_order(result: CheckResult) -> list[Judged]:
    """Hazards, then rules, each by id."""
    groups = (result.hazards, result.rules)
    return [one for group in groups for one in sorted(group, key=lambda one: natural(one.id))]


def _first_of_each(one: Judged) -> list[Cell]:
    """The claimed failing cell with the fewest failures that has a scenario, and the like beyond the claim."""
    found: list[Cell] = []
    for claimed in (True, False):
        failing = [
            cell
            for cell in one.grid
            if cell.claimed is claimed
            and cell.verdict is Verdict.FAILS
            and cell.scenario is not None
            and combined_at(one, cell) is Verdict.FAILS  # not where the declared times forbid what is shown
        ]
        failing.sort(key=lambda cell: (cell.common_cause, cell.failures, cell.timing is Timing.ANY))
        found += failing[:1] if claimed or not found else []
    return found


def combined_at(one: Judged, cell: Cell) -> Verdict:
    """The verdict with the timings combined, in the row of a cell."""
    for failures, common_cause, verdict in one.combined:
        if (failures, common_cause) == (cell.failures, cell.common_cause):
            return verdict
    return cell.verdict


def _about(page: Page, one: Judged) -> None:
    label = "Hazard" if one.hazard else "Rule"
    page.labelled(label, _words(one), 11, 2)
    if one.words:
        page.labelled("Asked", one.says, 11, 2)
    if one.place is not None:
        page.labelled("Place", str(one.place), 11, 2)


def _told_once(page: Page, cell: Cell, told: dict[ToldScenario, str], claim: str, heading: Heading) -> None:
    """The scenario, or where the same events were told before."""
    if cell.scenario is None:
        page.labelled("Way", "no scenario is known", 11, 2)
        return
    for other, name in told.items():
        same = (other.at_start, other.events, other.missed)
        if same == (cell.scenario.at_start, cell.scenario.events, cell.scenario.missed) and other.events:
            page.labelled("Way", f"the same events as told at `{name}`", 11, 2)
            page.labelled("Broken", cell.scenario.breach, 11, 2)
            return
    told[cell.scenario] = claim
    tell_scenario(page, cell.scenario, heading.tick_s)


def _undecided(page: Page, result: CheckResult) -> None:
    undecided = [one for one in _in_order(result) if one.verdict is Verdict.UNDECIDED]
    told: dict[ToldScenario, str] = {}
    plain: dict[str, list[str]] = {}
    for one in undecided:
        cell = _undecided_cell(one)
        if cell is None:
            plain.setdefault(one.undecided_because or "no reason is known", []).append(one.id)
    if plain:
        page.heading("Undecided")
        for reason, ids in plain.items():
            page.paragraph(f"{', '.join(ids)}: {reason}", indent=2, hang=4)
    for one in undecided:
        cell = _undecided_cell(one)
        if cell is None:
            continue
        claim = f"{one.id} is undecided {with_failures(cell.failures, cell.common_cause)}"
        page.heading(claim)
        _about(page, one)
        page.labelled("Reason", one.undecided_because or "no reason is known", 11, 2)
        page.paragraph(unless_timing_forbids(cell.scenario), indent=2)
        _told_once(page, cell, told, claim, result.heading)


def _undecided_cell(one: Judged) -> Cell | None:
    """The claimed cell with a scenario in the first row that is undecided."""
    for cell in one.grid:
        if cell.claimed and cell.scenario is not None and combined_at(one, cell) is Verdict.UNDECIDED:
            return cell
    return None


# --- findings and the rest ---


def _findings(page: Page, result: CheckResult, sources: Sources, look: Look) -> None:
    findings = sorted_findings(result.findings)
    if not findings:
        return
    page.heading("Findings about the spec")
    for i, finding in enumerate(findings):
        if i:
            page.gap()
        page.block(render_diagnostics([finding.diagnostic], sources, colour=look.colour, width=look.width - 2), 2)
        if finding.scenario is not None:
            tell_scenario(page, finding.scenario, result.heading.tick_s, indent=4)


def sorted_findings(findings: Iterable[Finding]) -> list[Finding]:
    """Errors first, then by place, then by kind."""

    def order(finding: Finding) -> tuple[bool, tuple[str, int, int], str, str]:
        at = finding.diagnostic.at
        place = ("", 0, 0) if at is None else (at.span.file, at.span.line, at.span.column)
        severe = finding.diagnostic.severity is not Severity.ERROR
        return severe, place, finding.diagnostic.kind, finding.diagnostic.headline

    return sorted(findings, key=order)


def _times(page: Page, result: CheckResult) -> None:
    """The windows that verdicts rest on, each with the rules and hazards that rest on it."""
    resting: dict[str, list[str]] = {}
    for one in _in_order(result):
        says = margins_by_window(one)
        for window in one.rests_on or ():
            told = f"{one.id} ({says[window]})" if window in says else one.id
            resting.setdefault(window, []).append(told)
    if not resting:
        return
    page.heading("Times that verdicts rest on, to be verified on site")
    for window, ids in resting.items():
        page.paragraph(window, indent=2, hang=4)
        page.paragraph(f"rests on it: {listed(ids)}", indent=4, hang=6)
    page.paragraph("For each, no time here can be left out; another set of times may do as well.", indent=2)
    kinds = {one.kind for one in _in_order(result) if one.rests_on}
    on_graphs = {kind.value for kind in ON_GRAPHS}
    if not kinds.isdisjoint(on_graphs):
        page.paragraph(
            "A rule `always_possible` or `always_ends` holds whatever all other times are, as long as what must come "
            "still comes and what may come at once still may.",
            indent=2,
        )
    if "always_possible" in kinds:
        page.paragraph(
            "For `always_possible` none can be left out of the proof, which may ask for more than is needed.", indent=2
        )
    if any(one.margins for one in _in_order(result)):
        page.paragraph(
            "In parentheses: where it breaks if this time alone changes and nothing is relied on but the times that it "
            "rests on.",
            indent=2,
        )
    else:
        page.paragraph("`--margins` tells how far each may move.", indent=2, ink=Ink.FAINT)


def _assumptions(page: Page, result: CheckResult) -> None:
    page.heading("Assumed, and to be confirmed on site")
    if not result.assumptions:
        page.paragraph("nothing beyond the spec itself", indent=2)
    for one in result.assumptions:
        owner = f" (owner: {one.owner})" if one.owner else ""
        page.paragraph(f"{one.id}: {one.words}{owner}", indent=2, hang=4)
        if one.rests is not None:
            rests = listed(sorted(one.rests, key=natural)) if one.rests else "no rule and no hazard"
            page.paragraph(f"rests on it: {rests}", indent=4, hang=6)
    for slow, words in (
        (Verdict.HOLDS, "however slow the logic that reacts immediately"),
        (Verdict.UNDECIDED, "not known whether also with slower logic"),
    ):
        ids = [one.id for one in _in_order(result) if one.slow_logic is slow and one.verdict is Verdict.HOLDS]
        if ids:
            page.paragraph(f"{words}: {', '.join(ids)} {'hold' if len(ids) > 1 else 'holds'}", indent=2, hang=4)


def _not_checked(page: Page, result: CheckResult) -> None:
    if not result.not_checked:
        return
    page.heading("Not checked")
    for one in result.not_checked:
        page.paragraph(f"{one.what}: {one.reason}", indent=2, hang=4)


def _statistics(page: Page, statistics: Mapping[str, Json], result: CheckResult) -> None:
    page.heading("Statistics of this run")
    stages = statistics.get("stages")
    for stage in stages if isinstance(stages, list) else ():
        if isinstance(stage, dict):
            page.labelled(str(stage["stage"]), f"{stage['milliseconds']} ms", 22, 2)
    if statistics.get("peak_memory_kib") is not None:
        page.labelled("most memory used", f"{statistics['peak_memory_kib']} KiB", 22, 2)
    clocks = [
        f"{one.id} {max(counts)}"
        for one in _in_order(result)
        if (counts := [cell.clocks for cell in one.grid if cell.clocks is not None])
    ]
    if clocks:
        page.labelled("clocks needed", listed(clocks), 22, 2)


def _cautions(page: Page) -> None:
    page.heading("Cautions (more in the README)")
    for line in CAUTIONS:
        page.paragraph(line, indent=2)
    page.paragraph(f"Outside every model, for others to meet: {', '.join(OUTSIDE)}.", indent=2)
