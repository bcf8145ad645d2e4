"""The core: a transition system with tiers and windows, the only thing engines see.

A valuation is a tuple of value indices, one a variable, in the order of `System.variables`. Times are whole ticks of
`System.tick_s` seconds. Ids are words of the spec, so that an engine can be read without it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from typing import TypeAlias

from interlock.diag.place import Span
from interlock.logic.expression import Expression, variables_of

Valuation: TypeAlias = tuple[int, ...]
"""Value indices, one a variable of the system, in their order."""


class VariableKind(Enum):
    """What a variable stands for."""

    ITEM = "item"
    PHASE = "phase"  # of a bound move: idle, running, withdrawn, resumed
    SIGNAL = "signal"  # of a reading or a value carried by a link
    LINK = "link"
    STEP = "step"
    MEMORY = "memory"
    TIMER = "timer"  # idle, running, done
    DECISION = "decision"  # of logic that reacts within a window
    FAILURE = "failure"
    COMMAND = "command"  # only where logic is replaced by arbitrary commands


@dataclass(frozen=True, slots=True)
class Variable:
    """A variable and its domain; `values` are shown to people, everything else uses their indices."""

    name: str
    values: tuple[str | int | bool, ...]
    kind: VariableKind


class Tier(Enum):
    """0: instant consequences; 1: logic that reacts immediately; 2: all else. Lower tiers go first."""

    CONSEQUENCE = 0
    LOGIC = 1
    OTHER = 2


class ActionKind(Enum):
    """What kind of event an action makes."""

    CONSEQUENCE = "consequence"
    LOGIC = "logic"
    BOUND = "bound"
    FREE = "free"
    READING = "reading"
    TIMER = "timer"
    FAILURE = "failure"
    REPAIR = "repair"


@dataclass(frozen=True, slots=True)
class TickWindow:
    """Ages at which a tier-2 action may happen; `latest` None: it may never happen. Closed unless told open."""

    earliest: int = 0
    latest: int | None = None
    earliest_open: bool = False
    latest_open: bool = False

    @property
    def bears(self) -> bool:
        """Whether the window says anything (is not "any age, perhaps never")."""
        return self.earliest > 0 or self.earliest_open or self.latest is not None


ANY_AGE = TickWindow()


@dataclass(frozen=True, slots=True)
class Assignment:
    """`variable` takes the value index of the first case whose condition holds; if none holds it stays.

    Conditions are read in the valuation before the event; all assignments of an event happen at once.
    """

    variable: str
    cases: tuple[tuple[Expression, int], ...]


@dataclass(frozen=True, slots=True)
class Action:
    """Something that can happen.

    `id` is unique ("feeder closes"), `owner` the thing it belongs to, `name` what it does. `window` is None on tiers
    0 and 1. `obliged`: tier 0 or 1, or a finite latest. `restarts`: ids of actions whose age starts afresh. `modes`:
    failure modes that happen in this event; `cost`: how many failures the event counts as (a common cause counts one).
    `ages_with`: id of the action whose age this one has too, "" for its own: an event with a failure in it has the age
    of the event that it rides on; the guard of that one holds wherever this one's does, but for failures.
    `names`: the `Named` nodes of the guard that people wrote, for explanations.
    """

    id: str
    owner: str
    name: str
    kind: ActionKind
    tier: Tier
    guard: Expression
    update: tuple[Assignment, ...]
    window: TickWindow | None
    obliged: bool
    restarts: tuple[str, ...] = ()
    modes: tuple[str, ...] = ()
    cost: int = 0
    ages_with: str = ""


def changed_by(action: Action) -> frozenset[str]:
    """The variables that an event may change."""
    return frozenset(assignment.variable for assignment in action.update)


def read_by(action: Action) -> frozenset[str]:
    """The variables that an event looks at: whether it may happen, and what it changes to what."""
    return variables_of(action.guard, *(condition for one in action.update for condition, _ in one.cases))


@dataclass(frozen=True, slots=True)
class Mode:
    """A failure mode or a common cause. `trigger`: it happens only within another event (see `at_start`).

    `at_start`: how the start valuation changes if it is present at the start; None: it cannot be.
    """

    id: str
    common_cause: bool
    members: tuple[str, ...]
    guard: Expression
    at_start: tuple[Assignment, ...] | None


class PropertyKind(Enum):
    """What is asked; see `Property` for the fields in use."""

    NEVER = "never"
    BEFORE = "before"
    AFTER = "after"
    LASTS = "lasts"
    POSSIBLE = "possible"
    ALWAYS_POSSIBLE = "always_possible"
    ALWAYS_ENDS = "always_ends"


ON_GRAPHS = (PropertyKind.ALWAYS_POSSIBLE, PropertyKind.ALWAYS_ENDS)
"""The kinds that no single run shows to be broken: they are judged on all situations and the ways between them."""


@dataclass(frozen=True, slots=True)
class Property:
    """A rule or a hazard, as engines see it.

    NEVER `condition` (bad when it holds; a rule `while A must B` is `A and not B`). BEFORE `condition` X, `first` Y,
    `since` Z. AFTER `condition` A, `must` B, `unless` C, `within`. LASTS `condition`, `within`. POSSIBLE and
    ALWAYS_POSSIBLE `condition`. ALWAYS_ENDS `condition` B, `start` A, `helped_by` action ids. `every_event`: NEVER and
    POSSIBLE with a `was` in them, judged on every event; `passing`: judged in unsettled situations too. `trigger`: when
    it never holds, the rule says nothing (None: no such thing). Conditions not in use are None.
    """

    id: str
    kind: PropertyKind
    hazard: bool
    condition: Expression
    first: Expression | None = None
    since: Expression | None = None
    must: Expression | None = None
    unless: Expression | None = None
    start: Expression | None = None
    trigger: Expression | None = None
    within: TickWindow | None = None
    helped_by: tuple[str, ...] = ()
    every_event: bool = False
    passing: bool = False

    def expressions(self) -> tuple[Expression, ...]:
        """All expressions of the property, for support and pins."""
        return tuple(e for e in (self.condition, self.first, self.since, self.must, self.unless, self.start) if e)


@dataclass(frozen=True, slots=True)
class Origin:
    """Where something of the core comes from: words for people and the place in the spec (None: made by us). `window`:
    of an event, a name for the window of the spec that its own was made of ("": its own alone); events with the same
    name take one time on site."""

    words: str
    place: Span | None
    window: str = ""


@dataclass(frozen=True, slots=True)
class System:
    """A whole core. `start`: all start valuations without failures. `origin`: by variable, action, mode, property or
    `Named` id. `conditions`: the named conditions of the spec. `digest` keys results: it covers all that has a meaning,
    not words and places.
    """

    title: str
    variables: tuple[Variable, ...]
    start: tuple[Valuation, ...]
    actions: tuple[Action, ...]
    modes: tuple[Mode, ...]
    properties: tuple[Property, ...]
    conditions: tuple[tuple[str, Expression], ...]
    origin: dict[str, Origin]
    tick_s: Fraction
    digest: str = field(default="")

    def variable(self, name: str) -> Variable:
        """The variable of that name; KeyError if there is none. Cost: a scan."""
        for variable in self.variables:
            if variable.name == name:
                return variable
        raise KeyError(name)

    def property(self, id: str) -> Property:
        """The rule or hazard of that id; KeyError if there is none. Cost: a scan."""
        for candidate in self.properties:
            if candidate.id == id:
                return candidate
        raise KeyError(id)
