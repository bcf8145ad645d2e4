"""The engines of declared timing that are held against each other, and plans with windows.

An engine is added by one import and one line of `ENGINES`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from interlock.core.question import Answer, Question, Scenario, Timing
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.core.timed import TimedMeaning, TimedState
from interlock.engines.api import Engine, Limits
from interlock.engines.regions.engine import RegionsEngine
from interlock.engines.ticks.engine import TicksEngine
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.ways.engine import WaysEngine
from interlock.logic.expression import Expression, conjunction
from tests.engines.plan import Plan, When

ENGINES: dict[str, Engine] = {
    "ticks": TicksEngine(),
    "regions": RegionsEngine(),
    "zones": ZonesEngine(small=1_000_000),
    "zones over arrays": ZonesEngine(small=0, near=False),
    "ways": WaysEngine(),
    "ways with all ages": WaysEngine(whatever=False),
}
"""By name. All that decide a question must say the same."""

ENOUGH = Limits(states=20_000)


class TimedPlan(Plan):
    """A plan with windows: two numbers are a closed one, an end None is never."""

    def within(self, id: str, when: When, changes: dict[str, object], *window: int | None) -> None:
        """A bound event of tier 2 with a closed window."""
        earliest, latest = window
        self.windowed(id, when, changes, TickWindow(earliest or 0, latest))

    def windowed(
        self, id: str, when: When, changes: dict[str, object], window: TickWindow, restarts: tuple[str, ...] = ()
    ) -> None:
        """An event of tier 2 with any window."""
        self.event(id, when, changes, obliged=window.latest is not None, restarts=restarts)
        self.actions[-1] = replace(self.actions[-1], window=window)

    def at_time(self, name: str, ticks: int) -> None:
        """An item `NAME` that goes from no to yes exactly then."""
        self.item(name, "no", "yes")
        self.within(f"{name} comes", {name: "no"}, {name: "yes"}, ticks, ticks)

    def rides(self, id: str, on: str, failure: str, changes: dict[str, object]) -> None:
        """A failure in the event `on`, with its age; `failure` is a mode without a start."""
        ridden = next(action for action in self.actions if action.id == on)
        self.actions.append(
            replace(
                ridden,
                id=id,
                guard=conjunction([ridden.guard, self.has(failure, False)]),
                update=self.to({failure: True, **changes}),
                obliged=False,
                modes=(failure,),
                cost=1,
                ages_with=on,
            )
        )


def after(
    id: str, condition: Expression, must: Expression, window: TickWindow, unless: Expression | None = None
) -> Property:
    """A rule `after`."""
    return Property(id, PropertyKind.AFTER, False, condition, must=must, unless=unless, within=window)


def lasts(id: str, condition: Expression, window: TickWindow) -> Property:
    """A rule `lasts`."""
    return Property(id, PropertyKind.LASTS, False, condition, within=window)


def ask(engine: str, system: System, id: str, budget: int = 0) -> Answer:
    """One engine's answer for the declared timing."""
    (answer,) = ENGINES[engine].answer(system, (Question(id, Timing.DECLARED, budget),), ENOUGH)
    assert answer.limit is None, answer.limit
    return answer


def decides(engine: str, system: System, id: str, budget: int = 0) -> bool:
    """Whether an engine claims to decide a question for the declared timing."""
    return ENGINES[engine].decides(system, Question(id, Timing.DECLARED, budget))


def able(system: System, id: str, budget: int = 0) -> list[str]:
    """The engines that decide it."""
    found = [engine for engine in ENGINES if decides(engine, system, id, budget)]
    assert "regions" in found
    return found


def deciding(system: System, question: Question) -> list[Engine]:
    """The engines that decide a question."""
    return [engine for engine in ENGINES.values() if engine.decides(system, question)]


def verdicts(system: System, id: str, budget: int = 0) -> set[str]:
    """What all engines say that decide it."""
    return {ask(engine, system, id, budget).verdict.value for engine in able(system, id, budget)}


STEP = Fraction(1, 4)
LONGEST = 12


def can_be_run(system: System, question: Question, scenario: Scenario) -> bool:
    """Whether the events of a scenario can happen one after the other at quarters of ticks, by the plain meaning."""
    timed = TimedMeaning(system, question)
    now: set[TimedState] = {
        state
        for state, present in timed.starts()
        if present == scenario.at_start and state.state.valuation == scenario.situations[0]
    }
    for event, situation in zip(scenario.events, scenario.situations[1:], strict=True):
        action = timed.actions[event]
        then = {timed.after(action, one) for at in now for one in _later(timed, at) if action in timed.enabled(one)}
        now = {one for one in then if one.state.valuation == situation}
    return bool(now)


def _later(timed: TimedMeaning, state: TimedState) -> Iterator[TimedState]:
    waits = (STEP * i for i in range(int(LONGEST / STEP)))
    return (timed.waited(state, wait) for wait in waits if timed.may_wait(state, wait))
