"""Settings for all tests: random examples are the same in every run, so that a red test stays red."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "same every run",
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("same every run")


@pytest.fixture(scope="session")
def repository() -> Path:
    """The top folder of the repository."""
    return Path(__file__).resolve().parent.parent
