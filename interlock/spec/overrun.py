"""Memory set outside its domain: found by trying all values of the memories that a change reads.

Conservative on the side of acceptance: a permissive that speaks of other things too counts as possible whenever the
memories alone do not make it false.
"""

from __future__ import annotations

from interlock.spec.book import Book
from interlock.spec.model import Sequence


def check_overruns(sequence: Sequence, book: Book) -> None:
    """Tell every assignment that can leave the domain of its memory."""
