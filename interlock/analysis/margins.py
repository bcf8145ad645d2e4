"""The margins of the times that verdicts rest on: how far each may move before the rule breaks.

In: a question that holds, and the ends of windows that its verdict rests on. Out: for each end, where the rule breaks
if that time alone changes, twice: relying on nothing but the times that the verdict rests on, which is what somebody
knows who has verified these; and with all other times as declared, where others may stand in for it. Events whose
windows are made of one window of the spec take one time on site, and their ends move together. Asked is the row with
the most failures that is claimed: whatever breaks with fewer breaks there too.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.analysis.inquiry import Inquiry
from interlock.analysis.result import ToldMargin
from interlock.analysis.telling import bound_text, margin_text
from interlock.core.question import Bound, Margin, Question
from interlock.core.system import Action, System
from interlock.core.timed import has_age
from interlock.engines.ends import as_declared


def margins(inquiry: Inquiry, question: Question, rests_on: tuple[Bound, ...]) -> tuple[ToldMargin, ...]:
    """The margins of each end for a question of the declared timing that holds: one, or one for each way in which it
    may be moved."""
    system = inquiry.system
    groups = {bound: together(system, bound) for bound in rests_on}
    asked = tuple(dict.fromkeys(groups.values()))
    found = dict(zip(asked, inquiry.margins(question, asked, frozenset(rests_on)), strict=True))
    return tuple(
        ToldMargin(
            window=bound_text(system, bound),
            declared=as_declared(system, frozenset({bound})),
            all_as_declared=margin,
            relying=relying,
            says=_says(relying, margin, system),
        )
        for bound in rests_on
        for relying, margin in found[groups[bound]]
    )


def _says(relying: Margin, margin: Margin, system: System) -> str:
    says = margin_text(relying, system.tick_s)
    if margin_text(margin, system.tick_s) != says:
        says += f"; all other times as declared, {margin_text(margin, system.tick_s)}"
    return says


def together(system: System, bound: Bound) -> frozenset[Bound]:
    """The ends that one time on site stands for: those of the events whose window was made of the same one."""
    origin = system.origin.get(bound.of)
    made_of = "" if origin is None else origin.window
    if not made_of:
        return frozenset({bound})
    declared = as_declared(system, frozenset({bound}))
    return frozenset(
        replace(bound, of=action.id)
        for action in system.actions
        if has_age(action)
        and not action.ages_with
        and action.id in system.origin
        and system.origin[action.id].window == made_of
        and _has_end(action, bound.latest)
        and as_declared(system, frozenset({replace(bound, of=action.id)})) == declared
    )


def _has_end(action: Action, latest: bool) -> bool:
    return action.window is not None and (not latest or action.window.latest is not None)
