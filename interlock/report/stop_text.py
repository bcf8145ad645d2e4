"""A stop budget as text: the phases as bars one after the other, what is left for charging, what that brings.

In: a `StopResult`. Out: lines on a page. Numbers that would not end are cut on the side where they promise less.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result_stop import BatteryResult, PhaseTime, Shortened, StopResult
from interlock.core.question import Verdict
from interlock.diag.cells import harmless, width
from interlock.report.bars import LEFT, USED, span
from interlock.report.page import Ink, Page, fitted
from interlock.report.words import listed
from interlock.spec.quantities import brief, exact, show_time
from interlock.spec.units import UNITS

ID_MOST = 18
TIMES = 26
ROOM = 20
CHARGED = "="
NEVER_COMES = "it never comes"


def tell_stop(page: Page, stop: StopResult) -> None:
    """The whole budget on the page."""
    page.heading(f"The stop: {show_time(stop.stop_s)}{f', {stop.words}' if stop.words else ''}")
    _bars(page, stop)
    page.gap()
    _judged(page, "Fits", stop.fits, _fits(stop))
    _judged(page, "Energy", stop.enough, _energy(stop))
    page.labelled("Lateness", _late(stop), ROOM, 2)
    if stop.battery is not None:
        _battery(page, stop.battery)
    if stop.shortened:
        _shortened(page, stop.shortened)


def _judged(page: Page, label: str, verdict: Verdict, text: str) -> None:
    page.labelled(label, f"{verdict.value}: {text}", ROOM, 2)


def _bars(page: Page, stop: StopResult) -> None:
    """Every phase at its latest: begun where those before it end at their longest."""
    ids = fitted((phase.id for phase in stop.phases), ID_MOST)
    cells = page.width - ids - TIMES - 8
    ends = Fraction(0)
    for phase in stop.phases:
        least, greatest = phase.least_s or Fraction(0), phase.greatest_s
        if phase.rest:
            least = greatest = max(stop.left_s or Fraction(0), Fraction(0))
        mark = CHARGED if phase.charging else USED
        bar = _bar(ends, least, least if greatest is None else greatest, stop.stop_s, cells, mark)
        ends += least if greatest is None else greatest
        name = harmless(phase.id)
        if width(name) > ids:
            page.paragraph(name, 2)
            name = ""
        page.block(f"{name}{' ' * (ids - width(name))}  |{bar}|  {_times(phase, stop)}", 2)
    told = f"{USED} at the least, {LEFT} and up to the most, {CHARGED} charging; the line is the stop"
    page.paragraph(told, 2, ink=Ink.FAINT)
    if ends > stop.stop_s:
        page.paragraph("What does not fit into the stop is cut off.", 2, ink=Ink.FAINT)


def _bar(begin: Fraction, least: Fraction, greatest: Fraction, of: Fraction, cells: int, mark: str) -> str:
    whole = span(begin, begin + greatest, of, cells, LEFT)
    if least == 0:
        return whole
    sure = span(begin, begin + least, of, cells, mark)
    return "".join(a if a != " " else b for a, b in zip(sure, whole, strict=True))


def _times(phase: PhaseTime, stop: StopResult) -> str:
    if phase.rest:
        return "not known" if stop.left_s is None else f"what is left: {show_time(stop.left_s)}"
    least = "?" if phase.least_s is None else f"{'over ' if phase.least_open else ''}{show_time(phase.least_s)}"
    if phase.endless:
        return NEVER_COMES if phase.earliest is not None and phase.earliest.never else f"{least}, may never end"
    if phase.greatest_s is None:
        return f"{least} .. not known"
    return f"{least} .. {'under ' if phase.greatest_open else ''}{show_time(phase.greatest_s)}"


def _fits(stop: StopResult) -> str:
    limits = {phase.limit for phase in stop.phases if phase.limit is not None and not phase.endless}
    endless = [phase.id for phase in stop.phases if phase.endless]
    if endless:
        return f"no time can be promised for {listed(endless)}"
    if stop.left_s is None or stop.others_greatest_s is None:
        return f"not every phase is known ({'; '.join(sorted(limits))})"
    others = f"all but charging takes {show_time(stop.others_greatest_s)} at the most"
    if stop.left_s < 0:
        return f"{others}, {show_time(-stop.left_s)} more than the stop"
    charging = next(phase for phase in stop.phases if phase.charging)
    if charging.greatest_s is not None and stop.left_s < charging.greatest_s:
        left, longest = show_time(stop.left_s), show_time(charging.greatest_s)
        return f"{others}, so {left} is left, and charging takes {longest} at the most"
    most = "" if stop.left_most_s is None else f" (at the best {show_time(stop.left_most_s)})"
    return f"{others}, so {show_time(stop.left_s)} is left for charging{most}"


def _energy(stop: StopResult) -> str:
    need = f"{_amount(stop.needs_j, up=True)} needed, which takes {_time(stop.needed_s, up=True)} of charging"
    if stop.charged_j is None or stop.charged_s is None:
        return f"not known what the train gets; {need}"
    told = f"at least {_amount(stop.charged_j, up=False)} in {show_time(stop.charged_s)} of charging; {need}"
    if stop.possible_j is not None and stop.possible_j > stop.charged_j:
        told += f"; all that is left of the stop would give {_amount(stop.possible_j, up=False)}"
    return told


def _late(stop: StopResult) -> str:
    if stop.late_s is not None:
        return f"a train may be up to {_time(stop.late_s, up=False)} late, leave in time and still get what it needs"
    if stop.left_s is None or stop.enough is Verdict.UNDECIDED:
        return "not known"
    return "a train that is in time does not surely get what it needs"


def _battery(page: Page, one: BatteryResult) -> None:
    if one.drawn_j is None or one.regained_j is None or one.recovery_s is None:
        _judged(page, "Battery", one.holds, "not known for how long it is drawn on")
        return
    drawn = _amount(one.drawn_j, up=True)
    _judged(
        page,
        "Battery",
        one.holds,
        f"a stop takes up to {drawn} out of it, of {_amount(one.holds_j, up=False)} it holds",
    )
    regained = f"{_amount(one.regained_j, up=False)} comes back until the next train"
    _judged(page, "Recovery", one.recovers, f"{regained}, of {drawn}; all of it takes {_time(one.recovery_s, up=True)}")


def _shortened(page: Page, found: tuple[Shortened, ...]) -> None:
    step = show_time(found[0].by_s)
    page.heading(f"Windows on which the longest stop rests, each ended {step} sooner by itself")
    for one in found:
        gain = "not known" if one.gain_s is None else show_time(one.gain_s)
        page.labelled(gain, listed(one.of), ROOM, 2)


def _amount(value_j: Fraction, *, up: bool) -> str:
    unit = "MWh" if value_j >= UNITS["MWh"][1] else "kWh" if value_j * 10 >= UNITS["kWh"][1] else "J"
    return f"{exact(brief(value_j / UNITS[unit][1], up=up))} {unit}"


def _time(value_s: Fraction, *, up: bool) -> str:
    return show_time(brief(value_s, up=up))
