"""`interlock --help` and a mistake in a spec answer at once: the command line loads no slow library to do so."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SLOW = {"hypothesis", "networkx", "numba", "numpy", "scipy", "transitions"}
FOR_READING = {"lark", "yaml"}


def loaded(repository: Path, *arguments: str) -> tuple[int, set[str]]:
    """The exit code of `interlock ARGUMENTS`, and the libraries that it loaded on the way."""
    command = [sys.executable, "-X", "importtime", "-m", "interlock", *arguments]
    done = subprocess.run(command, cwd=repository, capture_output=True, text=True, check=False)
    times = [line for line in done.stderr.splitlines() if line.startswith("import time:")]
    return done.returncode, {line.rpartition("|")[2].strip().split(".")[0] for line in times}


@pytest.mark.parametrize("arguments", [["--help"], ["check", "--help"], ["explain", "--help"]], ids=" ".join)
def test_help_loads_no_library_that_reads_or_explores_specs(repository: Path, arguments: list[str]) -> None:
    code, libraries = loaded(repository, *arguments)
    assert code == 0
    assert "interlock" in libraries
    assert not libraries & (SLOW | FOR_READING)


def test_a_mistake_in_a_spec_loads_only_what_reads_specs(repository: Path, tmp_path: Path) -> None:
    spec = tmp_path / "mistaken.yaml"
    spec.write_text("format: interlock/1\ntitle: x\nconditions: {a: nothing_of_that_name}\n", encoding="utf-8")
    code, libraries = loaded(repository, "check", str(spec))
    assert code == 2
    assert "yaml" in libraries
    assert not libraries & SLOW


def test_importing_the_command_line_loads_no_slow_library(repository: Path) -> None:
    names = sorted(SLOW | FOR_READING)
    program = f"import sys; import interlock.cli; print(*[name for name in {names!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], cwd=repository, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
