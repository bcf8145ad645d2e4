"""What the user asked for, beyond the spec."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from interlock.engines.api import Limits


@dataclass(frozen=True, slots=True)
class Options:
    """`only`: ids of rules and hazards to judge (empty: all). `failures`: judge every number up to this as well as
    those a rule withstands. `engine`: by name (None: chosen). `any_timing`, `declared_timing`: which readings of time
    to report. `survey_states`: the limit for surveys of all that can be reached, each part by itself. `side_states`:
    the limit for questions nobody asked (logic that is slow or arbitrary, assumptions dropped), each exploration by
    itself; where it is hit, the report lists what was not checked. `margins`: work out how far each time that a verdict
    rests on may move before the rule breaks."""

    only: tuple[str, ...] = ()
    failures: int | None = None
    any_timing: bool = True
    declared_timing: bool = True
    engine: str | None = None
    limits: Limits = field(default_factory=Limits)
    survey_states: int = 10_000_000
    side_states: int = 200_000
    margins: bool = False

    @property
    def survey_limits(self) -> Limits:
        """The limits for surveys of everything."""
        return replace(self.limits, states=min(self.limits.states, self.survey_states))

    @property
    def side_limits(self) -> Limits:
        """The limits for questions nobody asked."""
        return replace(self.limits, states=min(self.limits.states, self.side_states))
