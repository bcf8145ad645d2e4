"""Questions about a system, and what can be answered."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from interlock.core.system import TickWindow, Valuation


class Timing(Enum):
    """ANY drops all windows and keeps tiers; DECLARED is exact dense time over the windows."""

    ANY = "any"
    DECLARED = "declared"


class Verdict(Enum):
    """What a question came to. A search to a limit never says HOLDS."""

    HOLDS = "holds"
    FAILS = "fails"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Overlay:
    """A change laid over a system without a new spec: `Named` nodes pinned true or false, windows of actions moved."""

    pins: tuple[tuple[str, bool], ...] = ()
    windows: tuple[tuple[str, TickWindow], ...] = ()


NO_OVERLAY = Overlay()


@dataclass(frozen=True, slots=True)
class Question:
    """One question. `budget`: how many failures may happen in a run, those at the start included. `allowed`: the modes
    that may happen (None: all but common causes). `cut`: ids of NEVER properties; a run ends at the first breach.
    """

    property: str
    timing: Timing = Timing.ANY
    budget: int = 0
    allowed: tuple[str, ...] | None = None
    overlay: Overlay = NO_OVERLAY
    cut: tuple[str, ...] = ()


class Ends(Enum):
    """How a scenario ends: a breach; a loop that never gets there; stuck; no way to the goal; or the goal itself."""

    BREACH = "breach"
    LOOP = "loop"
    STUCK = "stuck"
    NO_WAY = "no way to"
    REACHED = "reached"


@dataclass(frozen=True, slots=True)
class Moment:
    """A time since the start, in ticks. `open`: it is approached as closely as one likes, not reached."""

    ticks: Fraction
    open: bool = False


@dataclass(frozen=True, slots=True)
class Times:
    """When the events of a scenario can happen under the declared timing. One entry an event; for a deadline that is
    missed one more, for the moment from which it is: any later moment breaks it.

    `earliest`, `latest`: of each event by itself, on this way; a latest of None: as late as one likes. `run`: one
    choice that fits together, in ticks.
    """

    earliest: tuple[Moment, ...]
    latest: tuple[Moment | None, ...]
    run: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True)
class Bound:
    """An end of a window: of the action of that id, or (id of a rule) of the rule's own window."""

    of: str
    latest: bool


@dataclass(frozen=True, slots=True)
class Margin:
    """How far an end of a window may move, all else as declared, until a rule that holds is broken.

    `ends`: the end asked about, and those that move with it since they are one time on site. `breaks`: the value, in
    ticks, at which the rule breaks; `open`: not at the value itself, but however little beyond it. None: it breaks at
    none. `limit`: which limit was hit, in words; then `breaks` is a value at which it breaks, perhaps not the first,
    and None says nothing. `holds`: beside a limit, how far it surely holds (`open`: short of that). `wider`: the window
    is made wider, a latest later or an earliest sooner; else narrower. `onward`: it breaks at every value further on
    too.
    """

    ends: tuple[Bound, ...]
    breaks: Moment | None
    limit: str | None = None
    holds: Moment | None = None
    wider: bool = True
    onward: bool = True


@dataclass(frozen=True, slots=True)
class Scenario:
    """A run: failures present at the start, `situations[0]` the start, event i (an action id) leads to situation i + 1.

    `loop_from`: index of the situation that the last one equals, for `Ends.LOOP`. For a scenario of `always_possible`
    that ends in NO_WAY, the last situation is settled and no way leads from it to the goal. `times`: under the declared
    timing.
    """

    at_start: tuple[str, ...]
    situations: tuple[Valuation, ...]
    events: tuple[str, ...]
    ends: Ends
    loop_from: int | None = None
    times: Times | None = None


@dataclass(frozen=True, slots=True)
class Counts:
    """What was explored: distinct settled and passing situations, and events.

    An event is counted by the situation before it, the budget spent before it, and its action.
    """

    settled: int
    passing: int
    events: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What an engine says to a question. `limit`: which limit was hit, in words, when undecided. `counts` None: the
    engine stopped before it had seen everything (a breach found, or a limit hit). `rests_on`: under the declared
    timing, the ends of windows that a verdict HOLDS rests on; None: not known, or no such verdict.
    `clocks`: how many were needed, one for each event with an end that counted and one for a deadline; None: not known.
    """

    question: Question
    verdict: Verdict
    scenario: Scenario | None
    engine: str
    limit: str | None
    counts: Counts | None
    rests_on: tuple[Bound, ...] | None = None
    clocks: int | None = None
