"""A third way through a system, for tests: events as generated Python text over tuples, graphs and paths by networkx.

It shares with the engines only the core types and `with_overlay`. Guards and updates become source text; what can be
reached becomes a graph; verdicts are paths, ancestors and strongly connected components of it. Nothing here is ordered
or shortest by itself, so it says how long a scenario must be, not which one it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any, TypeAlias

import networkx as nx

from interlock.core.overlay import with_overlay
from interlock.core.question import Question
from interlock.core.system import Action, ActionKind, Assignment, Property, PropertyKind, System, Tier, Valuation
from interlock.logic.expression import Expression, Kind

Node: TypeAlias = tuple[Valuation, int, tuple[bool, ...]]
Test: TypeAlias = Callable[[Valuation, Valuation], bool]
"""A condition, by the valuations after and before an event."""


class TooMany(Exception):
    """More nodes than asked for can be reached; `reached` is what was found till then."""

    def __init__(self, reached: Reached) -> None:
        super().__init__()
        self.reached = reached


class Walk:
    """A system under a question's overlay and allowed modes."""

    def __init__(self, system: System, question: Question) -> None:
        self.system = with_overlay(system, question.overlay)
        self.place = {variable.name: i for i, variable in enumerate(self.system.variables)}
        allowed = question.allowed
        if allowed is None:
            allowed = tuple(mode.id for mode in system.modes if not mode.common_cause)
        self.allowed = set(allowed)
        self.tests: dict[int, Test] = {}
        self.urgent = [
            (tier, self.any_of([a.guard for a in self.system.actions if a.tier is tier and not a.cost]))
            for tier in (Tier.CONSEQUENCE, Tier.LOGIC)
        ]
        self.events = {
            tier: self.events_of([a for a in self.system.actions if a.tier is tier and set(a.modes) <= self.allowed])
            for tier in Tier
        }
        self._after: dict[Valuation, tuple[Tier, list[tuple[Action, Valuation]]]] = {}

    def text(self, expression: Expression, now: str, then: str) -> str:
        """The expression as Python text over tuples called `now` and `then`."""
        below = [self.text(operand, now, then) for operand in expression.operands]
        kind = expression.kind
        if kind is Kind.CONSTANT:
            return str(expression.values[0] == 1)
        if kind is Kind.IN:
            return f"({now}[{self.place[expression.name]}] in {expression.values!r})"
        if kind is Kind.NOT:
            return f"(not {below[0]})"
        if kind is Kind.AT_MOST:
            return f"(({'+'.join(below)}) <= {expression.values[0]})"
        if kind is Kind.NAMED:
            return below[0]
        if kind is Kind.WAS:
            return self.text(expression.operands[0], then, then)
        return "(" + (" and " if kind is Kind.AND else " or ").join(below) + ")"

    def test(self, expression: Expression) -> Test:
        """The condition as a function, made from text."""
        found = self.tests.get(id(expression))
        if found is None:
            made: Any = eval(f"lambda now, then: {self.text(expression, 'now', 'then')}")
            found = self.tests[id(expression)] = made
        return found

    def any_of(self, expressions: list[Expression]) -> Test:
        """Whether one of the conditions is true, as one function made from text."""
        made: Any = eval(f"lambda now, then: {' or '.join(self.text(e, 'now', 'then') for e in expressions) or False}")
        return made  # type: ignore[no-any-return]

    def events_of(self, actions: list[Action]) -> Callable[[Valuation], list[tuple[Action, Valuation]]]:
        """The enabled ones with the valuations after them, as one function made from text."""
        lines = ["def events(s):", " found = []"]
        for i, action in enumerate(actions):
            lines.append(f" if {self.text(action.guard, 's', 's')}:")
            lines.append(f"  found.append((actions[{i}], {self.updated(action.update)}))")
        made: dict[str, Any] = {"actions": actions}
        exec("\n".join([*lines, " return found"]), made)
        return made["events"]  # type: ignore[no-any-return]

    def updated(self, update: tuple[Assignment, ...]) -> str:
        """The valuation after an update of `s`, as text."""
        new = {i: f"s[{i}]" for i in range(len(self.system.variables))}
        for assignment in update:
            i = self.place[assignment.variable]
            text = new[i]
            for condition, value in reversed(assignment.cases):
                text = f"({value} if {self.text(condition, 's', 's')} else {text})"
            new[i] = text
        return "(" + ",".join(new.values()) + ",)"

    def update(self, update: tuple[Assignment, ...]) -> Callable[[Valuation], Valuation]:
        """The update as a function, made from text."""
        made: Any = eval(f"lambda s: {self.updated(update)}")
        return made  # type: ignore[no-any-return]

    def after(self, valuation: Valuation) -> tuple[Tier, list[tuple[Action, Valuation]]]:
        """The tier that acts, and its events with the valuations after them, failures of any cost among them."""
        found = self._after.get(valuation)
        if found is None:
            acting = (tier for tier, enabled in self.urgent if enabled(valuation, valuation))
            tier = next(acting, Tier.OTHER)
            found = self._after[valuation] = (tier, self.events[tier](valuation))
        return found

    def settled(self, valuation: Valuation) -> bool:
        """Whether nothing of tier 0 or 1 is enabled."""
        return self.after(valuation)[0] is Tier.OTHER

    def starts(self, budget: int) -> Iterator[tuple[Valuation, int]]:
        """Start valuations with the failures spent."""
        modes = [m for m in self.system.modes if m.id in self.allowed and m.at_start is not None]
        for n in range(budget + 1):
            for chosen in combinations(modes, n):
                for valuation in self.system.start:
                    fits = True
                    for mode in chosen:
                        fits = fits and self.test(mode.guard)(valuation, valuation)
                        valuation = self.update(mode.at_start or ())(valuation)
                    if fits:
                        yield valuation, n


START: Node = ((), 0, ())
"""The node before every start."""

NETWORKX_UP_TO = 800
"""Nodes up to which shortest ways are left to networkx; beyond, a plain search is quicker."""


@dataclass(slots=True)
class Reached:
    """Everything a question's runs can reach: `after` by node, from `START` on; `ends`: nodes and, by failures spent,
    whether an event of theirs is an end. `events` counts, `happened` names what happened."""

    walk: Walk
    after: dict[Node, list[Node]] = field(default_factory=lambda: {START: []})
    ends: list[tuple[Node, int]] = field(default_factory=list)
    events: int = 0
    happened: set[str] = field(default_factory=set)

    @property
    def nodes(self) -> list[Node]:
        """All nodes but `START`."""
        return [node for node in self.after if node != START]

    def counts(self) -> tuple[int, int, int]:
        """Settled and passing valuations, and events."""
        valuations = {node[0] for node in self.nodes}
        settled = sum(map(self.walk.settled, valuations))
        return settled, len(valuations) - settled, self.events

    def shortest(self, budget: int, is_end: Callable[[Node], bool] | None = None) -> tuple[int, int] | None:
        """Fewest failures and then fewest events of a way to an end, or to a node that is one."""
        ends = self.ends
        if is_end is not None:
            ends = [(node, node[1]) for node in self.nodes if is_end(node)]
        if not ends:
            return None
        for spent in range(budget + 1):
            sources = {node for node, n in ends if n == spent}
            distances = self._distances(spent) if sources else {}
            found = [distances[node] for node in sources if node in distances]
            if found:
                # From START to a start is one edge too many; the event that ends at an end is one more.
                return spent, min(found) - (is_end is not None)
        return None

    def _distances(self, spent: int) -> dict[Node, int]:
        """Edges from START, within a number of failures."""
        if len(self.after) <= NETWORKX_UP_TO:
            graph: nx.DiGraph[Any] = nx.DiGraph()
            graph.add_node(START)
            graph.add_edges_from((v, w) for v, ws in self.after.items() for w in ws if v[1] <= spent and w[1] <= spent)
            return dict(nx.single_source_shortest_path_length(graph, START))
        found = {START: 0}
        level = [START]
        while level:
            following = {w for v in level for w in self.after[v] if w[1] <= spent and w not in found}
            found.update((w, found[level[0]] + 1) for w in following)
            level = list(following)
        return found


def reach(walk: Walk, question: Question, rule: Property | None, limit: int) -> Reached:
    """All that can be reached; TooMany beyond `limit` nodes. `rule` is one of the walk's system, or None."""
    cuts = [walk.system.property(id) for id in question.cut]
    flagged = [r for r in [*([rule] if rule else []), *cuts] if r.kind is PropertyKind.BEFORE]
    hits = {id(r): _hits(walk, r) for r in [*cuts, *([rule] if rule else [])]}
    found = Reached(walk)
    work: list[Node] = []

    def come(source: Node, node: Node, before: Valuation | None, flags: tuple[bool, ...]) -> None:
        for cut in cuts:
            if hits[id(cut)](before, node[0], flags[flagged.index(cut)] if cut in flagged else False):
                return
        if rule is not None and hits[id(rule)](before, node[0], flags[0] if rule in flagged else False):
            found.ends.append((source, node[1]))
        found.after[source].append(node)
        if node not in found.after:
            if len(found.after) > limit:
                raise TooMany(found)
            found.after[node] = []
            work.append(node)

    for valuation, spent in walk.starts(question.budget):
        flags = tuple(walk.test(r.first)(valuation, valuation) for r in flagged if r.first is not None)
        come(START, (valuation, spent, flags), None, flags)
    counted: set[tuple[Valuation, int]] = set()
    while work:
        node = work.pop()
        before, spent, flags = node
        events = [(a, v) for a, v in walk.after(before)[1] if spent + a.cost <= question.budget]
        if (before, spent) not in counted:
            counted.add((before, spent))
            found.events += len(events)
            found.happened.update(action.id for action, _ in events)
        for action, after in events:
            new = tuple(_flag(walk, r, flag, before, after) for r, flag in zip(flagged, flags, strict=True))
            come(node, (after, spent + action.cost, new), before, flags)
    return found


def _hits(walk: Walk, rule: Property) -> Callable[[Valuation | None, Valuation, bool], bool]:
    test = walk.test(rule.condition)

    def before_rule(before: Valuation | None, after: Valuation, flag: bool) -> bool:
        return before is not None and not flag and test(after, before) and not test(before, before)

    def event_rule(before: Valuation | None, after: Valuation, flag: bool) -> bool:
        return test(after, after if before is None else before)

    def plain_rule(before: Valuation | None, after: Valuation, flag: bool) -> bool:
        return test(after, after) and (rule.passing or walk.settled(after))

    if rule.kind is PropertyKind.BEFORE:
        return before_rule
    return event_rule if rule.every_event else plain_rule


def _flag(walk: Walk, rule: Property, flag: bool, before: Valuation, after: Valuation) -> bool:
    assert rule.first is not None
    if rule.since is not None:
        since = walk.test(rule.since)
        if since(after, before) and not since(before, before):
            flag = False
    return flag or walk.test(rule.first)(after, before)


def without_way(reached: Reached, rule: Property) -> set[Valuation]:
    """Settled valuations that are no ancestor of the condition along events that are neither failures nor repairs."""
    walk, test = reached.walk, reached.walk.test(rule.condition)
    graph: nx.DiGraph[Any] = nx.DiGraph()
    for valuation in {node[0] for node in reached.nodes}:
        graph.add_node(valuation)
        if test(valuation, valuation) and (rule.passing or walk.settled(valuation)):
            graph.add_edge(valuation, "goal")
        for action, after in walk.after(valuation)[1]:
            if action.kind not in (ActionKind.FAILURE, ActionKind.REPAIR):
                graph.add_edge(valuation, after)
    good = nx.ancestors(graph, "goal") if "goal" in graph else set()
    return {v for v in graph if v != "goal" and walk.settled(v) and v not in good}


@dataclass(slots=True)
class Owed:
    """The pairs (valuation, spent) in which a run owes an end, and those of them where it may stay for ever."""

    owing: set[tuple[Valuation, int]]
    stays: set[Valuation]


def unended(reached: Reached, rule: Property, budget: int) -> Owed:
    """`always_ends` by another road than the engines': fairness by going round the obliged actions one after the other.

    A node of the product is (valuation, which obliged action is awaited next). An event, with the settled situation it
    leads to, serves an action if it is that action, restarts it, or leads where it is disabled; the turn moves on
    past all it serves. A fair run that goes on for ever and settles again and again is a loop on which the turn comes
    round."""
    walk = reached.walk
    ended = walk.test(rule.condition)
    begun: Test = (lambda now, then: True) if rule.start is None else walk.test(rule.start)
    actions = {a.id: a for a in walk.system.actions}
    obliged = [a.id for a in walk.system.actions if a.obliged or a.id in rule.helped_by]

    def owes(owed: bool, v: Valuation) -> bool:
        if not walk.settled(v):
            return owed
        return (owed or begun(v, v)) and not ended(v, v)

    owing = {(v, n) for v, n, _ in reached.nodes if owes(False, v)}
    work = list(owing)
    while work:
        v, n = work.pop()
        for action, after in walk.after(v)[1]:
            pair = (after, n + action.cost)
            if pair[1] <= budget and owes(True, after) and pair not in owing:
                owing.add(pair)
                work.append(pair)
    inside = {v for v, _ in owing}

    def enabled(v: Valuation) -> set[str]:
        return {a.id for a, _ in walk.after(v)[1] if a.id in obliged and not a.cost}

    def free(v: Valuation) -> Iterator[tuple[Action, Valuation]]:
        return ((a, w) for a, w in walk.after(v)[1] if not a.cost and w in inside)

    stays = {v for v in inside if walk.settled(v) and not enabled(v)}
    rounds: nx.DiGraph[Any] = nx.DiGraph()
    for v in inside:
        for turn in range(len(obliged) + 1):
            for action, w in free(v):
                now = 0 if turn == len(obliged) else turn
                served = {action.id, *actions[action.id].restarts}
                out = set(obliged) - enabled(w) if walk.settled(w) else set()
                while now < len(obliged) and (obliged[now] in served or obliged[now] in out):
                    now += 1
                if not obliged and not walk.settled(w):
                    now = 0
                elif not obliged:
                    now = 1
                rounds.add_edge((v, turn), (w, now))
    last = max(len(obliged), 1)
    for component in nx.strongly_connected_components(rounds):
        loop = len(component) > 1 or any(rounds.has_edge(n, n) for n in component)
        if loop and any(turn == last for _, turn in component):
            stays |= {v for v, _ in component}
    passing: nx.DiGraph[Any] = nx.DiGraph(
        (v, w) for v in inside if not walk.settled(v) for _, w in free(v) if not walk.settled(w)
    )
    for component in nx.strongly_connected_components(passing):
        if len(component) > 1 or any(passing.has_edge(n, n) for n in component):
            stays |= component
    return Owed(owing, stays)


def owed_length(reached: Reached, rule: Property, owed: Owed, budget: int) -> tuple[int, int] | None:
    """Fewest failures and then fewest events to where a run owes an end and may stay for ever."""
    walk = reached.walk
    ended = walk.test(rule.condition)
    begun: Test = (lambda now, then: True) if rule.start is None else walk.test(rule.start)

    def put(v: Valuation, n: int, before: bool) -> tuple[Valuation, int, bool]:
        if not walk.settled(v):
            return v, n, before
        return v, n, (before or begun(v, v)) and not ended(v, v)

    for spent in range(budget + 1):
        level: Iterable[tuple[Valuation, int, bool]] = {put(v, n, False) for v, n in walk.starts(spent)}
        seen = set(level)
        length = 0
        while level:
            if any(owes and v in owed.stays for v, _, owes in level):
                return spent, length
            level = {
                put(after, n + action.cost, owes)
                for v, n, owes in level
                for action, after in walk.after(v)[1]
                if n + action.cost <= spent
            } - seen
            seen |= level
            length += 1
    return None
