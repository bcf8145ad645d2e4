"""The plain meaning of a system for the declared timing: ages beside the events of `meaning.py`, exact in dense time.

Every engine of declared timing is held against these few functions, and every timed scenario is replayed through them.

An *age* belongs to an action of tier 2 whose window bears (says anything), and to those that share it (`ages_with`). It
is the time since the action last became enabled. Ages look at settled situations only: what is enabled in the settled
situation before and in the one after keeps its age, whatever passed between, unless it happened or was restarted. Time
passes in settled situations only, and never beyond the latest age of an obliged action that is enabled.

Times are fractions of ticks of `System.tick_s`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from interlock.core.meaning import Meaning, State
from interlock.core.question import Question
from interlock.core.system import Action, Property, PropertyKind, System, TickWindow, Tier, Valuation
from interlock.logic.expression import FALSE

Ages = tuple[tuple[str, Fraction], ...]
"""Ages by the id of the action that owns them, in the order of actions."""


@dataclass(frozen=True, slots=True)
class Watch:
    """What a deadline remembers. `since`: the age of the oldest open obligation (AFTER), or for how long the condition
    has lasted (LASTS); None: nothing open. `was`: whether the condition held in the settled situation before."""

    since: Fraction | None = None
    was: bool = False


@dataclass(frozen=True, slots=True)
class TimedState:
    """A state with ages. In a settled situation `ages` are those of all enabled actions that have one; in a passing one
    those of the last settled situation that have not started afresh since."""

    state: State
    ages: Ages


def age_of(action: Action) -> str:
    """The id of the action whose age counts for this one."""
    return action.ages_with or action.id


def has_age(action: Action) -> bool:
    """Whether the action's window says anything, so that its age matters."""
    return action.window is not None and action.window.bears


def within(age: Fraction, window: TickWindow) -> bool:
    """Whether an age lies in a window."""
    early = age <= window.earliest if window.earliest_open else age < window.earliest
    return not early and not beyond(age, window)


def beyond(age: Fraction, window: TickWindow) -> bool:
    """Whether an age lies beyond the latest of a window."""
    if window.latest is None:
        return False
    return age >= window.latest if window.latest_open else age > window.latest


class TimedMeaning:
    """One system under one question, with ages. Every method reads the text directly."""

    def __init__(self, system: System, question: Question) -> None:
        self.plain = Meaning(system, question)
        self.actions: Mapping[str, Action] = {action.id: action for action in self.plain.system.actions}
        owners = {age_of(action) for action in self.actions.values() if has_age(action)}
        self.owners = tuple(action for action in self.actions.values() if action.id in owners)

    def starts(self) -> Iterator[tuple[TimedState, tuple[str, ...]]]:
        """The start states, with the modes present in each. Everything enabled in the first settled situation begins
        at age 0 there."""
        for state, present in self.plain.starts_with_failures():
            yield self._settled(TimedState(state, ())), present

    def _settled(self, timed: TimedState) -> TimedState:
        """In a settled situation, ages of what is enabled and of nothing else; what is new begins at 0."""
        valuation = timed.state.valuation
        if not self.plain.settled(valuation):
            return timed
        kept = dict(timed.ages)
        enabled = (owner.id for owner in self.owners if self.plain.true(owner.guard, valuation))
        return replace(timed, ages=tuple((id, kept.get(id, Fraction(0))) for id in enabled))

    def enabled(self, timed: TimedState) -> tuple[Action, ...]:
        """What may happen now: enabled for any timing, and its age within its window."""
        ages = dict(timed.ages)
        return tuple(
            action
            for action in self.plain.enabled(timed.state)
            if action.window is None or not has_age(action) or within(ages[age_of(action)], action.window)
        )

    def after(self, action: Action, timed: TimedState) -> TimedState:
        """The state after an action that may happen. What happened or is restarted starts afresh."""
        afresh = {age_of(action), *action.restarts}
        ages = tuple((id, age) for id, age in timed.ages if id not in afresh)
        return self._settled(TimedState(self.plain.after(action, timed.state), ages))

    def may_wait(self, timed: TimedState, duration: Fraction) -> bool:
        """Whether so much time may pass here without an event."""
        if duration == 0:
            return True
        if not self.plain.settled(timed.state.valuation):
            return False
        ages = dict(timed.ages)
        return not any(
            beyond(ages[age_of(action)] + duration, action.window)
            for action in self.actions.values()
            if action.tier is Tier.OTHER
            and action.window is not None
            and action.obliged
            and has_age(action)
            and self.plain.true(action.guard, timed.state.valuation)
        )

    def waited(self, timed: TimedState, duration: Fraction) -> TimedState:
        """The state after so much time."""
        return replace(timed, ages=tuple((id, age + duration) for id, age in timed.ages))

    # --- deadlines: AFTER and LASTS ---

    def watch(self, rule: Property, before: Watch, valuation: Valuation) -> tuple[Watch, bool]:
        """What a deadline remembers once a situation is reached, and whether this breaks it (LASTS: over too soon).
        Passing situations change nothing."""
        if not self.plain.settled(valuation):
            return before, False
        holds = self.plain.true(rule.condition, valuation)
        if rule.kind is PropertyKind.LASTS:
            if holds:
                return Watch(before.since if before.was else Fraction(0), True), False
            assert rule.within is not None
            too_soon = before.since is not None and not within(before.since, replace(rule.within, latest=None))
            return Watch(None, False), too_soon
        since = before.since
        if holds and not before.was and since is None:
            since = Fraction(0)
        if any(self.plain.true(closes or FALSE, valuation) for closes in (rule.must, rule.unless)):
            since = None
        return Watch(since, holds), False

    def overdue(self, rule: Property, watch: Watch, duration: Fraction) -> bool:
        """Whether so much more time without an event breaks the deadline."""
        return watch.since is not None and rule.within is not None and beyond(watch.since + duration, rule.within)
