"""Speed of the quick engine as ratios within one run: `python -m tests.bench.report`.

Prints, for one berth and two berths: medians of five (of one for the slow peers), situations a second, and how many
times as long the peers take: the reference engine, and networkx over dictionaries, the usual way with general
libraries.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import networkx as nx

from interlock.core.question import Question
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.reference.engine import ReferenceEngine
from tests.bench.two_berths import EVENTS, ONE_BERTH, SITUATIONS, SIZES, berths


def seconds(run: Callable[[], tuple[int, int]], times: int) -> tuple[float, tuple[int, int]]:
    """The median of some runs, in seconds of processor time, and what the last one counted."""
    taken = []
    counted = (0, 0)
    for _ in range(times):
        begin = time.process_time()
        counted = run()
        taken.append(time.process_time() - begin)
    return statistics.median(taken), counted


def by_engine(engine: QuickEngine | ReferenceEngine, system: System) -> tuple[int, int]:
    """Situations and events, the engine asked a rule that holds."""
    (answer,) = engine.answer(system, (Question("hazard"),), Limits())
    assert answer.counts is not None
    return answer.counts.settled + answer.counts.passing, answer.counts.events


def by_networkx(n: int) -> tuple[int, int]:
    """The same explored into a networkx graph whose nodes are frozen dictionaries."""
    acts = [
        ({f"{k} {b}": v for k, v in before.items()}, {f"{k} {b}": v for k, v in after.items()})
        for b in range(n)
        for _, before, after in ONE_BERTH
    ]
    start = frozenset({f"{name} {b}": 0 for b in range(n) for name in SIZES}.items())
    graph: nx.MultiDiGraph[frozenset[tuple[str, int]]] = nx.MultiDiGraph()
    graph.add_node(start)
    work = [start]
    while work:
        node = work.pop()
        now = dict(node)
        for before, after in acts:
            if all(now[k] == v for k, v in before.items()):
                following = frozenset({**now, **after}.items())
                if following not in graph:
                    graph.add_node(following)
                    work.append(following)
                graph.add_edge(node, following)
    return graph.number_of_nodes(), graph.number_of_edges()


def main(large: bool) -> None:
    """Measure and print."""
    for n in (1, 2):
        system = berths(n)
        quick, counted = seconds(lambda: by_engine(QuickEngine(), system), 5)  # noqa: B023
        if n == 2:
            assert counted == (SITUATIONS, EVENTS), counted
        print(f"{n} berth{'s' if n > 1 else ''}: {counted[0]:,} situations, {counted[1]:,} events")
        print(f"  quick      {quick:10.4f} s   {counted[0] / quick:12,.0f} situations a second")
        peers: list[tuple[str, Callable[[], tuple[int, int]]]] = [
            ("reference", lambda: by_engine(ReferenceEngine(), system)),  # noqa: B023
            ("networkx", lambda: by_networkx(n)),  # noqa: B023
        ]
        for name, run in peers if n == 1 or large else ():
            taken, same = seconds(run, 5 if n == 1 else 1)
            assert same == counted, (name, same)
            print(f"  {name:10s} {taken:10.4f} s   {taken / quick:12,.1f} times as long as quick")


if __name__ == "__main__":
    main("--large" in sys.argv)
