"""What a picture of a spec shows: frozen values, one family a kind of picture, from which reports draw.

Nothing here knows of boxes, lines or files. Texts of conditions and times are as the author wrote them.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.analysis.result import Age, Change, Missed
from interlock.core.question import Ends


@dataclass(frozen=True, slots=True)
class Caption:
    """What stands on every picture: which spec, which revision of it, what the picture is."""

    title: str
    revision: str
    file: str
    digest: str
    subject: str


# --- sequences ---


@dataclass(frozen=True, slots=True)
class DrawnNeed:
    """A permissive: its name, its condition and the time it must have held (empty: none), as written."""

    name: str
    condition: str
    held_for: str


@dataclass(frozen=True, slots=True)
class DrawnChange:
    """A move, trip or timeout. `after`: of a timeout its time. `sets`: memories set, a text each."""

    name: str
    kind: str
    from_steps: tuple[str, ...]
    to: str
    needs: tuple[DrawnNeed, ...]
    after: str
    sets: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class DrawnStep:
    """A step with the commands it gives."""

    name: str
    start: bool
    drives: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class DrawnSequence:
    """A sequence. `tree`: for each step but the first the step above it and the move that leads to it: (step, move,
    step)."""

    id: str
    words: str
    reacts: str
    powered_by: str
    steps: tuple[DrawnStep, ...]
    changes: tuple[DrawnChange, ...]
    priority: tuple[str, ...]
    tree: tuple[tuple[str, str, str], ...]

    def step(self, name: str) -> DrawnStep:
        """The step of that name; KeyError if there is none."""
        return next(step for step in self.steps if step.name == name)


@dataclass(frozen=True, slots=True)
class SequencesPicture:
    """All sequences of a spec, or some of them."""

    caption: Caption
    sequences: tuple[DrawnSequence, ...]


# --- the permissive chain ---


@dataclass(frozen=True, slots=True)
class Proof:
    """A permissive of a rung. `excludes`: hazards that cannot be, or the rules against which cannot be broken, while
    what it shows is true, taken by itself; `joins`: those for which it is needed beside the others of its move.
    `concerns`: where there are neither, the hazards that speak of the same equipment. `checked` False: too many
    combinations, so nothing is said."""

    need: DrawnNeed
    excludes: tuple[str, ...]
    joins: tuple[str, ...]
    concerns: tuple[str, ...]
    checked: bool


@dataclass(frozen=True, slots=True)
class Rung:
    """A step of the ordinary cycle and the change by which it is left. `gives` and `withdraws`: commands that begin and
    end with the step. `trips`: other ways out of it, trips and timeouts, each as names and target."""

    step: DrawnStep
    gives: tuple[str, ...]
    withdraws: tuple[str, ...]
    trips: tuple[tuple[tuple[str, ...], str], ...]
    change: DrawnChange
    proofs: tuple[Proof, ...]


@dataclass(frozen=True, slots=True)
class ChainPicture:
    """The ordinary cycle as a ladder, top to bottom, the last change leading back to the first step. `through`: the
    step at which energy flows. `chosen`: how the cycle was found, in words. `named`: the named conditions that the
    permissives speak of, with what they stand for. `hazards`: id and words of all hazards.
    `unheld`: ids of hazards that no permissive on the ladder excludes."""

    caption: Caption
    sequence: str
    through: str
    chosen: str
    rungs: tuple[Rung, ...]
    named: tuple[tuple[str, str], ...]
    hazards: tuple[tuple[str, str], ...]
    unheld: tuple[str, ...]


# --- a scenario ---


@dataclass(frozen=True, slots=True)
class Stretch:
    """A value that a lane has from one row on (0: the start, i: the event of row i) for `n_rows` rows. `in_breach`:
    the last stretch of a lane that the broken expression reads."""

    value: str
    first: int
    n_rows: int
    in_breach: bool


@dataclass(frozen=True, slots=True)
class Lane:
    """One thing and the values it goes through."""

    thing: str
    kind: str
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class ChartEvent:
    """An event that has a row: its number on the way, its kind, what it is called, whether the situation before it is
    settled. `earliest`, `latest`, `at`: of the declared timing, as in `ToldEvent`."""

    number: int
    kind: str
    says: str
    from_settled: bool
    earliest: Age | None = None
    latest: Age | None = None
    at: Fraction | None = None


@dataclass(frozen=True, slots=True)
class ScenarioPicture:
    """A scenario as a chart. `heading`: what is shown, in words; `asked`: in the words of the language.

    `events`: those that have a row; `left_out`: numbers of those that change nothing drawn. `folded`: what the broken
    expression reads but does not change, with its value; `n_folded`: how many more things do not change. `at_start`:
    failures present at the start. `in_passing`: the last situation is not settled. `loop_from`: number of the event
    from which on all repeats for ever (None: nothing does). `timed`: a scenario of the declared timing, so events have
    times, in ticks of `tick_s`; it tells what the rule reads, all else happens beside it. `missed`: a deadline that is
    missed at the end.
    """

    caption: Caption
    heading: str
    asked: str
    unless_timing: bool
    at_start: tuple[str, ...]
    events: tuple[ChartEvent, ...]
    left_out: tuple[int, ...]
    lanes: tuple[Lane, ...]
    folded: tuple[Change, ...]
    n_folded: int
    ends: Ends
    breach: str
    in_passing: bool
    loop_from: int | None
    tick_s: Fraction
    timed: bool = False
    missed: Missed | None = None


# --- a scenario against time ---


@dataclass(frozen=True, slots=True)
class TimesPicture:
    """A scenario of the declared timing against an axis of time. Rows, events and lanes as in `ScenarioPicture`, but
    every event has one, and its time `at` in one run that fits together. Times are in ticks of `tick_s`.

    `runs`: the deadline that is broken: the row from which on its time runs, and how long it is (None: no deadline).
    `missed`: missed by waiting after the last event; else the last event came too soon.
    """

    caption: Caption
    heading: str
    asked: str
    at_start: tuple[str, ...]
    events: tuple[ChartEvent, ...]
    lanes: tuple[Lane, ...]
    folded: tuple[Change, ...]
    n_folded: int
    ends: Ends
    breach: str
    in_passing: bool
    tick_s: Fraction
    runs: tuple[int, int] | None
    missed: Missed | None


# --- situations merged ---


@dataclass(frozen=True, slots=True)
class Merge:
    """A combination of values of the chosen things, and how many situations have it."""

    values: tuple[str, ...]
    n_settled: int
    n_passing: int
    start: bool


@dataclass(frozen=True, slots=True)
class MergeArrow:
    """Events that lead from one combination to another: names with how often each happens, in the order of the
    spec. `failures`: those of them that are failures."""

    before: int
    after: int
    events: tuple[tuple[str, int], ...]
    failures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SituationsPicture:
    """Situations merged by chosen things. `n_failures`: how many failures were allowed. `n_left_out`: so many values of
    the spec cannot influence these things and were left out. `limit`: which limit was hit, so that more may exist
    (None: complete)."""

    caption: Caption
    by: tuple[str, ...]
    n_failures: int
    n_left_out: int
    boxes: tuple[Merge, ...]
    arrows: tuple[MergeArrow, ...]
    limit: str | None
