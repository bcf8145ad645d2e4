"""What is told near a rule, with all around it free, is true of the whole: on random timed systems."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from random import Random

import pytest

from interlock.core.meaning import Meaning
from interlock.core.question import Question, Timing, Verdict
from interlock.core.surroundings import FLICKERS, Nearby, Surroundings, flickers
from interlock.core.system import Property, PropertyKind, System, Tier, Valuation
from interlock.engines.api import Limits
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.timed.bulk import bulk_of
from interlock.engines.timed.bulk_graph import BulkGraph
from interlock.engines.timed.engine import ZonesEngine
from interlock.engines.timed.graph import TooMany, TooWide
from interlock.engines.timed.near import KINDS, near_the_rule
from interlock.engines.timed.refine import Refinement
from interlock.engines.timed.search import Counting, TooManyZones
from interlock.logic.expression import FALSE
from tests.engines.test_timed_agreement import any_timing
from tests.engines.tick_walk import TickWalk, is_closed
from tests.engines.tick_walk import TooMany as TooFar
from tests.random_timed import random_timed_case

pytestmark = pytest.mark.no_cover

N_CASES = 16
MOST = 20_000
PLAIN = ZonesEngine(small=MOST)
NOTHING = Property("nothing", PropertyKind.NEVER, False, FALSE)
"""A rule that stops no walk."""

KNOWN: dict[tuple[int, int], dict[str, bool]] = {}
"""Of systems that are kept, with so many failures: whether a variable changes once at the most."""


CASES = [random_timed_case(seed, closed=seed % 3 != 0) for seed in range(N_CASES)]


def questions() -> Iterator[tuple[int, System, Question]]:
    for seed, case in enumerate(CASES):
        for rule in case.system.properties:
            if rule.kind in KINDS and not rule.every_event:
                yield seed, case.system, Question(rule.id, Timing.DECLARED, seed % 2)


def some_near(seed: int, system: System, question: Question) -> list[Nearby]:
    """Those that an engine would look at, and some at random."""
    around = Surroundings.of(system, system.property(question.property))
    rng = Random(seed)
    names = [variable.name for variable in system.variables]
    at_random = (around.near(name for name in names if rng.random() < 0.6) for _ in range(1))
    found = dict.fromkeys([*around.growing(MOST), *at_random])
    return [near for near in found if near.free]


def really_once(system: System, name: str, question: Question) -> bool:
    """Whether a variable changes once at the most until all is settled: step by step, in the whole."""
    meaning = Meaning(system, question)
    place = meaning.index[name]
    seen = {(state, False) for state in meaning.starts()}
    work = list(seen)
    while work:
        state, changed = work.pop()
        for action in meaning.enabled(state):
            after = meaning.after(action, state)
            before = changed and action.tier is not Tier.OTHER
            now = after.valuation[place] != state.valuation[place]
            if before and now:
                return False
            if (after, before or now) not in seen:
                seen.add((after, before or now))
                work.append((after, before or now))
    return True


def once_in(system: System, question: Question, near: Nearby) -> frozenset[str]:
    key = (id(system), question.budget)
    for name in near.free - KNOWN.setdefault(key, {}).keys():
        KNOWN[key][name] = really_once(system, name, question)
    return frozenset(name for name in near.free if KNOWN[key][name])


def seen_in(system: System, smaller: System, valuations: frozenset[Valuation]) -> frozenset[Valuation]:
    """Valuations of a system by the variables that both have."""
    both = {variable.name for variable in system.variables} & {variable.name for variable in smaller.variables}
    return frozenset(
        tuple(value for value, variable in zip(valuation, system.variables, strict=True) if variable.name in both)
        for valuation in valuations
    )


def test_what_the_whole_reaches_is_reached_with_free_surroundings_for_any_timing_and_in_ticks() -> None:
    mix: Counter[str] = Counter()
    for seed, system, question in questions():
        if seed % 2:
            continue
        rule = system.property(question.property)
        for near in some_near(seed, system, question):
            if near.size > 200:
                continue
            smaller = Surroundings.of(system, rule).freed(near, once_in(system, question, near))
            wide = seen_in(smaller, system, any_timing(smaller, question))
            assert seen_in(system, smaller, any_timing(system, question)) <= wide
            mix["any timing"] += 1
            in_all = replace(question, property=NOTHING.id)
            if is_closed(system, question):
                try:
                    whole, part = (
                        TickWalk(replace(one, properties=(NOTHING,)), in_all, 2_000).walk().reached
                        for one in (system, smaller)
                    )
                except TooFar:
                    continue
                assert seen_in(system, smaller, whole) <= seen_in(smaller, system, part)
                mix["in ticks"] += 1
                mix["less than all"] += seen_in(smaller, system, part) < wide
    print(sorted(mix.items()))
    assert mix["any timing"] > 100
    assert mix["in ticks"] > 50


def test_what_holds_with_free_surroundings_holds_in_the_whole_and_by_the_same_times() -> None:
    mix: Counter[str] = Counter()
    for seed, system, question in questions():
        rule = system.property(question.property)
        (answer,) = PLAIN.answer(system, (question,), Limits(states=MOST))
        for near in some_near(seed, system, question):
            smaller = Surroundings.of(system, rule).freed(near, once_in(system, question, near))
            try:
                graph = BulkGraph(smaller, question, bulk_of(smaller, question, MOST))
                told = Refinement(graph, partial(graph.search, most=MOST, told=None)).decide(Counting())
            except (TooMany, TooManyZones, TooWide):
                continue
            mix["asked"] += 1
            if told.run is None:
                assert answer.verdict is not Verdict.FAILS, f"seed {seed}, {question}, {near}"
                mix["holds"] += 1
                mix["by times"] += bool(told.rests_on)
    print(sorted(mix.items()))
    assert mix["asked"] > 80
    assert mix["holds"] > 10
    assert mix["by times"] > 0


def test_what_is_said_to_change_once_does_and_the_engine_says_what_the_plain_one_says() -> None:
    mix: Counter[str] = Counter()
    for seed, system, question in questions():
        for variable in system.variables[:3]:
            asked = Question(FLICKERS, Timing.ANY, question.budget)
            (answer,) = ExplicitEngine().answer(flickers(system, variable.name), (asked,), Limits(states=MOST))
            if answer.verdict is Verdict.HOLDS:
                assert really_once(system, variable.name, question)
            mix[f"once: {answer.verdict.value}"] += 1
        told = near_the_rule(system, question, Limits(states=MOST), Counting())
        if told is not None:
            (answer,) = PLAIN.answer(system, (question,), Limits(states=MOST))
            assert answer.verdict is not Verdict.FAILS, f"seed {seed}, {question}"
            mix["near"] += 1
    print(sorted(mix.items()))
    assert min(mix["once: holds"], mix["once: fails"]) > 10
    assert mix["near"] > 3
