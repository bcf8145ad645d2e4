"""The time that a user waits, as processor time of fresh processes whose modules were compiled before.

The budgets are those of an ordinary machine; a slower one gets more in proportion, measured by a loop of plain Python.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import SOUND, command

LOOP = "s = 0\nfor i in range(3_000_000): s += i"
LOOP_S = 0.3
"""What the loop takes, start of Python included, on an ordinary machine."""

TRIES = 3

resource = pytest.importorskip("resource", reason="this system does not tell the processor time of a process")


def spent_s(words: list[str], folder: Path, environment: dict[str, str]) -> float:
    """The least processor time that the command took in a few tries."""
    times: list[float] = []
    for _ in range(TRIES):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(words, cwd=folder, env=environment, capture_output=True, check=False, timeout=60)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


@pytest.mark.parametrize(
    ("words", "budget_s"),
    [
        (("--help",), 0.3),
        (("check", "--help"), 0.3),
        (("check", "mistaken.yaml"), 0.4),
        (("find", "mistaken.yaml", "lamp is lti"), 0.4),
        (("check", "teaching.yaml"), 0.6),
    ],
)
def test_an_answer_comes_within_its_budget(
    repository: Path, tmp_path: Path, words: tuple[str, ...], budget_s: float
) -> None:
    (tmp_path / "mistaken.yaml").write_text(SOUND.replace("to: turned}", "to: turnd}"), encoding="utf-8")
    (tmp_path / "teaching.yaml").write_bytes((repository / "specs/teaching.yaml").read_bytes())
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith(("COV_", "PYTHON"))},
        "PYTHONPATH": str(repository),
        "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled"),
    }
    slower = max(1.0, spent_s([sys.executable, "-c", LOOP], tmp_path, environment) / LOOP_S)
    assert spent_s(command(words), tmp_path, environment) < budget_s * slower
