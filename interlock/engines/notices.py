"""What engines have to say while they are at work, for those who wait. Nothing is printed here.

Whoever talks to people sets `compiling`; the modules that compile call it, and nothing else has to know of either.
"""

from __future__ import annotations

from collections.abc import Callable


def nothing() -> None:
    """Says nothing."""


class Notices:
    """`compiling`: called before a kernel is compiled that was not found on disk."""

    compiling: Callable[[], None] = staticmethod(nothing)


NOTICES = Notices()
