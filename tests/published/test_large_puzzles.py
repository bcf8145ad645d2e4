"""Puzzles large enough for the explicit engine alone: counts and the number of positions at each depth, line by line,
by the door that everything goes through.

Progress of a search in order tells how many situations are known at each depth. Each source stands beside its check:
READ in the document, MEMORY from memory, CALC computed by an independent program.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, product

import pytest

from interlock.core.question import Question, Verdict
from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Assignment,
    System,
    Tier,
    Variable,
    VariableKind,
)
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.logic.expression import FALSE, TRUE, Expression, conjunction, disjunction, has, negate
from tests.published.test_puzzles import hanoi, sliding
from tests.small_systems import ask, avoid, counts

pytestmark = pytest.mark.no_cover

EXPLICIT = ENGINES["explicit"]


def by_depth(system: System, everything: int) -> list[int]:
    """How many situations lie at each least number of events from the start. `everything`: how many there are."""
    known: list[int] = []

    def told(situations: int, depth: int | None) -> None:
        if depth is not None:
            assert depth == len(known)
            known.append(situations)

    (answer,) = EXPLICIT.answer(system, (Question("hazard"),), Limits(states=everything - 1, progress=told))
    assert answer.verdict is Verdict.UNDECIDED  # one more than the limit: all was gone through, in order
    known.append(everything)
    return differences(known)


def differences(known: list[int]) -> list[int]:
    """How many came with each."""
    return [now - before for before, now in zip([0, *known], known, strict=False)]


@pytest.mark.parametrize("n", [7, 8])
def test_seven_and_eight_discs_have_3_to_the_n_positions_and_need_2_to_the_n_less_1_moves(n: int) -> None:
    # 3^n positions, 3^(n+1) - 3 moves between them, 2^n - 1 moves at least: MEMORY, recomputed CALC.
    system = hanoi(n)
    answer = ask("explicit", system, "goal")
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 2**n - 1
    assert counts("explicit", system) == (3**n, 3 ** (n + 1) - 3)


# --- eight tiles ---

TILES_BY_DEPTH = [
    1, 2, 4, 8, 16, 20, 39, 62, 116, 152, 286, 396, 748, 1024, 1893, 2512, 4485, 5638, 9529, 10878, 16993, 17110,
    23952, 20224, 24047, 15578, 14560, 6274, 3910, 760, 221, 2,
]  # fmt: skip
"""READ (OEIS A089473) and CALC, identical. A well-known paper misprints 748 as 749."""


def test_eight_tiles_with_the_gap_in_a_corner_have_the_published_positions_at_each_of_31_depths() -> None:
    system = sliding(3, 3)
    asked = System(
        system.title, system.variables, system.start, system.actions, (), (avoid(FALSE),), (), {}, Fraction(1)
    )
    assert counts("explicit", system) == (181_440, 483_840)
    assert by_depth(asked, 181_440) == TILES_BY_DEPTH


# --- the pocket cube ---

CUBE_BY_DEPTH = [1, 9, 54, 321, 1847, 9992, 50136, 227536, 870072, 1887748, 623800, 2644]
"""READ (OEIS A079761) and CALC: half-turn metric, 3,674,160 positions."""

Corner = tuple[int, int, int]
CORNERS: list[Corner] = [(x, y, z) for x, y, z in product((-1, 1), repeat=3) if (x, y, z) != (-1, -1, -1)]
"""All corners but one, which no turn of the three faces moves."""


def _turned(corner: Corner, axis: int) -> Corner:
    """Where a quarter turn of a face takes a corner of it."""
    b, c = (axis + 1) % 3, (axis + 2) % 3
    found = list(corner)
    found[b], found[c] = -corner[c], corner[b]
    return found[0], found[1], found[2]


def _slots(corner: Corner) -> tuple[int, ...]:
    """The axes of the three stickers of a corner, clockwise, from that of the first axis on."""
    return (0, 1, 2) if corner[0] * corner[1] * corner[2] > 0 else (0, 2, 1)


def _moves(axis: int, quarters: int) -> dict[Corner, tuple[Corner, int]]:
    """For each corner of a face, where a turn takes it, and by how much it is twisted there."""
    found = {}
    for corner in CORNERS:
        if corner[axis] == 1:
            at, first = corner, 0
            for _ in range(quarters):
                at = _turned(at, axis)
                first = first if first == axis else 3 - axis - first
            found[corner] = at, _slots(at).index(first)
    return found


def pocket_cube() -> System:
    """Which piece stands at each corner and how it is twisted. A turn is two events: pieces move, and at once twists
    follow. One event for both would be the product of all pieces and all twists that it may find."""
    which = {corner: f"piece at {corner}" for corner in CORNERS}
    twist = {corner: f"twist at {corner}" for corner in CORNERS}
    turns = [(axis, quarters) for axis in range(3) for quarters in (1, 2, 3)]
    turning = Variable("turning", ("nothing", *(f"{axis}, {quarters}" for axis, quarters in turns)), VariableKind.ITEM)
    variables = (
        *(Variable(name, tuple(range(7)), VariableKind.ITEM) for name in which.values()),
        *(Variable(name, (0, 1, 2), VariableKind.ITEM) for name in twist.values()),
        turning,
    )
    width = len(turning.values)
    actions = []
    for n, (axis, quarters) in enumerate(turns, 1):
        moves = _moves(axis, quarters)
        differ = [
            negate(disjunction([conjunction([has(which[a], (v,), 7), has(which[b], (v,), 7)]) for v in range(7)]))
            for a, b in combinations(moves, 2)
        ]
        name = f"face {axis} turns by {quarters}"
        moved = tuple(Assignment(which[to], _cases(which[source], 7, 0)) for source, (to, _) in moves.items())
        begin = Assignment("turning", ((TRUE, n),))
        guard = conjunction([has("turning", (0,), width), *differ])
        actions.append(_action(name, ActionKind.FREE, Tier.OTHER, guard, (*moved, begin)))
        twisted = tuple(Assignment(twist[to], _cases(twist[source], 3, by)) for source, (to, by) in moves.items())
        end = Assignment("turning", ((TRUE, 0),))
        guard = has("turning", (n,), width)
        actions.append(_action(f"{name}: twists", ActionKind.CONSEQUENCE, Tier.CONSEQUENCE, guard, (*twisted, end)))
    start = (*range(7), *(0 for _ in CORNERS), 0)
    return System("a cube", variables, (start,), tuple(actions), (), (avoid(FALSE),), (), {}, Fraction(1))


def _cases(source: str, size: int, more: int) -> tuple[tuple[Expression, int], ...]:
    return tuple((has(source, (value,), size), (value + more) % size) for value in range(size))


def _action(name: str, kind: ActionKind, tier: Tier, guard: Expression, update: tuple[Assignment, ...]) -> Action:
    other = tier is Tier.OTHER
    return Action(name, "cube", name, kind, tier, guard, update, ANY_AGE if other else None, not other)


def test_the_pocket_cube_has_the_published_positions_at_the_first_depths() -> None:
    # All 11 depths take a minute or two: `python -m tests.bench.pocket_cube`. Between two depths stand the situations
    # in which pieces have moved and twists have not, nine for each position.
    known: list[int] = []
    limits = Limits(states=600_000, progress=lambda n, depth: None if depth is None else known.append(n))
    (answer,) = EXPLICIT.answer(pocket_cube(), (Question("hazard"),), limits)
    assert answer.verdict is Verdict.UNDECIDED
    found = differences(known)
    assert found[::2] == CUBE_BY_DEPTH[:7]
    assert found[1::2] == [9 * n for n in CUBE_BY_DEPTH[:6]]
