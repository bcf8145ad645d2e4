"""Settings for all tests: random examples are the same in every run, so that a red test stays red; long tests first."""

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


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long tests first, in two halves, each followed by half of the rest.

    Two processes begin with one half each and take over what the other has not come to (`--dist worksteal`), from its
    end: so both end with short tests, and neither waits long for the other. The last come first: then what needs most
    memory (Brackwater Quay with a failure) and compiles the kernels runs beside plain Python that needs neither.
    """
    long = [item for item in items if item.get_closest_marker("no_cover")][::-1]
    short = [item for item in items if not item.get_closest_marker("no_cover")]
    half = len(long) // 2
    rest = max(0, len(items) // 2 - half)
    items[:] = [*long[:half], *short[:rest], *long[half:], *short[rest:]]


@pytest.fixture(scope="session")
def repository() -> Path:
    """The top folder of the repository."""
    return Path(__file__).resolve().parent.parent
