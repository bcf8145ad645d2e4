"""The reference engine's answers. In: a system and questions. Out: answers, each scenario replayed.

Idea: `runs.search` explores; a breach is then looked for again in order by `shortest.shortest_way`, with the least
budget that has one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from interlock.core.question import Answer, Counts, Ends, Question, Scenario, Timing, Verdict
from interlock.core.system import PropertyKind, System, Valuation
from interlock.engines.api import EngineFault, Limits, Probe, Survey
from interlock.engines.reference.endings import Ending, Pair, without_way
from interlock.engines.reference.graph import Graph
from interlock.engines.reference.runs import JUDGED_ON_RUNS, Node, Runs, Searched, restricted, search
from interlock.engines.reference.survey import survey
from interlock.engines.replay import checked
from interlock.engines.scenario import at_start_of, limit_words, with_loop
from interlock.engines.shortest import Way, shortest_loop, shortest_way

NAME = "reference"


class ReferenceEngine:
    """The oracle: every kind of rule that has an any-timing verdict."""

    @property
    def name(self) -> str:
        """The name people see."""
        return NAME

    def decides(self, system: System, question: Question) -> bool:
        """Any timing; never, before, possible, and without cuts always_possible and always_ends."""
        if question.timing is not Timing.ANY:
            return False
        kind = system.property(question.property).kind
        if kind in JUDGED_ON_RUNS:
            return True
        return kind in (PropertyKind.ALWAYS_POSSIBLE, PropertyKind.ALWAYS_ENDS) and not question.cut

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question by itself; nothing but the graph of one overlay is shared.

        Counts are of everything that can be reached within the budget: with every `holds` of a never or before rule,
        with every `fails` of possible, with every decided always_possible and always_ends; else None.
        """
        graphs: dict[object, Graph] = {}
        answers = []
        for question in questions:
            if not self.decides(system, question):
                raise EngineFault(f"the {NAME} engine was asked what it does not decide: {question.property}")
            key = (question.overlay, question.allowed)
            if key not in graphs:
                graphs[key] = Graph(system, question)
            answers.append(checked(system, _answer(graphs[key], question, limits)))
        return tuple(answers)

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Explore everything reachable under the question's budget, allowed modes, overlay (its property unused)."""
        return survey(Graph(system, question), question, probes, limits)


def _answer(graph: Graph, question: Question, limits: Limits) -> Answer:
    kind = graph.system.property(question.property).kind
    if kind in JUDGED_ON_RUNS:
        return _judged_on_runs(graph, question, limits)
    if kind is PropertyKind.ALWAYS_POSSIBLE:
        return _always_possible(graph, question, limits)
    return _always_ends(graph, question, limits)


def _judged_on_runs(graph: Graph, question: Question, limits: Limits) -> Answer:
    rule = graph.system.property(question.property)
    runs = Runs(graph, question, rule)
    searched = search(runs, limits)
    sought = rule.kind is PropertyKind.POSSIBLE
    if searched.ends_with is not None:
        budget = searched.ends_with
        inner = budget - 1 if searched.beyond else None
        way = shortest_way(runs.starts(budget), restricted(runs, budget, inner))
        if way is None:
            raise EngineFault(f"no way to the end that was found, {question.property}")
        scenario = _scenario(graph, question, way, Ends.REACHED if sought else Ends.BREACH)
        return Answer(question, Verdict.HOLDS if sought else Verdict.FAILS, scenario, NAME, None, None)
    if searched.beyond:
        return _beyond(question, limits)
    verdict = Verdict.FAILS if sought else Verdict.HOLDS
    return Answer(question, verdict, None, NAME, None, counts(graph, searched, question.budget))


def _always_possible(graph: Graph, question: Question, limits: Limits) -> Answer:
    rule = graph.system.property(question.property)
    runs = Runs(graph, question, None)
    searched = search(runs, limits)
    if searched.beyond:
        return _beyond(question, limits)
    found = counts(graph, searched, question.budget)
    bad = without_way(graph, rule, (valuation for valuation, _, _ in searched.known))
    if not bad:
        return Answer(question, Verdict.HOLDS, None, NAME, None, found)
    budget = min(spent for valuation, spent, _ in searched.known if valuation in bad)
    way = shortest_way(*_towards(runs, budget, lambda valuation: valuation in bad))
    if way is None:
        raise EngineFault(f"no way to the situation that was found, {question.property}")
    return Answer(question, Verdict.FAILS, _scenario(graph, question, way, Ends.NO_WAY), NAME, None, found)


def _always_ends(graph: Graph, question: Question, limits: Limits) -> Answer:
    rule = graph.system.property(question.property)
    runs = Runs(graph, question, None)
    searched = search(runs, limits)
    if searched.beyond:
        return _beyond(question, limits)
    found = counts(graph, searched, question.budget)
    ending = Ending(graph, rule)
    owing = ending.owing(((valuation, spent) for valuation, spent, _ in searched.known), question.budget)
    unended = ending.unended(valuation for valuation, _ in owing)
    spents = [spent for valuation, spent in owing if valuation in unended]
    if not spents:
        return Answer(question, Verdict.HOLDS, None, NAME, None, found)
    way = _owing_way(runs, ending, min(spents), lambda valuation: valuation in unended)
    at = way.states[-1][0]
    if at in unended.stuck:
        scenario = _scenario(graph, question, way, Ends.STUCK)
    else:
        loop = shortest_loop(at, ending.ground(at, unended))
        if loop is None:
            raise EngineFault(f"no loop where one was found, {question.property}")
        scenario = with_loop(graph.system, _scenario(graph, question, way, Ends.LOOP), loop)
    return Answer(question, Verdict.FAILS, scenario, NAME, None, found)


def _towards(
    runs: Runs, budget: int, is_end: Callable[[Valuation], bool]
) -> tuple[Iterable[tuple[Node, bool]], Callable[[Node], Iterator[tuple[int, Node, bool]]]]:
    """Starts and successors of a search for a valuation."""

    def successors(node: Node) -> Iterator[tuple[int, Node, bool]]:
        return ((event, after, is_end(after[0])) for event, after, _ in runs.successors(node, budget))

    return ((node, is_end(node[0])) for node, _ in runs.starts(budget)), successors


def _owing_way(runs: Runs, ending: Ending, budget: int, is_end: Callable[[Valuation], bool]) -> Way[Node]:
    """The shortest way to a situation in which the run owes an end and may stay for ever. The flag says that it
    owes."""

    def put(node: Node, owed: bool) -> tuple[Node, bool]:
        owes = ending.owes(owed, node[0])
        return (node[0], node[1], (owes,)), owes and is_end(node[0])

    def successors(node: Node) -> Iterator[tuple[int, Node, bool]]:
        for event, after, _ in runs.successors((node[0], node[1], ()), budget):
            yield event, *put(after, node[2][0])

    way = shortest_way((put(node, False) for node, _ in runs.starts(budget)), successors)
    if way is None:
        raise EngineFault(f"no way to the situation that was found, {ending.rule.id}")
    return way


def counts(graph: Graph, searched: Searched, budget: int) -> Counts:
    """Distinct settled and passing valuations of a complete search, whatever was spent; and events: for each distinct
    pair of valuation and failures spent, every action that may happen within the budget, whether or not it cuts."""
    valuations = {valuation for valuation, _, _ in searched.known}
    pairs: set[Pair] = {(valuation, spent) for valuation, spent, _ in searched.known}
    settled = sum(graph.settled(valuation) for valuation in valuations)
    events = sum(spent + edge.action.cost <= budget for valuation, spent in pairs for edge in graph.edges(valuation))
    return Counts(settled, len(valuations) - settled, events)


def _scenario(graph: Graph, question: Question, way: Way[Node], ends: Ends) -> Scenario:
    valuation, spent, _ = way.states[0]
    return Scenario(
        at_start_of(graph.meaning, valuation, spent),
        tuple(node[0] for node in way.states),
        tuple(graph.system.actions[event].id for event in way.events),
        ends,
    )


def _beyond(question: Question, limits: Limits) -> Answer:
    return Answer(question, Verdict.UNDECIDED, None, NAME, limit_words(limits), None)
