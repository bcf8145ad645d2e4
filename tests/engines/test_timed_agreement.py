"""On random timed systems, zones say what a walk in whole ticks says, in plain Python and over arrays alike.

Closed systems: the same verdict, the same least failures and fewest events. Open ends: what the walk finds though open
ends miss by a tick, zones find; what it does not find though open ends are closed, zones do not find. What the declared
timing reaches, any timing reaches.
"""

from __future__ import annotations

from collections import Counter

import pytest

from interlock.core.meaning import Meaning, State
from interlock.core.question import Answer, Question, Timing, Verdict
from interlock.core.system import Action, PropertyKind, System, Valuation
from interlock.engines.api import Limits
from interlock.engines.quick.observe import speaks_of_events
from interlock.engines.timed.engine import ZonesEngine
from tests.engines.tick_walk import TickWalk, TooMany, Walked, is_closed, windows_of, with_windows
from tests.random_timed import KINDS, TimedCase, random_timed_case

pytestmark = pytest.mark.no_cover

N_CHUNKS = 4
N_CASES = 30
"""Cases in a chunk; each asks four questions. By hand, with more cases: thousands (see DEVELOPERS.md)."""

N_ON_EVENTS = 20
MOST = 2_500
SCALE = 8
ENGINES = {"plain": ZonesEngine(small=1_000_000), "arrays": ZonesEngine(small=0, near=False)}


@pytest.mark.parametrize("chunk", range(N_CHUNKS))
def test_zones_say_what_a_walk_in_ticks_says(chunk: int) -> None:
    mix: Counter[str] = Counter()
    for i in range(N_CASES):
        seed = chunk * N_CASES + i
        case = random_timed_case(seed, closed=seed % 3 != 0)
        for question in case.asked:
            disagreement = check(case.system, question, mix)
            assert disagreement is None, f"seed {seed}, {question}: {disagreement}"
    print(sorted(mix.items()))
    asked = mix["asked"]
    assert mix["compared"] >= 0.6 * asked
    assert mix["open"] >= 0.1 * asked
    assert min(mix["holds"], mix["fails"]) >= 0.15 * asked
    assert mix["deadline"] >= 0.3 * asked


def test_rules_on_events_say_so_too() -> None:
    """Each single event is judged, those inside a stride too, in plain Python and over arrays."""
    mix: Counter[str] = Counter()
    for seed in range(N_ON_EVENTS):
        case = random_timed_case(seed, closed=seed % 3 != 0)
        for question in on_events(case):
            disagreement = check(case.system, question, mix)
            assert disagreement is None, f"seed {seed}, {question}: {disagreement}"
    print(sorted(mix.items()))
    assert mix["compared"] >= 0.6 * mix["asked"]
    assert min(mix["holds"], mix["fails"]) >= 0.15 * mix["asked"]
    assert mix["timing decides"] >= 2


def on_events(case: TimedCase) -> tuple[Question, ...]:
    """A question about each rule that is judged on events, without failures and with one."""
    rules = [one for one in case.system.properties if one.kind in KINDS and speaks_of_events(one)]
    return tuple(Question(rule.id, Timing.DECLARED, budget) for rule in rules for budget in (0, 1))


def test_what_is_compared_is_of_all_kinds() -> None:
    cases = [random_timed_case(seed, closed=seed % 3 != 0) for seed in range(N_CHUNKS * N_CASES)]
    actions = [action for case in cases for action in case.system.actions]
    windows = [window for case in cases for window in windows_of(case.system, case.asked[0])]
    assert sum(bool(action.ages_with) for action in actions) >= 10
    assert sum(bool(action.restarts) for action in actions) >= 10
    assert sum((window.latest or 0) > 1_000 for window in windows) >= 2
    assert sum(window.earliest == window.latest for window in windows) >= 50
    assert sum(window.earliest_open or window.latest_open for window in windows) >= 50
    assert sum(window.latest == 0 for window in windows) >= 10
    assert sum(question.budget for case in cases for question in case.asked) >= 50
    assert any(rule.unless for case in cases for rule in case.system.properties)


@pytest.mark.parametrize("seed", [1063])
def test_what_once_disagreed_agrees(seed: int) -> None:
    """1063: a situation at which runs are cut was taken for what is sought."""
    case = random_timed_case(seed, closed=seed % 3 != 0)
    assert [check(case.system, question, Counter()) for question in case.asked] == [None] * 4


def check(system: System, question: Question, mix: Counter[str]) -> str | None:
    """None, or what disagrees."""
    mix["asked"] += 1
    rule = system.property(question.property)
    answers = {}
    for name, engine in ENGINES.items():
        (answers[name],) = engine.answer(system, (question,), Limits(states=50_000))
    plain, arrays = answers["plain"], answers["arrays"]
    alike = (plain.verdict, cost(system, plain)) == (arrays.verdict, cost(system, arrays))
    if Verdict.UNDECIDED not in (plain.verdict, arrays.verdict) and not alike:
        return f"plain {plain}, arrays {arrays}"
    mix[arrays.verdict.value] += 1
    mix["deadline"] += rule.within is not None
    mix["timing decides"] += bool(arrays.rests_on)
    if plain.verdict is Verdict.UNDECIDED:
        plain = arrays
    if plain.verdict is Verdict.UNDECIDED:
        return None
    found = (plain.verdict is Verdict.HOLDS) == (rule.kind is PropertyKind.POSSIBLE)
    if is_closed(system, question):
        walked = walk(system, question)
        if walked is None:
            return None
        mix["compared"] += 1
        if (walked.least is not None) != found or (found and cost(system, plain) != walked.least):
            return f"the walk says {walked.least}, zones {plain}"
        return None if walked.reached <= any_timing(system, question) else "more is reached than for any timing"
    mix["open"] += 1
    inner, outer = (walk(with_windows(system, question, SCALE, miss), question) for miss in (1, 0))
    if inner is not None:
        mix["compared"] += 1
        if inner.least is not None and not found:
            return f"a walk that misses open ends says {inner.least}, zones {plain}"
    if outer is not None and outer.least is None and found:
        return f"a walk through open ends finds nothing, zones {plain}"
    return None


def walk(system: System, question: Question) -> Walked | None:
    """The walk, or None if there is too much for it."""
    try:
        return TickWalk(system, question, MOST).walk()
    except TooMany:
        return None


def cost(system: System, answer: Answer) -> tuple[int, int] | None:
    """Failures and events of the scenario."""
    scenario = answer.scenario
    if scenario is None:
        return None
    by_id: dict[str, Action] = {action.id: action for action in system.actions}
    return len(scenario.at_start) + sum(by_id[e].cost for e in scenario.events), len(scenario.events)


def any_timing(system: System, question: Question) -> frozenset[Valuation]:
    """The valuations that any timing reaches."""
    meaning = Meaning(system, question)
    seen: set[State] = set(meaning.starts())
    work = list(seen)
    while work:
        state = work.pop()
        for action in meaning.enabled(state):
            after = meaning.after(action, state)
            if after not in seen:
                seen.add(after)
                work.append(after)
    return frozenset(state.valuation for state in seen)
