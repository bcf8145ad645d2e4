"""Times and memory of a run, for `--statistics`: the only results that differ from run to run."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager

from interlock.core.dump import Json


class Stopwatch:
    """How long each stage took, in whole milliseconds."""

    def __init__(self) -> None:
        self._stages: list[tuple[str, int]] = []

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Measure what is done inside."""
        began = time.perf_counter()
        yield
        self._stages.append((name, round(1000 * (time.perf_counter() - began))))

    def told(self) -> dict[str, Json]:
        """The stages so far with their milliseconds, and the most memory used, in KiB, where the system tells."""
        stages: list[Json] = [{"stage": name, "milliseconds": took} for name, took in self._stages]
        return {"stages": stages, "peak_memory_kib": _peak_kib()}


def _peak_kib() -> int | None:
    try:
        import resource
        import sys
    except ImportError:
        return None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak // 1024 if sys.platform == "darwin" else peak
