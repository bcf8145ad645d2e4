"""A kind of mistake or finding: what `interlock explain KIND` tells about it."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.diag.diagnostic import Severity


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind, registered once.

    `name` is lower-case words joined by hyphens, `meaning` one or a few sentences, `bad` a piece of a spec that
    triggers it, `good` the same piece cured.
    """

    name: str
    severity: Severity
    meaning: str
    bad: str
    good: str
