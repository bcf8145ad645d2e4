"""Sequences as executable machines of the `transitions` library.

In: a `Spec`, its layout and senses. Out: what each sequence can do (`Happening`). A sequence is one machine, built
once: its states are the steps, its triggers the step changes (and, for logic that takes its time, the decisions), its
conditions the named permissives. To ask or to run it in some situation, its step is set and it reads that situation
through the senses; what it makes of its step and memories is read back.

Source of the machine: the `transitions` package; its conditions, `unless` and `before` callbacks are used as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from transitions import Machine as StepMachine

from interlock.logic.formula import Ref, Sum, Value
from interlock.machine.senses import Senses
from interlock.machine.situation import (
    DONE,
    EMPTY,
    IDLE,
    RUNNING,
    Changes,
    Event,
    Happening,
    Kind,
    Layout,
    Test,
    Values,
    decided_of,
    permissive_timer,
    step_timer,
    timers_of,
)
from interlock.spec.model import ChangeKind, Sequence, SetTo, StepChange, Window


class Controller:
    """One sequence: the model that the machine of the library moves from step to step."""

    step: str

    def __init__(self, sequence: Sequence, layout: Layout, senses: Senses) -> None:
        self._sequence = sequence
        self._layout = layout
        self._senses = senses
        self._place = layout.places[sequence.id]
        self._decided = layout.places.get(decided_of(sequence))
        self._now: Values = ()
        self._noted: Changes = {}
        self._running = senses.running(sequence)
        self._needs = self._parts_of_needs()
        self._wants = {change.name: self._want(change) for change in sequence.changes}
        self._machine: Any = StepMachine(
            model=self,
            states=[step.name for step in sequence.steps],
            initial=sequence.start,
            auto_transitions=False,
            model_attribute="step",
            name=sequence.id,
        )
        for change in sequence.changes:
            if self._decided is None:
                self._add_immediate(change)
            else:
                self._add_considered(change)

    # --- building the machine ---

    def _add_immediate(self, change: StepChange) -> None:
        self._machine.add_transition(
            self._name(change),
            list(change.from_steps),
            change.to,
            conditions=self._permissives(change),
            unless=self._ahead_of(change),
            before=self._note_sets(change),
        )

    def _add_considered(self, change: StepChange) -> None:
        decided = self._decided
        assert decided is not None

        def undecided() -> bool:
            return self._now[decided] == EMPTY

        def decided_so() -> bool:
            return self._now[decided] == change.name

        def note_decision() -> None:
            self._noted[decided] = change.name

        def note_done() -> None:
            self._noted[decided] = EMPTY

        # A decision is a transition that stays in its step; acting is allowed from wherever the decision finds it.
        self._machine.add_transition(
            self._decision(change),
            list(change.from_steps),
            None,
            conditions=[*self._permissives(change), undecided],
            unless=self._ahead_of(change),
            before=note_decision,
        )
        self._machine.add_transition(
            self._name(change),
            "*",
            change.to,
            conditions=[self._is_running, decided_so],
            before=[self._note_sets(change), note_done],
        )

    def _is_running(self) -> bool:
        return self._running(self._now)

    def _permissives(self, change: StepChange) -> list[Callable[[], bool]]:
        tests = [self._timer_done(change)] if change.kind is ChangeKind.TIMEOUT else []
        tests += [self._permissive(change, permissive.name) for permissive in change.permissives]
        return [self._is_running, *(self._asked(test) for test in tests)]

    def _asked(self, test: Test) -> Callable[[], bool]:
        return lambda: test(self._now)

    def _parts_of_needs(self) -> dict[str, list[list[Test]]]:
        """By step, for each move from it, what its permissives demand, taken apart at every `and`."""
        parts: dict[str, list[list[Test]]] = {}
        for change in self._sequence.changes:
            if change.kind is ChangeKind.MOVE:
                tests: list[Test] = []
                for permissive in change.permissives:
                    tests += [self._senses.test(part) for part in self._senses.conjuncts(permissive.condition)]
                    if permissive.held_for is not None:
                        tests.append(self._permissive(change, permissive.name))
                for step in change.from_steps:
                    parts.setdefault(step, []).append(tests)
        return parts

    def _permissive(self, change: StepChange, name: str) -> Test:
        """Whether one permissive holds; one that must have held for a while needs its timer done as well."""
        permissive = next(p for p in change.permissives if p.name == name)
        holds = self._senses.test(permissive.condition)
        if permissive.held_for is None:
            return holds
        timer, powered = self._layout.places[permissive_timer(self._sequence, change, name)], self._powered()
        return lambda now: now[timer] == DONE and powered(now) and holds(now)

    def _timer_done(self, change: StepChange) -> Test:
        timer = self._layout.places[step_timer(self._sequence, change)]
        return lambda now: now[timer] == DONE

    def _powered(self) -> Test:
        return self._senses.powered(self._sequence)

    def _want(self, change: StepChange) -> Test:
        """Whether the change would be made if nothing went before it."""
        steps, place = frozenset(change.from_steps), self._place
        tests = [self._timer_done(change)] if change.kind is ChangeKind.TIMEOUT else []
        tests += [self._permissive(change, permissive.name) for permissive in change.permissives]
        return lambda now: now[place] in steps and self._running(now) and all(test(now) for test in tests)

    def _ahead_of(self, change: StepChange) -> list[Callable[[], bool]]:
        """One question for each change that goes before this one: does it want?"""
        ahead = [other for other in self._sequence.changes if goes_before(other, change, self._sequence.priority)]
        return [self._asked(self._wants[other.name]) for other in ahead]

    def _note_sets(self, change: StepChange) -> Callable[[], None]:
        readers = [(self._layout.places[setting.memory], self._new_value(setting)) for setting in change.sets]

        def note() -> None:
            for place, new_value in readers:
                self._noted[place] = new_value(self._now)

        return note

    def _new_value(self, setting: SetTo) -> Callable[[Values], Value]:
        to = setting.to
        if isinstance(to, Ref):
            return self._senses.reader(to)
        if not isinstance(to, Sum):
            return lambda now: to
        total, domain = self._senses.sum(to), self._layout.domains[self._layout.places[setting.memory]]

        def within(now: Values) -> Value:
            value = total(now)
            if value not in domain:
                raise ValueError(f"{setting.memory} would become {value}, which it cannot be")
            return value

        return within

    def _name(self, change: StepChange) -> str:
        return f"{self._sequence.id} {change.name}"

    def _decision(self, change: StepChange) -> str:
        return f"{self._sequence.id} decides {change.name}"

    # --- asking it and running it ---

    def look(self, now: Values) -> None:
        """Take the machine into a situation."""
        step = now[self._place]
        assert isinstance(step, str)
        self._now, self.step = now, step

    def _may(self, trigger: str) -> Test:
        ask, place = getattr(self, f"may_{trigger}"), self._place
        sources = frozenset(transition.source for transition in self._machine.get_transitions(trigger))

        def may(now: Values) -> bool:
            if now[place] not in sources:
                return False  # the machine would say the same, only later
            self.look(now)
            return bool(ask())

        return may

    def _run(self, trigger: str) -> Callable[[Values], Changes]:
        run = self._machine.events[trigger].trigger

        def changes(now: Values) -> Changes:
            self.look(now)
            self._noted = {}
            if not run(self):
                raise ValueError(f"{trigger} cannot happen now")
            return {**self._noted, self._place: self.step}

        return changes

    def happenings(self) -> Iterator[Happening]:
        """Everything the sequence can do by itself."""
        yield from self._timers()
        reacts = self._sequence.reacts
        for change in self._sequence.changes:
            name, decision = self._name(change), self._decision(change)
            if reacts is None:
                yield Happening(Event(name), Kind.LOGIC, 1, self._may(name), self._run(name))
            else:
                soon = Window(reacts.earliest_s * 0, reacts.latest_s, False, reacts.latest_open)
                yield Happening(Event(decision), Kind.LOGIC, 2, self._may(decision), self._run(decision), soon)
                yield Happening(Event(name), Kind.LOGIC, 2, self._may(name), self._run(name), reacts)
        if self._sequence.powered_by is not None:
            yield self._loses_power()

    def _timers(self) -> Iterator[Happening]:
        powered, place = self._powered(), self._place
        for change in self._sequence.changes:
            if change.kind is ChangeKind.TIMEOUT:
                step = change.from_steps[0]

                def in_step(now: Values, step: str = step) -> bool:
                    return now[place] == step and powered(now)

                yield from self._timer(step_timer(self._sequence, change), in_step, change.after)
            for permissive in change.permissives:
                if permissive.held_for is not None:
                    condition = self._senses.test(permissive.condition)

                    def holds(now: Values, condition: Test = condition) -> bool:
                        return condition(now) and powered(now)

                    name = permissive_timer(self._sequence, change, permissive.name)
                    yield from self._timer(name, holds, permissive.held_for)

    def _timer(self, name: str, measured: Test, window: Window | None) -> Iterator[Happening]:
        place, elapses = self._layout.places[name], f"{name} elapses"
        yield Happening(
            Event(f"{name} starts"),
            Kind.CONSEQUENCE,
            0,
            lambda now: now[place] == IDLE and measured(now),
            lambda now: {place: RUNNING},
            restarts=(elapses,),
        )
        yield Happening(
            Event(f"{name} is cleared"),
            Kind.CONSEQUENCE,
            0,
            lambda now: now[place] != IDLE and not measured(now),
            lambda now: {place: IDLE},
        )
        yield Happening(
            Event(elapses), Kind.TIMER, 2, lambda now: now[place] == RUNNING, lambda now: {place: DONE}, window
        )

    def _loses_power(self) -> Happening:
        powered, at_rest = self._powered(), self.at_rest()

        def can(now: Values) -> bool:
            return not powered(now) and any(now[place] != value for place, value in at_rest.items())

        return Happening(Event(f"{self._sequence.id} loses power"), Kind.CONSEQUENCE, 0, can, lambda now: dict(at_rest))

    def progress(self, now: Values) -> tuple[str | int, ...]:
        """The step, and for each move from it how much of what it needs is there: a measure for random walks."""
        step = now[self._place]
        assert isinstance(step, str)
        parts = self._needs.get(step, ())
        return (step, *(sum(part(now) for part in needs) for needs in parts))

    def at_rest(self) -> Changes:
        """Start step, memories that are not kept at their start, nothing decided."""
        rest: Changes = {self._place: self._sequence.start}
        rest |= {self._layout.places[m.id]: m.start for m in self._sequence.memories if not m.kept}
        if self._decided is not None:
            rest[self._decided] = EMPTY
        return rest

    def restart(self) -> Changes:
        """What a restart does at once."""
        return {**self.at_rest(), **{self._layout.places[name]: IDLE for name in timers_of(self._sequence)}}


def goes_before(first: StepChange, second: StepChange, priority: tuple[str, ...]) -> bool:
    """Whether one change of a sequence is taken before another when both want."""
    moves = (first.kind is ChangeKind.MOVE, second.kind is ChangeKind.MOVE)
    if moves == (False, True):
        return True
    if moves == (True, False) or first.name not in priority or second.name not in priority:
        return False
    return priority.index(first.name) < priority.index(second.name)
