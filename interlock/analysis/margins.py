"""The margins of the times that verdicts rest on: how far each may move before the rule breaks.

In: a question that holds, and the ends of windows that its verdict rests on. Out: for each end, where the rule breaks
if that time alone changes, twice: relying on nothing but the times that the verdict rests on, which is what somebody
knows who has verified these; and with all other times as declared, where others may stand in for it. Events whose
windows are made of one window of the spec take one time on site, and their ends move together. Asked is the row with
the most failures that is claimed: whatever breaks with fewer breaks there too.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from interlock.analysis.inquiry import Inquiry
from interlock.analysis.result import ToldMargin
from interlock.analysis.telling import bound_text, margin_text
from interlock.core.question import Bound, Moment, Question
from interlock.core.system import System
from interlock.core.timed import has_age


def margins(inquiry: Inquiry, question: Question, rests_on: tuple[Bound, ...]) -> tuple[ToldMargin, ...]:
    """The margin of each end for a question of the declared timing that holds."""
    system = inquiry.system
    groups = {bound: together(system, bound) for bound in rests_on}
    asked = tuple(dict.fromkeys(groups.values()))
    found = dict(zip(asked, inquiry.margins(question, asked, frozenset(rests_on)), strict=True))
    told = []
    for bound in rests_on:
        alone, margin = found[groups[bound]]
        says = margin_text(alone, system.tick_s)
        if margin_text(margin, system.tick_s) != says:
            says += f"; all other times as declared, {margin_text(margin, system.tick_s)}"
        declared = end_of(system, bound)
        assert declared is not None
        told.append(
            ToldMargin(
                window=bound_text(system, bound),
                together=tuple(end.of for end in margin.ends),
                latest=bound.latest,
                declared=declared,
                breaks=margin.breaks,
                limit=margin.limit,
                relying_breaks=alone.breaks,
                relying_limit=alone.limit,
                says=says,
            )
        )
    return tuple(told)


def together(system: System, bound: Bound) -> frozenset[Bound]:
    """The ends that one time on site stands for: those of the events whose window was made of the same one."""
    origin = system.origin.get(bound.of)
    made_of = "" if origin is None else origin.window
    if not made_of:
        return frozenset({bound})
    declared = end_of(system, bound)
    return frozenset(
        replace(bound, of=action.id)
        for action in system.actions
        if has_age(action)
        and not action.ages_with
        and action.id in system.origin
        and system.origin[action.id].window == made_of
        and end_of(system, replace(bound, of=action.id)) == declared
    )


def end_of(system: System, bound: Bound) -> Moment | None:
    """An end as declared, in ticks; None: there is no latest."""
    window = next(action.window for action in system.actions if action.id == bound.of)
    assert window is not None
    if bound.latest:
        return None if window.latest is None else Moment(Fraction(window.latest), window.latest_open)
    return Moment(Fraction(window.earliest), window.earliest_open)
