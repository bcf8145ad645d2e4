"""A question with one failure at the most, taken apart into one for each failure.

In: a system and a question. Out: questions whose runs are together those of the question.

The idea: a run in which at most one failure happens is a run in which at most that one may, and the other way round.
Each part has about as many situations as there are without failures, twice; together they are a few more than the whole
has, but never more than one failure brings at a time.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.system import System


def one_at_a_time(system: System, question: Question) -> tuple[Question, ...]:
    """One question for each failure that may happen, in the order of modes; the question itself where more than one may
    happen, none may, or some counts as none."""
    meaning = Meaning(system, question)
    failing = [action for action in meaning.system.actions if action.modes and meaning.may_fail(action)]
    order = {mode.id: i for i, mode in enumerate(meaning.system.modes)}
    alone = [mode.id for mode in meaning.system.modes if mode.id in meaning.allowed and mode.at_start is not None]
    together = {(id,) for id in alone}.union(action.modes for action in failing)
    if question.budget != 1 or not together or any(action.cost == 0 for action in failing):
        return (question,)
    return tuple(
        replace(question, allowed=modes) for modes in sorted(together, key=lambda modes: [order[id] for id in modes])
    )
