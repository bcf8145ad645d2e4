"""Results made by hand, with everything in them that a report can show: what `check` and `find` would give.

The installation is invented and the values need not fit each other: reports do not judge.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from interlock.analysis.result import (
    Age,
    Assumed,
    Cell,
    Change,
    CheckResult,
    EngineUse,
    Expected,
    Finding,
    FindResult,
    Heading,
    Judged,
    NotChecked,
    ToldEvent,
    ToldMargin,
    ToldScenario,
)
from interlock.core.question import Bound, Ends, Margin, Moment, Timing, Verdict
from interlock.diag.diagnostic import Diagnostic, Mark, Severity
from interlock.diag.place import Sources, Span
from interlock.spec.model import Taken, Used, WorkedOut

FILE = "specs/made.yaml"
TEXT = "format: interlock/1\nhazards:\n  H1: {words: a live rail in reach, happens: rail is live}\nrules:\n  R2: {}\n"
SOURCES = Sources({FILE: TEXT})

FEEDER_CLOSES = (Bound("feeder closes", True), Bound("feeder closes though withdrawn", True))
HOLDS, FAILS, UNDECIDED = Verdict.HOLDS, Verdict.FAILS, Verdict.UNDECIDED
ANY, DECLARED = Timing.ANY, Timing.DECLARED


def at(line: int, first: int, last: int) -> Span:
    """A place in the made file."""
    return Span(FILE, line, first, line, last)


def event(
    action: str,
    kind: str,
    *changes: tuple[str, str, str],
    settled: bool = True,
    earliest: Age | None = None,
    latest: Age | None = None,
) -> ToldEvent:
    """An event that belongs to the first word of its action."""
    told = tuple(Change(*change) for change in changes)
    return ToldEvent(action, action.split()[0], kind, action, told, settled, at(1, 1, 7), earliest, latest)


BREACH = ToldScenario(
    at_start=("hold_fails",),
    start=(Change("train", "away", "away"), Change("ground", "idle", "idle")),
    events=(
        event("train arrives", "free", ("train", "away", "standing"), settled=False),
        event("ground begin", "logic", ("ground", "idle", "charging"), settled=False),
        event("feeder closes", "consequence", ("feeder", "open", "closed"), ("rail", "dead", "live")),
        event("feeder_welded happens", "failure", ("feeder_welded", "false", "true")),
        event("train leaves", "free", ("train", "standing", "away"), earliest=Age(0, False), latest=Age(2000, True)),
    ),
    ends=Ends.BREACH,
    loop_from=None,
    breach="rail is live and train is away",
    values=(Change("train", "standing", "away"), Change("rail", "live", "live")),
    n_failures=2,
)
"""Five events, a failure at the start and one on the way, ages at the last event."""

LOOP = ToldScenario(
    at_start=(),
    start=(Change("key", "rest", "rest"),),
    events=(
        event("key turns", "free", ("key", "rest", "turned")),
        event("key turns_back", "free", ("key", "turned", "rest")),
    ),
    ends=Ends.LOOP,
    loop_from=0,
    breach="this can repeat for ever without: ground is idle",
    values=(),
    n_failures=0,
)
"""Two events that repeat for ever from the first on."""


def cell(
    failures: int,
    verdict: Verdict,
    *,
    timing: Timing = ANY,
    common_cause: bool = False,
    claimed: bool = True,
    scenario: ToldScenario | None = None,
    limit: str | None = None,
) -> Cell:
    """A cell that the quick engine answered."""
    return Cell(failures, common_cause, timing, claimed, verdict, scenario, limit, "quick")


def judged(id: str, verdict: Verdict, *cells: Cell, combined: tuple[tuple[int, bool, Verdict], ...] = ()) -> Judged:
    """A rule; unless told, the cells of any timing are the combined ones."""
    rows = combined or tuple((c.failures, c.common_cause, c.verdict) for c in cells if c.timing is ANY)
    return Judged(
        id=id,
        kind="never",
        hazard=False,
        words="",
        says="never: rail is live and train is away",
        severity="",
        guards_against=("H1",),
        withstands=1,
        verdict=verdict,
        grid=cells,
        combined=rows,
        rests_on=None,
        slow_logic=None,
        undecided_because=None,
        place=at(5, 3, 5),
    )


def hazard(id: str, verdict: Verdict, *cells: Cell) -> Judged:
    """A hazard."""
    made = judged(id, verdict, *cells)
    return replace(
        made,
        kind="hazard",
        hazard=True,
        words="a live rail lies within reach",
        says="rail is live and train is away",
        severity="catastrophic",
        guards_against=(),
        place=at(3, 3, 5),
    )


HEADING = Heading(
    title="Brackwater Quay, platform 1",
    revision="C",
    prepared_by="the authors",
    standards=("EN 50126", "EN 50122-1"),
    file=FILE,
    file_digest="ab" * 32,
    system_digest="cd" * 32,
    tick_s=Fraction(1, 1000),
)

NOTE = Finding(
    Diagnostic("holds-when-settled", Severity.NOTE, "hazard `H1` holds only in settled situations", Mark(at(3, 3, 5)))
)
ERROR = Finding(
    Diagnostic(
        "nothing-can-happen",
        Severity.ERROR,
        "a situation can be reached in which nothing can happen",
        Mark(at(5, 3, 5), "the last event"),
        (Mark(at(3, 3, 5), "and here"),),
        ("give the last step a way out",),
    ),
    LOOP,
)

ALL_HOLD = CheckResult(
    heading=HEADING,
    verdict=HOLDS,
    exit_code=0,
    rules=(judged("R1", HOLDS, cell(0, HOLDS), cell(1, HOLDS)),),
    hazards=(hazard("H1", HOLDS, cell(0, HOLDS), cell(1, HOLDS)),),
    findings=(),
    assumptions=(),
    engines=(EngineUse("quick", 0, ("R1", "H1"), 12, 16, 1041, None),),
    not_checked=(),
    n_items=1,
    n_failures=3,
)
"""The plainest success."""

EVERYTHING = CheckResult(
    heading=replace(HEADING, based_on=(("specs/beneath.yaml", "ef" * 32), ("specs/deeper.yaml", "01" * 32))),
    verdict=FAILS,
    exit_code=1,
    rules=(
        replace(
            judged(
                "R10",
                UNDECIDED,
                cell(0, FAILS, scenario=LOOP),
                cell(
                    0,
                    UNDECIDED,
                    timing=DECLARED,
                    limit="undecided until declared timing is explored for rules of this kind",
                ),
                combined=((0, False, UNDECIDED),),
            ),
            kind="always_ends",
            says="always_ends: ground is idle, from: ground is returning",
            guards_against=(),
            undecided_because="undecided until declared timing is explored for rules of this kind",
        ),
        judged(
            "R2",
            FAILS,
            cell(0, HOLDS),
            cell(1, FAILS, scenario=BREACH),
            cell(2, FAILS, scenario=BREACH, claimed=False),
            cell(1, FAILS, scenario=BREACH, common_cause=True, claimed=False),
        ),
        replace(
            judged(
                "R3",
                HOLDS,
                cell(0, FAILS, scenario=BREACH),
                cell(0, HOLDS, timing=DECLARED),
                combined=((0, False, HOLDS),),
            ),
            rests_on=("feeder closes: at most 120 ms",),
            margins=(
                ToldMargin(
                    window="feeder closes: at most 120 ms",
                    declared=Moment(Fraction(120)),
                    all_as_declared=Margin(FEEDER_CLOSES, None, "more than 20,000 zones of ages were reached"),
                    relying=Margin(FEEDER_CLOSES, Moment(Fraction(401, 3), True)),
                    says="breaks beyond 401/3 ms; all other times as declared, margin not known: more than 20,000 "
                    "zones of ages were reached",
                ),
            ),
            slow_logic=UNDECIDED,
        ),
        judged("R4", HOLDS, cell(0, HOLDS), cell(1, HOLDS), cell(2, FAILS, scenario=BREACH, claimed=False)),
        replace(
            judged("R5", UNDECIDED, cell(0, UNDECIDED, timing=DECLARED), combined=((0, False, UNDECIDED),)),
            kind="after",
            says="after: contact is none, within: 300 ms, must: rail is dead",
            undecided_because="a deadline has a verdict for the declared timing only; the declared timing "
            "was not asked for",
        ),
    ),
    hazards=(
        hazard("H1", FAILS, cell(0, HOLDS), cell(1, FAILS, scenario=BREACH)),
        replace(hazard("H2", HOLDS, cell(0, HOLDS), cell(1, HOLDS)), slow_logic=HOLDS),
    ),
    findings=(ERROR, NOTE),
    assumptions=(
        Assumed("A1", "nobody moves the train while it is held", "operator", ("H1", "R2")),
        Assumed("ground reacts immediately", "the logic of `ground` is faster than anything in the plant", "", ()),
        Assumed("A2", "something that was not asked about", "", None),
    ),
    engines=(
        EngineUse("quick", 0, ("R2", "H2"), 1812, 15163, 36851, None),
        EngineUse("quick", 1, (), None, None, None, "more than 20,000 situations can be reached"),
        EngineUse("zones", 0, ("R3",), None, None, None, None, timing=DECLARED),
    ),
    not_checked=(NotChecked("deadlines: R5", "the declared timing was not asked for"),),
    n_items=27,
    n_failures=49,
    expected=(
        Expected("R2", 1, ("H1",), ANY, True, "", at(5, 3, 5)),
        Expected("R4", 0, (), ANY, False, "R4 holds", at(5, 3, 5)),
        Expected("R3", 2, (), DECLARED, None, "R3 was not asked with 2; `--failures 2` does", at(5, 3, 5)),
    ),
    worked_out=(
        WorkedOut("resistor", "2 kohm +- 5 %", "1.9 kohm .. 2.1 kohm", "data sheet", (), (), at(3, 3, 5)),
        WorkedOut(
            "discharge",
            "discharge_time(resistor, 500 uF, 825 V, touch_voltage_limit(300 s))",
            "1.61951 s .. 1.78999 s",
            "",
            (("resistor", "1.9 kohm .. 2.1 kohm"),),
            (
                Used(
                    "discharge_time",
                    "resistance * capacitance * ln(from / to)",
                    "1.61951 s .. 1.78999 s",
                    "",
                    (("resistance", "1.9 kohm"), ("capacitance", "500 uF"), ("from", "825 V"), ("to", "150 V")),
                    (("resistance", "2.1 kohm"), ("capacitance", "500 uF"), ("from", "825 V"), ("to", "150 V")),
                ),
                Used("touch_voltage_limit", "a row of a table", "150 V", "a table", *[(("duration", "300 s"),)] * 2),
            ),
            at(4, 1, 5),
        ),
    ),
    taken=(
        Taken(
            "`takes` of move `decays` of item `rail`",
            "0 s .. discharge",
            "from 0 s to 1.61951 s .. 1.78999 s",
            "0 s .. 1.79 s",
            True,
            (("discharge", "1.61951 s .. 1.78999 s"),),
            (),
            at(5, 3, 5),
        ),
    ),
)
"""Something of everything."""

NOTHING = replace(ALL_HOLD, verdict=UNDECIDED, exit_code=3, rules=(), hazards=(), engines=())
"""Nothing was checked."""

FOUND = FindResult(
    heading=HEADING,
    condition="rail is live and train is away",
    verdict=HOLDS,
    exit_code=0,
    cells=(cell(0, FAILS), cell(1, FAILS), cell(2, HOLDS, scenario=replace(BREACH, ends=Ends.REACHED))),
    rests_on_timing=False,
    engine=EngineUse("quick", 2, (), None, None, None, None),
)

NOT_FOUND = replace(FOUND, verdict=FAILS, exit_code=1, cells=(cell(0, FAILS), cell(1, FAILS)))
