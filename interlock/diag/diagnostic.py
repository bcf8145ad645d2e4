"""A diagnostic: one mistake or finding, with its place and its cure; a bag collects them in a fixed order."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from interlock.diag.place import Span


class Severity(Enum):
    """How much a diagnostic matters: errors stop the run or give exit 1, notes do neither."""

    ERROR = "error"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Mark:
    """A place with a few words about it, drawn under the text it points at."""

    span: Span
    words: str = ""


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One mistake or finding.

    `kind` is a key of the registry (`interlock explain KIND`), `headline` states the fact in one sentence without a
    full stop, `at` is the smallest wrong piece of text, `also` further places, `helps` the cures, one a line.
    """

    kind: str
    severity: Severity
    headline: str
    at: Mark | None
    also: tuple[Mark, ...] = ()
    helps: tuple[str, ...] = ()


@dataclass(slots=True)
class Bag:
    """Collects the mistakes of one run, each once, and gives them back sorted by place."""

    found: list[Diagnostic] = field(default_factory=list)

    def add(
        self, kind: str, headline: str, at: Span | None, words: str = "", *helps: str, also: tuple[Mark, ...] = ()
    ) -> None:
        """Note an error of `kind`; a second one of the same kind at the same place is dropped."""
        mark = None if at is None else Mark(at, words)
        for known in self.found:
            if known.kind == kind and (known.at and known.at.span) == at:
                return
        self.found.append(Diagnostic(kind, Severity.ERROR, headline, mark, also, helps))

    @property
    def empty(self) -> bool:
        """Whether nothing was found so far."""
        return not self.found

    def sorted(self) -> tuple[Diagnostic, ...]:
        """All that was found, by file, line, column, then kind."""
        return tuple(sorted(self.found, key=_order))


def _order(diagnostic: Diagnostic) -> tuple[str, int, int, str, str]:
    if diagnostic.at is None:
        return ("", 0, 0, diagnostic.kind, diagnostic.headline)
    span = diagnostic.at.span
    return (span.file, span.line, span.column, diagnostic.kind, diagnostic.headline)
