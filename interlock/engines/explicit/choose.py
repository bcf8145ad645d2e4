"""Which variables are the place in a block: six bits such that blocks are full.

In: blocks of a store, or situations, of a sample. Out: names of variables. The fill, situations a block, is measured on
the sample for one choice after the other, always adding the variable that fills blocks most for the bits it takes.

A block would be the situations that are alike but for the chosen variables. A sum over all variables of a random number
for each value stands for a situation; taking a variable's share away leaves the same sum for the same block, so that
blocks are counted by sorting numbers. Of a large sample only the blocks are counted whose sums are small: which these
are is settled by the sum, so that a block is counted or not with all its situations. Once the variables that are tried
are known, only situations are kept whose sum over all others is small, and the rest goes on with these. In the same way
only some codes of failures are looked at where there are many: a code is never part of the place.
"""

from __future__ import annotations

from math import log2

import numpy as np

from interlock.engines.explicit.arrays import I64, U64
from interlock.engines.explicit.layout import PLACE_BITS, Layout
from interlock.engines.explicit.tables import ONES

TRIED = 24
"""Variables that are tried together with others: the most filling ones by themselves."""

COUNTED = 100_000
"""About so many situations of a sample are sorted at a time."""


LOOKED_AT = 1_000_000
"""Codes of failures are added until there are so many situations."""


class _Sample:
    """The situations of some blocks as sums of random numbers, a share for each variable and value."""

    def __init__(self, layout: Layout, log: U64) -> None:
        random = np.random.default_rng(1)
        log = _of_some_codes(layout, log, random)
        bits = log[:, layout.words].copy().view(np.uint8).reshape(-1, 8)
        line, place = np.nonzero(np.unpackbits(bits, axis=1, bitorder="little"))
        flags = {variable.name for variable in layout.flags}
        self.widths = {
            **{name: f.width for name, f in layout.fields.items() if name not in flags and f.width <= PLACE_BITS},
            **{name: width for name, (_, width) in layout.low.items()},
        }
        self._line: I64 = line
        self._place: I64 = place
        self._layout = layout
        self._log = log
        self._numbers = {
            name: random.integers(0, 1 << 63, 1 << width, np.uint64) for name, width in sorted(self.widths.items())
        }
        rest = log[:, : layout.words].copy()
        for name in self.widths:
            field = layout.fields.get(name)
            if field is not None:
                rest[:, field.word] &= np.uint64(ONES ^ field.mask)
        ofblock = np.zeros(log.shape[0], np.uint64)
        for word in range(layout.words):
            ofblock += rest[:, word] * (random.integers(0, 1 << 63, dtype=np.uint64) | np.uint64(1))
        for name in self.widths:
            if name in layout.fields:
                ofblock += self._of_block(name)
        self.whole: U64 = ofblock[line]
        for name in layout.low:
            self.whole += self.share(name)

    def _of_block(self, name: str) -> U64:
        field = self._layout.fields[name]
        value = (self._log[:, field.word] >> np.uint64(field.shift)) & np.uint64((1 << field.width) - 1)
        found: U64 = self._numbers[name][value.astype(np.int64)]
        return found

    def share(self, name: str) -> U64:
        """The share of a variable in the sum of each situation."""
        found: U64
        if name in self._layout.fields:
            found = self._of_block(name)[self._line]
        else:
            shift, width = self._layout.low[name]
            found = self._numbers[name][(self._place >> shift) & ((1 << width) - 1)]
        return found


def _of_some_codes(layout: Layout, log: U64, random: np.random.Generator) -> U64:
    """The lines of a log with codes that are drawn until there are enough situations."""
    codes = (log[:, 0] & np.uint64((1 << layout.code_width) - 1)).astype(np.int64)
    situations = np.bitwise_count(log[:, layout.words])
    by_code = np.bincount(codes, situations, len(layout.codes.sets))
    drawn = random.permutation(by_code.size)
    enough = int(np.searchsorted(np.cumsum(by_code[drawn]), LOOKED_AT)) + 1
    taken = np.zeros(by_code.size, np.bool_)
    taken[drawn[:enough]] = True
    found: U64 = log[taken[codes]]
    return found


def places_for(layout: Layout, log: U64) -> tuple[str, ...]:
    """The variables to choose. `log`: blocks or situations, one a line. Cost: a pass for each variable, and about 100
    sorts of `COUNTED` numbers."""
    sample = _Sample(layout, log)
    blocks = _distinct(sample.whole)
    gains = sorted(
        (-log2(blocks / _distinct(sample.whole - sample.share(name))) / width, name)
        for name, width in sorted(sample.widths.items())
    )
    tried = [name for gain, name in gains[:TRIED] if gain < 0]
    others = sample.whole
    for name in tried:
        others = others - sample.share(name)
    kept = others <= _most(others.size)
    return _greedy(sample.whole[kept], {name: sample.share(name)[kept] for name in tried}, sample.widths)


def _greedy(whole: U64, shares: dict[str, U64], widths: dict[str, int]) -> tuple[str, ...]:
    chosen: list[str] = []
    left = PLACE_BITS
    blocks = _distinct(whole)
    while True:
        best, best_gain, best_blocks = None, 0.0, blocks
        for name in sorted(shares):
            if widths[name] <= left and name not in chosen:
                n = _distinct(whole - shares[name])
                gain = log2(blocks / n) / widths[name]
                if gain > best_gain:
                    best, best_gain, best_blocks = name, gain, n
        if best is None:
            return tuple(chosen)
        chosen.append(best)
        left -= widths[best]
        whole = whole - shares[best]
        blocks = best_blocks


def _most(size: int) -> np.uint64:
    """What sums are small: about `COUNTED` of so many."""
    return np.uint64(ONES if size <= COUNTED else (ONES // size) * COUNTED)


def _distinct(numbers: U64) -> int:
    """How many different numbers there are, at least 1; of many, only of the small ones."""
    ordered = np.sort(numbers[numbers <= _most(numbers.size)])
    return 1 + int(np.count_nonzero(ordered[1:] != ordered[:-1]))
