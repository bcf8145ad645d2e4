"""Situations of the machine: which names have values, a snapshot of them, and what may happen next.

In: a `Spec`. Out: the `Layout` (every name of a situation with its domain, in the order of the spec), and the frozen
types that the rest of this folder hands round. Names and values are those of specs/MEANING.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TypeAlias

from interlock.logic.formula import Const, Value
from interlock.spec.model import ChangeKind, EffectKind, Item, Link, Move, Sequence, Signal, Spec, StepChange, Window

EMPTY = "-"
"""Nothing in flight, nothing decided."""

IDLE, RUNNING, WITHDRAWN, RESUMED, DONE = "idle", "running", "withdrawn", "resumed", "done"
UP, LOST = "up", "lost"

Values: TypeAlias = tuple[Value, ...]
"""The values of a situation, in the order of `Layout.names`."""

Changes: TypeAlias = dict[int, Value]
"""New values by place in the layout."""

Test: TypeAlias = Callable[[Values], bool]
Reader: TypeAlias = Callable[[Values], Value]

STOPPING = (EffectKind.LOST, EffectKind.FROZEN)
"""Effects that stop a link."""


def written(value: Value) -> str:
    """A value as it stands in ids."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that may happen next. `modes`: the failures that happen in it; `cost`: how many it counts as."""

    id: str
    cost: int = 0
    modes: tuple[str, ...] = ()


class Kind(Enum):
    """What kind of event it is."""

    CONSEQUENCE = "consequence"
    LOGIC = "logic"
    BOUND = "bound"
    FREE = "free"
    READING = "reading"
    TIMER = "timer"
    FAILURE = "failure"
    REPAIR = "repair"


@dataclass(frozen=True, slots=True)
class Happening:
    """What a piece of the plant or a sequence can do, and how.

    `kind` and `tier` as in specs/MEANING.md. `can` says whether it could happen now, lower tiers and budget aside;
    `changes` gives the new values. `window` and `restarts` are kept for a clock. `move` is the (item, move) it belongs
    to, `makes_move` whether it completes that move; `carrier` the link whose message arrives in it; `rides_on` the
    event that a failure rides on here, whose age counts for this one too.
    """

    event: Event
    kind: Kind
    tier: int
    can: Test
    changes: Callable[[Values], Changes]
    window: Window | None = None
    restarts: tuple[str, ...] = ()
    move: tuple[str, str] | None = None
    makes_move: bool = False
    carrier: str | None = None
    rides_on: str | None = None

    @property
    def obliged(self) -> bool:
        """Whether it happens at some time if it stays possible; a failure that rides on an event never has to."""
        bounded = self.window is not None and self.window.latest_s is not None
        return not self.event.cost and (self.tier < 2 or bounded)


class Layout:
    """The names of a situation, the domain of each, and what each starts with unless that depends on the plant."""

    def __init__(self) -> None:
        self.names: list[str] = []
        self.domains: list[tuple[Value, ...]] = []
        self.first: list[Value] = []
        self.places: dict[str, int] = {}

    def add(self, name: str, domain: tuple[Value, ...], first: Value) -> int:
        """One more name; its place."""
        if name in self.places:
            raise ValueError(f"two things are named {name!r}")
        self.places[name] = len(self.names)
        self.names.append(name)
        self.domains.append(domain)
        self.first.append(first)
        return self.places[name]


class Snapshot(Mapping[str, Value]):
    """A situation (name to value) and how many failures were spent on the way. Frozen, hashable, in canonical order.

    Two snapshots are equal if values and spent failures are; `situation` is what is counted, without the spent ones.
    """

    __slots__ = ("_layout", "situation", "spent")

    _layout: Layout
    situation: Values
    spent: int

    def __init__(self, layout: Layout, situation: Values, spent: int) -> None:
        object.__setattr__(self, "_layout", layout)
        object.__setattr__(self, "situation", situation)
        object.__setattr__(self, "spent", spent)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a snapshot does not change")

    def __getitem__(self, name: str) -> Value:
        return self.situation[self._layout.places[name]]

    def __iter__(self) -> Iterator[str]:
        return iter(self._layout.names)

    def __len__(self) -> int:
        return len(self.situation)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Snapshot):
            return NotImplemented
        return self.situation == other.situation and self.spent == other.spent

    def __hash__(self) -> int:
        return hash((self.situation, self.spent))

    def __repr__(self) -> str:
        inner = ", ".join(f"{name}={value!r}" for name, value in self.items())
        return f"Snapshot({inner}; spent {self.spent})"


# --- names of the variables, one function each, so that they are written once ---


def phase_of(item: Item, move: Move) -> str:
    """The phase of a bound move that has a condition."""
    return f"{item.id} {move.name}"


def has_phase(move: Move) -> bool:
    """Whether the move is bound and waits for a condition."""
    return move.takes is not None and not unconditional(move)


def unconditional(move: Move) -> bool:
    """Whether no `when` was written."""
    return isinstance(move.when, Const) and move.when.value


def filtered_of(signal: Signal) -> str:
    """The filtered value of a steady signal."""
    return f"{signal.id} filtered"


def shown_of(signal: Signal) -> str:
    """What a late signal, or a value of a link that may stop, shows."""
    return f"{signal.id} shown"


def slot_of(signal: Signal, number: int) -> str:
    """One value in flight, numbered from 1."""
    return f"{signal.id} in flight {number}"


def newest_of(signal: Signal) -> str:
    """The number of the slot filled last, 0 for none."""
    return f"{signal.id} newest"


def overrun_of(signal: Signal) -> str:
    """The newest value once too many were in flight."""
    return f"{signal.id} overrun"


def permissive_timer(sequence: Sequence, change: StepChange, permissive: str) -> str:
    """How long a permissive has held."""
    return f"{sequence.id} {change.name} {permissive} timer"


def step_timer(sequence: Sequence, change: StepChange) -> str:
    """How long a step with a timeout has lasted."""
    return f"{sequence.id} {change.from_steps[0]} timeout"


def timers_of(sequence: Sequence) -> tuple[str, ...]:
    """The names of all timers of a sequence."""
    names = []
    for change in sequence.changes:
        if change.kind is ChangeKind.TIMEOUT:
            names.append(step_timer(sequence, change))
        names.extend(permissive_timer(sequence, change, p.name) for p in change.permissives if p.held_for is not None)
    return tuple(names)


def decided_of(sequence: Sequence) -> str:
    """What a sequence that takes its time has decided."""
    return f"{sequence.id} decided"


def frozen_by(signal: str, failure: str) -> str:
    """What a reading showed when the failure froze it."""
    return f"{signal} frozen by {failure}"


def garbled_by(signal: str, failure: str) -> str:
    """What the failure makes of a reading or a carried value."""
    return f"{signal} garbled by {failure}"


def links_that_may_stop(spec: Spec) -> frozenset[str]:
    """Links with a failure that stops them."""
    return frozenset(e.target for f in spec.failures for e in f.effects if e.kind in STOPPING)


def signals_of(spec: Spec) -> dict[str, Signal]:
    """All readings and carried values by id."""
    carried = [signal for link in spec.links for signal in link.carries]
    return {signal.id: signal for signal in (*spec.readings, *carried)}


def garbled_signals(spec: Spec, target: str) -> tuple[Signal, ...]:
    """The signals that a failure of `target` (a reading, a carried value or a link) garbles or freezes."""
    for link in spec.links:
        if link.id == target:
            return link.carries
    return (signals_of(spec)[target],)


# --- the layout of a spec ---


def lay_out(spec: Spec) -> Layout:
    """Every name of a situation of this spec."""
    layout = Layout()
    for item in spec.items:
        layout.add(item.id, item.states, item.start[0])
        for move in item.moves:
            if has_phase(move):
                phases = (IDLE, RUNNING) if move.completes else (IDLE, RUNNING, WITHDRAWN, RESUMED)
                layout.add(phase_of(item, move), phases, IDLE)
    for signal in spec.readings:
        _lay_signal(layout, signal)
    for link in spec.links:
        _lay_link(layout, link, link.id in links_that_may_stop(spec))
    for sequence in spec.sequences:
        _lay_sequence(layout, sequence)
    for failure in spec.failures:
        if failure.common_cause:
            continue
        layout.add(failure.id, (False, True), False)
        for effect in failure.effects:
            if effect.kind is EffectKind.FROZEN and effect.target not in {link.id for link in spec.links}:
                for signal in garbled_signals(spec, effect.target):
                    layout.add(frozen_by(signal.id, failure.id), signal.values, signal.values[0])
            if effect.kind is EffectKind.ANYTHING:
                for signal in garbled_signals(spec, effect.target):
                    layout.add(garbled_by(signal.id, failure.id), signal.values, signal.values[0])
    return layout


def _lay_signal(layout: Layout, signal: Signal) -> None:
    domain, first = signal.values, signal.values[0]
    if signal.steady is not None:
        layout.add(filtered_of(signal), domain, first)
    if signal.late is not None:
        layout.add(shown_of(signal), domain, first)
        for number in range(1, signal.in_flight + 1):
            layout.add(slot_of(signal, number), (EMPTY, *domain), EMPTY)
        layout.add(newest_of(signal), tuple(range(signal.in_flight + 1)), 0)
        layout.add(overrun_of(signal), (EMPTY, *domain), EMPTY)


def _lay_link(layout: Layout, link: Link, may_stop: bool) -> None:
    if link.watchdog is not None:
        layout.add(link.id, (UP, LOST), UP)
    for signal in link.carries:
        _lay_signal(layout, signal)
        if signal.late is None and may_stop:
            layout.add(shown_of(signal), signal.values, signal.values[0])


def _lay_sequence(layout: Layout, sequence: Sequence) -> None:
    layout.add(sequence.id, tuple(step.name for step in sequence.steps), sequence.start)
    for memory in sequence.memories:
        layout.add(memory.id, memory.values, memory.start)
    for timer in timers_of(sequence):
        layout.add(timer, (IDLE, RUNNING, DONE), IDLE)
    if sequence.reacts is not None:
        layout.add(decided_of(sequence), (EMPTY, *(change.name for change in sequence.changes)), EMPTY)
