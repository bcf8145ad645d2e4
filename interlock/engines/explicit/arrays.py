"""What kernels read: the tables of a system, as arrays."""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

U64: TypeAlias = npt.NDArray[np.uint64]
I64: TypeAlias = npt.NDArray[np.int64]


class Tables(NamedTuple):
    """What kernels read. R rows (64 a word of the index), C codes.

    `allowed`: the bit sets of all chunks. `chunks`: by chunk its word, shift, mask, where its bit sets begin, words of
    each. `looked`: for each word of rows how many chunks to look at, and which. `valid`: for each word its rows in use.
    `sections`: first word of each section. `rows`: by row, see `parts.PLACES` and what follows it: places in a block
    where it holds, bits of the place that go on and off, change of the code, whether runs are cut, tiers and number of
    a probe. `after`: code by change and code. `spent`: by code. `lower_from`, `lower`: for each code, the codes with
    the same failures present and fewer happened. `masks`: of the code, of the flags, shift of the flags. `action`: by
    row; -1 for others.
    """

    allowed: U64
    chunks: I64
    looked: I64
    valid: U64
    sections: I64
    rows: U64
    after: I64
    spent: I64
    lower_from: I64
    lower: I64
    masks: U64
    action: I64
