"""The proof of `whatever.py` over all situations at once, as arrays.

In: a bulk of all situations that any timing reaches. Out: whether a way surely leads on from every one. Passing
situations are looked at one by one here: from each any event of a way may be next. Cost: the ways times the longest
shortest way at the worst; memory: two bytes a situation.

With one failure at the most, each failure is looked at by itself (`core/one_failure.py`).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from interlock.core.one_failure import one_at_a_time
from interlock.core.question import Question
from interlock.core.system import Action, Property, System, Tier
from interlock.engines.api import Limits
from interlock.engines.timed.bulk import Bulk, Truth, bulk_of
from interlock.engines.ways import kernels_whatever as kernels
from interlock.engines.ways.ages import NOT_ON_A_WAY
from interlock.engines.ways.whatever import holds_time_back, may_happen_now, never_too_late

BLOCK = 1 << 17
"""So many situations are asked for what holds in them at a time: they are looked at, not kept."""


def surely_good_in_bulk(system: System, question: Question, limits: Limits, known: set[Question]) -> bool:
    """Whether a way surely leads on from everywhere. TooMany. `known`: questions of the same system of which that is
    known; those of which it becomes known are added."""
    rule = system.property(question.property)
    return _everywhere(system, question, limits, lambda bulk: not_surely_good(system, rule, bulk), known)


def time_passes_in_bulk(system: System, question: Question, limits: Limits, hurried: tuple[Action, ...]) -> bool:
    """Whether events that may happen now lead from everywhere to where none that leaves no time is enabled. TooMany."""
    return _everywhere(system, question, limits, lambda bulk: _hurried_on(system, bulk, hurried), set())


def _everywhere(
    system: System, question: Question, limits: Limits, bad: Callable[[Bulk], Truth], known: set[Question]
) -> bool:
    n = 0
    for one in one_at_a_time(system, question):
        if one in known:
            continue
        bulk = bulk_of(system, one, limits.states)
        if bad(bulk).any():
            return False
        known.add(one)
        n += bulk.tier.shape[0]
        if limits.progress is not None:
            limits.progress(n, None)
    return True


def not_surely_good(system: System, rule: Property, bulk: Bulk) -> Truth:
    """The situations from which it is not known that a way leads on."""
    actions = system.actions
    is_a = np.array(
        [
            kernels.ON_WAY * (a.cost == 0 and a.kind not in NOT_ON_A_WAY)
            + kernels.NOW * (a.tier is not Tier.OTHER or may_happen_now(a))
            + kernels.WAITS * (a.tier is not Tier.OTHER or never_too_late(a))
            + kernels.OBLIGED * holds_time_back(a)
            for a in actions
        ],
        np.uint8,
    )
    n = bulk.tier.shape[0]
    settled = bulk.tier == 2
    must, good = np.zeros(n, np.uint16), np.zeros(n, np.uint8)
    obliged = [action for action in actions if holds_time_back(action)]
    for begin in range(0, n, BLOCK):
        here: npt.NDArray[np.int64] = np.arange(begin, min(begin + BLOCK, n), dtype=np.int64)
        good[here] = bulk.true(rule.condition, here) & (rule.passing | settled[here])
        # Nothing holds time back in a passing situation, since none passes there; every event of it may be next.
        here = here[settled[here]]
        for action in obliged:
            must[here] += bulk.true(action.guard, here)
    return _not_led_on(bulk, is_a, must, good)


def _hurried_on(system: System, bulk: Bulk, hurried: tuple[Action, ...]) -> Truth:
    """The situations from which it is not known that what may happen now leads to where nothing hurried is enabled."""
    on_way = np.array([a.cost == 0 and a.kind not in NOT_ON_A_WAY for a in system.actions], np.bool_)
    now = np.array([a.tier is not Tier.OTHER or may_happen_now(a) for a in system.actions], np.bool_)
    is_a = ((on_way & now) * (kernels.ON_WAY | kernels.NOW)).astype(np.uint8)
    n = bulk.tier.shape[0]
    good = (bulk.tier == 2).astype(np.uint8)
    for begin in range(0, n, BLOCK):
        here: npt.NDArray[np.int64] = np.arange(begin, min(begin + BLOCK, n), dtype=np.int64)
        for action in hurried:
            good[here] &= ~bulk.true(action.guard, here)
    return _not_led_on(bulk, is_a, np.zeros(n, np.uint16), good)


def _not_led_on(
    bulk: Bulk, is_a: npt.NDArray[np.uint8], must: npt.NDArray[np.uint16], good: npt.NDArray[np.uint8]
) -> Truth:
    while kernels.leading_on(bulk.first, bulk.to, bulk.by, is_a, must, good):
        pass
    found: Truth = good == 0
    return found
