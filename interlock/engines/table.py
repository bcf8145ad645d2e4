"""The table of engines, by the names that people see, and which one to take."""

from __future__ import annotations

from interlock.core.system import System
from interlock.engines.api import Engine, Limits
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.reference.engine import ReferenceEngine

ENGINES: dict[str, Engine] = {engine.name: engine for engine in (QuickEngine(), ExplicitEngine(), ReferenceEngine())}
"""Every engine by its name; the one that is taken by itself first."""


def pick(system: System, limits: Limits) -> Engine:
    """The engine for a system. The quick one is ahead of the reference on every size."""
    return ENGINES["quick"]
