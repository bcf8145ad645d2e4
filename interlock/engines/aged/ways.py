"""`always_possible` under declared timing, on the graph of all regions that can be reached.

Whatever can happen from one point of a region can happen from any other (a bisimulation, time left out of account), so
what is asked of points is decided on regions. Zones with inclusion would not do: a run that chose its offset once and
for all would be covered by one that chose otherwise.
"""

from __future__ import annotations

from collections.abc import Collection

from interlock.core.system import ActionKind
from interlock.engines.aged.walk import Aged, Walk

NOT_ON_A_WAY = (ActionKind.FAILURE, ActionKind.REPAIR)


def without_way(walk: Walk, reached: Collection[Aged]) -> frozenset[Aged]:
    """The settled aged situations from which neither events nor time lead to the rule's condition without a failure or
    a repair. The condition is read in settled situations, with `passing` in every one. `reached`: everything."""
    stage = walk.stage
    actions, rule = stage.system.actions, stage.rule
    before: dict[Aged, list[Aged]] = {}
    for aged in reached:
        for move in walk.moves(aged):
            if move.event < 0 or (actions[move.event].cost == 0 and actions[move.event].kind not in NOT_ON_A_WAY):
                before.setdefault(move.after, []).append(aged)
    work = [
        aged
        for aged in reached
        if stage.meaning.true(rule.condition, aged.valuation) and (rule.passing or stage.graph.settled(aged.valuation))
    ]
    good = set(work)
    while work:
        for aged in before.get(work.pop(), ()):
            if aged not in good:
                good.add(aged)
                work.append(aged)
    return frozenset(aged for aged in reached if stage.graph.settled(aged.valuation) and aged not in good)
