"""The quick engine's answers. In: a system and questions. Out: the answers the reference engine would give, sooner.

Questions under one overlay and one set of allowed failures share what was worked out about events; those that cut at
the same rules and are judged on situations share one exploration.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from interlock.core.meaning import Meaning
from interlock.core.question import Answer, Counts, Ends, Question, Timing, Verdict
from interlock.core.system import ON_GRAPHS, Property, PropertyKind, System, Variable
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.quick.endings import Ending, without_way
from interlock.engines.quick.events import Events
from interlock.engines.quick.explore import Exploration, Layer, Sought
from interlock.engines.quick.layout import Layout
from interlock.engines.quick.observe import Observer, cut_conditions, seek, speaks_of_events
from interlock.engines.quick.survey import survey
from interlock.engines.quick.ways import Ground, Judge, Start
from interlock.engines.replay import checked, checked_survey
from interlock.engines.scenario import limit_words, with_loop
from interlock.engines.shortest import Way, shortest_loop

NAME = "quick"
ON_RUNS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE)
MAX_KEPT = 4


@dataclass(frozen=True, slots=True)
class Prepared:
    """One system under one overlay with one set of allowed failures."""

    key: tuple[object, ...]
    system: System
    meaning: Meaning
    events: Events


class QuickEngine:
    """Plain Python on packed integers. Keeps what was worked out about the last few systems."""

    def __init__(self) -> None:
        self._layouts: list[tuple[tuple[Variable, ...], Layout]] = []
        self._prepared: list[Prepared] = []

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Any timing; never, before, possible, and without cuts always_possible and always_ends."""
        if question.timing is not Timing.ANY:
            return False
        kind = system.property(question.property).kind
        return kind in ON_RUNS or (kind in ON_GRAPHS and not question.cut)

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question as if it were asked alone. Counts are given as by the reference engine."""
        groups: dict[tuple[object, ...], list[int]] = {}
        for i, question in enumerate(questions):
            if not self.decides(system, question):
                raise EngineFault(f"the {NAME} engine was asked what it does not decide: {question.property}")
            rule = system.property(question.property)
            alone = question.property if speaks_of_events(rule) else None
            groups.setdefault((question.overlay, question.allowed, question.cut, alone), []).append(i)
        answers: dict[int, Answer] = {}
        for members in groups.values():
            group = [questions[i] for i in members]
            prepared = self._prepare(system, group[0])
            for i, answer in zip(members, _Group(prepared, group, limits).answers(), strict=True):
                answers[i] = checked(system, answer)
        return tuple(answers[i] for i in range(len(questions)))

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Explore everything reachable under the question's budget, allowed modes, overlay (its property unused)."""
        prepared = self._prepare(system, question)
        meaning = Meaning(system, question)
        return checked_survey(system, question, survey(prepared.events, meaning, question.cut, probes, limits))

    def _prepare(self, system: System, question: Question) -> Prepared:
        key = (question.overlay, question.allowed)
        for kept in self._prepared:
            if kept.system is system and kept.key == key:
                return kept
        meaning = Meaning(system, question)
        made = Prepared(key, system, meaning, Events.of(self._layout(system), meaning))
        self._prepared = [made, *self._prepared[: MAX_KEPT - 1]]
        return made

    def _layout(self, system: System) -> Layout:
        for variables, layout in self._layouts:
            if variables is system.variables:
                return layout
        layout = Layout(system.variables)
        self._layouts = [(system.variables, layout), *self._layouts[: MAX_KEPT - 1]]
        return layout


class _Group:
    """Questions that share one exploration."""

    def __init__(self, prepared: Prepared, questions: list[Question], limits: Limits) -> None:
        self.events = prepared.events
        self.questions = questions
        self.limits = limits
        self.budget = max(question.budget for question in questions)
        first = questions[0]
        self.meaning = Meaning(
            prepared.system, Question(first.property, budget=self.budget, allowed=first.allowed, overlay=first.overlay)
        )
        self.rules = [self.meaning.system.property(question.property) for question in questions]
        layout = self.events.layout
        cuts = tuple(map(self.meaning.system.property, first.cut))
        self.observer = Observer(layout, self.rules[0] if speaks_of_events(self.rules[0]) else None, cuts)
        self.watched = self.observer.over(self.events)
        cut_settled, cut_any = cut_conditions(layout, cuts)
        self.exploration = Exploration(
            self.events,
            self.watched,
            self.budget,
            limits,
            cut_settled,
            cut_any,
            keep_unsettled=any(rule.kind in ON_GRAPHS for rule in self.rules),
        )
        self.has_cuts = cut_settled is not None or cut_any is not None
        self.starts = list(self._starts())

    def _starts(self) -> Iterable[Start]:
        pack = self.events.layout.pack
        for state in self.meaning.starts():
            seen = self.observer.at_start(pack(state.valuation))
            if seen is not None:
                packed, is_end = seen
                yield packed, state.spent, is_end and not self.exploration.is_cut(packed)

    def answers(self) -> list[Answer]:
        """The answers, in the order of the questions."""
        sought = []
        for question, rule in zip(self.questions, self.rules, strict=True):
            by_watch = speaks_of_events(rule)
            on_levels = rule.kind in ON_RUNS and not by_watch
            sought.append(Sought(question.budget, seek(self.events.layout, rule) if on_levels else None, by_watch))
        self.exploration.run(self.starts, sought)
        return [self._answer(q, rule, one) for q, rule, one in zip(self.questions, self.rules, sought, strict=True)]

    def _answer(self, question: Question, rule: Property, one: Sought) -> Answer:
        if one.found_with is not None:
            return self._found(question, rule, one)
        if one.beyond:
            return Answer(question, Verdict.UNDECIDED, None, NAME, limit_words(self.limits), None)
        counts = self._counts(question.budget)
        if rule.kind is PropertyKind.ALWAYS_POSSIBLE:
            return self._always_possible(question, rule, counts)
        if rule.kind is PropertyKind.ALWAYS_ENDS:
            return self._always_ends(question, rule, counts)
        verdict = Verdict.FAILS if rule.kind is PropertyKind.POSSIBLE else Verdict.HOLDS
        return Answer(question, verdict, None, NAME, None, counts)

    def _found(self, question: Question, rule: Property, one: Sought) -> Answer:
        assert one.found_with is not None
        sought = rule.kind is PropertyKind.POSSIBLE
        inner = one.found_with - 1 if one.beyond else None
        starts: list[Start] = self.starts
        judge: Judge = _by_observer
        if not one.by_watch:
            hits = seek(self.events.layout, rule)
            events = self.events

            def is_end(state: int) -> bool:
                return hits([state], []) or (hits([], [state]) and events.settled(state))

            starts = [(state, spent, is_end(state)) for state, spent, _ in self.starts]
            judge = _by_situation(is_end)
        way = self._ground(0).shortest(starts, one.found_with, judge, inner)
        scenario = self._ground(0).scenario(self.meaning, way, Ends.REACHED if sought else Ends.BREACH)
        return Answer(question, Verdict.HOLDS if sought else Verdict.FAILS, scenario, NAME, None, None)

    def _ground(self, more_flags: int) -> Ground:
        top = self.events.layout.bits + self.observer.n_flags + more_flags
        return Ground(self.events, self.watched, top, self.exploration.is_cut if self.has_cuts else None)

    def _always_possible(self, question: Question, rule: Property, counts: Counts) -> Answer:
        layers = self.exploration.layers[: question.budget + 1]
        reached: set[int] = set().union(*(layer.states for layer in layers))
        bad = without_way(self.events, rule, self.events.by_tier(list(reached)))
        if not bad:
            return Answer(question, Verdict.HOLDS, None, NAME, None, counts)
        budget = min(spent for spent, layer in enumerate(layers) if not layer.states.isdisjoint(bad))
        starts = [(state, spent, state in bad) for state, spent, _ in self.starts]
        ground = self._ground(0)
        way = ground.shortest(starts, budget, _by_situation(bad.__contains__))
        scenario = ground.scenario(self.meaning, way, Ends.NO_WAY)
        return Answer(question, Verdict.FAILS, scenario, NAME, None, counts)

    def _always_ends(self, question: Question, rule: Property, counts: Counts) -> Answer:
        layers: list[Layer] = self.exploration.layers[: question.budget + 1]
        ending = Ending(self.events, rule, set().union(*(layer.unsettled for layer in layers)))
        owing = ending.owing(layers)
        unended = ending.unended(set().union(*owing))
        budgets = [spent for spent, states in enumerate(owing) if any(state in unended for state in states)]
        if not budgets:
            return Answer(question, Verdict.HOLDS, None, NAME, None, counts)
        owed = 1 << self.events.layout.bits

        def judge(before: int, after: int, _: bool) -> tuple[int, bool]:
            after &= ~owed
            if not ending.owes(bool(before & owed), after):
                return after, False
            return after | owed, after in unended

        starts = [_judged(judge, state, spent) for state, spent, _ in self.starts]
        ground = self._ground(1)
        way = ground.shortest(starts, budgets[0], judge)
        at = way.states[-1] & (owed - 1)
        if at in unended.stuck:
            return Answer(question, Verdict.FAILS, ground.scenario(self.meaning, way, Ends.STUCK), NAME, None, counts)
        loop = shortest_loop(at, ending.ground(at, unended))
        if loop is None:
            raise EngineFault(f"no loop where one was found, {question.property}")
        unpacked = Way(tuple(map(self.events.layout.unpack, loop.states)), loop.events)
        scenario = with_loop(self.events.system, ground.scenario(self.meaning, way, Ends.LOOP), unpacked)
        return Answer(question, Verdict.FAILS, scenario, NAME, None, counts)

    def _counts(self, budget: int) -> Counts:
        layers = self.exploration.layers[: budget + 1]
        if self.watched is not self.events:
            layers = recounted(self.events, layers, budget)
        return Counts(
            sum(layer.n_settled for layer in layers),
            sum(layer.n_passing for layer in layers),
            sum(layer.n_free for layer in layers) + sum(layer.n_costly for layer in layers[:-1]),
        )


def recounted(events: Events, layers: list[Layer], budget: int) -> list[Layer]:
    """The counts of layers whose situations carry flags: without them, and with events at which runs are cut."""
    mask = (1 << events.layout.bits) - 1
    counted: list[Layer] = []
    for spent, flagged in enumerate(layers):
        layer = Layer(states={state & mask for state in flagged.states})
        tiers = events.by_tier(list(layer.states))
        lower = [below.states for below in counted]
        layer.n_settled = len(set(tiers[2]).difference(*lower))
        layer.n_passing = len(set(tiers[0] + tiers[1]).difference(*lower))
        for tier, states in enumerate(tiers):
            layer.n_free += sum(len(e) for cluster in events.free[tier] for e in cluster.deltas(states))
            if spent < budget:
                layer.n_costly += sum(len(e) for cluster in events.costly[tier] for e in cluster.deltas(states))
        counted.append(layer)
    return counted


def _by_observer(before: int, after: int, observed: bool) -> tuple[int, bool]:
    return after, observed


def _by_situation(is_end: Callable[[int], bool]) -> Judge:
    return lambda before, after, observed: (after, is_end(after))


def _judged(judge: Judge, state: int, spent: int) -> Start:
    after, ends = judge(0, state, False)
    return after, spent, ends
