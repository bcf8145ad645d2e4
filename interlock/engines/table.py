"""The table of engines, by the names that people see, and which one to take."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from interlock.engines.api import Engine
from interlock.engines.by_size import BySize
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.reference.engine import ReferenceEngine

if TYPE_CHECKING:
    from interlock.engines.regions.engine import RegionsEngine
    from interlock.engines.timed.engine import ZonesEngine
    from interlock.engines.ways.engine import WaysEngine

ENGINES: dict[str, Engine] = {engine.name: engine for engine in (QuickEngine(), ExplicitEngine(), ReferenceEngine())}
"""Every engine by its name."""


BY_SIZE = BySize(ENGINES["quick"], ENGINES["explicit"])
"""What is taken where nobody names an engine."""


@cache
def zones() -> ZonesEngine:
    """Zones, loaded on use."""
    from interlock.engines.timed.engine import ZonesEngine

    return ZonesEngine()


def in_time() -> Engine:
    """The engine of declared timing. It is not among `ENGINES`, which are for any timing."""
    return zones()


@cache
def ways() -> WaysEngine:
    """Declared timing of `always_possible`, loaded on use."""
    from interlock.engines.ways.engine import WaysEngine

    return WaysEngine()


@cache
def regions() -> RegionsEngine:
    """Declared timing by regions, loaded on use."""
    from interlock.engines.regions.engine import RegionsEngine

    return RegionsEngine()


@cache
def in_time_on_graphs() -> tuple[Engine, ...]:
    """The engines of declared timing for `always_possible` and `always_ends`, the one to ask first first."""
    from interlock.engines.ticks.engine import TicksEngine

    return ways(), TicksEngine(), regions()


SOME, MANY = 2_000_000, 2_000_000_000


def pick(name: str | None) -> Engine:
    """The engine of that name, or the choice by size."""
    return BY_SIZE if name is None else ENGINES[name]


def usual_states(name: str | None) -> int:
    """How many situations an engine may reach where nobody says. Those in plain Python are held to what fits into any
    memory; the explicit one knows when memory comes to an end."""
    return SOME if name in ("quick", "reference") else MANY
