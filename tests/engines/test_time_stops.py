"""Whether time can always pass: `engines/ways/stopping.py` against a walk of regions that counts full ticks.

The walk asks whether from everywhere a whole tick can go by, again and again; what is asked there is only whether some
time can, and of systems in which everything has time nothing at all. That this comes to the same is shown there.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from interlock.analysis.time_stops import time_stops
from interlock.core.elaborate import elaborate
from interlock.core.question import Ends, Question, Timing, Verdict
from interlock.core.settling import for_ever
from interlock.core.system import ANY_AGE, Action, ActionKind, System, TickWindow, Tier
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import BEAT, Aged, Walk, explore
from interlock.engines.aged.ways import NOT_ON_A_WAY
from interlock.engines.api import Limits
from interlock.engines.regions.ages import RegionAges
from interlock.engines.table import ENGINES
from interlock.engines.timed.graph import Graph
from interlock.engines.ways import stopping
from interlock.engines.ways.stopping import TIME_PASSES, at_once, bearing_on_time, time_passes
from interlock.engines.ways.whatever_bulk import time_passes_in_bulk
from interlock.spec.files import beside
from interlock.spec.loading import load_text
from tests.engines.in_time import TimedPlan
from tests.random_timed import random_timed_case

pytestmark = pytest.mark.no_cover

LIMITS = Limits(states=1_500)
N_CASES = 150


def ticks_go_by(system: System, budget: int) -> bool | None:
    """Whether from everywhere a full tick can go by; None: too much to walk through."""
    asked = replace(system, properties=(TIME_PASSES,))
    stage = Stage(asked, Question(TIME_PASSES.id, Timing.DECLARED, budget), beat=True)
    walk = Walk(stage, RegionAges(stage.n_clocks, stage.windows(), stage.unit))
    found = explore(walk, LIMITS)
    if found.beyond:
        return None
    actions = stage.system.actions
    before: dict[Aged, list[Aged]] = {}
    good: set[Aged] = set()
    for aged in found.came:
        for move in walk.moves(aged):
            if move.event == BEAT:
                good.add(aged)
            elif move.event < 0 or (actions[move.event].cost == 0 and actions[move.event].kind not in NOT_ON_A_WAY):
                before.setdefault(move.after, []).append(aged)
    work = list(good)
    while work:
        for aged in before.get(work.pop(), ()):
            if aged not in good:
                good.add(aged)
                work.append(aged)
    return good.issuperset(found.came)


def drawn(seed: int) -> System:
    """A random timed system in which, as in every elaborated one, no repair is obliged, and in which many events must
    come at once."""
    system, rng = random_timed_case(seed, closed=seed % 3 != 0).system, Random(seed)
    likely = (0.4, 0.4, 1.0)[seed % 3]

    def other(action: Action) -> Action:
        if action.kind is ActionKind.REPAIR:
            return replace(action, window=ANY_AGE, obliged=False)
        ridden = any(action.id == one.ages_with for one in system.actions)
        if ridden or action.tier is not Tier.OTHER or action.cost or rng.random() < likely:
            return action
        return replace(action, window=TickWindow(0, 0), obliged=True)

    return replace(system, actions=tuple(map(other, system.actions)))


def test_time_passes_where_full_ticks_can_go_by() -> None:
    mix: Counter[object] = Counter()
    for seed in range(N_CASES):
        system = drawn(seed)
        survey = ENGINES["quick"].survey(system, Question("", budget=seed % 2), (), Limits())
        if survey.unsettling is not None:
            mix["never settles"] += 1  # a finding of its own
            continue
        answer = time_passes(system, seed % 2, LIMITS)
        walked = ticks_go_by(system, seed % 2)
        if walked is None or answer.verdict is Verdict.UNDECIDED:
            mix["not compared"] += 1
            continue
        assert (answer.verdict is Verdict.HOLDS) == walked, seed
        mix[answer.verdict, bool(at_once(system))] += 1
        if at_once(system):
            # What is known without looking at what can be reached, and what without ages, is so.
            part, sure = bearing_on_time(system, settles=True), surely_time_passes(system, seed % 2)
            assert walked or not sure, seed
            assert (time_passes(part, seed % 2, LIMITS).verdict is Verdict.HOLDS) == walked, seed
            mix["ends by itself"] += not at_once(part)
            mix["part"] += part is not system
            mix["surely"] += sure
    assert mix[Verdict.FAILS, True] >= 5, mix
    assert mix[Verdict.HOLDS, True] >= 10, mix
    assert mix[Verdict.HOLDS, False] >= 15, mix
    assert mix["ends by itself"] >= 3, mix
    assert mix["part"] >= 6, mix
    assert mix["surely"] >= 6, mix


def surely_time_passes(system: System, budget: int) -> bool:
    """Whether it is known without ages; in plain Python and over arrays alike."""
    asked, question = replace(system, properties=(TIME_PASSES,)), Question(TIME_PASSES.id, Timing.DECLARED, budget)
    plain = stopping._surely(Graph(asked, question, 5_000))
    assert plain == time_passes_in_bulk(asked, question, Limits(states=5_000), at_once(asked))
    return plain


@pytest.mark.parametrize(("begins_anew", "verdict"), [(False, Verdict.HOLDS), (True, Verdict.FAILS)])
def test_only_what_can_follow_itself_for_ever_is_looked_at(begins_anew: bool, verdict: Verdict) -> None:
    # Forty lamps flash when each likes: 3 ** 40 situations. The first may begin anew at once, again and again.
    plan = TimedPlan()
    for i in range(40):
        plan.item(f"lamp {i}", "dark", "lit", "off")
        plan.free(f"lamp {i} flashes", {f"lamp {i}": "dark"}, {f"lamp {i}": "lit"})
        plan.within(f"lamp {i} ends", {f"lamp {i}": "lit"}, {f"lamp {i}": "off"}, 0, 0)
    if begins_anew:
        plan.within("lamp 0 begins anew", {"lamp 0": "off"}, {"lamp 0": "lit"}, 0, 0)
    part = bearing_on_time(plan.system(), settles=True)
    assert [v.name for v in part.variables] == (["lamp 0"] if begins_anew else [])
    answer = time_passes(part, 0, LIMITS)
    assert answer.verdict is verdict
    assert time_passes(plan.system(), 0, LIMITS).verdict is Verdict.UNDECIDED


def test_an_urgent_event_that_changes_nothing_does_not_end_by_itself() -> None:
    plan = TimedPlan()
    plan.item("lamp", "dark", "lit")
    plan.within("lamp stays lit", {"lamp": "lit"}, {"lamp": "lit"}, 0, 0)
    system = plan.system()
    assert for_ever(system, at_once(system)) == frozenset({"lamp"})
    plan.within("nothing", {"lamp": "lit"}, {}, 0, 0)
    assert for_ever(plan.system(), at_once(plan.system())) is None


@pytest.mark.parametrize(
    ("back", "verdict"),
    [
        (TickWindow(0, 0), Verdict.FAILS),
        (TickWindow(0, 1), Verdict.HOLDS),
        (TickWindow(0, 1, latest_open=True), Verdict.HOLDS),
        (TickWindow(0, None), Verdict.HOLDS),
    ],
)
def test_time_stops_where_all_that_follows_leaves_none(back: TickWindow, verdict: Verdict) -> None:
    plan = TimedPlan()
    plan.item("lamp", "no power", "dark", "lit")
    plan.within("lamp powers up", {"lamp": "no power"}, {"lamp": "dark"}, 2, 3)
    plan.within("lamp flashes", {"lamp": "dark"}, {"lamp": "lit"}, 0, 0)
    plan.windowed("lamp ends", {"lamp": "lit"}, {"lamp": "dark"}, back)
    answer = time_passes(plan.system(), 0, LIMITS)
    assert answer.verdict is verdict
    if verdict is Verdict.FAILS:
        assert answer.scenario is not None
        assert (answer.scenario.events, answer.scenario.ends) == (("lamp powers up",), Ends.NO_WAY)


@pytest.mark.parametrize(("latest", "verdict"), [(4, Verdict.HOLDS), (1, Verdict.FAILS)])
def test_what_is_at_its_latest_just_then_can_lead_out_or_not(latest: int, verdict: Verdict) -> None:
    # From 2 on the lamp flashes without a pause; the fuse blows at the latest by its own time, which only then counts.
    plan = TimedPlan()
    plan.item("lamp", "no power", "dark", "lit", "out")
    plan.item("fuse", "whole", "blown")
    plan.within("lamp powers up", {"lamp": "no power"}, {"lamp": "dark"}, 2, 2)
    plan.within("lamp flashes", {"lamp": "dark", "fuse": "whole"}, {"lamp": "lit"}, 0, 0)
    plan.within("lamp ends", {"lamp": "lit", "fuse": "whole"}, {"lamp": "dark"}, 0, 0)
    if latest > 2:
        # It may blow at 2, while the lamp goes round.
        plan.within("fuse blows", {"fuse": "whole"}, {"fuse": "blown"}, 2, latest)
    assert time_passes(plan.system(), 0, LIMITS).verdict is verdict


def test_beyond_the_limit_it_is_told_as_not_checked() -> None:
    file = Path(__file__).parents[1] / "findings" / "time-cannot-pass.yaml"
    spec, bag, _ = load_text(file.read_text(encoding="utf-8"), file.name, beside(str(file.parent)))
    assert spec is not None, bag.sorted()
    system = elaborate(spec)
    findings, _ = time_stops(spec, system, Limits(states=100), 0, settles=True)
    assert [one.diagnostic.kind for one in findings] == ["time-cannot-pass"]
    findings, not_checked = time_stops(spec, system, Limits(states=1), 0, settles=True)
    assert findings == ()
    assert [one.what for one in not_checked] == ["whether time can always pass, with 0 failures"]
    assert "more than 1 situations" in not_checked[0].reason
