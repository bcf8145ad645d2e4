"""Tables for the kernels: from rows and probes to arrays. Nothing in them is particular to a spec but their contents.

The index: for each chunk of the key and each of its values, which rows may be there, as a bit set. The rows whose guard
holds in a block are the intersection over all chunks. Rows stand in sections by tier and cost, each section begins
at a word of 64 rows, and of each word only the chunks are looked up that tell its rows apart.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from interlock.engines.explicit.arrays import U64, Tables
from interlock.engines.explicit.codes import Change
from interlock.engines.explicit.cubes import Cube
from interlock.engines.explicit.layout import Chunk, Layout
from interlock.engines.explicit.parts import (
    CHANGE,
    CUT_ANY,
    CUT_SETTLED,
    CUTS,
    KEEP,
    NUMBER,
    OFF,
    ON,
    ORDINARY,
    PLACES,
    PROBES,
    STARTS,
    TIERS,
)
from interlock.engines.explicit.rows import Probe, Row

ONES = (1 << 64) - 1
NO_CHANGE: Change = (0, 0, 0)

FEW = 2
"""Where no more rows of consequences and logic can follow an event at once, it is looked at once whether they do. Where
more can, there is mostly more than one outcome, and the look is lost (`tests/bench/explicit_report.py`)."""


class _Guarded(NamedTuple):
    codes: int
    cube: Cube
    row: Row | None
    probe: Probe | None


def tables_of(
    layout: Layout, rows: list[Row], probes: list[Probe], cut_any: list[Probe], cut_settled: list[Probe]
) -> Tables:
    """The tables. Cost: chunks times their values times words of rows."""
    sections: list[list[_Guarded]] = [[] for _ in range(PROBES + 1)]
    for row in rows:
        sections[2 * row.tier + row.costs].append(_Guarded(row.codes, row.cube, row, None))
    for place, pieces in ((CUT_ANY, cut_any), (CUT_SETTLED, cut_settled), (PROBES, probes)):
        sections[place] += [_Guarded(probe.codes, probe.cube, None, probe) for probe in pieces]
    chunk_of = {field.name: c for c, chunk in enumerate(layout.chunks) for field in chunk.fields}
    ordered: list[_Guarded | None] = []
    first = [0]
    inner_end = 0
    for number, section in enumerate(sections):
        section.sort(key=lambda one: sorted(chunk_of[name] for name in one.cube if name in chunk_of))
        inner = [number == ORDINARY and _stays_inside(layout, one) for one in section]
        for inside in (True, False):
            ordered += [one for one, stays in zip(section, inner, strict=True) if stays is inside]
            ordered += [None] * (-len(ordered) % 64)
            if inside and any(inner):
                inner_end = len(ordered) // 64
        first.append(len(ordered) // 64)
    n_words = max(first[-1], 1)
    first.append(inner_end)
    ordered += [None] * (n_words * 64 - len(ordered))

    allowed, base, looked_at = _index(layout, ordered, n_words)
    looked = np.zeros((n_words, len(layout.chunks) + 1), np.int64)
    for w, some in enumerate(looked_at):
        looked[w, 0] = len(some)
        looked[w, 1 : len(some) + 1] = some
    valid = [sum(1 << r for r in range(64) if ordered[64 * w + r] is not None) for w in range(n_words)]
    changes: dict[Change, int] = {NO_CHANGE: 0}
    written = [_row(layout, one, changes) for one in ordered]
    starting = _Starting(rows)
    for one, columns in zip(ordered, written, strict=True):
        if one is not None and one.row is not None:
            columns[STARTS] = int(starting.after(one.row))
    codes = layout.codes
    after = np.array([[codes.after(c, ch) for c in range(len(codes.sets))] for ch in changes], np.int64)
    lower = _lower(layout)
    lower_from = np.zeros(len(lower) + 1, np.int64)
    lower_from[1:] = np.cumsum([len(some) for some in lower])
    return Tables(
        allowed=allowed,
        chunks=np.array(
            [(c.word, c.shift, (1 << c.width) - 1, b, n_words) for c, b in zip(layout.chunks, base, strict=True)],
            np.int64,
        ),
        looked=looked,
        valid=np.array(valid, np.uint64),
        sections=np.array(first, np.int64),
        rows=np.array(written, np.uint64),
        after=after,
        spent=np.array(codes.spent, np.int64),
        lower_from=lower_from,
        lower=np.array([c for some in lower for c in some], np.int64),
        masks=np.array([(1 << layout.code_width) - 1, layout.flag_mask, layout.flag_shift], np.uint64),
        action=np.array([-1 if one is None or one.row is None else one.row.action for one in ordered], np.int64),
    )


def _stays_inside(layout: Layout, one: _Guarded) -> bool:
    """Whether the event of a row leads nowhere but within its block."""
    row = one.row
    return row is not None and not row.cut and row.change == NO_CHANGE and row.assigned.keys() <= layout.low.keys()


class _Starting:
    """By how many rows of consequences and logic the event of a row can be followed at once: those whose guard asks
    what the event makes true, and against the rest of which nothing speaks."""

    def __init__(self, rows: list[Row]) -> None:
        reacting = [row for row in rows if row.tier < 2 and not row.costs]
        self._all = (1 << len(reacting)) - 1
        self._asking: dict[str, int] = {}
        self._allowing: dict[tuple[str, int], int] = {}
        for i, row in enumerate(reacting):
            for name, values in row.cube.items():
                self._asking[name] = self._asking.get(name, 0) | 1 << i
                for value in range(values.bit_length()):
                    if values >> value & 1:
                        self._allowing[name, value] = self._allowing.get((name, value), 0) | 1 << i

    def after(self, row: Row) -> bool:
        """Whether there are some, and few. Before an event of tier 2 nothing was enabled that asks for nothing new."""
        touched = self._all if row.tier < 2 or row.change != NO_CHANGE else 0
        left = self._all
        for name, value in row.assigned.items():
            if name in self._asking:
                touched |= self._asking[name]
                left &= ~self._asking[name] | self._allowing.get((name, value), 0)
        for name, values in row.cube.items():
            if name in self._asking and name not in row.assigned:
                allowing = ~self._asking[name]
                for value in range(values.bit_length()):
                    if values >> value & 1:
                        allowing |= self._allowing.get((name, value), 0)
                left &= allowing
        return 0 < (touched & left).bit_count() <= FEW


def _row(layout: Layout, one: _Guarded | None, changes: dict[Change, int]) -> list[int]:
    """The columns of a row; a row out of use holds nowhere."""
    columns = [0] * (KEEP + 2 * layout.words)
    if one is None:
        return columns
    columns[PLACES] = _places(layout, one.cube)
    keep, put = [ONES] * layout.words, [0] * layout.words
    if one.probe is not None:
        columns[TIERS], columns[NUMBER] = one.probe.tiers, one.probe.number
    if one.row is not None:
        columns[CHANGE] = changes.setdefault(one.row.change, len(changes))
        columns[CUTS] = int(one.row.cut)
        keep, put, columns[ON], columns[OFF] = _assigned(layout, one.row.assigned)
    columns[KEEP::2], columns[KEEP + 1 :: 2] = keep, put
    return columns


def _index(layout: Layout, ordered: list[_Guarded | None], n_words: int) -> tuple[U64, list[int], list[list[int]]]:
    """The bit sets of all chunks in one array, where each chunk begins, the chunks to look at for each word."""
    literals: dict[str, list[tuple[int, int]]] = {}
    for r, one in enumerate(ordered):
        if one is not None:
            for name, values in one.cube.items():
                literals.setdefault(name, []).append((r, values))
    parts: list[U64] = []
    base: list[int] = []
    looked: list[list[int]] = [[] for _ in range(n_words)]
    size = 0
    for c, chunk in enumerate(layout.chunks):
        part = _by_code(layout, ordered) if c == 0 else _by_value(chunk, literals, n_words)
        base.append(size)
        size += part.size
        parts.append(part.reshape(-1))
        for w in np.flatnonzero((part != np.uint64(ONES)).any(axis=0)):
            looked[w].append(c)
    return np.concatenate(parts), base, looked


def _by_code(layout: Layout, ordered: list[_Guarded | None]) -> U64:
    """By code, the rows that may be there; rows out of use may."""
    n_codes = len(layout.codes.sets)
    allowed = np.ones((n_codes, len(ordered)), np.bool_)
    everything = layout.codes.everything
    for r, one in enumerate(ordered):
        if one is not None and one.codes != everything:
            allowed[:, r] = _bits(one.codes, n_codes)
    return _packed(allowed)


def _by_value(chunk: Chunk, literals: dict[str, list[tuple[int, int]]], n_words: int) -> U64:
    values = np.arange(1 << chunk.width)
    found = np.full((values.size, n_words), ONES, np.uint64)
    for field in chunk.fields:
        if field.name in literals:
            allowed = np.ones((1 << field.width, 64 * n_words), np.bool_)
            for r, among in literals[field.name]:
                allowed[:, r] = _bits(among, 1 << field.width)
            found &= _packed(allowed)[(values >> (field.shift - chunk.shift)) & ((1 << field.width) - 1)]
    return found


def _bits(number: int, n: int) -> npt.NDArray[np.uint8]:
    """The lowest bits of a number, however many."""
    raw = np.frombuffer(number.to_bytes((n + 7) // 8, "little"), np.uint8)
    return np.unpackbits(raw, bitorder="little")[:n]


def _packed(allowed: npt.NDArray[np.bool_]) -> U64:
    """Columns of truth values as bits of words."""
    return np.packbits(allowed, axis=1, bitorder="little").view("<u8").astype(np.uint64, copy=False)


def _places(layout: Layout, cube: Cube) -> int:
    """The places in a block at which a cube holds."""
    found = (1 << layout.places) - 1
    for name, values in cube.items():
        if name in layout.low:
            found &= layout.places_where(name, values)
    return found


def _assigned(layout: Layout, assigned: dict[str, int]) -> tuple[list[int], list[int], int, int]:
    """Words to keep and to put, place bits that go on and off."""
    keep, put = [ONES] * layout.words, [0] * layout.words
    on = off = 0
    for name, value in assigned.items():
        field = layout.fields.get(name)
        if field is not None:
            keep[field.word] &= ~field.mask
            put[field.word] |= value << field.shift
        elif name in layout.low:
            shift, width = layout.low[name]
            on |= value << shift
            off |= (((1 << width) - 1) & ~value) << shift
    return keep, put, on, off


def _lower(layout: Layout) -> list[list[int]]:
    codes = layout.codes
    by_set: dict[int, list[int]] = {}
    for code, chosen in enumerate(codes.sets):
        by_set.setdefault(chosen, []).append(code)
    return [
        [other for other in by_set[codes.sets[code]] if codes.spent[other] < codes.spent[code]]
        for code in range(len(codes.sets))
    ]
