"""What a kind of mistake or finding means, as text, and the list of all kinds.

In: entries of the registry. Out: text for a terminal.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind
from interlock.report.page import Ink, Page, fitted


def render_kind(kind: Kind, *, colour: bool = False, width: int = 80) -> str:
    """One kind: what it means, a piece of a spec that has it, and the same piece cured."""
    page = Page(colour=colour, width=width)
    page.paragraph(f"{kind.severity.value}[{kind.name}]", ink=Ink.STRONG)
    page.gap()
    page.paragraph(kind.meaning)
    for title, piece in (("With it", kind.bad), ("Cured", kind.good)):
        page.heading(title)
        _example(page, piece.strip("\n"))
    return page.text()


def _example(page: Page, piece: str) -> None:
    """A piece of a spec, or of prose about one. A remark that does not fit beside its line stands above it."""
    for line in piece.split("\n"):
        written, mark, remark = line.partition("   # ")
        if mark and len(line) > page.width - 4:
            page.paragraph(f"# {remark}", indent=4, hang=6)
            line = written
        if len(line) > page.width - 4:
            indent = 4 + len(line) - len(line.lstrip())
            page.paragraph(line, indent=indent, hang=indent + 2)
        else:
            page.block(line, 4)


def render_kinds(kinds: Iterable[Kind], *, colour: bool = False, width: int = 80) -> str:
    """All kinds, a line each: errors, then notes."""
    page = Page(colour=colour, width=width)
    kinds = list(kinds)
    room = fitted((kind.name for kind in kinds), 32) + 2
    for severity, title in (
        (Severity.ERROR, "Errors: nothing is decided, or exit code 1"),
        (Severity.NOTE, "Notes: worth knowing; they do not change the exit code"),
    ):
        some = [kind for kind in kinds if kind.severity is severity]
        if not some:
            continue
        page.heading(title)
        for kind in some:
            page.labelled(kind.name, _first_sentence(kind.meaning), room, 2)
    page.gap()
    page.paragraph("`interlock explain KIND` tells one of them in full, with an example.")
    return page.text()


def _first_sentence(text: str) -> str:
    end = re.search(r"(?<![. ])\. ", text)
    return text if end is None else text[: end.start() + 1]
