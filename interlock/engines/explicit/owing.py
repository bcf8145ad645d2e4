"""`always_ends`: runs that owe an end and may stay where they are for ever, and the shortest scenario of one.

In: pieces of one rule, where everything that can be reached is known. Out: a scenario, or None where the rule holds.

A run *owes* from a settled situation with A until a settled one with B. What owes is explored anew from where it
begins, runs cut at B. For the scenario a flag in the key says that the run owes: events keep it; after each level it is
put right, since whether it changes depends on whether the situation after is settled.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from interlock.core.meaning import Meaning, State
from interlock.core.question import Ends, Question, Scenario
from interlock.core.system import Property, System, Tier, Valuation, Variable, VariableKind
from interlock.engines.api import EngineFault, Limits
from interlock.engines.explicit import looking, parts
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.codes import codes_for
from interlock.engines.explicit.endings import Graph, Obliged, settled_part, stuck
from interlock.engines.explicit.explore import Exploration, Sought
from interlock.engines.explicit.layout import Packed
from interlock.engines.explicit.levels import Track, leading, picked, store_of, within
from interlock.engines.explicit.marks import Marks
from interlock.engines.explicit.prepare import Numbers, Pieces, Prepared
from interlock.engines.explicit.rows import ALL_TIERS, SETTLED, Probe, Rows
from interlock.engines.explicit.store import Ground, NoRoom, Store
from interlock.engines.scenario import at_start_of, with_loop
from interlock.engines.shortest import LoopGround, shortest_loop
from interlock.logic.expression import TRUE, conjunction, disjunction, has, negate

OWES = Variable("a run owes an end", (False, True), VariableKind.MEMORY)
BEGINS, ENDED, DECIDED, ANYWHERE = range(4)
UNLIMITED = Limits(states=1 << 62)


def pieces_for(system: System, question: Question) -> Pieces:
    """The pieces for one `always_ends` question."""
    meaning = Meaning(system, question)
    rule = meaning.system.property(question.property)
    rows = Rows(meaning, codes_for(meaning), None, (), (OWES,))
    start = rule.start or TRUE
    owing, not_owing = has(OWES.name, (1,), 2), has(OWES.name, (0,), 2)
    begins = conjunction([start, negate(rule.condition), not_owing])
    probes: list[Probe] = [
        *rows.on_situations(BEGINS, SETTLED, begins),
        *rows.on_situations(ENDED, SETTLED, conjunction([rule.condition, owing])),
        *rows.on_situations(DECIDED, SETTLED, disjunction([start, rule.condition])),
        *rows.on_situations(ANYWHERE, ALL_TIERS, TRUE),
    ]
    return Pieces(meaning, rows, (), probes, [], [], (Numbers(None, None, False),), (rule,), (OWES,))


def cut_at_end(pieces: Pieces) -> Pieces:
    """The same pieces with runs cut where the rule's condition holds."""
    rule = pieces.rules[0]
    return replace(pieces, cut_settled=pieces.rows.on_situations(0, ALL_TIERS, rule.condition))


@dataclass(slots=True)
class Unended:
    """Where runs that owe may stay for ever. `bad`: all of it; `stuck`: where they may stop; `fair`: graph of what
    owes; `unsettled`: graph of what owes and is not settled, `looping` its members on loops."""

    bad: Marks
    stuck: Marks
    fair: Graph
    unsettled: Graph
    looping: Marks


def unended(pieces: Pieces, prepared: Prepared, reached: Store, places: tuple[str, ...], least_words: int) -> Unended:
    """Where runs that owe may stay for ever. NoRoom: memory does not do."""
    everything = Marks(prepared.ground, reached)
    everything.add_where(BEGINS)
    ground = cut_at_end(pieces).prepared(places, least_words).ground
    budget = pieces.meaning.budget
    exploration = Exploration(ground, budget, UNLIMITED)
    sought = Sought(budget)
    exploration.run(everything.log(), [sought])
    if sought.full:
        raise NoRoom
    owing = Marks(ground, exploration.store)
    owing.add_where(ANYWHERE)
    rule = pieces.rules[0]
    obliged = Obliged.of(pieces.meaning.system, rule.helped_by, ground)
    may_stop = stuck(owing, obliged)
    fair = Graph(owing)
    _, fair_ones = fair.loops(obliged.rows, obliged.broken_by)
    passing = Marks(ground, exploration.store)
    passing.add(owing)
    passing.minus(settled_part(owing))
    unsettled = Graph(passing)
    inside, _ = unsettled.loops(obliged.rows, obliged.broken_by)
    looping = unsettled.marked(inside)
    bad = fair.marked(fair_ones)
    bad.add(may_stop)
    bad.add(looping)
    return Unended(bad, may_stop, fair, unsettled, looping)


class OwingRuns:
    """Runs with the flag that says whether they owe."""

    def __init__(self, prepared: Prepared, rule: Property) -> None:
        self.meaning = prepared.meaning
        self.ground: Ground = prepared.ground
        self.rule = rule
        self.flag = np.uint64(1 << self.ground.layout.fields[OWES.name].shift)

    def owes(self, owed: bool, valuation: Valuation) -> bool:
        """Whether a run owes an end in a situation, if it did before."""
        if not self.meaning.settled(valuation):
            return owed
        begins = self.meaning.true(self.rule.start or TRUE, valuation)
        return (owed or begins) and not self.meaning.true(self.rule.condition, valuation)

    def pack(self, state: State, owed: bool) -> Packed:
        """A packed state with the flag."""
        return self.ground.layout.pack(state.valuation, state.spent, {OWES.name: owed})

    def starts(self, budget: int) -> list[tuple[State, bool]]:
        """Start states with whether the run owes there."""
        return [(s, self.owes(False, s.valuation)) for s in self.meaning.starts() if s.spent <= budget]

    def track(self, bad: Marks, budget: int) -> Track:
        """The shortest ways to a situation that is marked, the run owing there."""
        ground = self.ground
        store = Store(ground)
        store.admit(ground.log_of([self.pack(state, owed) for state, owed in self.starts(budget)]))
        level = store.take()
        levels: list[U64] = []
        while True:
            if not level.shape[0]:
                raise EngineFault(f"no way to the situation that was found, {self.rule.id}")
            found = self._bad(level, bad)
            if found.shape[0]:
                break
            levels.append(level)
            store.step(level, parts.BOTH, budget)
            level = within(ground, self._put_right(store), budget)
        cut_down = [found]
        for level in reversed(levels):
            decided = self._flipped(picked(ground, cut_down[-1], DECIDED))
            goal = np.concatenate([cut_down[-1], decided])
            cut_down.append(leading(ground, level, goal, parts.BOTH))
        cut_down.reverse()
        return Track(ground, cut_down)

    def _bad(self, level: U64, bad: Marks) -> U64:
        owing = level[level[:, 0] & self.flag != 0]
        return self._flipped(bad.among(self._flipped(owing)))

    def _flipped(self, log: U64) -> U64:
        other = log.copy()
        other[:, 0] ^= self.flag
        return other

    def _put_right(self, store: Store) -> U64:
        """What waits in a store, with the flag as it must be."""
        ground = self.ground
        raw = store.take()
        wrong = np.concatenate([picked(ground, raw, BEGINS), picked(ground, raw, ENDED)])
        if wrong.shape[0]:
            looking.subtract(ground.words, raw, store_of(ground, wrong).store, ground.scratch)
            store.admit(self._flipped(wrong))
            raw = np.concatenate([raw[raw[:, ground.layout.words] != 0], store.take()])
        return raw

    def walk(self, way: Track, budget: int) -> tuple[Scenario, State]:
        """The first of the shortest ways (its end still to be told), and the state at its end."""
        inside = way.holds(0)
        state, owed = next((s, o) for s, o in self.starts(budget) if inside(self.pack(s, o)))
        first, situations, events = state, [state.valuation], []
        for depth in range(1, len(way.levels)):
            inside = way.holds(depth)
            for action in self.meaning.enabled(state):
                after = self.meaning.after(action, state)
                owes = self.owes(owed, after.valuation)
                if after.spent <= budget and inside(self.pack(after, owes)):
                    break
            else:
                raise EngineFault("no event leads on where one was found")
            state, owed = after, owes
            situations.append(state.valuation)
            events.append(action.id)
        present = at_start_of(self.meaning, first.valuation, first.spent)
        return Scenario(present, tuple(situations), tuple(events), Ends.STUCK), state


def scenario(prepared: Prepared, rule: Property, found: Unended, budget: int) -> Scenario:
    """The shortest scenario with so many failures, with its loop if it ends in one."""
    runs = OwingRuns(prepared, rule)
    told, state = runs.walk(runs.track(found.bad, budget), budget)
    at = runs.pack(state, False)
    if at in found.stuck:
        return told
    settles = at not in found.looping
    graph = found.fair if settles else found.unsettled
    loop = shortest_loop(state.valuation, _loop_ground(runs, graph, state, settles))
    if loop is None:
        raise EngineFault(f"no loop where one was found, {rule.id}")
    return with_loop(prepared.meaning.system, replace(told, ends=Ends.LOOP), loop)


def _loop_ground(runs: OwingRuns, graph: Graph, at: State, settles: bool) -> LoopGround[Valuation]:
    meaning, rule = runs.meaning, runs.rule
    actions = meaning.system.actions
    index = {action.id: i for i, action in enumerate(actions)}
    inside = graph.same_component(runs.pack(at, False))
    obliged = frozenset(i for i, a in enumerate(actions) if a.obliged or a.id in rule.helped_by)
    free = [(i, action) for i, action in enumerate(actions) if action.cost == 0]
    known: dict[Valuation, tuple[list[tuple[int, Valuation]], frozenset[int] | None]] = {}

    def at_valuation(v: Valuation) -> tuple[list[tuple[int, Valuation]], frozenset[int] | None]:
        if v not in known:
            tier = meaning.tier_of(v)
            enabled = [(i, a) for i, a in free if a.tier is tier and meaning.true(a.guard, v)]
            onward = [(i, meaning.apply(a.update, v)) for i, a in enabled]
            within_it = [(i, after) for i, after in onward if inside(runs.pack(State(after, at.spent), False))]
            owed = frozenset(i for i, _ in enabled) & obliged if tier is Tier.OTHER else None
            known[v] = within_it, owed
        return known[v]

    return LoopGround(
        successors=lambda v: at_valuation(v)[0],
        enabled_if_settled=lambda v: at_valuation(v)[1],
        breaks=lambda event: frozenset({event, *(index[id] for id in actions[event].restarts)}),
        obliged=obliged if settles else frozenset(),
    )
