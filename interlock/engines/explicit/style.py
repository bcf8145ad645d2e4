"""How situations are packed: in blocks of up to 64, whose variables are chosen by a sample, or one a block.

In: the pieces of some questions. Out: the ground to explore them on, or what an exploration on it gives: where blocks
turn out to be sparse, it is begun once more with other variables, chosen by what was explored till then.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from interlock.engines.api import Limits
from interlock.engines.explicit.choose import places_for
from interlock.engines.explicit.explore import Exploration, Sparse
from interlock.engines.explicit.prepare import Pieces, Prepared

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Style:
    """How situations are packed. `blocks`: up to 64 a block, of variables that are chosen by a sample of so many; else
    one a block. `least_words`: of a key."""

    blocks: bool
    sample: int
    least_words: int


def on_full_blocks(pieces: Pieces, style: Style, explored: Callable[[Prepared, tuple[str, ...], bool], T]) -> T:
    """What an exploration gives: a function of the ground, the variables that are the place in a block, and whether it
    may raise `Sparse`."""
    prepared, places = styled(pieces, style)
    try:
        return explored(prepared, places, style.blocks)
    except Sparse as told:
        return explored(pieces.prepared(told.places, style.least_words), told.places, False)


def styled(pieces: Pieces, style: Style) -> tuple[Prepared, tuple[str, ...]]:
    """The ground for some pieces, and the variables that are the place in a block."""
    prepared = pieces.prepared(least_words=style.least_words)
    places = _places(prepared, style) if style.blocks else ()
    return (pieces.prepared(places, style.least_words) if places else prepared), places


def _places(prepared: Prepared, style: Style) -> tuple[str, ...]:
    """The variables that are the place in a block; none for a system that is small."""
    exploration = Exploration(prepared.ground, prepared.meaning.budget, Limits())
    sample = exploration.sample([packed for packed, _, _ in prepared.starts], style.sample)
    return places_for(prepared.ground.layout, sample) if sample.shape[0] >= style.sample else ()
