"""What the user asked for, beyond the spec."""

from __future__ import annotations

from dataclasses import dataclass, field

from interlock.engines.api import Limits


@dataclass(frozen=True, slots=True)
class Options:
    """`only`: ids of rules and hazards to judge (empty: all). `failures`: judge every number up to this as well as those a
    rule withstands. `engine`: by name (None: chosen). `any`, `declared`: which readings of time to report."""

    only: tuple[str, ...] = ()
    failures: int | None = None
    any_timing: bool = True
    declared_timing: bool = True
    engine: str | None = None
    limits: Limits = field(default_factory=Limits)
