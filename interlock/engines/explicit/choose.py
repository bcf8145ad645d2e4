"""Which variables are the place in a block: six bits such that blocks are full.

In: a sample of situations, packed without places. Out: names of variables. The fill, situations a block, is measured on
the sample for one choice after the other, always adding the variable that fills blocks most for the bits it takes.

A block would be the situations that are alike but for the chosen variables. A sum over all variables of a random number
for each value stands for a situation; taking a variable's share away leaves the same sum for the same block, so that
blocks are counted by sorting numbers.
"""

from __future__ import annotations

from math import log2

import numpy as np

from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.layout import PLACE_BITS, Layout
from interlock.engines.explicit.tables import ONES

TRIED = 24
"""Variables that are tried together with others: the most filling ones by themselves."""


def places_for(layout: Layout, log: U64) -> tuple[str, ...]:
    """The variables to choose. `log`: situations, one a line. Cost: about 100 sorts of the sample."""
    shares: dict[str, U64] = {}
    widths: dict[str, int] = {}
    random = np.random.default_rng(1)
    flags = {variable.name for variable in layout.flags}
    keys = log[:, : layout.words].copy()
    for name, field in layout.fields.items():
        if name not in flags and field.width <= PLACE_BITS:
            value = (keys[:, field.word] >> np.uint64(field.shift)) & np.uint64((1 << field.width) - 1)
            shares[name] = random.integers(0, 1 << 63, 1 << field.width, np.uint64)[value.astype(np.int64)]
            widths[name] = field.width
            keys[:, field.word] &= np.uint64(ONES ^ field.mask)
    whole = np.zeros(keys.shape[0], np.uint64)
    for word in range(layout.words):
        whole += keys[:, word] * (random.integers(0, 1 << 63, dtype=np.uint64) | np.uint64(1))
    for share in shares.values():
        whole += share
    return _greedy(whole, shares, widths)


def _greedy(whole: U64, shares: dict[str, U64], widths: dict[str, int]) -> tuple[str, ...]:
    chosen: list[str] = []
    left = PLACE_BITS
    blocks = _distinct(whole)
    candidates = sorted(shares)
    while True:
        best, best_gain, best_blocks = None, 0.0, blocks
        gains = []
        for name in candidates:
            if widths[name] <= left:
                n = _distinct(whole - shares[name])
                gain = log2(blocks / n) / widths[name]
                gains.append((-gain, name))
                if best is None or gain > best_gain:
                    best, best_gain, best_blocks = name, gain, n
        if best is None or best_gain <= 0:
            return tuple(chosen)
        if not chosen:
            candidates = [name for _, name in sorted(gains)[:TRIED]]
        chosen.append(best)
        candidates.remove(best)
        left -= widths[best]
        whole = whole - shares[best]
        blocks = best_blocks


def _distinct(numbers: U64) -> int:
    ordered = np.sort(numbers)
    return 1 + int(np.count_nonzero(ordered[1:] != ordered[:-1]))
