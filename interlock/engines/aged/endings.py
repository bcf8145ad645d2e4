"""`always_ends` under declared timing, on the graph of all situations with their ages that can be reached.

A run that owes an end may go on for ever in a strongly connected part if time does: a clock that is set back whenever
it comes to a full tick must come to it there, or time converges. What is obliged cannot stay enabled then: its latest
is in the way. Helpers must each be disabled, happen or be restarted there, and so must what is obliged where its latest
is left out of account (`engines/ends.py`). A run of passing situations that never
settles ends nowhere either, though no time passes: it counts, as it does for any timing. The condition is read in
settled situations.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from interlock.engines.aged.walk import BEAT, Aged, Move, Trail, Walk
from interlock.engines.api import EngineFault
from interlock.engines.components import components
from interlock.engines.shortest import LoopGround, shortest_loop


@dataclass(frozen=True, slots=True)
class Unended:
    """Where runs that owe an end may stay for ever, each with the part that it may go round in. `unsettled`: in such a
    part nothing settles."""

    members: dict[Aged, frozenset[Aged]]
    unsettled: frozenset[Aged]


def unended_in(walk: Walk, reached: Collection[Aged]) -> Unended:
    """All of these places. `reached`: everything, with what is owed."""
    owing = dict.fromkeys(aged for aged in reached if aged.owes)
    found: dict[Aged, frozenset[Aged]] = {}
    for part in components(owing, lambda aged: (move.after for move in _inside(walk, aged, owing))):
        members = frozenset(part)
        if _for_ever(walk, members):
            found.update((aged, members) for aged in part)
    passing = dict.fromkeys(aged for aged in owing if not walk.stage.place(aged.valuation).settled)
    unsettled: set[Aged] = set()
    for part in components(passing, lambda aged: (move.after for move in _inside(walk, aged, passing))):
        members = frozenset(part)
        if any(move.after in members for aged in part for move in _inside(walk, aged, members)):
            found.update((aged, members) for aged in part)
            unsettled |= members
    return Unended(found, frozenset(unsettled))


def loop_from(walk: Walk, unended: Unended, at: Aged) -> Trail:
    """Once round: without settling, or in time that does not converge and keeping no helper waiting for ever."""
    inside = unended.members[at]
    helpers = _helpers(walk)
    loop = shortest_loop(
        at,
        LoopGround(
            successors=lambda aged: [(move.event, move.after) for move in _inside(walk, aged, inside)],
            enabled_if_settled=lambda aged: _waiting(walk, aged, helpers),
            breaks=lambda event: frozenset({BEAT}) if event == BEAT else _breaks(walk, event),
            obliged=frozenset() if at in unended.unsettled else helpers | {BEAT},
        ),
    )
    if loop is None:
        raise EngineFault(f"no loop where one was found, {walk.stage.rule.id}")
    return Trail(loop.states, loop.events)


def _inside(walk: Walk, aged: Aged, inside: Collection[Aged]) -> Iterator[Move]:
    """Moves that stay inside and are no failure."""
    actions = walk.stage.system.actions
    for move in walk.moves(aged):
        if move.after in inside and (move.event < 0 or actions[move.event].cost == 0):
            yield move


def _for_ever(walk: Walk, members: frozenset[Aged]) -> bool:
    helpers = _helpers(walk)
    waiting = helpers
    broken: set[int] = set()
    passes = False
    for aged in members:
        enabled = _waiting(walk, aged, helpers)
        if enabled is not None:
            waiting &= enabled
        for move in _inside(walk, aged, members):
            passes = passes or move.event == BEAT
            broken |= _breaks(walk, move.event)
    return passes and waiting <= broken


def _helpers(walk: Walk) -> frozenset[int]:
    stage = walk.stage
    return frozenset(
        i
        for i, action in enumerate(stage.system.actions)
        if action.id in stage.rule.helped_by
        or (action.obliged and action.window is not None and action.window.latest is None)
    )


def _waiting(walk: Walk, aged: Aged, helpers: frozenset[int]) -> frozenset[int] | None:
    """The helpers enabled in a settled situation, and time; None in a passing one."""
    stage = walk.stage
    if not stage.graph.settled(aged.valuation):
        return None
    return (stage.graph.obliged(aged.valuation, stage.rule.helped_by) & helpers) | {BEAT}


def _breaks(walk: Walk, event: int) -> frozenset[int]:
    return walk.stage.graph.breaks(event) if event >= 0 else frozenset()
