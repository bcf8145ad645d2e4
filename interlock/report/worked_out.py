"""Values that were computed, as a reviewer needs them: the text, what came of it, by which formula, from which figures,
at which end of each tolerance, where they were used and what they were taken for there.

In: the `WorkedOut` and `Taken` of a result. Out: lines on a page, or JSON.
"""

from __future__ import annotations

from collections.abc import Iterable

from interlock.analysis.result import CheckResult
from interlock.core.dump import Json, place_data
from interlock.report.page import Page
from interlock.report.words import listed
from interlock.spec.model import Taken, Used, WorkedOut


def tell_worked_out(page: Page, result: CheckResult) -> None:
    """All computed values; nothing if there are none."""
    if not result.worked_out and not result.taken:
        return
    page.heading("Values worked out, to be verified by competent engineers")
    for one in result.worked_out:
        page.paragraph(f"{one.name} = {one.written}", indent=2, hang=6)
        if one.value != one.written:
            page.paragraph(f"that is {one.value}", indent=4, hang=6)
        if one.source:
            page.paragraph(f"source: {one.source}", indent=4, hang=6)
        _how(page, one.inputs, one.used)
        page.paragraph(f"at {_place(one)}", indent=4, hang=6)
    for taken in result.taken:
        page.paragraph(f"{taken.what}: {taken.written}", indent=2, hang=6)
        rounded = ", rounded to whole milliseconds" if taken.rounded else ""
        page.paragraph(f"that is {taken.worked_out}; taken as {taken.taken}{rounded}", indent=4, hang=6)
        _how(page, taken.inputs, taken.used)
        page.paragraph(f"at {_place(taken)}", indent=4, hang=6)
    page.paragraph("Of each tolerance the worse end counts. The standards that apply take precedence.", indent=2)


def _how(page: Page, inputs: tuple[tuple[str, str], ...], used: tuple[Used, ...]) -> None:
    if inputs:
        page.paragraph(f"from {_pairs(inputs)}", indent=4, hang=6)
    for one in used:
        page.paragraph(f"by {one.name}: {one.formula}; gives {one.value}", indent=4, hang=6)
        if one.source:
            page.paragraph(f"source: {one.source}", indent=6, hang=8)
        if one.least == one.greatest:
            page.paragraph(f"with {_pairs(one.least)}", indent=6, hang=8)
        else:
            page.paragraph(f"least with {_pairs(one.least)}", indent=6, hang=8)
            page.paragraph(f"greatest with {_pairs(one.greatest)}", indent=6, hang=8)


def _pairs(pairs: tuple[tuple[str, str], ...]) -> str:
    return listed([f"{name} {value}" for name, value in pairs])


def _place(one: WorkedOut | Taken) -> str:
    return f"{one.span.file}:{one.span.line}:{one.span.column}"


def worked_out_data(result: CheckResult) -> list[Json]:
    """The computed parameters for JSON, in the order of the spec."""
    return [
        {
            "name": one.name,
            "written": one.written,
            "value": one.value,
            "source": one.source,
            "inputs": _named(one.inputs),
            "used": _used(one.used),
            "place": place_data(one.span),
        }
        for one in result.worked_out
    ]


def taken_data(result: CheckResult) -> list[Json]:
    """What computed values were taken for, for JSON, in the order of the spec."""
    return [
        {
            "what": one.what,
            "written": one.written,
            "worked_out": one.worked_out,
            "taken": one.taken,
            "rounded": one.rounded,
            "inputs": _named(one.inputs),
            "used": _used(one.used),
            "place": place_data(one.span),
        }
        for one in result.taken
    ]


def _used(used: Iterable[Used]) -> list[Json]:
    return [
        {
            "function": one.name,
            "formula": one.formula,
            "value": one.value,
            "source": one.source,
            "least": _named(one.least),
            "greatest": _named(one.greatest),
        }
        for one in used
    ]


def _named(pairs: tuple[tuple[str, str], ...]) -> list[Json]:
    return [{"name": name, "value": value} for name, value in pairs]
