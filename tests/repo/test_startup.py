"""`interlock --help` and a mistake in a spec answer at once: the command line loads no slow library to do so."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SLOW = ("hypothesis", "lark", "networkx", "numba", "numpy", "scipy", "transitions", "yaml")


def test_importing_the_command_line_loads_no_slow_library(repository: Path) -> None:
    if not (repository / "interlock/cli/__init__.py").exists():
        pytest.skip("there is no command line yet")
    program = f"import sys; import interlock.cli; print(*[name for name in {SLOW!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], cwd=repository, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
