"""A whole process for the benchmark: two berths by the explicit engine, loading nothing else."""

from __future__ import annotations

from interlock.core.question import Question
from interlock.engines.api import Limits
from interlock.engines.explicit.engine import ExplicitEngine
from tests.bench import two_berths


def explicit() -> None:
    """Ask, and hold the counts."""
    (answer,) = ExplicitEngine().answer(two_berths.berths(2), (Question("hazard"),), Limits())
    assert answer.counts is not None
    assert (answer.counts.settled, answer.counts.events) == (two_berths.SITUATIONS, two_berths.EVENTS)
