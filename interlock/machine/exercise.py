"""Random walks over the executable machine, driven and shrunk by Hypothesis.

In: a `Spec`, how many walks, how long, a seed. Out: an `Exercise`: for each rule or hazard that a walk broke, the
shortened run; and what was seen. A sample proves nothing: an `Exercise` never says that a rule holds.

Hypothesis draws nothing but coin tosses: its other draws mix in constants found in the modules that happen to be
loaded, and then the same seed would not give the same walks.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from hypothesis import HealthCheck, Phase, Verbosity, given, settings, strategies
from hypothesis import seed as seeded

from interlock.logic.formula import Value
from interlock.machine.judge import Judge, largest_claim
from interlock.machine.machine import Machine
from interlock.machine.remembered import Remembered
from interlock.machine.seen import Run, Seen
from interlock.machine.shorten import Shortener
from interlock.machine.walk import Walker
from interlock.spec.model import Spec

WALKS_A_BATCH = 10
"""Walks that share what earlier ones have seen; between batches it grows."""

MAX_TOSSES = 6_000
"""Tosses that Hypothesis decides in one walk (it gives up beyond about 8,000); later ones are all false."""


@dataclass(frozen=True, slots=True)
class Happened:
    """One event of a run, in the words of the spec, the failures in it, and what it changed: (name, before, after)."""

    event: str
    failures: tuple[str, ...]
    changes: tuple[tuple[str, Value, Value], ...]


@dataclass(frozen=True, slots=True)
class Breach:
    """A run that breaks a rule or brings about a hazard: how it starts, the failures there already, what happens."""

    id: str
    start: tuple[tuple[str, Value], ...]
    at_start: tuple[str, ...]
    events: tuple[Happened, ...]
    failures: int


@dataclass(frozen=True, slots=True)
class Exercise:
    """What random walks came to.

    `breaches` in the order of `judged`; `judged`: ids of the rules and hazards that walks could break; `not_judged`:
    the others with the reason; `reached`: `possible` rules that a walk fulfilled without a failure. `walks`, `events`,
    `situations` count what was walked, shortening aside; `never_happened`: events that no walk saw.
    """

    breaches: tuple[Breach, ...]
    judged: tuple[str, ...]
    not_judged: tuple[tuple[str, str], ...]
    reached: tuple[str, ...]
    budget: int
    seed: int
    walks: int
    events: int
    situations: int
    never_happened: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """One line that says no more than was found."""
        if not self.judged:
            return "nothing was judged: no rule or hazard that a walk could break"
        if self.breaches:
            return f"broken in {self.walks} walks: {', '.join(breach.id for breach in self.breaches)}"
        return f"no breach found in {self.walks} walks"


def exercise(spec: Spec, *, runs: int, length: int, seed: int, budget: int | None = None) -> Exercise:
    """Walk the machine `runs` times, from its starts or from where earlier walks got to, judging every rule and hazard
    at its `withstands`. `length`: the largest number of events in which a walk goes on.

    `budget`: failures in one walk (None: the largest number that some rule or hazard withstands). Common causes happen
    only if some rule is claimed `even_common_cause`. The same arguments give the same result.
    """
    budget = largest_claim(spec) if budget is None else budget
    common = any(rule.even_common_cause for rule in spec.rules)
    allowed = tuple(failure.id for failure in spec.failures if common or not failure.common_cause)
    machine = Machine(spec, budget, allowed)
    judge = Judge(machine)
    remembered = Remembered(machine)
    walker = Walker(remembered, judge)
    shortener = Shortener(remembered, judge)
    seen = Seen(walker.stage_of, walker.steps_of)
    found: dict[str, Run] = {}
    walks = events = batch = 0
    while walks < runs:
        wanted = [id for id in judge.judged if id not in found]
        walked, broken = _batch(walker, min(WALKS_A_BATCH, runs - walks), length, seed + batch, seen, wanted)
        if broken is not None:
            # One event may break several rules; Hypothesis shrank the run with its eye on the first of them.
            first, *others = walked[-1].broke
            found[first] = shortener.shorten(broken, first)
            found |= {id: shortener.shorten(walked[-1], id) for id in others}
        seen.learn(walked)
        walks += len(walked)
        events += sum(run.anew for run in walked)
        batch += 1
        if not walked:
            break
    return Exercise(
        tuple(_told(id, found[id]) for id in judge.judged if id in found),
        judge.judged,
        tuple(judge.not_judged),
        tuple(id for id in judge.goals if id in seen.reached),
        budget,
        seed,
        walks,
        events,
        len(seen.situations),
        tuple(id for id in machine.event_ids if id not in seen.events),
    )


class _BrokenError(Exception):
    """A walk broke a rule that no walk had broken yet."""


def _batch(
    walker: Walker, n_walks: int, length: int, seed: int, seen: Seen, wanted: Collection[str]
) -> tuple[list[Run], Run | None]:
    """Some walks under the same knowledge: those up to the first breach, and that breach as Hypothesis shrank it."""
    walked: list[Run] = []
    broken: list[Run] = []
    coin = strategies.booleans()

    # The walk is the drawing: Hypothesis checks less for each toss inside a strategy than for each one in a test.
    @strategies.composite
    def walks(draw: strategies.DrawFn) -> Run:
        aim = broken[-1].broke[:1] if broken else wanted
        tosses_left = MAX_TOSSES

        def toss() -> bool:
            nonlocal tosses_left
            tosses_left -= 1
            return tosses_left >= 0 and draw(coin)

        return walker.walk(toss, length, seen, aim)

    @seeded(seed)
    @settings(
        max_examples=n_walks,
        database=None,
        deadline=None,
        derandomize=False,
        phases=(Phase.generate, Phase.shrink),
        report_multiple_bugs=False,
        suppress_health_check=list(HealthCheck),
        verbosity=Verbosity.quiet,
        print_blob=False,
    )
    @given(walks())
    def walk(run: Run) -> None:
        if not broken:
            walked.append(run)
        if run.broke:
            broken.append(run)
            raise _BrokenError(run.broke[0])

    try:
        walk()
    except _BrokenError:
        return walked, broken[-1]
    return walked, None


def _told(id: str, run: Run) -> Breach:
    happened = []
    for before, event, after in zip(run.snapshots, run.events, run.snapshots[1:], strict=False):
        changes = tuple((name, before[name], after[name]) for name in before if before[name] != after[name])
        happened.append(Happened(event.id, event.modes, changes))
    start = run.snapshots[0]
    return Breach(id, tuple(start.items()), run.present, tuple(happened), run.snapshots[-1].spent)
