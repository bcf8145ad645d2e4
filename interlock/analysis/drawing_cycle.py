"""The ordinary cycle of a sequence: the way round that is meant when nothing goes wrong.

In: a spec and, if it is named, the step at which energy flows. Out: the changes of the cycle in their order, beginning
at the step where it rests, and in words how it was found.

The rule, which the picture repeats: the step is the one named, else the one that the first `possible` rule that names
any asks for. The cycle is the shortest way from that step back to itself; trips are taken only where moves and timeouts
do not lead round, and timeouts only where moves do not. It rests at the start step, if that lies on it, else at the
last step before the one named that no trip leaves. Source of the search: Dijkstra 1959, with the cost of a way counted
in trips, then timeouts, then changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heappop, heappush

from interlock.logic.formula import And, Condition, Formula, Is, Thing, operands_of
from interlock.spec.model import ChangeKind, RuleKind, Sequence, Spec, StepChange


class NoCycle(Exception):
    """There is no ordinary cycle to draw: why, and a cure."""

    def __init__(self, headline: str, cure: str) -> None:
        super().__init__(headline)
        self.headline = headline
        self.cure = cure


@dataclass(frozen=True, slots=True)
class Cycle:
    """`changes[i]` is left from `steps[i]`; the last leads to `steps[0]`."""

    sequence: Sequence
    through: str
    steps: tuple[str, ...]
    changes: tuple[StepChange, ...]
    chosen: str


def ordinary_cycle(spec: Spec, through: tuple[str, str] | None = None) -> Cycle:
    """The ordinary cycle through a step (sequence, step), by default the one that a `possible` rule asks for. NoCycle
    if there is none."""
    if through is None:
        through, why = _asked_for(spec)
    else:
        why = f"through `{through[1]}`, which was named"
    sequence = next(one for one in spec.sequences if one.id == through[0])
    way = _round(sequence, through[1])
    if way is None:
        raise NoCycle(
            f"no moves, timeouts or trips of `{sequence.id}` lead from `{through[1]}` back to it",
            "name a step that is left and come back to: `--through STEP`",
        )
    steps, changes = way
    at, resting = _rest(sequence, steps)
    kinds = {change.kind for change in changes}
    taken = "of moves alone"
    if kinds != {ChangeKind.MOVE}:
        others = [kind.value + "s" for kind in (ChangeKind.TIMEOUT, ChangeKind.TRIP) if kind in kinds]
        taken = f"with {' and '.join(others)} where moves alone do not lead round"
    chosen = f"The ordinary cycle is taken to be the shortest way round {why}, {taken}; it begins at {resting}."
    return Cycle(sequence, through[1], steps[at:] + steps[:at], changes[at:] + changes[:at], chosen)


def _asked_for(spec: Spec) -> tuple[tuple[str, str], str]:
    conditions = {name: formula for name, formula, _ in spec.conditions}
    for rule in spec.rules:
        if rule.kind is RuleKind.POSSIBLE:
            for sequence, step in _steps_in(rule.condition, conditions):
                return (sequence, step), f"through `{step}`, which the `possible` rule `{rule.id}` asks for"
    raise NoCycle(
        "the spec has no `possible` rule that names a step, from which to take the one at which energy flows",
        "name the step: `--through STEP`",
    )


def _steps_in(formula: Formula, conditions: dict[str, Formula]) -> list[tuple[str, str]]:
    """The steps that a condition asks for: those in its top conjunction."""
    while isinstance(formula, Condition):
        formula = conditions[formula.id]
    if isinstance(formula, Is) and formula.ref.thing is Thing.STEP and len(formula.values) == 1:
        return [(formula.ref.id, str(formula.values[0]))]
    if isinstance(formula, And):
        return [found for operand in operands_of(formula) for found in _steps_in(operand, conditions)]
    return []


def _round(sequence: Sequence, through: str) -> tuple[tuple[str, ...], tuple[StepChange, ...]] | None:
    """The cheapest way from a step to itself: fewest trips, then timeouts, then changes, then in the order written."""
    price = {ChangeKind.TRIP: (1, 0, 1), ChangeKind.TIMEOUT: (0, 1, 1), ChangeKind.MOVE: (0, 0, 1)}
    order = {step.name: i for i, step in enumerate(sequence.steps)}
    waiting: list[tuple[tuple[int, int, int], tuple[int, ...], tuple[str, ...]]] = [((0, 0, 0), (), (through,))]
    done: set[str] = set()
    while waiting:
        cost, path, steps = heappop(waiting)
        here = steps[-1]
        if path and here == through:
            return steps[:-1], tuple(sequence.changes[i] for i in path)
        if path:
            if here in done:
                continue
            done.add(here)
        for i, change in enumerate(sequence.changes):
            if here in change.from_steps and change.to in order:
                trips, timeouts, changes = (a + b for a, b in zip(cost, price[change.kind], strict=True))
                heappush(waiting, ((trips, timeouts, changes), (*path, i), (*steps, change.to)))
    return None


def _rest(sequence: Sequence, steps: tuple[str, ...]) -> tuple[int, str]:
    """Where the cycle (which begins at the step that was named) rests: its place, and why there, in words."""
    if sequence.start in steps:
        return steps.index(sequence.start), f"the start step `{sequence.start}`"
    tripped = {name for change in sequence.changes if change.kind is ChangeKind.TRIP for name in change.from_steps}
    for i in range(len(steps) - 1, 0, -1):
        if steps[i] not in tripped:
            return i, f"`{steps[i]}`, the last step before it that no trip leaves"
    return 0, f"`{steps[0]}` itself, as trips leave every step"
