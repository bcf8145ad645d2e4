"""The answer of a search as text: is there a way to the condition, and the shortest one step by step.

In: a `FindResult`. Out: text for a terminal.
"""

from __future__ import annotations

from interlock.analysis.result import FindResult
from interlock.core.question import Verdict
from interlock.report.as_text import INKS, Look, what_was_checked
from interlock.report.page import Page
from interlock.report.scenario import length, tell_scenario
from interlock.report.words import CAUTIONS, with_failures


def find_headline(result: FindResult) -> str:
    """The first line: the verdict and what it means here."""
    last = result.cells[-1]
    condition = f"`{result.condition}`"
    if result.verdict is Verdict.FAILS:
        most = max(cell.failures for cell in result.cells)
        up_to = f"with up to {most} failures" if most > 1 else with_failures(most)
        return f"fails: there is no way to {condition} {up_to}"
    if last.scenario is None:
        return f"{result.verdict.value}: no way to {condition} was found, and not every situation was seen"
    way = f"{with_failures(last.failures)}, {length(last.scenario)}"
    if result.verdict is Verdict.UNDECIDED:
        return f"undecided: unless timing forbids, there is a way to {condition} {way}"
    return f"holds: there is a way to {condition} {way}"


def render_find(result: FindResult, look: Look, *, quiet: bool = False) -> str:
    """The whole answer; `quiet`: its first line alone."""
    page = Page(colour=look.colour, width=look.width)
    page.line(find_headline(result), INKS[result.verdict])
    if quiet:
        return page.text()
    page.gap()
    what_was_checked(page, result.heading)
    last = result.cells[-1]
    if last.limit is not None:
        page.labelled("Reason", last.limit, 15)
    if last.scenario is not None:
        page.heading("The shortest way")
        tell_scenario(page, last.scenario, result.heading.tick_s)
    page.gap()
    page.paragraph(CAUTIONS[0])
    return page.text()
