"""Scenarios told in words: which event, what it changes, what is broken at the end and by which values."""

from __future__ import annotations

from fractions import Fraction

from interlock.analysis.result import Age, Change, Missed, ToldEvent, ToldScenario
from interlock.core.meaning import Meaning
from interlock.core.question import Bound, Ends, Margin, Moment, Question, Scenario
from interlock.core.show import domains, read_by, show, value_text
from interlock.core.system import Property, PropertyKind, System, TickWindow, Valuation, VariableKind
from interlock.core.timed import TimedMeaning, Watch
from interlock.logic.expression import Expression, variables_of
from interlock.spec.quantities import show_time

DEADLINES = (PropertyKind.AFTER, PropertyKind.LASTS)
LASTING = (VariableKind.ITEM, VariableKind.STEP, VariableKind.MEMORY, VariableKind.LINK, VariableKind.COMMAND)


Observed = tuple[tuple[str, Expression], ...]
"""Conditions by names, whose values a picture wants."""


def tell(
    system: System, question: Question, scenario: Scenario, asked: Property, observed: Observed = ()
) -> ToldScenario:
    """The scenario of a system (already replayed), for the property that it breaks or reaches. `observed`: those that
    the system has all variables of are told."""
    meaning = Meaning(system, question)
    actions = {action.id: action for action in system.actions}
    times = scenario.times
    events = []
    for i, name in enumerate(scenario.events):
        action = actions[name]
        before, after = scenario.situations[i], scenario.situations[i + 1]
        origin = system.origin.get(name)
        events.append(
            ToldEvent(
                action=name,
                owner=action.owner,
                kind=action.kind.value,
                says=f"{name}: {origin.words}" if origin is not None and origin.words else name,
                changes=changes(system, before, after),
                settled=meaning.settled(after),
                place=None if origin is None else origin.place,
                earliest=None if times is None else _age(times.earliest[i]),
                latest=None if times is None or (latest := times.latest[i]) is None else _age(latest),
                at=None if times is None else times.run[i],
            )
        )
    last = scenario.situations[-1]
    reads = _read(system, asked)
    moved = {change.thing for event in events for change in event.changes}
    first = scenario.situations[0]
    start = tuple(
        Change(v.name, value_text(v.values[first[i]]), value_text(v.values[first[i]]))
        for i, v in enumerate(system.variables)
        if v.kind in LASTING and (v.name in moved or v.name in reads)
    )
    values = []
    for i, v in enumerate(system.variables):
        if v.name in reads:
            then = scenario.situations[-2] if len(scenario.situations) > 1 else last
            values.append(Change(v.name, value_text(v.values[then[i]]), value_text(v.values[last[i]])))
    cost = sum(actions[name].cost for name in scenario.events)
    return ToldScenario(
        at_start=scenario.at_start,
        start=start,
        events=tuple(events),
        ends=scenario.ends,
        loop_from=scenario.loop_from,
        breach=breach_text(system, asked, scenario.ends, too_late(scenario)),
        values=tuple(values),
        n_failures=len(scenario.at_start) + cost,
        missed=_missed(scenario),
        no_way_from=_no_way_from(scenario),
        runs_from=_runs_from(system, question, scenario, asked),
        observed=tuple(
            (name, tuple(meaning.true(expression, situation) for situation in scenario.situations))
            for name, expression in observed
            if variables_of(expression) <= set(meaning.index)
        ),
    )


def _read(system: System, asked: Property) -> frozenset[str]:
    """What a property reads: its condition, and of a deadline what must be by then."""
    must = frozenset() if asked.must is None else frozenset(read_by(asked.must, system))
    return frozenset(read_by(asked.condition, system)) | must


def _runs_from(system: System, question: Question, scenario: Scenario, asked: Property) -> int | None:
    """After how many events the time of a deadline began to run, the last time that it did."""
    if asked.kind not in DEADLINES or scenario.times is None:
        return None
    timed, watch, began = TimedMeaning(system, question), Watch(), None
    for i, situation in enumerate(scenario.situations):
        ran = watch.since is not None
        watch, _ = timed.watch(asked, watch, situation)
        if watch.since is not None and not ran:
            began = i
    return began


def _missed(scenario: Scenario) -> Missed | None:
    times = scenario.times
    if times is None or not too_late(scenario):
        return None
    return Missed(_age(times.earliest[-1]), times.run[-1])


def _no_way_from(scenario: Scenario) -> Fraction | None:
    times = scenario.times
    return times.run[-1] if times is not None and scenario.ends is Ends.NO_WAY and _waits_at_the_end(scenario) else None


def _age(moment: Moment) -> Age:
    """Ends of windows are whole ticks, and so are their sums and differences."""
    assert moment.ticks.denominator == 1
    return Age(int(moment.ticks), moment.open)


def too_late(scenario: Scenario) -> bool:
    """Whether the scenario ends with waiting until a deadline is missed."""
    return scenario.ends is Ends.BREACH and _waits_at_the_end(scenario)


def _waits_at_the_end(scenario: Scenario) -> bool:
    return scenario.times is not None and len(scenario.times.run) > len(scenario.events)


def changes(system: System, before: Valuation, after: Valuation) -> tuple[Change, ...]:
    """What differs between two situations, in the order of the system."""
    return tuple(
        Change(v.name, value_text(v.values[old]), value_text(v.values[new]))
        for v, old, new in zip(system.variables, before, after, strict=True)
        if old != new
    )


def asked_text(system: System, asked: Property) -> str:
    """What a rule or hazard asks, in the words of the language, conditions written out. A rule `while A, must B` is
    told as what must never be."""
    domain_of = domains(system)

    def told(expression: Expression | None) -> str:
        return "" if expression is None else show(expression, domain_of)

    condition = told(asked.condition)
    if asked.kind is PropertyKind.NEVER:
        longer = "" if asked.within is None else f" for longer than {_window_text(asked.within, system)}"
        return f"{condition}{longer}" if asked.hazard else f"never: {condition}"
    if asked.kind is PropertyKind.BEFORE:
        since = "" if asked.since is None else f", since: {told(asked.since)}"
        return f"before: {condition}, first: {told(asked.first)}{since}"
    if asked.kind is PropertyKind.LASTS and asked.within is not None:
        return f"condition: {condition}, lasts: {_both_ends(asked.within, system)}"
    within = "" if asked.within is None else _window_text(asked.within, system)
    if asked.kind is PropertyKind.AFTER:
        unless = "" if asked.unless is None else f", unless: {told(asked.unless)}"
        return f"after: {condition}, within: {within}, must: {told(asked.must)}{unless}"
    if asked.kind is PropertyKind.ALWAYS_ENDS:
        helped = f", helped_by: {', '.join(asked.helped_by)}" if asked.helped_by else ""
        return f"always_ends: {condition}, from: {told(asked.start)}{helped}"
    return f"{asked.kind.value}: {condition}"


def bound_text(system: System, bound: Bound) -> str:
    """An end of a window that a verdict rests on, as what must be so on site."""
    window = next(action.window for action in system.actions if action.id == bound.of)
    assert window is not None
    if bound.latest:
        assert window.latest is not None
        words = "sooner than" if window.latest_open else "at most"
        return f"{bound.of}: {words} {show_time(window.latest * system.tick_s)}"
    words = "later than" if window.earliest_open else "at least"
    return f"{bound.of}: {words} {show_time(window.earliest * system.tick_s)}"


def margin_text(margin: Margin, tick_s: Fraction) -> str:
    """Where a rule breaks if one time changes, in words that follow on those of `bound_text`."""
    up = margin.ends[0].latest is margin.wider
    as_far = "" if margin.holds is None else show_time(margin.holds.ticks * tick_s)
    holds = as_far and f"holds {'up' if up else 'down'} to {as_far}"
    if margin.holds is not None and margin.holds.open:
        holds = f"holds {'below' if up else 'above'} {as_far}"
    if margin.breaks is None:
        if margin.limit is None:
            return "no change of it alone breaks it"
        return f"{holds}, {margin.limit}" if holds else f"margin not known: {margin.limit}"
    value = show_time(margin.breaks.ticks * tick_s)
    if margin.breaks.open:
        told = f"breaks {'' if margin.onward else 'just '}{'beyond' if up else 'below'} {value}"
    elif margin.onward:
        told = f"breaks from {value} on" if up else f"breaks at {value} and below"
    else:
        told = f"breaks at {value}"
    if margin.limit is None:
        return told
    return f"{told}, {holds}, {margin.limit}" if holds else f"{told}, perhaps with less: {margin.limit}"


def _window_text(window: TickWindow, system: System) -> str:
    """A window as people write it."""
    latest = "never" if window.latest is None else show_time(window.latest * system.tick_s)
    if window.earliest == 0 and not window.earliest_open:
        return latest
    return f"{show_time(window.earliest * system.tick_s)} .. {latest}"


def _both_ends(window: TickWindow, system: System) -> str:
    """A window with both of its ends, also where it begins with nothing: `0 s .. under 5 s`."""
    earliest, latest = show_time(window.earliest * system.tick_s), "never"
    if window.latest is not None:
        latest = show_time(window.latest * system.tick_s)
    if earliest == latest:
        return earliest
    return f"{'over ' if window.earliest_open else ''}{earliest} .. {'under ' if window.latest_open else ''}{latest}"


def breach_text(system: System, asked: Property, ends: Ends, late: bool = False) -> str:
    """What is broken (or reached), as text in the words of the language. `late`: a deadline is missed by waiting."""
    domain_of = domains(system)
    condition = show(asked.condition, domain_of)
    if asked.kind is PropertyKind.AFTER and asked.within is not None and asked.must is not None:
        return f"{_window_text(asked.within, system)} after {condition}, and still not: {show(asked.must, domain_of)}"
    if asked.kind is PropertyKind.LASTS and asked.within is not None:
        earliest = show_time(asked.within.earliest * system.tick_s)
        latest = "" if asked.within.latest is None else show_time(asked.within.latest * system.tick_s)
        if late:
            return f"{condition}, for {f'{latest} or longer' if asked.within.latest_open else f'longer than {latest}'}"
        return f"{condition}, for {f'{earliest} or less' if asked.within.earliest_open else f'less than {earliest}'}"
    if ends is Ends.REACHED:
        return condition
    if asked.kind is PropertyKind.BEFORE:
        assert asked.first is not None
        return f"becomes({condition}), not before: {show(asked.first, domain_of)}"
    if ends is Ends.NO_WAY:
        return f"no way from here to: {condition}"
    if ends is Ends.STUCK:
        return f"nothing more need happen, and not: {condition}"
    if ends is Ends.LOOP:
        return f"this can repeat for ever without: {condition}"
    return condition
