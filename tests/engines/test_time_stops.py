"""Whether time can always pass: `engines/ways/stopping.py` against a walk of regions that counts full ticks.

The walk asks whether from everywhere a whole tick can go by, again and again; what is asked there is only whether some
time can, and of systems in which everything has time nothing at all. That this comes to the same is shown there.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from random import Random

import pytest

from interlock.core.question import Ends, Question, Timing, Verdict
from interlock.core.system import ANY_AGE, Action, ActionKind, System, TickWindow, Tier
from interlock.engines.aged.stage import Stage
from interlock.engines.aged.walk import BEAT, Aged, Walk, explore
from interlock.engines.aged.ways import NOT_ON_A_WAY
from interlock.engines.api import Limits
from interlock.engines.regions.ages import RegionAges
from interlock.engines.table import ENGINES
from interlock.engines.ways.stopping import TIME_PASSES, at_once, time_passes
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
    assert mix[Verdict.FAILS, True] >= 5, mix
    assert mix[Verdict.HOLDS, True] >= 10, mix
    assert mix[Verdict.HOLDS, False] >= 15, mix


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
