"""The earliest and the latest time from one condition to another, exact, by asking engines about bounds.

In: a system, two conditions (looked at in settled situations alone, see `core/measuring.py`). Out: for each extreme its
value, whether it is reached, a run on which it is, and what it rests on; or what is known where a limit is hit.

The idea: a run that breaks a bound is followed by its events alone, and the extreme over all times of these events is
exact (`engines/spans.py`). That is the next bound, until none breaks it: the engine that then says *holds* has explored
everything, so nothing lies beyond (`bounds.py` says which bound is asked next).

A time without bound is one on whose run one may wait for ever at the end, or which comes back to the same ages in the
same situation later: it can go round for ever, and TO may never come.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from interlock.analysis.bounds import Climb, Descent, Undecided
from interlock.analysis.inquiry import TIMED_STATES, Inquiry
from interlock.analysis.result_timing import Extreme, Length, Measured
from interlock.analysis.telling import bound_text, tell
from interlock.core.measuring import (
    BEGINS,
    DONE,
    ENDS,
    RUNNING,
    VARIABLE,
    Unlike,
    settled_moments,
    spans,
    with_measuring,
    without_measuring,
)
from interlock.core.question import Answer, Ends, Question, Scenario, Timing, Verdict
from interlock.core.show import domains, show
from interlock.core.slice import Slice
from interlock.core.system import Property, PropertyKind, System, TickWindow
from interlock.core.timed import TimedMeaning, age_of
from interlock.engines.api import EngineFault, Limits
from interlock.engines.spans import Chain, opened_at
from interlock.engines.table import MANY, in_time
from interlock.logic.expression import Expression, disjunction, negate

ID = "what is measured"

FAR, LEAST_FAR = 16, 1_000
"""Beyond so many times all windows together, and so many ticks, a longest time is left undecided."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is measured: from each rising of `begins` to `ends` (None: until `begins` holds no more)."""

    begins: Expression
    ends: Expression | None

    @property
    def until(self) -> Expression:
        """What ends it."""
        return negate(self.begins) if self.ends is None else self.ends


@dataclass(frozen=True, slots=True)
class _Found:
    """A run, and how long it takes at its extreme between two of its moments (None: as long as one likes). `waits`: the
    second of them comes after the last event."""

    length: Length | None
    chain: Chain
    begin: int
    end: int
    waits: bool


class Stopwatch:
    """Measures on one system, with up to so many failures."""

    def __init__(self, system: System, limits: Limits, failures: int) -> None:
        self._system = system
        self._limits = limits if limits.states != MANY else replace(limits, zones=TIMED_STATES)
        self._question = Question(ID, Timing.DECLARED, budget=failures)

    def measure(self, asked: Asked) -> Measured:
        """Both extremes."""
        earliest = self.earliest(asked)
        if earliest.never:
            return Measured(earliest, replace(earliest, endless=earliest.risen))
        return Measured(earliest, self.latest(asked))

    # --- the latest ---

    def latest(self, asked: Asked) -> Extreme:
        """How long it can take at the most, or be waited for in vain."""
        kind = PropertyKind.LASTS if asked.ends is None else PropertyKind.AFTER
        rule = Property(ID, kind, False, asked.begins, must=asked.ends, within=TickWindow(0, 0))
        part = self._part(self._system, rule)
        windows = [action.window for action in part.system.actions if action.window is not None]
        climb, found = Climb(far=LEAST_FAR + FAR * sum(max(one.earliest, one.latest or 0) for one in windows)), None
        try:
            while True:
                within = TickWindow(0, climb.bound.ticks, False, climb.bound.open)
                answer = self._ask(part, replace(rule, within=within), guessed=climb.guessed)
                if answer is None:
                    climb.give_up_guessing()
                elif answer.scenario is not None:
                    found = self._longest(part, rule, answer.scenario)
                    if found.length is None or self._returns(found):
                        return self._told(asked, found, None)
                    climb.known = found.length
                elif not climb.guessed:
                    return self._told(asked, found, climb.bound, proof=(part, answer))
                else:
                    climb.proved = climb.bound
                climb.step()
        except Undecided as hit:
            return self._told(asked, found, climb.proved, limit=str(hit))

    def _longest(self, part: Slice, rule: Property, scenario: Scenario) -> _Found:
        """By how much a run that misses a deadline can miss it."""
        chain = Chain(part.system, self._question, scenario, waits=True)
        begin, end = opened_at(chain.timed, rule, scenario), chain.moments - 1
        if begin is None:
            raise EngineFault("a deadline is missed that was never open")
        longest = chain.greatest(begin, end)
        length = None if longest is None else Length(int(longest.ticks), longest.open)
        return _Found(length, chain, begin, end, waits=True)

    def _returns(self, found: _Found) -> bool:
        """Whether the run at its longest comes to the same situation with the same ages twice while it is measured: it
        can go round for ever then. Ages beyond all ends of their windows are alike."""
        chain, timed = found.chain, found.chain.timed
        run = chain.at_extreme(found.begin, found.end, greatest=True).run
        beyond: dict[str, Fraction] = {}
        for action in timed.actions.values():
            window = action.window or TickWindow()
            least = beyond.get(age_of(action), Fraction(0))
            beyond[age_of(action)] = max(least, Fraction(1 + max(window.earliest, window.latest or 0)))
        seen: dict[object, Fraction] = {}
        for now, index, state in settled_moments(timed, chain.scenario, run):
            if index >= found.begin:
                key = (state.state, tuple((id, min(age, beyond[id])) for id, age in state.ages))
                if now > seen.setdefault(key, now):
                    return True
        return False

    # --- the earliest ---

    def earliest(self, asked: Asked) -> Extreme:
        """How soon it can come."""
        done = Property(ID, PropertyKind.POSSIBLE, False, DONE)
        part = self._part(with_measuring(self._system, asked.begins, asked.until), done)
        climb, found = Descent(), None
        try:
            answer = self._ask(part, done)
            if answer is None or answer.scenario is None:
                rises = self._ask(part, replace(done, condition=disjunction((RUNNING, DONE))))
                risen = rises is not None and rises.verdict is Verdict.HOLDS
                return Extreme(Verdict.HOLDS, never=True, risen=risen)
            found, climb.known = self._shortest(part, asked, answer.scenario)
            while climb.known != Length(0):
                climb.step()
                within = TickWindow(climb.bound.ticks, None, climb.bound.open)
                sooner = Property(ID, PropertyKind.LASTS, False, RUNNING, within=within)
                answer = self._ask(part, sooner, guessed=climb.guessed)
                if answer is None:
                    climb.give_up_guessing()
                elif answer.scenario is not None:
                    found, climb.known = self._shortest(part, asked, answer.scenario)
                elif not climb.guessed:
                    return self._told(asked, found, climb.known, proof=(part, answer))
                else:
                    climb.proved = climb.bound
            return self._told(asked, found, Length(0))
        except Undecided as hit:
            return self._told(asked, found, climb.proved, limit=str(hit))

    def _shortest(self, part: Slice, asked: Asked, scenario: Scenario) -> tuple[_Found, Length]:
        """How soon a run that ends the measuring can do so: from the last rising before it began."""
        began = scenario.events.index(BEGINS)
        plain = without_measuring(part.system, scenario)
        system = _without_observer(part.system)
        timed = TimedMeaning(system, self._question)
        settled = [(i, one) for i, one in enumerate(plain.situations) if timed.plain.settled(one)]
        begin, held = None, False
        for i, one in settled:
            holds = timed.plain.true(asked.begins, one)
            if holds and not held and i <= began:
                begin = i
            held = holds
        if begin is None:
            raise EngineFault("the measuring began where nothing had risen")
        end = next(i for i, one in settled if i >= begin and timed.plain.true(asked.until, one))
        plain = replace(plain, situations=plain.situations[: end + 1], events=plain.events[:end])
        chain = Chain(system, self._question, plain, waits=False)
        shortest = chain.least(begin, end)
        length = Length(int(shortest.ticks), shortest.open)
        return _Found(length, chain, begin, end, waits=False), length

    # --- both ---

    def _part(self, system: System, rule: Property) -> Slice:
        asked = replace(system, properties=(rule,))
        return Inquiry(asked, in_time(), self._limits).part_in_time(Question(ID, Timing.DECLARED))

    def _ask(self, part: Slice, rule: Property, *, guessed: bool = False) -> Answer | None:
        """The answer. Undecided: a limit was hit; None, if the bound was only guessed."""
        system = replace(part.system, properties=(rule,))
        (answer,) = in_time().answer(system, (self._question,), self._limits)
        if answer.verdict is not Verdict.UNDECIDED:
            return answer
        if guessed:
            return None
        raise Undecided(answer.limit or "it was not decided")

    def _told(
        self,
        asked: Asked,
        found: _Found | None,
        proved: Length | None,
        *,
        proof: tuple[Slice, Answer] | None = None,
        limit: str | None = None,
    ) -> Extreme:
        verdict = Verdict.HOLDS if limit is None else Verdict.UNDECIDED
        rests_on, ends = None, None
        if proof is not None and proof[1].rests_on is not None:
            ends = tuple(one for one in proof[1].rests_on if one.of not in (BEGINS, ENDS))
            rests_on = tuple(bound_text(proof[0].system, one) for one in ends)
        if found is None:
            return Extreme(verdict, proved, proved, rests_on=rests_on, rests_on_ends=ends, limit=limit)
        endless = limit is None and proved is None
        length = None if endless else found.length
        chain = found.chain
        times = chain.at_extreme(found.begin, found.end, greatest=found.waits)
        risen, met = (times.run[i - 1] if i else Fraction(0) for i in (found.begin, found.end))
        self._hold_against_the_plain_meaning(asked, found, times.run, risen, met)
        system = chain.timed.plain.system
        reached = Property(ID, PropertyKind.POSSIBLE, False, asked.until)
        how = Ends.BREACH if found.waits else Ends.REACHED
        told = tell(system, self._question, replace(chain.scenario, ends=how, times=times), reached)
        if found.waits:
            told = replace(told, breach=f"still not: {show(asked.until, domains(system))}")
        return Extreme(
            verdict,
            length,
            proved,
            told,
            begins=found.begin,
            ends=None if found.waits else found.end,
            begins_at=risen,
            ends_at=met,
            endless=endless,
            rests_on=rests_on,
            rests_on_ends=ends,
            limit=limit,
        )

    def _hold_against_the_plain_meaning(
        self, asked: Asked, found: _Found, run: tuple[Fraction, ...], risen: Fraction, met: Fraction
    ) -> None:
        """EngineFault unless the run, followed through `core/timed.py`, takes what it is said to take."""
        chain, length = found.chain, found.length
        took = met - risen
        try:
            measured = spans(chain.timed, asked.begins, asked.until, chain.scenario, run)
        except Unlike as wrong:
            raise EngineFault(f"the run of an extreme cannot be followed: {wrong}") from None
        if (risen, None if found.waits else met) not in [(one.risen, one.met) for one in measured]:
            raise EngineFault("the run of an extreme does not measure what it is said to measure")
        if length is not None:
            away = abs(took - length.ticks)
            if not (0 < away < 1 if length.open else away == 0):
                raise EngineFault(f"the run of an extreme takes {took} ticks, not {length}")


def _without_observer(system: System) -> System:
    place = next(i for i, variable in enumerate(system.variables) if variable.name == VARIABLE)
    return replace(
        system,
        variables=(*system.variables[:place], *system.variables[place + 1 :]),
        start=tuple((*one[:place], *one[place + 1 :]) for one in system.start),
        actions=tuple(action for action in system.actions if action.id not in (BEGINS, ENDS)),
        properties=(),
    )
