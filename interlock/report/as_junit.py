"""The report of a check as JUnit XML, for CI servers.

In: a `CheckResult`. Out: XML text. One suite for the spec; a case for each hazard, rule and finding, and a skipped one
for what was not checked. What fails is a failure, what is undecided an error: neither ever looks like a pass. Only
attributes that strict readers of the format know are used; places stand in the messages.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

from interlock import __version__
from interlock.analysis.result import Cell, CheckResult, Finding, Heading, Judged
from interlock.core.question import Timing, Verdict
from interlock.report.as_text import combined_at, sorted_findings
from interlock.report.page import Page
from interlock.report.scenario import tell_scenario, unless_timing_forbids
from interlock.report.words import (
    CAUTIONS,
    OUTSIDE,
    headline,
    margins_by_window,
    met,
    natural,
    told_expectation,
    with_failures,
)

_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def render(result: CheckResult) -> str:
    """The XML text, with its declaration, in UTF-8."""
    suite = ElementTree.Element("testsuite")
    properties = ElementTree.SubElement(suite, "properties")
    for name, value in (
        ("tool", f"interlock {__version__}"),
        ("revision", result.heading.revision),
        ("spec digest", result.heading.file_digest),
        ("core digest", result.heading.system_digest),
        *(("based on", f"{file}, digest {digest}") for file, digest in result.heading.based_on),
        ("verdict", headline(result)),
        *((met(one), told_expectation(one)) for one in result.expected),
    ):
        ElementTree.SubElement(properties, "property", {"name": name, "value": _clean(value)})
    for group, judged in (("hazards", result.hazards), ("rules", result.rules)):
        for one in sorted(judged, key=lambda one: natural(one.id)):
            _judged(suite, f"{_section(result)}.{group}", one, result.heading)
    for finding in sorted_findings(result.findings):
        _finding(suite, f"{_section(result)}.findings", finding, result.heading)
    for left_out in result.not_checked:
        case = _case(suite, f"{_section(result)}.not checked", left_out.what)
        ElementTree.SubElement(case, "skipped", {"message": _clean(left_out.reason)})
    if not result.rules and not result.hazards:
        case = _case(suite, f"{_section(result)}.rules", "something is checked")
        ElementTree.SubElement(case, "error", {"type": "undecided", "message": "no rule and no hazard was checked"})
    said = ElementTree.SubElement(suite, "system-out")
    said.text = "\n".join([*CAUTIONS, f"Outside every model, for others to meet: {', '.join(OUTSIDE)}."])
    counts = {
        "tests": str(len(suite.findall("testcase"))),
        "failures": str(len(suite.findall("testcase/failure"))),
        "errors": str(len(suite.findall("testcase/error"))),
    }
    suite.attrib.update({"name": _clean(result.heading.file), **counts})
    suite.set("skipped", str(len(suite.findall("testcase/skipped"))))
    root = ElementTree.Element("testsuites", {"name": "interlock check", **counts})
    root.append(suite)
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


def _section(result: CheckResult) -> str:
    return _clean(result.heading.title).replace(".", " ")


def _case(suite: ElementTree.Element, classname: str, name: str) -> ElementTree.Element:
    return ElementTree.SubElement(suite, "testcase", {"classname": classname, "name": _clean(name)})


def _judged(suite: ElementTree.Element, classname: str, one: Judged, heading: Heading) -> None:
    case = _case(suite, classname, f"{one.id} {one.words or one.says}")
    if one.verdict is Verdict.HOLDS:
        if one.rests_on:
            page = Page()
            page.paragraph("rests on these times, to be verified on site:")
            says = margins_by_window(one)
            for window in one.rests_on:
                page.paragraph(f"{window} ({says[window]})" if window in says else window, indent=2, hang=4)
            ElementTree.SubElement(case, "system-out").text = "\n" + _clean(page.text())
        return
    cell = _telling_cell(one)
    place = f"{one.place}: " if one.place is not None else ""
    if one.verdict is Verdict.FAILS:
        at = "" if cell is None else f" {with_failures(cell.failures, cell.common_cause)}"
        told = ElementTree.SubElement(
            case, "failure", {"type": "breach", "message": _clean(f"{place}{one.id} fails{at}")}
        )
    else:
        why = one.undecided_because or "no reason is known"
        message = _clean(f"{place}{one.id} is undecided: {why}")
        told = ElementTree.SubElement(case, "error", {"type": "undecided", "message": message})
    if cell is not None and cell.scenario is not None:
        page = Page()
        if one.verdict is Verdict.UNDECIDED:
            page.paragraph(unless_timing_forbids(cell.scenario))
        tell_scenario(page, cell.scenario, heading.tick_s)
        told.text = "\n" + _clean(page.text())


def _telling_cell(one: Judged) -> Cell | None:
    """The first claimed cell whose row has the verdict of the whole, one with a scenario if there is one. Of what
    fails, only cells that fail, for the declared timing first: the declared times may forbid what any timing shows."""
    cells = [cell for cell in one.grid if cell.claimed and combined_at(one, cell) is one.verdict]
    if one.verdict is Verdict.FAILS:
        cells = [cell for cell in cells if cell.verdict is Verdict.FAILS]
        cells.sort(key=lambda cell: (cell.failures, cell.common_cause, cell.timing is Timing.ANY))
    return next((cell for cell in cells if cell.scenario is not None), cells[0] if cells else None)


def _finding(suite: ElementTree.Element, classname: str, finding: Finding, heading: Heading) -> None:
    told = finding.diagnostic
    case = _case(suite, classname, f"{told.kind}: {told.headline}")
    place = f"{told.at.span}: " if told.at is not None else ""
    lines = [f"{place}{told.headline}", *(f"to cure: {cure}" for cure in told.helps)]
    if finding.is_error:
        found = ElementTree.SubElement(case, "failure", {"type": _clean(told.kind), "message": _clean(lines[0])})
    else:
        found = ElementTree.SubElement(case, "system-out")
    page = Page()
    for line in lines:
        page.paragraph(line, hang=2)
    if finding.scenario is not None:
        tell_scenario(page, finding.scenario, heading.tick_s)
    found.text = "\n" + _clean(page.text())


def _clean(text: str) -> str:
    """The text without characters that XML 1.0 forbids; each is replaced, none silently dropped."""
    return _FORBIDDEN.sub("\ufffd", text)
