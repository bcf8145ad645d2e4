"""Rows with a common cause allowed, beyond what is claimed: only the common causes are left to be asked about.

In: a question with all failures allowed, and what the same question came to without common causes. Out: the answer.

The idea: a run with at most one failure has no common cause in it, or nothing else. So there is a run to what is sought
exactly if there is one without common causes or one with common causes alone, and the latter are few situations. Where
the spec claims such a row it is asked as a whole, since what its verdict rests on is told.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.analysis.inquiry import Asked
from interlock.core.question import Question, Verdict
from interlock.core.system import Property, PropertyKind, System


def alone(system: System, question: Question) -> Question | None:
    """The question with nothing but common causes allowed; None where that does not answer it together with the one
    without them: more than one failure, or an event that is several."""
    one_by_one = all(action.cost == len(action.modes) < 2 for action in system.actions)
    common = tuple(mode.id for mode in system.modes if mode.common_cause)
    others = {mode.id for mode in system.modes if not mode.common_cause}
    if question.budget != 1 or not one_by_one or question.allowed is None or not others.issubset(question.allowed):
        return None
    return replace(question, allowed=tuple(id for id in common if id in question.allowed))


def together(rule: Property, question: Question, without: Asked | None, common: Asked) -> Asked:
    """The answer: a way by either of the two is one; what it rests on is not known. `without`: None, it is known that
    there is no way without common causes."""
    way = Verdict.HOLDS if rule.kind is PropertyKind.POSSIBLE else Verdict.FAILS
    both = [one for one in (without, common) if one is not None]
    said = (
        next((one for one in both if one.verdict is way), None)
        or next((one for one in both if one.verdict is Verdict.UNDECIDED), None)
        or common
    )
    clocks = max((one.clocks for one in both if one.clocks is not None), default=None)
    return replace(said, question=question, rests_on=None, clocks=clocks)
