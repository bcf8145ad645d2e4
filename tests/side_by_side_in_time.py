"""The two meanings of a spec side by side under the declared timing, tick by tick: `side_by_side.py` with ages.

In: a spec whose windows have closed ends, a limit, and a seed for the order in which situations are taken. Out: what
was compared, and the first difference as a small text. The core's side is its plain timed meaning, asked in steps of
one tick; what a tick is each side works out for itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import gcd
from random import Random
from typing import TypeAlias

from interlock.core.elaborate import elaborate
from interlock.core.question import Question
from interlock.core.system import Action
from interlock.core.timed import TimedMeaning, TimedState
from interlock.logic.formula import Value
from interlock.machine.clock import Clock, Moment
from interlock.machine.machine import Machine
from interlock.spec.model import Failure, Item, Link, Sequence, Signal, Spec, StepChange, Window

Told: TypeAlias = tuple[tuple[tuple[str, Value], ...], tuple[tuple[str, int], ...], int]
"""A situation as names with values, ages in ticks by id (both sorted), and failures spent."""

PASSES = "(a tick of time)"


@dataclass(slots=True)
class ComparedInTime:
    """What was compared: situations with ages and spent failures, their events and ticks as (before, id, after); how
    often each event happened, and how often at an age above 0 kept from another situation; the first difference."""

    known: set[Told] = field(default_factory=set)
    steps: set[tuple[Told, str, Told]] = field(default_factory=set)
    events: Counter[str] = field(default_factory=Counter)
    kept_an_age: int = 0
    stopped_time: int = 0
    complete: bool = True
    difference: str | None = None


class _Core:
    """The core's side in ticks, told in names and values."""

    def __init__(self, spec: Spec, budget: int, allowed: tuple[str, ...] | None) -> None:
        system = elaborate(spec)
        self.timed = TimedMeaning(system, Question(property="", budget=budget, allowed=allowed))
        self.system = self.timed.plain.system
        ends = [end for action in self.system.actions for end in ends_of(action)]
        # The core counts in what divides the times of rules too: one tick of events is so many of its own.
        tick = gcd(*ends) or None
        self.tick = Fraction(tick or 1)
        self.tick_s = Fraction(1) if tick is None else tick * system.tick_s
        self.oldest = max(ends, default=0) // (tick or 1) + 1

    def starts(self) -> Iterator[tuple[TimedState, tuple[str, ...]]]:
        return self.timed.starts()

    def steps(self, timed: TimedState) -> dict[str, TimedState]:
        found = {action.id: self.timed.after(action, timed) for action in self.timed.enabled(timed)}
        if self.timed.may_wait(timed, self.tick):
            later, cap = self.timed.waited(timed, self.tick), self.oldest * self.tick
            found[PASSES] = replace(later, ages=tuple((id, min(age, cap)) for id, age in later.ages))
        return found

    def told(self, timed: TimedState) -> Told:
        state = timed.state
        pairs = zip(self.system.variables, state.valuation, strict=True)
        values = sorted(((v.name, v.values[i]) for v, i in pairs), key=lambda pair: pair[0])
        ages = []
        for id, age in timed.ages:
            ticks = age / self.tick
            assert ticks.denominator == 1, (id, age)
            ages.append((id, ticks.numerator))
        return tuple(values), tuple(sorted(ages)), state.spent


def ends_of(action: Action) -> tuple[int, ...]:
    """The ends of an action's window other than 0. AssertionError if one is open."""
    window = action.window
    if window is None:
        return ()
    assert not window.earliest_open, action.id
    assert not window.latest_open, action.id
    return tuple(end for end in (window.earliest, window.latest) if end)


class _Machine:
    """The machine's side, told in the same way."""

    def __init__(self, spec: Spec, budget: int, allowed: tuple[str, ...] | None) -> None:
        self.clock = Clock(Machine(spec, budget, allowed))

    def starts(self) -> Iterator[tuple[Moment, tuple[str, ...]]]:
        return self.clock.starts()

    def steps(self, moment: Moment) -> dict[str, Moment]:
        found = {event.id: self.clock.after(moment, event) for event in self.clock.events(moment)}
        if self.clock.may_tick(moment):
            found[PASSES] = self.clock.tick(moment)
        return found

    def told(self, moment: Moment) -> Told:
        snapshot = moment.snapshot
        values = sorted(snapshot.items(), key=lambda pair: pair[0])
        return tuple(values), tuple(sorted(moment.ages)), snapshot.spent


def compare_in_time(
    spec: Spec,
    budget: int = 0,
    allowed: tuple[str, ...] | None = None,
    limit: int = 1_000_000,
    *,
    seed: int = 0,
    of_machine: Spec | None = None,
) -> ComparedInTime:
    """Compare both timed meanings of a spec; `limit` counts situations with ages and spent failures.

    `of_machine`: another spec for the machine.
    """
    core, machine = _Core(spec, budget, allowed), _Machine(spec if of_machine is None else of_machine, budget, allowed)
    compared = ComparedInTime()
    ticks = (core.tick_s, core.oldest), (machine.clock.tick_s, machine.clock.oldest)
    if ticks[0] != ticks[1]:
        compared.difference = f"tick and greatest age: core {ticks[0]}, machine {ticks[1]}"
        return compared
    by_core = {(core.told(timed), present): timed for timed, present in core.starts()}
    by_machine = {(machine.told(moment), present): moment for moment, present in machine.starts()}
    if by_core.keys() != by_machine.keys():
        compared.difference = f"different starts: {sorted(map(repr, by_core.keys() ^ by_machine.keys()))}"
        return compared
    waiting: list[tuple[Told, TimedState, Moment]] = []
    for start, timed in by_core.items():
        if start[0] not in compared.known:
            compared.known.add(start[0])
            waiting.append((start[0], timed, by_machine[start]))
    draw = Random(seed)
    while waiting:
        # In any order: a limited comparison gets further from the start than layer by layer.
        pick = draw.randrange(len(waiting))
        waiting[pick], waiting[-1] = waiting[-1], waiting[pick]
        told, timed, moment = waiting.pop()
        of_core, of_machine_too = core.steps(timed), machine.steps(moment)
        outcomes = {id: core.told(after) for id, after in of_core.items()}
        others = {id: machine.told(after) for id, after in of_machine_too.items()}
        if outcomes != others:
            compared.difference = _steps_differ(told, outcomes, others)
            return compared
        compared.events.update(outcomes.keys())
        compared.stopped_time += PASSES not in outcomes and core.timed.plain.settled(timed.state.valuation)
        for id, after in outcomes.items():
            compared.steps.add((told, id, after))
            compared.kept_an_age += id != PASSES and any(age > 0 for _, age in after[1])
            if after in compared.known:
                continue
            if len(compared.known) >= limit:
                compared.complete = False
                continue
            compared.known.add(after)
            waiting.append((after, of_core[id], of_machine_too[id]))
    return compared


def _steps_differ(told: Told, by_core: dict[str, Told], by_machine: dict[str, Told]) -> str:
    lines = ["in this situation the two sides differ:", *(f"  {name}: {value!r}" for name, value in told[0])]
    lines.append(f"  ages: {dict(told[1])}")
    for id in sorted({*by_core, *by_machine}):
        core, machine = by_core.get(id), by_machine.get(id)
        if core == machine:
            lines.append(f"both: {id}")
            continue
        lines.append(f"differently: {id}")
        for side, after in (("core", core), ("machine", machine)):
            lines.append(f"  {side}: {'cannot' if after is None else _leads(told, after)}")
    return "\n".join(lines)


def _leads(told: Told, after: Told) -> str:
    before = dict(told[0])
    changes = [f"{name}: {before[name]!r} to {value!r}" for name, value in after[0] if before[name] != value]
    return f"{', '.join(changes) or 'changes nothing'}; ages {dict(after[1])}; spent {after[2]}"


# --- specs with short windows ---


def with_short_windows(spec: Spec) -> Spec:
    """The same spec with every time of its events replaced by a small whole number of seconds, in the same order, and
    with closed ends: few ticks, and yet what is shorter stays shorter. Rules keep their times."""
    times = {time for window in _windows(spec) for time in (window.earliest_s, window.latest_s) if time}
    times |= {e.latest_s for failure in spec.failures for e in failure.effects if e.latest_s}
    rank = {time: Fraction(number) for number, time in enumerate(sorted(times), 1)} | {Fraction(0): Fraction(0)}
    return _Shortened(rank).spec(spec)


def _windows(spec: Spec) -> Iterator[Window]:
    signals = [*spec.readings, *(value for link in spec.links for value in link.carries)]
    changes = [change for sequence in spec.sequences for change in sequence.changes]
    found = [move.takes for item in spec.items for move in item.moves]
    found += [window for signal in signals for window in (signal.steady, signal.late)]
    found += [link.watchdog for link in spec.links] + [sequence.reacts for sequence in spec.sequences]
    found += [window for c in changes for window in (c.after, *(p.held_for for p in c.permissives))]
    yield from (window for window in found if window is not None)


@dataclass(frozen=True, slots=True)
class _Shortened:
    rank: dict[Fraction, Fraction]

    def window(self, window: Window | None) -> Window | None:
        if window is None:
            return None
        latest = None if window.latest_s is None else self.rank[window.latest_s]
        return Window(self.rank[window.earliest_s], latest, span=window.span)

    def spec(self, spec: Spec) -> Spec:
        return replace(
            spec,
            items=tuple(map(self.item, spec.items)),
            readings=tuple(map(self.signal, spec.readings)),
            links=tuple(map(self.link, spec.links)),
            sequences=tuple(map(self.sequence, spec.sequences)),
            failures=tuple(map(self.failure, spec.failures)),
        )

    def item(self, item: Item) -> Item:
        return replace(item, moves=tuple(replace(move, takes=self.window(move.takes)) for move in item.moves))

    def signal(self, signal: Signal) -> Signal:
        return replace(signal, steady=self.window(signal.steady), late=self.window(signal.late))

    def link(self, link: Link) -> Link:
        return replace(link, carries=tuple(map(self.signal, link.carries)), watchdog=self.window(link.watchdog))

    def sequence(self, sequence: Sequence) -> Sequence:
        changes = tuple(map(self.change, sequence.changes))
        return replace(sequence, reacts=self.window(sequence.reacts), changes=changes)

    def change(self, change: StepChange) -> StepChange:
        held = tuple(replace(p, held_for=self.window(p.held_for)) for p in change.permissives)
        return replace(change, after=self.window(change.after), permissives=held)

    def failure(self, failure: Failure) -> Failure:
        effects = (
            effect if effect.latest_s is None else replace(effect, latest_s=self.rank[effect.latest_s])
            for effect in failure.effects
        )
        return replace(failure, effects=tuple(effects))
