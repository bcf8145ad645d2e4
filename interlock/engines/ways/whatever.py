"""Whether a way leads on whatever the ages are: a proof without clocks, for large systems.

In: the settled graph of an `always_possible` rule, all timings allowed. Out: the nodes from which a way surely leads to
what is sought under the declared timing, at any ages that can be.

The idea, backwards from what is sought. An event that may happen at age 0 and at any later age can happen now. Where
something is obliged, time can pass until the first of all that is obliged is at its latest (or as near to it as one
likes), and then it can happen: whatever the ages are, one of the obliged events can, nobody knows which. Where nothing
is obliged, time can pass until any event can that never comes too late. So a node is good if some event of the first
kind leads to a good node; or if each obliged event does; or, where nothing is obliged, if any that never comes too late
does.

More is reached with any timing than with the declared one, so if all nodes are good the rule holds; if not, nothing is
known.
"""

from __future__ import annotations

from interlock.core.system import Action
from interlock.core.timed import has_age
from interlock.engines.timed.graph import Graph, Stride
from interlock.engines.ways.ages import on_a_way


def surely_good(graph: Graph) -> bool:
    """Whether every node is good. Explores the whole graph: TooMany and Unsettling as it says. Cost: its strides."""
    ways: list[dict[int, set[int]]] = []
    before: dict[int, set[int]] = {}
    node = 0
    for _ in graph.starts():
        pass
    while node < len(graph.nodes):
        ways.append(_ways(graph, node))
        for targets in ways[node].values():
            for to in targets:
                before.setdefault(to, set()).add(node)
        node += 1
    obliged = [_obliged(graph, node) for node in range(len(graph.nodes))]
    now = [may_happen_now(action) for action in graph.system.actions]
    waits = [never_too_late(action) for action in graph.system.actions]
    good = {node for node in range(len(graph.nodes)) if graph.nodes[node].sought}
    work = list(good)
    while work:
        for node in before.get(work.pop(), ()):
            if node not in good and _is_good(ways[node], obliged[node], now, waits, good):
                good.add(node)
                work.append(node)
    return len(good) == len(graph.nodes)


def _ways(graph: Graph, node: int) -> dict[int, set[int]]:
    """Where the strides of a way lead from a node, by their first events."""
    found: dict[int, set[int]] = {}
    strides: tuple[Stride, ...] = graph.strides(node)
    for stride in strides:
        if on_a_way(graph.system.actions, graph.nodes[node].spent, stride):
            found.setdefault(stride.action, set()).add(stride.to)
    return found


def _obliged(graph: Graph, node: int) -> list[int]:
    """The obliged actions enabled in a node, by index."""
    enabled = graph.nodes[node].enabled
    index = {action.id: i for i, action in enumerate(graph.system.actions)}
    return [index[one.id] for i, one in enumerate(graph.owners) if enabled >> i & 1 and holds_time_back(one)]


def holds_time_back(action: Action) -> bool:
    """Whether time does not pass beyond its latest while its guard is true."""
    return action.obliged and has_age(action)


def may_happen_now(action: Action) -> bool:
    """Whether it may happen at any age that it can come to."""
    if not has_age(action):
        return True
    window = action.window
    assert window is not None
    return window.earliest == 0 and not window.earliest_open and never_too_late(action)


def never_too_late(action: Action) -> bool:
    """Whether it never comes to an age beyond its latest."""
    window = action.window
    return window is None or window.latest is None or (action.obliged and not action.ages_with)


def _is_good(ways: dict[int, set[int]], obliged: list[int], now: list[bool], waits: list[bool], good: set[int]) -> bool:
    leading = {action for action, targets in ways.items() if not good.isdisjoint(targets)}
    if any(now[action] for action in leading):
        return True
    return leading.issuperset(obliged) if obliged else any(waits[action] for action in leading)
