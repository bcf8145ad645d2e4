"""What is measured between two conditions, in plain words and as an observer beside a system.

A *rising* of FROM is a settled situation in which FROM holds and did not in the settled one before, or the first
settled situation of a run if FROM holds there. Its time runs until the first settled situation, that one included, in
which TO holds. Passing situations count for nothing: no time passes in them.

`spans` reads that off one run. `with_measuring` lays an observer beside a system, so that the shortest time between any
rising and TO is how long its variable stays `running`: it may begin at any rising and at no other time, and end when TO
comes. Beginning late at a rising (other events of the same moment first) or ending at a later coming of TO only ever
makes a time longer, so the shortest is right; the longest is asked of the system itself, as a deadline.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from interlock.core.question import Scenario
from interlock.core.system import Action, ActionKind, Assignment, System, TickWindow, Tier, Variable, VariableKind
from interlock.core.timed import TimedMeaning, TimedState
from interlock.logic.expression import TRUE, Expression, conjunction, has

VARIABLE = "(measuring)"
BEGINS, ENDS = "(measuring) begins", "(measuring) ends"
VALUES = ("no", "running", "done")

RUNNING = has(VARIABLE, [1], len(VALUES))
DONE = has(VARIABLE, [2], len(VALUES))


@dataclass(frozen=True, slots=True)
class Span:
    """From the moment of a rising until TO held, in ticks since the start; `met` None: not in this run."""

    risen: Fraction
    met: Fraction | None


class Unlike(Exception):
    """A run that the system does not allow at its times."""


def with_measuring(system: System, begins: Expression, ends: Expression) -> System:
    """The system with an observer that may begin whenever `begins` has just risen and end when `ends` has."""
    return replace(
        system,
        variables=(*system.variables, Variable(VARIABLE, VALUES, VariableKind.TIMER)),
        start=tuple((*start, 0) for start in system.start),
        actions=(*system.actions, _step(BEGINS, 0, begins), _step(ENDS, 1, ends)),
        digest="",
    )


def _step(id: str, value: int, condition: Expression) -> Action:
    guard = conjunction((has(VARIABLE, [value], len(VALUES)), condition))
    update = (Assignment(VARIABLE, ((TRUE, value + 1),)),)
    name = id.rpartition(" ")[2]
    return Action(id, VARIABLE, name, ActionKind.TIMER, Tier.OTHER, guard, update, TickWindow(0, 0), obliged=False)


def without_measuring(system: System, scenario: Scenario) -> Scenario:
    """The scenario of a system with an observer as one of the system without it. Its times are left out."""
    place = next(i for i, variable in enumerate(system.variables) if variable.name == VARIABLE)
    kept = [i for i, event in enumerate(scenario.events) if event not in (BEGINS, ENDS)]
    situations = (scenario.situations[0], *(scenario.situations[i + 1] for i in kept))
    return replace(
        scenario,
        situations=tuple((*one[:place], *one[place + 1 :]) for one in situations),
        events=tuple(scenario.events[i] for i in kept),
        times=None,
    )


def settled_moments(
    timed: TimedMeaning, scenario: Scenario, run: tuple[Fraction, ...]
) -> Iterator[tuple[Fraction, int, TimedState]]:
    """(time, index of the situation, state) of every settled situation of a run as it is reached, event i happening at
    `run[i]`; one time more is waited for at the end. Unlike: the declared timing does not allow it. Cost: events times
    actions."""
    now, index = Fraction(0), 0
    begins = (
        state
        for state, present in timed.starts()
        if present == scenario.at_start and state.state.valuation == scenario.situations[0]
    )
    state = next(begins, None)
    if state is None:
        raise Unlike("it does not begin at a start")
    for index, at in enumerate(run):
        if timed.plain.settled(state.state.valuation):
            yield now, index, state
        if at < now or not timed.may_wait(state, at - now):
            raise Unlike(f"so much time may not pass before event {index + 1}")
        state, now = timed.waited(state, at - now), at
        if index == len(scenario.events):
            return
        action = timed.actions[scenario.events[index]]
        if action not in timed.enabled(state):
            raise Unlike(f"event {index + 1}, `{action.id}`, may not happen at its time")
        state = timed.after(action, state)
        if state.state.valuation != scenario.situations[index + 1]:
            raise Unlike(f"event {index + 1}, `{action.id}`, leads elsewhere")
    if timed.plain.settled(state.state.valuation):
        yield now, len(run), state


def spans(
    timed: TimedMeaning, begins: Expression, ends: Expression, scenario: Scenario, run: tuple[Fraction, ...]
) -> tuple[Span, ...]:
    """The spans of a run, in the order of their risings. Unlike: the declared timing does not allow the run."""
    found: list[Span] = []
    held = False
    for now, index, _ in settled_moments(timed, scenario, run):
        valuation = scenario.situations[index]
        holds = timed.plain.true(begins, valuation)
        if holds and not held:
            found.append(Span(now, None))
        held = holds
        if timed.plain.true(ends, valuation):
            found = [one if one.met is not None else Span(one.risen, now) for one in found]
    return tuple(found)
