"""The least change of an end that one scenario needs, against linear programs (scipy) over its differences.

The least value of the end is one program; whether it is reached, strict differences counted, another: with the value
held, how much room can be left at every strict difference. Differences are random, an end occurs several times in them.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from random import Random

import numpy as np
from scipy.optimize import linprog

from interlock.core.question import Bound, Moment
from interlock.engines.timed.constraints import Difference, conflict
from interlock.engines.timed.margins import least_change

LATEST, EARLIEST = Bound("door shuts", True), Bound("door shuts", False)
N_CASES = 150
ROOM = 1e-7


def random_differences(seed: int) -> tuple[list[Difference], Bound, int]:
    """Differences that can be met without one end, that end, and the value it has."""
    rng = Random(seed)
    n = rng.randint(3, 7)
    at = sorted(rng.randint(0, 12) for _ in range(n))
    end = rng.choice([LATEST, EARLIEST])
    found = [Difference(i, i + 1, 0, False, None) for i in range(n - 1)]
    for _ in range(rng.randint(n, 3 * n)):
        i, j = rng.sample(range(n), 2)
        strict = rng.random() < 0.3
        found.append(Difference(i, j, at[i] - at[j] + rng.randint(strict, 2), strict, Bound(f"other {i}", True)))
    value = rng.randint(0, 3) if end.latest else rng.randint(6, 9)
    for _ in range(rng.randint(1, 4)):
        i, j = sorted(rng.sample(range(n), 2))
        i, j = (j, i) if end.latest else (i, j)
        found.append(Difference(i, j, value if end.latest else -value, rng.random() < 0.3, end))
    return found, end, value


def least_by_program(found: list[Difference], end: Bound, value: int) -> tuple[float, bool]:
    """The least weight of the end, no smaller than it is, and whether it is reached."""
    n = 1 + max(max(d.of, d.minus) for d in found)
    rows, limits = [], []
    for d in found:
        row = np.zeros(n + 2)  # the moments, the weight of the end, the room at strict differences
        row[d.of] += 1
        row[d.minus] -= 1
        if d.bound == end:
            row[n] = -1
        elif d.strict:
            row[n + 1] = 1
        rows.append(row)
        limits.append(0 if d.bound == end else d.ticks)
    begin = value if end.latest else -value
    bounds = [(0, 0), *[(0, None)] * (n - 1), (begin, None)]
    cost = np.zeros(n + 2)
    cost[n] = 1
    least = linprog(cost, A_ub=np.array(rows), b_ub=limits, bounds=[*bounds, (0, 0)])
    assert least.status == 0
    cost = np.zeros(n + 2)
    cost[n + 1] = -1
    held = [*bounds[:-1], (least.fun - 1e-12, least.fun + 1e-12), (0, 1)]
    room = linprog(cost, A_ub=np.array(rows), b_ub=limits, bounds=held)
    assert room.status in (0, 2)
    return float(least.fun), room.status == 0 and -room.fun > ROOM


def test_the_least_change_of_an_end_is_that_of_linear_programs() -> None:
    mix: Counter[str] = Counter()
    for seed in range(N_CASES):
        found, end, value = random_differences(seed)
        assert conflict([d for d in found if d.bound != end]) is None
        told = least_change(found, frozenset({end}), Fraction(value))
        least, reached = least_by_program(found, end, value)
        assert abs(float(told.ticks) - (least if end.latest else -least)) < 1e-6, seed
        assert told.open is not reached, seed
        mix["moved"] += told != Moment(Fraction(value))
        mix["open"] += told.open
        mix["no whole tick"] += told.ticks.denominator > 1
    assert min(mix["moved"], N_CASES - mix["moved"]) >= 20
    assert mix["open"] >= 20
    assert mix["no whole tick"] >= 5
