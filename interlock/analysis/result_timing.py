"""What a measuring of times comes to: frozen values that the reports of `interlock timing` are made from."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.analysis.result import ToldScenario
from interlock.core.question import Bound, Verdict


@dataclass(frozen=True, slots=True)
class Length:
    """A length of time in ticks; `open`: it is approached as closely as one likes, not reached."""

    ticks: int
    open: bool = False


@dataclass(frozen=True, slots=True)
class Extreme:
    """The least or the greatest length of what is measured. `verdict` HOLDS: `length` is exact; UNDECIDED: `limit` was
    hit, a run reaches `length` (None: none known), and none goes beyond `proved` (None: not known).

    `endless`: (a greatest) what is waited for may never come. `never`: (a least) it never comes; then `risen` tells
    whether what begins the measuring does. `scenario`: a run to the extreme; in the one run that it carries measuring
    begins with event number `begins` (0: at the start) at the time `begins_at`, and ends with event `ends` (None: after
    the last event, in waiting) at `ends_at`, in ticks. `rests_on`: the ends of windows without which it would be
    exceeded (None: not known), in words and by their ids.
    """

    verdict: Verdict
    length: Length | None = None
    proved: Length | None = None
    scenario: ToldScenario | None = None
    begins: int = 0
    ends: int | None = None
    begins_at: Fraction | None = None
    ends_at: Fraction | None = None
    endless: bool = False
    never: bool = False
    risen: bool = True
    rests_on: tuple[str, ...] | None = None
    rests_on_ends: tuple[Bound, ...] | None = None
    limit: str | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """Both extremes of one length."""

    earliest: Extreme
    latest: Extreme

    @property
    def decided(self) -> bool:
        """Whether both are exact."""
        return Verdict.UNDECIDED not in (self.earliest.verdict, self.latest.verdict)


@dataclass(frozen=True, slots=True)
class MeasuredBetween:
    """From one condition to another, both as the user wrote them."""

    begins: str
    ends: str
    measured: Measured


@dataclass(frozen=True, slots=True)
class Exposure:
    """How near a rule or hazard with a time in it comes to that time. `longest`: the longest is measured, else the
    shortest (of what is to last). `allowed`: the time, `open` if it is itself too much (too little). `slack`: what is
    left of it, in ticks; less than nothing: by so much it is exceeded; None: not known, or no end to it. `claimed`: the
    rule claims to withstand so many failures, so that it counts for the verdict."""

    id: str
    hazard: bool
    words: str
    says: str
    longest: bool
    allowed: Length
    measured: Extreme
    verdict: Verdict
    slack: int | None
    claimed: bool
