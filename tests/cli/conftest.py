"""Commands as typed: in this process where that is enough, apart where streams, signals or time matter."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from interlock.cli.app import run
from interlock.cli.ending import ending

TINY = """\
format: interlock/1
title: A key and a lamp
equipment:
  key: {states: [rest, turned], start: rest, moves: {turns: {from: rest, to: turned}, back: {from: turned, to: rest}}}
  lamp: {states: [dark, lit], follows: key is turned}
hazards:
  H1: {words: the lamp is lit, happens: lamp is lit, severity: marginal}
rules:
  R1: {never: lamp is lit and key is rest, guards_against: [H1]}
  R2: {possible: lamp is lit}
"""
"""R1 and R2 hold; H1 is reached by turning the key."""

SOUND = TINY.replace("happens: lamp is lit,", "happens: lamp is lit and key is rest,")
"""All holds."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command printed and how it ended."""

    code: int
    out: str
    err: str


Typed = Callable[..., Outcome]


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    """No colour of the terminal that the tests happen to run on."""
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    monkeypatch.delenv("INTERLOCK_TRACEBACK", raising=False)


@pytest.fixture
def typed(capsysbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch) -> Typed:
    """Run a command in this process: `typed("check", file)`."""

    def run_it(*words: str | Path, stdin: bytes | None = None) -> Outcome:
        if stdin is not None:
            monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin)))
        code = ending(lambda: run([str(word) for word in words]))
        out, err = capsysbinary.readouterr()
        return Outcome(code, out.decode("utf-8"), err.decode("utf-8"))

    return run_it


@pytest.fixture
def typed_apart(repository: Path, tmp_path: Path) -> Typed:
    """Run a command in a process of its own, in an empty folder."""

    def run_it(*words: str | Path, env: Mapping[str, str] | None = None, cwd: Path | None = None) -> Outcome:
        done = subprocess.run(
            command(words),
            cwd=cwd or tmp_path,
            env={**os.environ, "PYTHONPATH": str(repository), **(env or {})},
            capture_output=True,
            check=False,
            timeout=60,
        )
        return Outcome(done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8"))

    return run_it


def command(words: Sequence[str | Path]) -> list[str]:
    """The command line of a process of its own."""
    return [sys.executable, "-m", "interlock", *map(str, words)]


def interruptible() -> None:
    """In a process about to begin: an interrupt is heeded, even if the tests run where it is not."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A spec in which everything holds."""
    file = tmp_path / "sound.yaml"
    file.write_text(SOUND, encoding="utf-8")
    return file


@pytest.fixture
def failing(tmp_path: Path) -> Path:
    """A spec whose hazard is reached."""
    file = tmp_path / "failing.yaml"
    file.write_text(TINY, encoding="utf-8")
    return file


@pytest.fixture
def wrong(tmp_path: Path) -> Path:
    """A spec with two mistakes."""
    file = tmp_path / "wrong.yaml"
    text = SOUND.replace("lamp is lit}", "lamp is lti}").replace("to: turned}", "to: turnd}")
    file.write_text(text, encoding="utf-8")
    return file
