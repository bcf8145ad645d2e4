"""A spec that was read and found sound: flat, frozen, names resolved, parts written out.

Times are exact seconds (`Fraction`). Ids of things inside an instance of a part carry the instance's name in front
("front shoe contact"). Every element keeps the span of its name in the file. What the elements mean is written down in
specs/MEANING.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from interlock.diag.place import Span
from interlock.logic.formula import Formula, Ref, Sum, Value


@dataclass(frozen=True, slots=True)
class Window:
    """When an event may happen, counted from the moment it became possible; `latest_s` None: no latest."""

    earliest_s: Fraction
    latest_s: Fraction | None
    earliest_open: bool = False
    latest_open: bool = False
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """A move of an item. Free: `takes` None and not `instant`. Instant: `takes: nothing`. Bound: `takes` a window.

    `when` is `Const(True)` if not written. `completes` says that a bound move, once started, goes on though its
    condition is withdrawn (`withdrawn: completes`); otherwise it may complete or be dropped (`abandoned`).
    """

    name: str
    from_states: tuple[Value, ...]
    to: Value
    when: Formula
    takes: Window | None
    instant: bool
    also: tuple[tuple[str, Value], ...]
    completes: bool
    words: str
    span: Span

    @property
    def free(self) -> bool:
        """Whether the world makes this move when it likes, perhaps never."""
        return self.takes is None and not self.instant


@dataclass(frozen=True, slots=True)
class Item:
    """A physical item. `follows`: it is in its second state exactly while this holds, as an instant consequence."""

    id: str
    states: tuple[Value, ...]
    start: tuple[Value, ...]
    moves: tuple[Move, ...]
    follows: Formula | None
    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Signal:
    """A value on its way from what is true to what is shown: of a reading, or carried by a link.

    `shows` is a formula (values False, True) or a `Ref` (the values of that thing). `steady` filters first, `late`
    carries then; either may be None.
    """

    id: str
    values: tuple[Value, ...]
    shows: Formula | Ref
    steady: Window | None
    late: Window | None
    in_flight: int
    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Link:
    """Values carried from one sequence to another; their ids are "LINK VALUE".

    `when_lost`: by id, what the receiver takes each value for once the link is lost.
    """

    id: str
    sender: str | None
    receiver: str | None
    carries: tuple[Signal, ...]
    watchdog: Window | None
    when_lost: tuple[tuple[str, Value], ...]
    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Permissive:
    """A named condition of a move or trip; `held_for`: it must have held so long without a break."""

    name: str
    condition: Formula
    held_for: Window | None
    span: Span


@dataclass(frozen=True, slots=True)
class SetTo:
    """An assignment to a memory (by its id) when a step changes: a value, a sum of small integers, or a copy of another
    thing."""

    memory: str
    to: Value | Sum | Ref
    span: Span


class ChangeKind(Enum):
    """Why a sequence changes its step. Trips and timeouts go before moves."""

    TRIP = "trip"
    TIMEOUT = "timeout"
    MOVE = "move"


@dataclass(frozen=True, slots=True)
class StepChange:
    """A move, a trip or a timeout of a sequence.

    A move's permissives must all hold; a trip has exactly one, named `when`. A timeout has none: it happens when its
    step (its only `from_steps`) has lasted for `after`.
    """

    name: str
    kind: ChangeKind
    from_steps: tuple[str, ...]
    to: str
    permissives: tuple[Permissive, ...]
    after: Window | None
    sets: tuple[SetTo, ...]
    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Step:
    """A step of a sequence and the commands it gives (ids)."""

    name: str
    drives: tuple[str, ...]
    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Memory:
    """A small named value of a sequence; `kept`: it survives a loss of power or a restart. Id "SEQUENCE MEMORY"."""

    id: str
    values: tuple[Value, ...]
    start: Value
    kept: bool
    span: Span


@dataclass(frozen=True, slots=True)
class Sequence:
    """One piece of logic. `reacts` None: immediately. `changes` in the order written: trips, timeouts, moves.

    `priority` names changes, earlier ones first; changes not named in it have no order among each other.
    """

    id: str
    reacts: Window | None
    powered_by: Formula | None
    steps: tuple[Step, ...]
    start: str
    memories: tuple[Memory, ...]
    changes: tuple[StepChange, ...]
    priority: tuple[str, ...]
    words: str
    span: Span

    def step(self, name: str) -> Step:
        """The step of that name; KeyError if there is none."""
        for step in self.steps:
            if step.name == name:
                return step
        raise KeyError(name)


class EffectKind(Enum):
    """What a failure does. The fields of `Effect` that each uses are named beside it."""

    STAYS = "stays"  # target item, value: happens only while the item has it; the item keeps it
    STUCK = "stuck"  # target item: it keeps whatever state it has
    GOES = "goes"  # target item, value, held: it takes that state at once, and (held) keeps it
    IGNORES = "ignores"  # target item, command: the item's moves take this command as not given
    SLOW = "slow"  # target item, move, latest_s (None: never): the bound move may take up to that
    READS = "reads"  # target reading, value: it shows this
    FROZEN = "frozen"  # target reading or link: what is shown stays as it is
    ANYTHING = "anything"  # target reading or link: what is shown is arbitrary and may change at any moment
    LOST = "lost"  # target link: nothing is sent any more
    LATE = "late"  # target link, latest_s (None: never): what is sent may take up to that
    DRIVEN = "driven"  # target command: it is given, whatever the logic says
    SILENT = "silent"  # target command: it is not given, whatever the logic says
    STOPS_HOLDING = "stops_holding"  # target sequence: it stops; its step's commands stay given
    STOPS_DROPPING = "stops_dropping"  # target sequence: it stops; its commands are not given
    RESTARTS = "restarts"  # target sequence: back to its start step and start values, once


@dataclass(frozen=True, slots=True)
class Effect:
    """One effect of a failure on one target (see `EffectKind`)."""

    kind: EffectKind
    target: str
    value: Value | None = None
    held: bool = False
    move: str | None = None
    command: str | None = None
    latest_s: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Trigger:
    """The event in which a failure happens as a consequence: a move of an item, while something holds."""

    item: str
    move: str
    condition: Formula


@dataclass(frozen=True, slots=True)
class Failure:
    """A failure mode, or (with `members`) a common cause that makes several modes present in one event.

    `rate_per_h` or `probability`, or neither; `found_within_s` None: not stated. `repaired`: it may be repaired at any
    time. `only_while`: it can happen only while this holds.
    """

    id: str
    effects: tuple[Effect, ...]
    members: tuple[str, ...]
    trigger: Trigger | None
    only_while: Formula
    rate_per_h: Fraction | None
    probability: Fraction | None
    source: str
    found_by: str
    found_within_s: Fraction | None
    repaired: bool
    words: str
    span: Span

    @property
    def common_cause(self) -> bool:
        """Whether this stands for several failures in one event."""
        return bool(self.members)


@dataclass(frozen=True, slots=True)
class Assumption:
    """Strengthens the guards of named free moves (ids "ITEM MOVE") or failures; with the reason and who owns it."""

    id: str
    strengthens: tuple[str, ...]
    condition: Formula
    words: str
    owner: str
    span: Span


@dataclass(frozen=True, slots=True)
class Hazard:
    """An unsafe situation over equipment only. `longer_than_s`: it is one only when it lasts longer than that."""

    id: str
    words: str
    happens: Formula
    longer_than_s: Fraction | None
    severity: str
    safety: bool
    tolerable_per_h: Fraction | None
    withstands: int | None
    passing: bool
    span: Span


class RuleKind(Enum):
    """The kinds of rules; the fields of `Rule` that each uses are named beside it."""

    NEVER = "never"  # condition
    WHILE = "while"  # condition (A), must (B)
    BEFORE = "before"  # condition (X), first (Y), since (Z, may be None)
    AFTER = "after"  # condition (A), within (T), must (B), unless (C, may be None)
    LASTS = "lasts"  # condition, within (T1 .. T2)
    POSSIBLE = "possible"  # condition
    ALWAYS_POSSIBLE = "always_possible"  # condition
    ALWAYS_ENDS = "always_ends"  # condition (B), start (A), helped_by


@dataclass(frozen=True, slots=True)
class Rule:
    """Something that must be true (see `RuleKind` for the fields in use)."""

    id: str
    kind: RuleKind
    words: str
    condition: Formula
    must: Formula | None
    first: Formula | None
    since: Formula | None
    unless: Formula | None
    start: Formula | None
    within: Window | None
    helped_by: tuple[str, ...]
    guards_against: tuple[str, ...]
    withstands: int
    even_common_cause: bool
    passing: bool
    span: Span


@dataclass(frozen=True, slots=True)
class StopPhase:
    """A phase of an ordinary stop: measured from `begins` to `ends`, with `unless` as what ends the waiting otherwise;
    or stated (`takes`); or neither, and it takes what is left of the stop."""

    id: str
    words: str
    begins: Formula | None
    ends: Formula | None
    unless: Formula | None
    takes: Window | None
    span: Span


@dataclass(frozen=True, slots=True)
class StopBattery:
    """The battery beside the line: what it can give, with what power it is charged between trains, how often a train
    comes, and how much of what it gives arrives (more than 0, at most 1)."""

    holds_j: Fraction
    recharged_with_w: Fraction
    next_train_s: Fraction
    efficiency: Fraction


@dataclass(frozen=True, slots=True)
class StopBudget:
    """What an ordinary stop has to bring. `charging`: the id of the phase in which the train is charged, with a power
    of at least `power_w` and at most `most_power_w`, which rises and falls in ramps. `shorten_by_s`: by how much each
    window is shortened to see what that buys (None: not asked)."""

    words: str
    stop_s: Fraction
    needs_j: Fraction
    power_w: Fraction
    most_power_w: Fraction
    ramp_up_s: Fraction
    ramp_down_s: Fraction
    phases: tuple[StopPhase, ...]
    charging: str
    battery: StopBattery | None
    shorten_by_s: Fraction | None
    span: Span


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a draft is there to show: a rule or hazard that is broken at just so many failures, with what comes with it
    (`also`). `waits_for_timing`: any timing breaks it in the file beneath as well; only the declared timing tells them
    apart."""

    id: str
    failures: int
    also: tuple[str, ...]
    waits_for_timing: bool
    span: Span


@dataclass(frozen=True, slots=True)
class Base:
    """A file that a draft is based on, by the name in places, and the digest of its bytes."""

    file: str
    digest: str


@dataclass(frozen=True, slots=True)
class Used:
    """A function that a value was computed by, for people: its name, formula and value, where its figures come from
    ("" if it has none), and the arguments (name and value) that give the least and the greatest value."""

    name: str
    formula: str
    value: str
    source: str
    least: tuple[tuple[str, str], ...]
    greatest: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A parameter that is computed, has a tolerance or names its source: its text and its value for people.
    `inputs`: the parameters in its text, each with its value; `source`: as the spec says, "" if it does not."""

    name: str
    written: str
    value: str
    source: str
    inputs: tuple[tuple[str, str], ...]
    used: tuple[Used, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Taken:
    """What a quantity or window with tolerances, or a computed one, was taken for where it is used (`what`).

    `worked_out`: its bounds, for people; `taken`: the value or window in the spec. `rounded`: to whole ticks.
    `inputs`, `used`: as of `WorkedOut`.
    """

    what: str
    written: str
    worked_out: str
    taken: str
    rounded: bool
    inputs: tuple[tuple[str, str], ...]
    used: tuple[Used, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Spec:
    """A whole spec. `commands` are all commands that some step drives or some formula reads, in order of appearance.
    Of a draft `based_on` are the files beneath it, the nearest first; `digest` then covers them all. `worked_out`,
    `taken`: what is to be told of computed values; nothing else rests on them."""

    title: str
    revision: str
    prepared_by: str
    standards: tuple[str, ...]
    notes: str
    items: tuple[Item, ...]
    readings: tuple[Signal, ...]
    links: tuple[Link, ...]
    sequences: tuple[Sequence, ...]
    commands: tuple[str, ...]
    conditions: tuple[tuple[str, Formula, Span], ...]
    failures: tuple[Failure, ...]
    assumptions: tuple[Assumption, ...]
    hazards: tuple[Hazard, ...]
    rules: tuple[Rule, ...]
    file: str
    digest: str
    based_on: tuple[Base, ...] = ()
    expect: tuple[Expectation, ...] = ()
    worked_out: tuple[WorkedOut, ...] = ()
    taken: tuple[Taken, ...] = ()
    stop_budget: StopBudget | None = None
