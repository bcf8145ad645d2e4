"""Progress of long work, on a terminal only: one line, written over itself, and gone when the work is done."""

from __future__ import annotations

import time
from types import TracebackType

from interlock.cli.streams import complain, on_terminal
from interlock.engines.notices import NOTICES, nothing
from interlock.report.words import counted

AFTER_S = 0.5
EVERY_S = 0.2


class Progress:
    """A line of progress; use as a context."""

    def __init__(self, *, wanted: bool) -> None:
        self._wanted = wanted and on_terminal()
        self._begun_s = time.monotonic()
        self._next_s = self._begun_s + AFTER_S
        self._known = 0
        self._shown = False

    def __enter__(self) -> Progress:
        NOTICES.compiling = self._compiling
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        NOTICES.compiling = nothing
        if self._shown:
            complain("\r\x1b[K")

    def _compiling(self) -> None:
        """A kernel is compiled, which takes seconds and happens once."""
        if self._wanted:
            self._shown = True
            complain("\r\x1b[Kcompiling what explores large systems, once for this machine (up to a minute)")

    def __call__(self, situations: int, depth: int | None) -> None:
        """So many situations are known, at such a depth (None: in no order). Fewer than before: another exploration."""
        if not self._wanted:
            return
        now = time.monotonic()
        if situations < self._known:
            self._begun_s = now
        self._known = situations
        if now < self._next_s:
            return
        self._next_s = now + EVERY_S
        self._shown = True
        rate = int(situations / max(now - self._begun_s, EVERY_S))
        deep = "" if depth is None else f", {counted(depth, 'event')} deep"
        complain(f"\r\x1b[Kexploring: {counted(situations, 'situation')}, {rate:,} a second{deep}")
