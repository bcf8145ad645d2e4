"""A scenario told step by step: numbered events, who makes them, what changes, where it settles, how it ends.

In: a told scenario. Out: lines on a page. Failures are marked by a word in capitals, not by colour alone.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result import Age, Change, ToldEvent, ToldScenario
from interlock.core.question import Ends
from interlock.report.page import Ink, Page, Piece
from interlock.report.words import age, counted, listed
from interlock.spec.quantities import show_time

WHO = {
    "free": "world",
    "bound": "plant",
    "consequence": "at once",
    "logic": "logic",
    "reading": "reading",
    "timer": "timer",
    "failure": "FAILURE",
    "repair": "repair",
}
"""Who or what makes an event of each kind."""

ENDS = {
    Ends.BREACH: "Broken",
    Ends.LOOP: "No end",
    Ends.STUCK: "No way on",
    Ends.NO_WAY: "No way",
    Ends.REACHED: "Reached",
}

ROOM = 11
"""Cells for the labels before and after the events."""


def tell_scenario(page: Page, told: ToldScenario, tick_s: Fraction, indent: int = 2) -> None:
    """The whole scenario on the page."""
    tell_way(page, told, tick_s, indent)
    passing = told.ends is Ends.BREACH and bool(told.events) and not told.events[-1].settled
    page.labelled(ENDS[told.ends], f"{told.breach} (in passing)" if passing else told.breach, ROOM, indent)
    if told.missed is not None or told.no_way_from is not None or (told.events and told.events[-1].at is not None):
        page.labelled("One run", one_run(told, tick_s), ROOM, indent)
    if told.values:
        page.labelled("Values", ", ".join(map(_value, told.values)), ROOM, indent)


def tell_way(page: Page, told: ToldScenario, tick_s: Fraction, indent: int = 2, *, in_one_run: bool = False) -> None:
    """Where a scenario starts and its events; not how it ends. `in_one_run`: with the times of its one run alone."""
    for failure in told.at_start:
        page.labelled("At start", f"FAILURE: {failure} is present", ROOM, indent)
    if told.start:
        label = "" if told.at_start else "At start"
        page.labelled(label, ", ".join(f"{c.thing} is {c.before}" for c in told.start), ROOM, indent)
    _events(page, told, tick_s, indent, in_one_run=in_one_run)


def summary(told: ToldScenario) -> str:
    """A scenario in one line: its failures and its length."""
    failures = [f"{name} (at the start)" for name in told.at_start]
    failures += [event.action.removesuffix(" happens") for event in told.events if event.kind == "failure"]
    by = f"{listed(failures)}, " if failures else ""
    return f"{by}{length(told)}"


def length(told: ToldScenario) -> str:
    """How many events it takes."""
    return f"in {counted(len(told.events), 'event')}" if told.events else "at the start"


def unless_timing_forbids(told: ToldScenario | None) -> str:
    """What is said before a scenario of which it is not known whether the declared times allow it."""
    if told is not None and told.ends is Ends.REACHED:
        return "There is a way, unless timing forbids it:"
    return "This breaks it, unless timing forbids:"


def _events(page: Page, told: ToldScenario, tick_s: Fraction, indent: int, *, in_one_run: bool) -> None:
    digits = len(str(len(told.events)))
    left = page.width - indent - digits - 7 - 6
    widths = (digits, 7, left // 2, left - left // 2)
    settled = True
    for i, event in enumerate(told.events):
        if told.loop_from == i:
            page.row((Piece(""), Piece(""), Piece("from here on for ever:", Ink.STRONG), Piece("")), widths, indent)
        failed = event.kind == "failure"
        ink = Ink.FAILS if failed else Ink.PLAIN
        number = Piece(f"{i + 1:>{digits}}")
        page.row(
            (
                number,
                Piece(WHO.get(event.kind, event.kind), ink),
                Piece(_says(event, tick_s, in_one_run=in_one_run), ink),
                Piece(_changes(event)),
            ),
            widths,
            indent,
        )
        if event.settled and not settled:
            page.row((Piece(""), Piece(""), Piece("settled", Ink.FAINT), Piece("")), widths, indent)
        settled = event.settled


def _says(event: ToldEvent, tick_s: Fraction, *, in_one_run: bool) -> str:
    if in_one_run and event.at is not None:
        return f"{event.says} (at {show_time(event.at * tick_s)})"
    told = when(event.earliest, event.latest, tick_s)
    return f"{event.says} ({told})" if told else event.says


def when(earliest: Age | None, latest: Age | None, tick_s: Fraction) -> str:
    """Between which times an event can happen on its way; empty where that is not known."""
    if earliest is None:
        return ""
    first = age(earliest, tick_s, latest=False)
    if latest is None:
        return f"from {first} on"
    last = age(latest, tick_s, latest=True)
    return f"at {first}" if first == last else f"between {first} and {last}"


def one_run(told: ToldScenario, tick_s: Fraction, waited: str = "broken") -> str:
    """Times that fit together, by the numbers of the events; events at one time are told together. `waited`: what is
    said of the time at the end that is waited for."""
    runs: list[tuple[Fraction, int, int]] = []
    for i, event in enumerate(told.events, start=1):
        assert event.at is not None
        if runs and runs[-1][0] == event.at:
            runs[-1] = (event.at, runs[-1][1], i)
        else:
            runs.append((event.at, i, i))
    parts = [
        f"{first if first == last else f'{first} to {last}'} at {show_time(at * tick_s)}" for at, first, last in runs
    ]
    if told.missed is not None:
        parts.append(f"{waited} at {show_time(told.missed.at * tick_s)}")
    if told.no_way_from is not None:
        parts.append(f"no way left at {show_time(told.no_way_from * tick_s)}")
    events = {0: "", 1: "event "}.get(len(told.events), "events ")
    return f"{events}{', '.join(parts)}"


def _changes(event: ToldEvent) -> str:
    """What an event changes; that a failure is present afterwards is told by its name already."""
    told = [c for c in event.changes if not (event.kind == "failure" and c.after == "true" and c.thing in event.action)]
    return ", ".join(f"{c.thing}: {c.before} -> {c.after}" for c in told)


def _value(change: Change) -> str:
    was = f" (was {change.before})" if change.before != change.after else ""
    return f"{change.thing} is {change.after}{was}"
