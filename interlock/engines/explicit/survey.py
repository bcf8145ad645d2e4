"""One exploration of everything, and what it saw. In: a system, a question, probes. Out: a `Survey`."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from interlock.core.meaning import Meaning
from interlock.core.question import Counts, Ends, Question, Scenario
from interlock.core.system import System, Tier, Valuation
from interlock.engines.api import EngineFault, Limits, Probe, Survey, Where
from interlock.engines.explicit import graphs
from interlock.engines.explicit.arrays import I64
from interlock.engines.explicit.codes import codes_for
from interlock.engines.explicit.endings import Graph, Obliged, settled_part, stuck
from interlock.engines.explicit.explore import Exploration, Sought, look_at
from interlock.engines.explicit.levels import track
from interlock.engines.explicit.marks import NO_WAY_KINDS, Marks
from interlock.engines.explicit.prepare import Pieces, Prepared
from interlock.engines.explicit.rows import ALL_TIERS, DECIDING, SETTLED, Rows
from interlock.engines.explicit.store import NoRoom
from interlock.engines.explicit.style import Style, on_full_blocks
from interlock.engines.scenario import limit_words, with_loop
from interlock.engines.shortest import LoopGround, shortest_loop
from interlock.logic.expression import TRUE

LOOKED_AT = {Where.EVERY: ALL_TIERS, Where.DECIDING: DECIDING, Where.SETTLED: SETTLED}

MOST_COMPARED = 50_000
"""Situations in which orders of events are compared one by one, in plain Python."""


def pieces_for(system: System, question: Question, probes: tuple[Probe, ...]) -> Pieces:
    """The pieces for a survey. The last probe is true everywhere."""
    meaning = Meaning(system, question)
    rows = Rows(meaning, codes_for(meaning), None, ())
    found = [
        piece
        for i, probe in enumerate(probes)
        for piece in rows.on_situations(i, LOOKED_AT[probe.where], probe.expression)
    ]
    found += rows.on_situations(len(probes), ALL_TIERS, TRUE)
    return Pieces(meaning, rows, (), found, [], [], ())


def survey(system: System, question: Question, probes: tuple[Probe, ...], limits: Limits, style: Style) -> Survey:
    """The survey of everything under a question's budget, allowed failures and overlay."""
    if question.cut:
        raise EngineFault("a survey explores everything: it cannot cut")
    pieces = pieces_for(system, question, probes)
    return on_full_blocks(
        pieces, style, lambda prepared, _, watched: Surveying(prepared, probes, limits, watched=watched).survey()
    )


class Surveying:
    """One survey under way."""

    def __init__(self, prepared: Prepared, probes: tuple[Probe, ...], limits: Limits, *, watched: bool = False) -> None:
        self.prepared = prepared
        self.probes = probes
        self.limits = limits
        self.meaning = prepared.meaning
        self.system = prepared.meaning.system
        self.ground = prepared.ground
        self.exploration = Exploration(self.ground, self.meaning.budget, limits, watched)
        self.sought = Sought(self.meaning.budget)

    def survey(self) -> Survey:
        """See `interlock.engines.api.Survey`. Beyond a limit, what was explored before is still told, without
        scenarios."""
        self.exploration.run(self.prepared.start_log(), [self.sought])
        if self.sought.beyond:
            words = "memory is full" if self.sought.full else limit_words(self.limits)
            return self._told(None, None, None, words)
        try:
            everything = Marks(self.ground, self.exploration.store)
            everything.add_where(len(self.probes))
            passing = Marks(self.ground, self.exploration.store)
            passing.add(everything)
            passing.minus(settled_part(everything))
            to_stuck = self._way(self._stuck(everything), Ends.STUCK)
            graph = Graph(passing)
            to_loop = self._unsettling(graph)
            different, not_compared = self._different_orders(graph)
            to_orders = self._way(different, Ends.REACHED)
        except NoRoom:
            return self._told(None, None, None, "memory is full")
        return self._told(to_stuck, to_loop, to_orders, None, not_compared)

    def _told(
        self,
        to_stuck: Scenario | None,
        to_loop: Scenario | None,
        to_orders: Scenario | None,
        limit: str | None,
        not_compared: str | None = None,
    ) -> Survey:
        layers = list(self.exploration.layers)
        store = self.exploration.store.store
        unseen = range(len(layers), self.meaning.budget + 1 if limit is not None else 0)
        layers += [look_at(self.ground, store, store, spent, True) for spent in unseen]
        happened = np.zeros(self.ground.tables.rows.shape[0], np.bool_)
        for layer in layers:
            happened |= layer.happened
        acts = set(self.ground.tables.action[happened].tolist())
        costly = sum(layer.costly_events for layer in layers[: self.meaning.budget])
        return Survey(
            counts=Counts(
                sum(layer.settled for layer in layers),
                sum(layer.passing for layer in layers),
                sum(layer.free_events for layer in layers) + costly,
            ),
            happened=frozenset(self.system.actions[act].id for act in acts),
            seen=frozenset(p.id for i, p in enumerate(self.probes) if any(layer.hits[i] for layer in layers)),
            stuck=to_stuck,
            unsettling=to_loop,
            orders=to_orders,
            limit=limit,
            engine="explicit",
            not_compared=not_compared,
        )

    def _stuck(self, everything: Marks) -> Marks:
        """Settled situations in which nothing but failures and repairs is enabled."""
        actions = self.ground.tables.action.tolist()
        going_on = [a >= 0 and self.system.actions[a].kind not in NO_WAY_KINDS for a in actions]
        rows = np.array(going_on, np.uint64).reshape(-1, 1)
        return stuck(everything, Obliged(rows, rows))

    def _way(self, marks: Marks, ends: Ends) -> Scenario | None:
        """The shortest way to something marked; None if nothing is."""
        log = marks.log()
        if not log.shape[0]:
            return None
        budget = int(self.ground.spent(log).min())
        starts = [packed for packed, spent, _ in self.prepared.starts if spent <= budget]
        way = track(self.ground, starts, budget, marks.among, budget, self.limits)
        return self.prepared.walker(None).walk(way, budget, ends, by_event=False)

    def _unsettling(self, graph: Graph) -> Scenario | None:
        """The shortest way to a loop of events of tiers 0 and 1, with the loop."""
        none = np.zeros((self.ground.tables.rows.shape[0], 1), np.uint64)
        inside, _ = graph.loops(none, none)
        looping = graph.marked(inside)
        told = self._way(looping, Ends.LOOP)
        if told is None:
            return None
        at = told.situations[-1]
        costs = {action.id: action.cost for action in self.system.actions}
        spent = len(told.at_start) + sum(costs[event] for event in told.events)
        pack = self.ground.layout.pack
        is_inside = graph.same_component(pack(at, spent))

        def successors(v: Valuation) -> list[tuple[int, Valuation]]:
            tier = self.meaning.tier_of(v)
            return [
                (i, after)
                for i, action in enumerate(self.system.actions)
                if action.tier is tier and action.cost == 0 and self.meaning.true(action.guard, v)
                if is_inside(pack(after := self.meaning.apply(action.update, v), spent))
            ]

        loop = shortest_loop(at, LoopGround(successors, lambda v: None, lambda event: frozenset(), frozenset()))
        if loop is None:
            raise EngineFault("no loop where one was found")
        return with_loop(self.system, told, loop)

    def _different_orders(self, graph: Graph) -> tuple[Marks, str | None]:
        """The unsettled situations with two events of different owners after which nothing that can follow settled is
        the same; and whether too many would have to be compared.

        Most are ruled out by where always taking the first event, or always the last, settles.
        """
        candidates = self._candidates(graph)
        found = Marks(self.ground, self.exploration.store)
        log = candidates.log()
        compare = _Comparing(self.meaning)
        n = 0
        for spent in range(self.meaning.budget + 1):
            part = log[self.ground.spent(log) == spent]
            for packed in self.ground.situations(part):
                n += 1
                if n > MOST_COMPARED:
                    return found, f"orders of events may differ in more than {MOST_COMPARED:,} situations"
                valuation, _ = self.ground.layout.unpack(packed)
                if compare.differs(valuation):
                    found.words[found.line(packed.key)] |= np.uint64(1 << packed.place)
            if found.words.any():
                break
        return found, None

    def _candidates(self, graph: Graph) -> Marks:
        g, m = self.ground, graph.members
        n = graph.where.size
        first, last, path = np.zeros(n, np.int64), np.zeros(n, np.int64), np.zeros(n + 1, np.int64)
        graphs.first_and_last(
            g.words, g.tables, m.store, m.words, graph.base, graph.where, g.scratch, g.at, first, last
        )
        graphs.resolve(first, path)
        graphs.resolve(last, path)
        owners: dict[str, int] = {}
        owner: I64 = np.array(
            [-1 if a < 0 else owners.setdefault(self.system.actions[a].owner, len(owners))
             for a in g.tables.action.tolist()],
            np.int64,
        )  # fmt: skip
        found = Marks(g, m.source)
        graphs.may_differ(
            g.words, g.tables, m.store, m.words, graph.base, graph.where, g.scratch, g.at, first, last, owner,
            np.zeros((owner.size, 3), np.int64), found.words,
        )  # fmt: skip
        return found


class _Comparing:
    """Compares where the orders of two events settle, by the plain meaning; remembers it."""

    def __init__(self, meaning: Meaning) -> None:
        self.meaning = meaning
        self._events: dict[Valuation, list[tuple[str, Valuation]]] = {}
        self._places: dict[Valuation, frozenset[Valuation]] = {}

    def differs(self, valuation: Valuation) -> bool:
        """Whether two events of different owners lead to places of which none is shared."""
        ways = [(owner, self.places(after)) for owner, after in self.events(valuation)]
        return any(
            owner != other and bool(first) and bool(second) and first.isdisjoint(second)
            for (owner, first), (other, second) in combinations(ways, 2)
        )

    def events(self, valuation: Valuation) -> list[tuple[str, Valuation]]:
        """Owner and situation after of each event of tiers 0 and 1 that may happen; none in a settled situation."""
        if valuation not in self._events:
            meaning = self.meaning
            tier = meaning.tier_of(valuation)
            self._events[valuation] = [
                (action.owner, meaning.apply(action.update, valuation))
                for action in meaning.system.actions
                if action.tier is tier is not Tier.OTHER and action.cost == 0 and meaning.true(action.guard, valuation)
            ]
        return self._events[valuation]

    def places(self, valuation: Valuation) -> frozenset[Valuation]:
        """The settled situations that can follow."""
        if valuation not in self._places:
            work, seen = [valuation], {valuation}
            while work:
                for _, after in self.events(work.pop()):
                    if after not in seen:
                        seen.add(after)
                        work.append(after)
            self._places[valuation] = frozenset(v for v in seen if not self.events(v))
        return self._places[valuation]
