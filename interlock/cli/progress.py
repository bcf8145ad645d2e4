"""Progress of long work, on a terminal only: one line, written over itself, and gone when the work is done."""

from __future__ import annotations

import time
from types import TracebackType

from interlock.cli.streams import complain, on_terminal
from interlock.report.words import counted

AFTER_S = 0.5
EVERY_S = 0.2


class Progress:
    """A line of progress; use as a context."""

    def __init__(self, *, wanted: bool) -> None:
        self._wanted = wanted and on_terminal()
        self._next_s = time.monotonic() + AFTER_S
        self._shown = False

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        if self._shown:
            complain("\r\x1b[K")

    def __call__(self, situations: int, depth: int) -> None:
        """So many situations are known, at such a depth."""
        if not self._wanted or time.monotonic() < self._next_s:
            return
        self._next_s = time.monotonic() + EVERY_S
        self._shown = True
        reached = f"{counted(situations, 'situation')}, {counted(depth, 'event')} deep"
        complain(f"\r\x1b[Kexploring: {reached}")
