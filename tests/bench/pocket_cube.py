"""The pocket cube in full, by the door that everything goes through: `python -m tests.bench.pocket_cube`.

3,674,160 positions, how many at each of 11 depths, nine times as many situations between them: a minute or two, some
GiB. The first depths are among the tests (`tests/published/test_large_puzzles.py`).
"""

from __future__ import annotations

import time

from interlock.core.question import Question
from interlock.engines.api import Limits
from tests.published.test_large_puzzles import CUBE_BY_DEPTH, EXPLICIT, by_depth, pocket_cube

POSITIONS = 3_674_160


def main() -> None:
    """Count, hold against what is published, print."""
    system = pocket_cube()
    begin = time.monotonic()
    (answer,) = EXPLICIT.answer(system, (Question("hazard"),), Limits(states=100_000_000))
    counted_s = time.monotonic() - begin
    assert answer.counts is not None
    assert answer.counts.settled == sum(CUBE_BY_DEPTH) == POSITIONS
    assert (answer.counts.passing, answer.counts.events) == (9 * POSITIONS, 18 * POSITIONS)
    found = by_depth(system, 10 * POSITIONS)
    assert found[::2] == CUBE_BY_DEPTH
    assert found[1::2] == [9 * n for n in CUBE_BY_DEPTH]
    in_order_s = time.monotonic() - begin - counted_s
    print(f"{POSITIONS:,} positions counted in {counted_s:.1f} s; in order in {in_order_s:.1f} s")
    print("at each depth:", *found[::2])


if __name__ == "__main__":
    main()
