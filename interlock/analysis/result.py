"""What a check comes to: frozen values that every report is made from."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.core.question import Ends, Margin, Moment, Timing, Verdict
from interlock.diag.diagnostic import Diagnostic, Severity
from interlock.diag.place import Span
from interlock.spec.model import Taken, WorkedOut


@dataclass(frozen=True, slots=True)
class Age:
    """An exact time on a way, in ticks; `open`: not reached, only approached."""

    ticks: int
    open: bool


@dataclass(frozen=True, slots=True)
class Change:
    """One variable that an event changes, as people write its values."""

    thing: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class ToldEvent:
    """One event of a scenario. `says`: one line in the words of the spec. `earliest`, `latest` and `at` are known only
    where the declared timing was explored, else None; `at`: its time in one run that fits together, in ticks.
    `settled`: whether the situation after it is settled."""

    action: str
    owner: str
    kind: str
    says: str
    changes: tuple[Change, ...]
    settled: bool
    place: Span | None
    earliest: Age | None = None
    latest: Age | None = None
    at: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Missed:
    """A deadline missed by waiting after the last event. `limit`: the earliest time at which it runs out on this way,
    `open` if it is missed only later than that; `at`: a time in the run of `ToldEvent.at` at which it is missed."""

    limit: Age
    at: Fraction


@dataclass(frozen=True, slots=True)
class ToldScenario:
    """A replayed scenario in words. `at_start`: failures present at the start. `start`: items, steps and so on that
    matter, at the start. `breach`: the expression that is broken, as text, and the values it was read from, before and
    after the last event. `loop_from`: index of the event from which the rest repeats for ever. `missed`: for a deadline
    that is missed by waiting after the last event. `runs_from`: for a deadline, after how many events the time began to
    run that is broken at the end. `observed`: of conditions that a picture asked for, whether each held at the start
    and after each event. `no_way_from`: in the run of `ToldEvent.at`, a time at which no way to the goal is left."""

    at_start: tuple[str, ...]
    start: tuple[Change, ...]
    events: tuple[ToldEvent, ...]
    ends: Ends
    loop_from: int | None
    breach: str
    values: tuple[Change, ...]
    n_failures: int
    missed: Missed | None = None
    runs_from: int | None = None
    observed: tuple[tuple[str, tuple[bool, ...]], ...] = ()
    no_way_from: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Cell:
    """One answer of the grid. `common_cause`: common causes were allowed (a row of its own, outside the claim unless
    the rule says so). `claimed`: the cell counts for the verdict and the exit code. `scenario`: of a breach, or the way
    to it "unless timing forbids" when `verdict` is undecided. `limit`: why undecided, in words.
    `clocks`: how many the declared timing needed (None: not known)."""

    failures: int
    common_cause: bool
    timing: Timing
    claimed: bool
    verdict: Verdict
    scenario: ToldScenario | None
    limit: str | None
    engine: str
    clocks: int | None = None


@dataclass(frozen=True, slots=True)
class ToldMargin:
    """How far one end of a window that a verdict rests on may move. `window`: it, as in `Judged.rests_on`. `declared`:
    its value. `all_as_declared`: the margin with all other times as declared, `relying`: relying on nothing but the
    times that the verdict rests on; both move the same ends (several where one time of the spec makes them) the same
    way. `says`: all this in words."""

    window: str
    declared: Moment
    all_as_declared: Margin
    relying: Margin
    says: str


@dataclass(frozen=True, slots=True)
class Judged:
    """A rule or a hazard judged. `says`: what is asked, in the words of the language, conditions written out.
    `verdict`: the timings combined, then the worst over the claimed cells.
    `rests_on`: windows and assumptions it rests on, None where not known. `slow_logic`: the verdict when logic that
    reacts immediately is taken to be slower than the plant (None: not asked). `undecided_because`: why, in words.
    `combined`: the verdict at each (failures, common cause), timings combined. `margins`: of the windows it rests on,
    in their order; None: not asked for."""

    id: str
    kind: str
    hazard: bool
    words: str
    says: str
    severity: str
    guards_against: tuple[str, ...]
    withstands: int
    verdict: Verdict
    grid: tuple[Cell, ...]
    combined: tuple[tuple[int, bool, Verdict], ...]
    rests_on: tuple[str, ...] | None
    slow_logic: Verdict | None
    undecided_because: str | None
    place: Span | None
    margins: tuple[ToldMargin, ...] | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """A finding about the spec itself: kind, severity, place and cure as a diagnostic, and a scenario where there is
    one."""

    diagnostic: Diagnostic
    scenario: ToldScenario | None = None

    @property
    def is_error(self) -> bool:
        """Whether the finding gives exit code 1."""
        return self.diagnostic.severity is Severity.ERROR


ALL_FINDINGS = "findings about the spec"
"""`NotChecked.what` where no findings were looked for at all."""


@dataclass(frozen=True, slots=True)
class NotChecked:
    """Something that was not checked, and why."""

    what: str
    reason: str


@dataclass(frozen=True, slots=True)
class Assumed:
    """An assumption on which the results rest. `rests`: ids of rules and hazards that fall when it is dropped (None:
    not asked, for assumptions that are not in the spec)."""

    id: str
    words: str
    owner: str
    rests: tuple[str, ...] | None


@dataclass(frozen=True, slots=True)
class EngineUse:
    """What an engine explored for the whole system: budget, distinct situations, events; `decided`: ids it decided.
    `parts`: how many parts were explored, each with all that can influence it; numbers are then sums over them.
    `timing`: for which reading of time; for the declared one nothing is counted, and `limit` tells all that were hit.
    """

    name: str
    failures: int
    decided: tuple[str, ...]
    settled: int | None
    passing: int | None
    events_explored: int | None
    limit: str | None
    parts: int = 1
    timing: Timing = Timing.ANY


@dataclass(frozen=True, slots=True)
class Heading:
    """What was checked, by whom: from the heading of the spec, with digests of the file and of the core. `based_on`:
    the files beneath a draft, the nearest first, each with its digest; `file_digest` then covers them all."""

    title: str
    revision: str
    prepared_by: str
    standards: tuple[str, ...]
    file: str
    file_digest: str
    system_digest: str
    tick_s: Fraction
    based_on: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Expected:
    """What a draft is there to show: that `id`, and `also` those beside it, are broken with just so many failures, by
    any timing or the declared one. `met`: None where not known; then, and where not met, `reason` says why."""

    id: str
    failures: int
    also: tuple[str, ...]
    timing: Timing
    met: bool | None
    reason: str
    place: Span


@dataclass(frozen=True, slots=True)
class CheckResult:
    """The result of `check`. `exit_code` follows the table of exit codes; `verdict` is the first line of every
    report. `worked_out`, `taken`: computed parameters, and what they were taken for, as the spec has them."""

    heading: Heading
    verdict: Verdict
    exit_code: int
    rules: tuple[Judged, ...]
    hazards: tuple[Judged, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumed, ...]
    engines: tuple[EngineUse, ...]
    not_checked: tuple[NotChecked, ...]
    n_items: int
    n_failures: int
    expected: tuple[Expected, ...] = ()
    worked_out: tuple[WorkedOut, ...] = ()
    taken: tuple[Taken, ...] = ()


@dataclass(frozen=True, slots=True)
class FindResult:
    """The result of `find`: one cell a number of failures asked, fewest first; the last one has the scenario if
    found."""

    heading: Heading
    condition: str
    verdict: Verdict
    exit_code: int
    cells: tuple[Cell, ...]
    rests_on_timing: bool
    engine: EngineUse | None
