"""Speed of the engine of declared timing as ratios within one run: `python -m tests.bench.timed_report [--large]`.

One berth with six clocks, 0.1 s to 210 s, with all ends of windows counted: zones over arrays against ages in ticks of
0.1 s, both compiled and both over the same situations and ways, and against zones in plain Python; medians of five, in
turn. Zones and ticks must reach the same situations. Then through the engine's door, which counts only the ends that it
needs: rules of one berth and of two, Fischer's mutual exclusion for more and more processes (`--large`: eight). And two
berths with all ends counted (`--large`: in plain Python too).
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from interlock.core.question import Bound, Question, Timing
from interlock.core.system import System
from interlock.core.timed import age_of, has_age
from interlock.engines.api import Limits
from interlock.engines.timed import kernels_zones as kernels
from interlock.engines.timed.bulk import bulk_of
from interlock.engines.timed.bulk_graph import BulkGraph, Searching
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.timed.graph import Graph
from interlock.engines.timed.search import Counting, search
from tests.bench.timed_berths import berths
from tests.bench.timed_peers import Ticks
from tests.published.test_timed_examples import fischer

MOST = 20_000_000
LIMITS = Limits(states=MOST)


def taken(run: Callable[[], object]) -> float:
    """Seconds of processor time of one run."""
    begin = time.process_time()
    run()
    return time.process_time() - begin


def median(make: Callable[[], Callable[[], object]], times: int = 5) -> float:
    """The median of some runs, each made beforehand."""
    return statistics.median(taken(make()) for _ in range(times))


def all_ends(system: System) -> Counting:
    """Every end of every window counts."""
    found = set()
    for action in system.actions:
        window = action.window
        if has_age(action) and window is not None:
            if window.earliest or window.earliest_open:
                found.add(Bound(age_of(action), False))
            if window.latest is not None:
                found.add(Bound(age_of(action), True))
    return Counting(frozenset(found))


@dataclass(frozen=True, slots=True)
class Zones:
    """Everything explored in zones, all ends counted."""

    graph: BulkGraph
    counting: Counting

    @staticmethod
    def of(system: System, rule: str) -> Zones:
        """A rule that holds, over all situations."""
        question = Question(rule, Timing.DECLARED)
        return Zones(BulkGraph(system, question, bulk_of(system, question, MOST)), all_ends(system))

    def ready(self) -> Searching:
        """A search whose room is made."""
        searching = self.graph.searching(self.counting)
        searching.begin()
        return searching

    def fresh(self) -> Callable[[], object]:
        """The kernels alone, to be measured."""
        searching = self.ready()
        return lambda: searching.run(MOST, None)

    def searched(self) -> tuple[int, frozenset[int]]:
        """How many zones, and the situations reached."""
        searching = self.ready()
        run, n = searching.run(MOST, None)
        assert run is None
        return n, frozenset((searching.zones[:n, kernels.NODE] >> 1).tolist())


def row(name: str, seconds: float, base: float, what: str) -> None:
    """Print a line of the report."""
    print(f"  {name:44s} {1000 * seconds:12.3f} ms {seconds / base:12,.0f} times   {what}", flush=True)


def one_berth(failures: bool) -> None:
    """Zones, ticks and plain Python on one berth."""
    system = berths(1, failures)
    zones = Zones.of(system, "away")
    ticks = Ticks(system, zones.graph.bulk, MOST)
    n_zones, reached = zones.searched()
    n_ticks, also = ticks.fresh()()
    assert reached == frozenset(np.flatnonzero(also).tolist())
    graph = Graph(system, Question("away", Timing.DECLARED), MOST)
    run, n_plain = search(graph, zones.counting, MOST, None)
    assert run is None
    assert n_plain == n_zones
    base = median(zones.fresh, 101)
    having = "with" if failures else "without"
    print(f"one berth, six clocks, 0.1 s to 210 s, {having} failures: {len(reached)} situations")
    row("zones over arrays, kernels", base, base, f"{n_zones:,} zones")
    row("ticks of 0.1 s, kernels", median(ticks.fresh), base, f"{n_ticks:,} states")
    plain = median(lambda: lambda: search(graph, zones.counting, MOST, None), 11)
    row("zones in plain Python, strides known", plain, base, f"{n_plain:,} zones")


def asked(system: System, rule: str) -> None:
    """Print what a rule costs through the engine's door, a fresh engine each time."""
    question = Question(rule, Timing.DECLARED)

    def once(small: int) -> None:
        """Ask a fresh engine."""
        (answer,) = ZonesEngine(small).answer(system, (question,), LIMITS)
        windows = len({bound.of for bound in answer.rests_on or ()})
        told[small] = f"{answer.verdict.value} {answer.limit or ''} rests on {windows} windows"

    told: dict[int, str] = {}
    for small, name, times in ((3_000, "as it comes", 1), (0, "arrays alone", 3)):
        seconds = median(partial(partial, once, small), times)
        print(f"  {rule:12s} {name:12s} {seconds:9.3f} s   {told[small]}", flush=True)


def two_berths(large: bool) -> None:
    """Two berths without failures."""
    system = berths(2, False)
    zones = Zones.of(system, "away")
    n_zones, reached = zones.searched()
    base = median(zones.fresh)
    print(f"two berths of six clocks, without failures: {len(reached):,} situations")
    row("zones over arrays, kernels", base, base, f"{n_zones:,} zones")
    if large:
        graph = Graph(system, Question("away", Timing.DECLARED), MOST)
        plain = median(lambda: lambda: search(graph, zones.counting, MOST, None), 1)
        row("zones in plain Python", plain, base, "one run")
    print("  through the door:")
    for rule in ("away", "fails", "together"):
        asked(system, rule)


def exclusion(large: bool) -> None:
    """Fischer's mutual exclusion, which holds."""
    for processes in range(4, 9 if large else 8):
        system = fischer(processes, 2, 3)
        print(f"mutual exclusion, {processes} processes, setting within 2, waiting 3")
        asked(system, "both in")


def main(large: bool) -> None:
    """Measure and print."""
    one_berth(False)
    one_berth(True)
    two_berths(large)
    exclusion(large)


if __name__ == "__main__":
    main("--large" in sys.argv)
