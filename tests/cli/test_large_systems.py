"""What a command does on a system that is too large: it says so within its limit, shows progress, can be stopped."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import time
from pathlib import Path

import pytest

from interlock.engines.explicit import survey
from tests.cli.conftest import Typed, command, interruptible

ENOUGH_S = 240
"""A first compile is among it."""

VAST = """\
format: interlock/1
title: Forty keys that know nothing of each other
parts:
  key:
    equipment:
      key:
        states: [rest, turned]
        start: rest
        moves: {turns: {from: rest, to: turned}, back: {from: turned, to: rest}}
instances:
  keys: {part: key, count: 40}
rules:
  R1: {never: all keys key is turned}
"""
"""2 ** 40 situations, more than a million million; R1 is broken after 40 events, which no limit here comes to."""


@pytest.fixture
def vast(tmp_path: Path) -> Path:
    """The spec in a file."""
    file = tmp_path / "vast.yaml"
    file.write_text(VAST, encoding="utf-8")
    return file


def test_a_million_million_situations_end_undecided_within_the_limit(typed: Typed, vast: Path) -> None:
    done = typed("check", vast, "--engine", "explicit", "--limit", "500000", "--rule", "R1")
    assert done.code == 3
    said = " ".join(done.out.split())
    assert "R1: more than 500,000 situations (told apart by the failures spent) can be reached" in said


def test_where_not_all_orders_were_compared_what_was_explored_is_still_counted(
    typed: Typed, repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(survey, "MOST_COMPARED", 0)
    done = typed("check", repository / "tests" / "corpus" / "two_orders.yaml", "--engine", "explicit")
    said = " ".join(done.out.split())
    assert "engine `explicit`: 3 settled and 3 passing situations" in said
    assert "not counted" not in said
    assert "whether the order of logic decides where things settle, with 0 failures" in said
    assert "order-matters" not in said


def test_an_explicit_exploration_shows_its_progress_and_an_interrupt_ends_it_with_130_and_no_file(
    repository: Path, vast: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "results"
    folder.mkdir()
    ours, theirs = pty.openpty()
    words: list[str | Path] = [
        "check",
        vast,
        "--engine",
        "explicit",
        "--rule",
        "R1",
        "--output",
        f"json={folder / 'out.json'}",
    ]
    process = subprocess.Popen(
        command(words),
        cwd=repository,
        env={**os.environ, "TERM": "xterm"},
        stdout=subprocess.PIPE,
        stderr=theirs,
        preexec_fn=interruptible,
    )
    os.close(theirs)
    shown = b""
    until = time.monotonic() + ENOUGH_S
    try:
        while shown.count(b"exploring: ") < 2:
            assert time.monotonic() < until, shown
            assert process.poll() is None, shown
            if select.select([ours], [], [], 1)[0]:
                shown += os.read(ours, 65536)
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=ENOUGH_S)
        while select.select([ours], [], [], 1)[0]:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                break
            shown += piece
    finally:
        process.kill()
        process.wait()
        os.close(ours)
    assert (process.returncode, out) == (130, b"")
    assert re.search(rb"exploring: [\d,]+ situations?, [\d,]+ a second", shown), shown
    assert shown.replace(b"\r\n", b"\n").endswith(b"\ninterrupted; no file was left half written\n"), shown
    assert list(folder.iterdir()) == []
