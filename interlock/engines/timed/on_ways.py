"""Rules judged on events, over the ways of a `Bulk`: which events are what is sought.

In: a bulk and a rule with `was` in it, or a `before` rule (whose flag is in the bulk). Out: a mark for each way. Each
single event is looked at, those inside a stride too.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from interlock.core.system import Property, PropertyKind
from interlock.engines.explicit.arrays import I64
from interlock.engines.timed.bulk import Bulk, Truth, Values
from interlock.logic.expression import has

MOST_AT_ONCE = 1 << 18
"""Situations whose ways are looked at together."""


def ends_by_way(bulk: Bulk, rule: Property) -> npt.NDArray[np.uint8]:
    """Of each way, whether its event is what is sought. Cost: the size of the rule times the ways."""
    found = np.zeros(bulk.to.shape[0], np.uint8)
    n = bulk.tier.shape[0]
    for begin in range(0, n, MOST_AT_ONCE):
        end = min(n, begin + MOST_AT_ONCE)
        first = bulk.first[begin : end + 1]
        ways = slice(int(first[0]), int(first[-1]))
        before = Values(bulk, np.repeat(np.arange(begin, end), np.diff(first)))
        found[ways] = _ends(bulk, rule, before, Values(bulk, bulk.to[ways], before))
    return found


def ends_at_start(bulk: Bulk, rule: Property) -> frozenset[int]:
    """The starts that are what is sought already: there `was` speaks of the start itself."""
    if rule.kind is PropertyKind.BEFORE:
        return frozenset()
    starts: I64 = np.array(bulk.starts, np.int64)
    return frozenset(starts[bulk.true(rule.condition, starts)].tolist())


def _ends(bulk: Bulk, rule: Property, before: Values, after: Values) -> Truth:
    if rule.kind is not PropertyKind.BEFORE:
        return after.true(rule.condition)
    (flag,) = bulk.layout.flags
    happened = before.true(has(flag.name, (1,), 2))
    return after.true(rule.condition) & ~before.true(rule.condition) & ~happened
