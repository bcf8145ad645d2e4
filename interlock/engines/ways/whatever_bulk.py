"""The proof of `whatever.py` over all situations at once, as arrays.

In: a bulk of all situations that any timing reaches. Out: whether a way surely leads on from every one. Passing
situations are looked at one by one here: from each any event of a way may be next. Cost: the ways times the longest
shortest way; memory: some bytes a way.
"""

from __future__ import annotations

import numpy as np

from interlock.core.system import Property, System, Tier
from interlock.engines.timed.bulk import Bulk, Truth
from interlock.engines.ways.ages import NOT_ON_A_WAY
from interlock.engines.ways.whatever import holds_time_back, may_happen_now, never_too_late


def not_surely_good(system: System, rule: Property, bulk: Bulk) -> Truth:
    """The situations from which it is not known that a way leads on."""
    actions = system.actions
    on_way = np.array([a.cost == 0 and a.kind not in NOT_ON_A_WAY for a in actions], np.bool_)
    now = np.array([a.tier is not Tier.OTHER or may_happen_now(a) for a in actions], np.bool_)
    waits = np.array([a.tier is not Tier.OTHER or never_too_late(a) for a in actions], np.bool_)
    obliged = np.array([holds_time_back(a) for a in actions], np.bool_)
    must = np.zeros(bulk.tier.shape[0], np.int64)
    for action in actions:
        if holds_time_back(action):
            must += bulk.true(action.guard) & (bulk.tier == 2)
    settled = bulk.tier == 2
    good: Truth = bulk.true(rule.condition)
    if not rule.passing:
        good = good & settled
    n = good.shape[0]
    source = np.repeat(np.arange(n), np.diff(bulk.first))
    usable = on_way[bulk.by]
    while True:
        leads = usable & good[bulk.to] & ~good[source]
        by = bulk.by[leads]
        some_now = np.bincount(source[leads], weights=now[by], minlength=n) > 0
        some = np.bincount(source[leads], weights=waits[by], minlength=n) > 0
        met = np.bincount(source[leads], weights=obliged[by], minlength=n)
        # Nothing holds time back in a passing situation, since none passes there; every event of it may be next.
        more = some_now | (some & (must == 0)) | ((must > 0) & (met == must))
        if not (more & ~good).any():
            return ~good
        good = good | more
