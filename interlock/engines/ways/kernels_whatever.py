"""The kernel of the proof that a way leads on whatever the ages are. The same for every system."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from interlock.engines.explicit.compiling import compiled

if TYPE_CHECKING:
    from interlock.engines.explicit.arrays import I64

ON_WAY, NOW, WAITS, OBLIGED = 1, 2, 4, 8
"""What an action is on a way (bits): it may be on one; it may happen now; it never comes too late; it is obliged."""


@compiled
def leading_on(first: I64, to: Any, by: Any, is_a: Any, must: Any, good: Any) -> Any:
    """Puts a 1 where a way surely leads to what is good. One sweep, from the last situation to the first; gives how
    many are new. `is_a`: of each action; `must`: of each situation how many obliged events are enabled."""
    new = 0
    for here in range(good.shape[0] - 1, -1, -1):
        if good[here]:
            continue
        met = 0
        leads = False
        for way in range(first[here], first[here + 1]):
            one = is_a[by[way]]
            if one & ON_WAY == 0 or good[to[way]] == 0:
                continue
            if one & NOW:
                met = -1
                break
            if one & OBLIGED:
                met += 1
            if one & WAITS:
                leads = True
        if met < 0 or (must[here] == 0 and leads) or (must[here] > 0 and met == must[here]):
            good[here] = 1
            new += 1
    return new
