"""Replaying a scenario of declared timing through the plain timed meaning: event by event, wait by wait.

In: a system, an answer. Out: the answer, if its scenario can be followed at the times it names and ends as it says;
else EngineFault. Nothing of an engine is used here, only `core/timed.py`.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.core.question import Answer, Ends, Question, Scenario
from interlock.core.system import Property, PropertyKind, System
from interlock.core.timed import TimedMeaning, Watch
from interlock.engines.api import EngineFault
from interlock.engines.replay import Walk

DEADLINES = (PropertyKind.AFTER, PropertyKind.LASTS)


def checked_in_time(system: System, answer: Answer) -> Answer:
    """The answer, if its scenario replays; else EngineFault."""
    if answer.scenario is not None:
        wrong = replay_timed(system, answer.question, answer.scenario)
        if wrong is not None:
            raise EngineFault(f"the scenario of {answer.question.property} ({answer.engine}) does not replay: {wrong}")
    return answer


def replay_timed(system: System, question: Question, scenario: Scenario) -> str | None:
    """None if the scenario is a run at the times it names and ends as it says; else what does not fit. Cost: events
    times actions."""
    timed = TimedMeaning(system, question)
    walk = Walk(timed.plain)
    rule = timed.plain.system.property(question.property)
    wrong = walk.run(scenario) or walk.cut_on_the_way(question, scenario)
    if wrong is not None:
        return wrong
    deadline = rule.kind in DEADLINES
    if scenario.ends is Ends.NO_WAY:
        # Any timing may know a way on from here that the declared one has not, so only the run is followed.
        settled = timed.plain.settled(scenario.situations[-1])
        wrong = None if rule.kind is PropertyKind.ALWAYS_POSSIBLE and settled else "no rule of its kind ends so"
    elif not deadline:
        wrong = (walk.joins(scenario) if scenario.ends is Ends.LOOP else None) or walk.ends(rule, scenario)
    elif scenario.ends is not Ends.BREACH:
        wrong = f"a scenario of {rule.id} cannot end in `{scenario.ends.value}`"
    return wrong or _at_its_times(timed, rule, scenario, deadline)


def _at_its_times(timed: TimedMeaning, rule: Property, scenario: Scenario, deadline: bool) -> str | None:
    times = scenario.times
    if times is None:
        return "it has no times"
    late = len(times.run) == len(scenario.events) + 1
    waits_on = deadline or scenario.ends is Ends.NO_WAY
    if len(times.run) != len(scenario.events) and not (late and waits_on):
        return f"{len(scenario.events)} events and {len(times.run)} times"
    state = next(
        s for s, at in timed.starts() if at == scenario.at_start and s.state.valuation == scenario.situations[0]
    )
    watch, broken = Watch(), False
    if deadline:
        watch, broken = timed.watch(rule, watch, state.state.valuation)
    now = Fraction(0)
    for i, at in enumerate(times.run):
        if broken:
            return f"the deadline is broken before event {i + 1}"
        wait = at - now
        if wait < 0 or not timed.may_wait(state, wait):
            return f"before event {i + 1} so much time may not pass"
        if i == len(scenario.events) and not deadline:
            return None
        overdue = deadline and timed.overdue(rule, watch, wait)
        if overdue or i == len(scenario.events):
            return (
                None if overdue and i == len(scenario.events) else f"the deadline is not broken at the end (event {i})"
            )
        state = timed.waited(state, wait)
        if watch.since is not None:
            watch = Watch(watch.since + wait, watch.was)
        event = timed.actions[scenario.events[i]]
        if event not in timed.enabled(state):
            return f"event {i + 1}, `{event.id}`, may not happen at its time"
        state = timed.after(event, state)
        if deadline:
            watch, broken = timed.watch(rule, watch, state.state.valuation)
        now = at
    return None if broken or not deadline else "the deadline is not broken"
