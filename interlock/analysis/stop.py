"""The stop budget: does an ordinary stop bring the energy that the train needs, and how much room is there?

In: a spec with a stop budget. Out: a `StopResult`. Each phase is measured by itself, without failures. Their least
times together are no more, their greatest no less, than what one whole stop can take: what is judged rests on the
greatest, so it is never judged too well.

What the train is sure to get is what its charging delivers at its shortest; where the phases at their longest do not
leave so much of the stop, what they leave. A late train loses time for charging and nothing else. The battery is taken
to be charged only between trains.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from interlock.analysis.charging import energy, time_for
from interlock.analysis.extremes import Asked, Stopwatch
from interlock.analysis.result_stop import BatteryResult, PhaseTime, Shortened, StopResult
from interlock.analysis.result_timing import Extreme
from interlock.core.elaborate import expression_of
from interlock.core.overlay import with_overlay
from interlock.core.question import Overlay, Verdict
from interlock.core.system import System
from interlock.diag.place import Span
from interlock.engines.api import Limits
from interlock.logic.expression import disjunction
from interlock.spec.model import Spec, StopBattery, StopBudget, StopPhase

NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class _Measuring:
    """What is measured of a phase: until it ends; and until it ends or is given up."""

    ends: Asked
    closes: Asked


def stop_result(spec: Spec, system: System, budget: StopBudget, limits: Limits) -> StopResult:
    """The budget worked out. Cost: two measurings a phase; one more for each window that may be shortened."""
    asked = {phase.id: one for phase in budget.phases if (one := _asked(spec, phase)) is not None}
    stopwatch = Stopwatch(system, limits, 0)
    # All latest first: they are asked of the system as it is, so that engines can share what they explored.
    latest = {id: stopwatch.latest(one.closes) for id, one in asked.items()}
    extremes = {id: (stopwatch.earliest(one.ends), latest[id]) for id, one in asked.items()}
    phases = tuple(_phase(phase, budget, extremes.get(phase.id), system.tick_s) for phase in budget.phases)
    others = [phase for phase in phases if not phase.charging]
    (charging,) = (phase for phase in phases if phase.charging)
    least, greatest = _sum(phase.least_s for phase in others), _sum(phase.greatest_s for phase in others)
    left = None if greatest is None else budget.stop_s - greatest
    room = None if left is None else max(left, NOTHING)
    ramps = budget.ramp_up_s + budget.ramp_down_s
    charged = room
    if room is not None and not charging.rest:
        charged = None if charging.least_s is None else min(charging.least_s, room)
    delivered = None if charged is None else energy(budget.power_w, ramps, charged)
    needed = time_for(budget.power_w, ramps, budget.needs_j)
    long_enough = charging.rest or (charging.least_s is not None and charging.least_s >= needed)
    result = StopResult(
        words=budget.words,
        stop_s=budget.stop_s,
        needs_j=budget.needs_j,
        phases=phases,
        others_least_s=least,
        others_greatest_s=greatest,
        left_s=left,
        left_most_s=None if least is None else budget.stop_s - least,
        charged_s=charged,
        charged_j=delivered,
        possible_j=None if room is None else energy(budget.power_w, ramps, room),
        needed_s=needed,
        late_s=left - needed if left is not None and left >= needed and long_enough else None,
        fits=_fits(left, charging, phases),
        enough=_enough(delivered, budget.needs_j, phases),
        battery=None,
        shortened=() if budget.shorten_by_s is None else _shortened(system, budget, phases, asked, limits),
    )
    if budget.battery is None:
        return result
    most = result.left_most_s if charging.rest else charging.greatest_s
    return replace(result, battery=_battery(budget, budget.battery, most, ramps))


def _asked(spec: Spec, phase: StopPhase) -> _Measuring | None:
    """What is measured of a phase; None: nothing."""
    if phase.begins is None or phase.ends is None:
        return None
    begins, ends = expression_of(spec, phase.begins), expression_of(spec, phase.ends)
    closes = ends if phase.unless is None else disjunction((ends, expression_of(spec, phase.unless)))
    return _Measuring(Asked(begins, ends), Asked(begins, closes))


def _phase(
    phase: StopPhase, budget: StopBudget, extremes: tuple[Extreme, Extreme] | None, tick_s: Fraction
) -> PhaseTime:
    if extremes is not None:
        return _measured(phase, budget, *extremes, tick_s)
    charging, takes = phase.id == budget.charging, phase.takes
    return PhaseTime(
        phase.id,
        phase.words,
        charging=charging,
        rest=takes is None,
        least_s=None if takes is None else takes.earliest_s,
        least_open=takes is not None and takes.earliest_open,
        greatest_s=None if takes is None else takes.latest_s,
        greatest_open=takes is not None and takes.latest_open,
        endless=takes is not None and takes.latest_s is None,
        limit=None,
        earliest=None,
        latest=None,
    )


def _measured(phase: StopPhase, budget: StopBudget, earliest: Extreme, latest: Extreme, tick_s: Fraction) -> PhaseTime:
    least_s, least_open = _seconds(earliest, tick_s)
    greatest_s, greatest_open = _seconds(latest, tick_s)
    return PhaseTime(
        phase.id,
        phase.words,
        charging=phase.id == budget.charging,
        rest=False,
        least_s=least_s,
        least_open=least_open,
        greatest_s=None if earliest.never else greatest_s,
        greatest_open=greatest_open,
        endless=earliest.never or latest.endless,
        limit="it never comes" if earliest.never else earliest.limit or latest.limit,
        earliest=earliest,
        latest=latest,
    )


def _seconds(extreme: Extreme, tick_s: Fraction) -> tuple[Fraction | None, bool]:
    """An extreme that is known exactly."""
    if extreme.verdict is not Verdict.HOLDS or extreme.length is None:
        return None, False
    return extreme.length.ticks * tick_s, extreme.length.open


def _sum(times: Iterable[Fraction | None]) -> Fraction | None:
    """Of all, or None where one is not known."""
    total = NOTHING
    for time in times:
        if time is None:
            return None
        total += time
    return total


def _judged(said: bool | None) -> Verdict:
    return Verdict.UNDECIDED if said is None else Verdict.HOLDS if said else Verdict.FAILS


def _fits(left: Fraction | None, charging: PhaseTime, phases: tuple[PhaseTime, ...]) -> Verdict:
    if any(phase.endless for phase in phases):
        return Verdict.FAILS
    if left is None or (not charging.rest and charging.greatest_s is None):
        return Verdict.UNDECIDED
    return _judged(left >= (charging.greatest_s or NOTHING))


def _enough(delivered: Fraction | None, needs: Fraction, phases: tuple[PhaseTime, ...]) -> Verdict:
    if any(phase.endless for phase in phases):
        return Verdict.FAILS
    return _judged(None if delivered is None else delivered >= needs)


def _battery(budget: StopBudget, battery: StopBattery, most_s: Fraction | None, ramps_s: Fraction) -> BatteryResult:
    if most_s is None:
        return BatteryResult(None, battery.holds_j, Verdict.UNDECIDED, None, None, Verdict.UNDECIDED)
    drawn = energy(budget.most_power_w, ramps_s, most_s) / battery.efficiency
    regained = battery.recharged_with_w * max(battery.next_train_s - most_s, NOTHING)
    return BatteryResult(
        drawn,
        battery.holds_j,
        _judged(drawn <= battery.holds_j),
        regained,
        drawn / battery.recharged_with_w,
        _judged(regained >= drawn),
    )


# --- what it buys to shorten a window ---


def _shortened(
    system: System,
    budget: StopBudget,
    phases: tuple[PhaseTime, ...],
    asked: Mapping[str, _Measuring],
    limits: Limits,
) -> tuple[Shortened, ...]:
    """Each window on which the longest time of a phase without charging rests, shortened by itself; what buys most
    first. Events of one place of the spec are shortened together: those of every instance of a part, and what follows
    from one `takes`."""
    assert budget.shorten_by_s is not None
    step = int(budget.shorten_by_s / system.tick_s)
    resting = [
        (phase, {end.of for end in phase.latest.rests_on_ends if end.latest})
        for phase in phases
        if not phase.charging and phase.latest is not None and phase.latest.rests_on_ends is not None
    ]
    found = []
    for ids in _places(system, {id for _, named in resting for id in named}):
        windows = []
        for action in system.actions:
            window = action.window
            if action.id in ids and window is not None and window.latest is not None:
                latest = max(window.latest - step, window.earliest)
                is_open = window.latest_open and latest > window.earliest
                closed = window.earliest_open and latest == window.earliest
                if not closed:
                    windows.append((action.id, replace(window, latest=latest, latest_open=is_open)))
        moved = with_overlay(system, Overlay(windows=tuple(windows)))
        gains = [
            _gain(phase.latest, Stopwatch(moved, limits, 0).latest(asked[phase.id].closes), system.tick_s)
            for phase, named in resting
            if phase.latest is not None and named & set(ids)
        ]
        named_here = tuple(id for id in ids if any(id in named for _, named in resting))
        found.append(Shortened(named_here, budget.shorten_by_s, _sum(gains)))
    return tuple(sorted(found, key=lambda one: (-(one.gain_s or NOTHING), one.of)))


def _places(system: System, ids: set[str]) -> list[tuple[str, ...]]:
    """The events with these ids, and with each those whose window stands at the same place and ends alike."""
    groups: dict[tuple[Span | None, int | None, str], list[str]] = {}
    wanted = set()
    for action in system.actions:
        if action.window is None or action.window.latest is None or action.ages_with:
            continue
        origin = system.origin.get(action.id)
        place = None if origin is None else origin.place
        key = (place, action.window.latest, action.id if place is None else "")
        groups.setdefault(key, []).append(action.id)
        if action.id in ids:
            wanted.add(key)
    return [tuple(members) for key, members in groups.items() if key in wanted]


def _gain(before: Extreme, after: Extreme, tick_s: Fraction) -> Fraction | None:
    long, short = _seconds(before, tick_s)[0], _seconds(after, tick_s)[0]
    return None if long is None or short is None else long - short
