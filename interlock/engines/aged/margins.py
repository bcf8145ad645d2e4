"""How far ends of windows may move before a rule `always_ends` is broken, by trial (`engines/moving.py`).

Wider windows have more runs and the rule speaks of every run: where it breaks at a value it does at every one further
on. Where all windows are closed a value at which it breaks for the first time is told exactly, unless it is between
two that are finer than looked at.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from interlock.core.question import Margin, Moment, Question
from interlock.core.system import System
from interlock.engines.aged.few import Beyond, KeptOn, look
from interlock.engines.api import Limits
from interlock.engines.ends import SomeEnds, as_declared, in_order, with_ends_at, with_only
from interlock.engines.moving import first_broken

TIMES_THE_LIMIT = 4
"""In all trials for a margin so many times the limit of one may be looked at."""

NOT_LOOKED_AT = "what lies between was not looked into"


def margins_of_endings(
    system: System,
    question: Question,
    asked: tuple[SomeEnds, ...],
    limits: Limits,
    relied: tuple[SomeEnds | None, ...],
    keeping: KeptOn,
) -> tuple[tuple[Margin, ...], ...]:
    """For each set of ends that move together, how far they may before the rule breaks, relying on nothing but these
    and sets of ends by which it holds, in turn, each within the next (None: all ends). Nothing may be laid over the
    system. `limits`: for each trial."""
    found = []
    for ends in asked:
        told: list[Margin] = []
        for kept in relied:
            there = system if kept is None else with_only(system, kept | ends)
            told.append(_margin(there, question, ends, limits, keeping, told[-1] if told else None))
        found.append(tuple(told))
    return tuple(found)


def _margin(
    system: System, question: Question, ends: SomeEnds, limits: Limits, keeping: KeptOn, less: Margin | None
) -> Margin:
    """`less`: the margin relying on less; this one is no smaller."""
    ordered = in_order(ends)
    latest = ordered[0].latest

    left = TIMES_THE_LIMIT * limits.states

    def broken(at: Moment | None) -> bool | None:
        nonlocal left
        most = replace(limits, states=max(1, min(limits.states, left)))
        try:
            _, found, unended = look(with_ends_at(system, ends, at), question, most, keeping)
        except Beyond:
            left -= most.states
            return None
        left -= len(found.came)
        return bool(unended.members)

    beyond = f"more than {limits.states:,} situations with their ages can be reached"
    if less is not None and less.limit is None and (less.breaks is None or broken(less.breaks)):
        return less
    begin = as_declared(system, ends)
    if broken(None) is False:
        return Margin(ordered, None)
    found = first_broken(begin, up=latest, wider=True, stop=None if latest else Fraction(0), broken=broken)
    if found.exact:
        return Margin(ordered, found.breaks)
    limit = beyond if found.breaks is None else NOT_LOOKED_AT
    return Margin(ordered, found.breaks, limit, holds=found.holds)
