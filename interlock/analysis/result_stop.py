"""What `interlock timing` comes to, a stop budget above all: frozen values, exact, in seconds and joules."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.analysis.result import Heading
from interlock.analysis.result_timing import Exposure, Extreme, MeasuredBetween
from interlock.core.question import Verdict


@dataclass(frozen=True, slots=True)
class PhaseTime:
    """A phase of the stop. `least_s`, `greatest_s`: None where not known, or `endless`; `least_open`, `greatest_open`:
    only approached. `charging`: the train is charged in it. `rest`: it has no time of its own and takes what is left.
    `limit`: why it is not known. `earliest`, `latest`: as measured (None: stated)."""

    id: str
    words: str
    charging: bool
    rest: bool
    least_s: Fraction | None
    least_open: bool
    greatest_s: Fraction | None
    greatest_open: bool
    endless: bool
    limit: str | None
    earliest: Extreme | None
    latest: Extreme | None


@dataclass(frozen=True, slots=True)
class BatteryResult:
    """The battery beside the line over one stop and the time to the next. `drawn_j`: the most that a stop takes out of
    it (None: not known). `holds`, `recovers`: whether it can give that, and has it back by then. `regained_j`: what it
    gains between, `recovery_s`: how long it takes to gain all of it."""

    drawn_j: Fraction | None
    holds_j: Fraction
    holds: Verdict
    regained_j: Fraction | None
    recovery_s: Fraction | None
    recovers: Verdict


@dataclass(frozen=True, slots=True)
class Shortened:
    """What it buys to shorten one window, at one place of the spec: `of` are its events, `by_s` by how much it is
    shortened, `gain_s` by how much the longest stop without charging becomes shorter; None: not known."""

    of: tuple[str, ...]
    by_s: Fraction
    gain_s: Fraction | None


@dataclass(frozen=True, slots=True)
class StopResult:
    """A stop budget worked out. `others_least_s`, `others_greatest_s`: all phases but charging, one after the other.
    `left_s`: what remains for charging at the least, `left_most_s` at the most. `charged_s`: for how long the train is
    charged in any case, `charged_j`: with how much; `possible_j`: with how much if all that remains were used.
    `needed_s`: how long it takes to give what is needed. `late_s`: so late a train may be and still gets it (None: it
    gets it never, or not known). `fits`: everything has room in the stop; `enough`: the train gets what it needs."""

    words: str
    stop_s: Fraction
    needs_j: Fraction
    phases: tuple[PhaseTime, ...]
    others_least_s: Fraction | None
    others_greatest_s: Fraction | None
    left_s: Fraction | None
    left_most_s: Fraction | None
    charged_s: Fraction | None
    charged_j: Fraction | None
    possible_j: Fraction | None
    needed_s: Fraction
    late_s: Fraction | None
    fits: Verdict
    enough: Verdict
    battery: BatteryResult | None
    shortened: tuple[Shortened, ...]

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """All that is judged."""
        battery = () if self.battery is None else (self.battery.holds, self.battery.recovers)
        return (self.fits, self.enough, *battery)


@dataclass(frozen=True, slots=True)
class TimingResult:
    """What was measured, with up to `failures` failures: between two conditions, or what the time limits of the spec
    speak of; and its stop budget, always without failures."""

    heading: Heading
    failures: int
    verdict: Verdict
    exit_code: int
    between: MeasuredBetween | None = None
    exposures: tuple[Exposure, ...] = ()
    stop: StopResult | None = None
