"""Replaying a scenario through the plain meaning, event by event. A scenario that does not replay is a fault of ours.

In: a system, a question, a scenario. Out: None if it fits, else what does not, in words. Nothing of an engine is used
here, only `core/meaning.py`.
"""

from __future__ import annotations

from interlock.core.meaning import Meaning, State
from interlock.core.question import Answer, Ends, Question, Scenario
from interlock.core.system import Action, ActionKind, Property, PropertyKind, System, Tier, Valuation
from interlock.engines.api import EngineFault, Survey
from interlock.logic.expression import TRUE

MAX_NO_WAY = 500
"""Situations up to which "no way leads on from here" is explored again; if there are more, that part is not
replayed."""


def checked(system: System, answer: Answer) -> Answer:
    """The answer, if its scenario replays; else EngineFault. Every engine passes its answers through here."""
    if answer.scenario is not None:
        wrong = replay(system, answer.question, answer.scenario)
        if wrong is not None:
            raise EngineFault(f"the scenario of {answer.question.property} ({answer.engine}) does not replay: {wrong}")
    return answer


def checked_survey(system: System, question: Question, survey: Survey) -> Survey:
    """The survey, if its scenarios are runs that end as they say; else EngineFault."""
    walk = Walk(Meaning(system, question))
    for name, scenario in (("stuck", survey.stuck), ("unsettling", survey.unsettling), ("orders", survey.orders)):
        if scenario is not None:
            wrong = walk.run(scenario) or (walk.joins(scenario) if scenario.ends is Ends.LOOP else None)
            last = scenario.situations[-1]
            if wrong is None and (name == "stuck") != walk.meaning.settled(last):
                wrong = "the last situation is settled and should not be, or the other way round"
            if wrong is None and name == "stuck" and walk.goes_on(last):
                wrong = "something other than a failure or a repair can still happen"
            if wrong is None and name == "unsettling":
                loop = scenario.situations[scenario.loop_from :]
                wrong = "the loop settles" if any(map(walk.meaning.settled, loop)) else None
            if wrong is not None:
                raise EngineFault(f"the scenario of the survey ({name}) does not replay: {wrong}")
    return survey


def replay(system: System, question: Question, scenario: Scenario) -> str | None:
    """None if the scenario is a run of the system under the question and ends as it says; else what does not fit.

    Cost: events times actions. That no way leads on (`Ends.NO_WAY`) is explored again up to `MAX_NO_WAY` situations.
    """
    walk = Walk(Meaning(system, question))
    rule = walk.meaning.system.property(question.property)
    return (
        walk.run(scenario)
        or walk.cut_on_the_way(question, scenario)
        or (walk.joins(scenario) if scenario.ends is Ends.LOOP else None)
        or walk.ends(rule, scenario)
    )


class Walk:
    """One meaning, walked along scenarios. Methods give None, or what does not fit."""

    def __init__(self, meaning: Meaning) -> None:
        self.meaning = meaning
        self.actions = {action.id: action for action in meaning.system.actions}

    def run(self, scenario: Scenario) -> str | None:
        """Whether each situation follows from the one before by its event, from a start that is one."""
        if len(scenario.situations) != len(scenario.events) + 1:
            return f"{len(scenario.events)} events and {len(scenario.situations)} situations"
        first = scenario.situations[0]
        state = None
        for start, present in self.meaning.starts_with_failures():
            if present == scenario.at_start and start.valuation == first:
                state = start
                break
        if state is None:
            return "it does not begin in a start situation with these failures"
        for i, (event, after) in enumerate(zip(scenario.events, scenario.situations[1:], strict=True), start=1):
            wrong = self._event(state, event, after)
            if wrong is not None:
                return f"event {i}, `{event}`: {wrong}"
            state = self.meaning.after(self.actions[event], state)
        return None

    def _event(self, state: State, event: str, after: Valuation) -> str | None:
        action = self.actions.get(event)
        if action is None:
            return "no such action"
        if not self.meaning.true(action.guard, state.valuation):
            return "its guard is false"
        tier = self.meaning.tier_of(state.valuation)
        if action.tier is not tier:
            return f"it is of tier {action.tier.value}, but tier {tier.value} is to act"
        if not self.meaning.may_fail(action):
            return "it brings a failure that is not allowed"
        if state.spent + action.cost > self.meaning.budget:
            return "it is a failure beyond the budget"
        if self.meaning.after(action, state).valuation != after:
            return "it leads to another situation"
        return None

    def cut_on_the_way(self, question: Question, scenario: Scenario) -> str | None:
        """Whether the run would have ended before, at a breach of a rule that the question cuts at."""
        for id in question.cut:
            if self.breaches(self.meaning.system.property(id), scenario.situations):
                return f"a run ends at a breach of {id}, and this one goes through one"
        return None

    def breaches(self, rule: Property, situations: tuple[Valuation, ...]) -> list[int]:
        """The indices of the situations at which a NEVER or BEFORE rule is breached (or POSSIBLE reached)."""
        found = []
        flag = rule.kind is PropertyKind.BEFORE and self.meaning.flag_at_start(rule, situations[0])
        for i, now in enumerate(situations):
            before = situations[i - 1] if i else None
            if rule.kind is PropertyKind.BEFORE:
                hit = before is not None and self.meaning.breaks_order(rule, flag, before, now)
                if before is not None:
                    flag = self.meaning.flag_after(rule, flag, before, now)
            elif rule.every_event:
                hit = self.meaning.true(rule.condition, now, before)
            else:
                hit = (rule.passing or self.meaning.settled(now)) and self.meaning.true(rule.condition, now)
            if hit:
                found.append(i)
        return found

    def joins(self, scenario: Scenario) -> str | None:
        """Whether the end of a loop is where it began, with no failure on it."""
        loop_from = scenario.loop_from
        if loop_from is None or not 0 <= loop_from < len(scenario.events):
            return "a loop without a beginning"
        if scenario.situations[loop_from] != scenario.situations[-1]:
            return "the loop does not close"
        if any(self.actions[event].cost for event in scenario.events[loop_from:]):
            return "a failure happens on the loop"
        return None

    def ends(self, rule: Property, scenario: Scenario) -> str | None:
        """Whether the run ends as the scenario says, for its rule."""
        expected = {
            PropertyKind.NEVER: (Ends.BREACH,),
            PropertyKind.BEFORE: (Ends.BREACH,),
            PropertyKind.POSSIBLE: (Ends.REACHED,),
            PropertyKind.ALWAYS_POSSIBLE: (Ends.NO_WAY,),
            PropertyKind.ALWAYS_ENDS: (Ends.STUCK, Ends.LOOP),
        }
        if scenario.ends not in expected.get(rule.kind, ()):
            return f"a scenario of {rule.id} cannot end in `{scenario.ends.value}`"
        last = len(scenario.situations) - 1
        if scenario.ends in (Ends.BREACH, Ends.REACHED):
            hits = self.breaches(rule, scenario.situations)
            return None if hits == [last] else f"{rule.id} is not met at the end and nowhere before (at {hits})"
        if scenario.ends is Ends.NO_WAY:
            return self._no_way(rule, scenario.situations[-1])
        return self._unended(rule, scenario)

    def _no_way(self, rule: Property, last: Valuation) -> str | None:
        if not self.meaning.settled(last):
            return "the last situation is not settled"
        work, seen = [last], {last}
        while work and len(seen) <= MAX_NO_WAY:
            now = work.pop()
            if (rule.passing or self.meaning.settled(now)) and self.meaning.true(rule.condition, now):
                return "a way leads on to what is said to be out of reach"
            for action in self.meaning.enabled(State(now, self.meaning.budget)):
                after = self.meaning.apply(action.update, now)
                if not _fails(action) and after not in seen:
                    seen.add(after)
                    work.append(after)
        return None

    def _unended(self, rule: Property, scenario: Scenario) -> str | None:
        owed, owed_at = False, []
        for now in scenario.situations:
            if self.meaning.settled(now):
                owed = owed or self.meaning.true(rule.start or TRUE, now)
                owed = owed and not self.meaning.true(rule.condition, now)
            owed_at.append(owed)
        if scenario.ends is Ends.STUCK:
            last = scenario.situations[-1]
            if not owed or not self.meaning.settled(last) or self._obliged(rule, last):
                return "the run owes nothing at its end, or may not stop there"
            return None
        begin = scenario.loop_from or 0
        if not all(owed_at[begin:]):
            return "the run owes nothing on the loop"
        return self._unfair(rule, scenario.situations[begin:], scenario.events[begin:])

    def _unfair(self, rule: Property, situations: tuple[Valuation, ...], events: tuple[str, ...]) -> str | None:
        settled = [now for now in situations if self.meaning.settled(now)]
        if not settled:
            return None
        for_ever = frozenset.intersection(*(self._obliged(rule, now) for now in settled))
        for event in events:
            for_ever -= {event, *self.actions[event].restarts}
        return f"`{min(for_ever)}` stays enabled for ever" if for_ever else None

    def _obliged(self, rule: Property, valuation: Valuation) -> frozenset[str]:
        return frozenset(
            action.id
            for action in self.meaning.system.actions
            if action.tier is Tier.OTHER
            and action.cost == 0
            and (action.obliged or action.id in rule.helped_by)
            and self.meaning.true(action.guard, valuation)
        )

    def goes_on(self, valuation: Valuation) -> bool:
        """Whether anything but failures and repairs is enabled, its failures allowed or not."""
        return any(not _fails(a) and self.meaning.true(a.guard, valuation) for a in self.meaning.system.actions)


def _fails(action: Action) -> bool:
    return action.kind in (ActionKind.FAILURE, ActionKind.REPAIR)
