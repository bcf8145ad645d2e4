"""Fixtures of the engine tests."""

from __future__ import annotations

import pytest

from interlock.engines.api import Engine
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.quick.engine import QuickEngine
from interlock.engines.reference.engine import ReferenceEngine
from interlock.engines.table import ENGINES


@pytest.fixture(params=sorted(ENGINES))
def engine(request: pytest.FixtureRequest) -> Engine:
    """Each engine, fresh."""
    fresh: dict[str, Engine] = {
        "explicit": ExplicitEngine(),
        "quick": QuickEngine(),
        "reference": ReferenceEngine(),
    }
    assert fresh.keys() == ENGINES.keys()
    return fresh[request.param]
