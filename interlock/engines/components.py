"""Maximal strongly connected components of a graph that is given by a function.

In: nodes and their successors. Out: the components, each reached before those that lead to it. Source: Tarjan 1972,
written without recursion so that long chains do not exhaust the stack.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator
from typing import TypeVar

S = TypeVar("S", bound=Hashable)


def components(nodes: Iterable[S], successors: Callable[[S], Iterable[S]]) -> Iterator[list[S]]:
    """The components of everything that can be reached from `nodes`; successors come before predecessors.

    Cost: nodes plus edges, in time and (nodes) in memory. The order depends on the order of `nodes` and `successors`.
    """
    index: dict[S, int] = {}
    low: dict[S, int] = {}
    open_nodes: list[S] = []
    is_open: set[S] = set()
    for root in nodes:
        if root in index:
            continue
        index[root] = low[root] = len(index)
        open_nodes.append(root)
        is_open.add(root)
        work: list[tuple[S, Iterator[S]]] = [(root, iter(successors(root)))]
        while work:
            node, rest = work[-1]
            for after in rest:
                if after not in index:
                    index[after] = low[after] = len(index)
                    open_nodes.append(after)
                    is_open.add(after)
                    work.append((after, iter(successors(after))))
                    break
                if after in is_open and index[after] < low[node]:
                    low[node] = index[after]
            else:
                work.pop()
                if work and low[node] < low[work[-1][0]]:
                    low[work[-1][0]] = low[node]
                if low[node] == index[node]:
                    found: list[S] = []
                    while True:
                        member = open_nodes.pop()
                        is_open.discard(member)
                        found.append(member)
                        if member == node:
                            break
                    yield found
