"""Streams, signals and files: pipes that close, terminals, disks that are full, files that are whole or not there."""

from __future__ import annotations

import io
import os
import re
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from interlock.cli import streams
from interlock.cli.faults import Refusal
from interlock.cli.progress import Progress
from interlock.cli.streams import Colour, coloured, columns, write_whole
from interlock.engines.notices import NOTICES
from tests.cli.conftest import Typed, command, interruptible

ENOUGH_S = 30


@pytest.fixture
def environment(repository: Path) -> dict[str, str]:
    """The environment of a process of its own."""
    return {**os.environ, "PYTHONPATH": str(repository), "TERM": "xterm"}


# --- pipes and devices ---


@pytest.mark.parametrize("words", [("check", "specs/teaching.yaml"), ("explain",), ("--help",), ("schema",)])
def test_a_reader_that_closes_early_changes_neither_the_exit_code_nor_standard_error(
    repository: Path, environment: dict[str, str], words: tuple[str, ...]
) -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        command(words), cwd=repository, env=environment, stdout=write, stderr=subprocess.PIPE, timeout=ENOUGH_S
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_a_disk_that_is_full_is_an_error_and_never_a_verdict(repository: Path, environment: dict[str, str]) -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            command(["check", "specs/teaching.yaml"]),
            cwd=repository,
            env=environment,
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=ENOUGH_S,
        )
    assert done.returncode == 2
    assert done.stderr == b"error: cannot write to standard output: no space left on device\n"


def test_closed_streams_leave_the_exit_code_as_it_is(repository: Path, environment: dict[str, str]) -> None:
    line = f"{' '.join(command(['check', 'specs/teaching.yaml']))} >&- 2>&-"
    done = subprocess.run(["sh", "-c", line], cwd=repository, env=environment, timeout=ENOUGH_S, check=False)
    assert done.returncode == 0


def test_a_result_can_go_to_a_device(typed: Typed, sound: Path) -> None:
    assert typed("check", sound, "--output", "json=/dev/null", "-q").code == 0


# --- interruption ---


def test_an_interrupt_ends_with_130_one_line_and_no_file(
    repository: Path, environment: dict[str, str], tmp_path: Path
) -> None:
    spec, folder = tmp_path / "large.yaml", tmp_path / "results"
    items = "".join(
        f"  key{i}: {{states: [a, b], start: a, moves: {{m: {{from: a, to: b}}, n: {{from: b, to: a}}}}}}\n"
        for i in range(30)
    )
    rules = f"rules:\n  R1: {{never: {' and '.join(f'key{i} is b' for i in range(30))}}}\n"
    spec.write_text(f"format: interlock/1\nequipment:\n{items}{rules}", encoding="utf-8")
    folder.mkdir()
    process = subprocess.Popen(
        command(["check", spec, "--limit", "1000000000", "--output", f"json={folder / 'out.json'}"]),
        cwd=repository,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=interruptible,
    )
    time.sleep(2)
    assert process.poll() is None, "the spec was checked too fast for this test"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=ENOUGH_S)
    assert (process.returncode, out) == (130, b"")
    assert err == b"\ninterrupted; no file was left half written\n"
    assert list(folder.iterdir()) == []


# --- terminals ---


def on_terminal(words: list[str], cwd: Path, environment: dict[str, str], columns: int = 80) -> str:
    """What a command prints on a terminal of so many columns, both streams together."""
    import fcntl
    import pty
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    process = subprocess.Popen(command(words), cwd=cwd, env=environment, stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    process.wait(timeout=ENOUGH_S)
    return shown.decode("utf-8").replace("\r\n", "\n")


@pytest.mark.parametrize(
    ("variables", "words", "painted"),
    [
        ({}, [], True),
        ({"NO_COLOR": "1"}, [], False),
        ({"NO_COLOR": ""}, [], True),
        ({"TERM": "dumb"}, [], False),
        ({"NO_COLOR": "1"}, ["--colour", "always"], True),
        ({"NO_COLOR": "1"}, ["--color", "always"], True),
        ({}, ["--colour", "never"], False),
        ({"NO_COLOR": "1", "FORCE_COLOR": "1"}, [], False),
    ],
)
def test_a_terminal_is_painted_unless_told_otherwise(
    repository: Path, environment: dict[str, str], variables: dict[str, str], words: list[str], painted: bool
) -> None:
    del environment["NO_COLOR"]
    shown = on_terminal(["explain", "unknown-name", *words], repository, {**environment, **variables})
    assert ("\x1b[" in shown) is painted


def test_colour_can_be_forced_where_there_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert coloured(Colour.AUTO, 1)
    assert not coloured(Colour.NEVER, 1)
    monkeypatch.setenv("FORCE_COLOR", "")
    assert not coloured(Colour.AUTO, -1)


def test_a_narrow_terminal_gets_narrow_lines(repository: Path, environment: dict[str, str]) -> None:
    environment["NO_COLOR"] = "1"
    shown = on_terminal(["check", "specs/teaching.yaml"], repository, environment, columns=64)
    assert max(map(len, shown.split("\n")[1:])) in range(50, 65)


def test_without_a_terminal_lines_are_for_80_columns() -> None:
    assert columns(-1, 120) == 80


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_one_line_that_is_gone_at_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = _Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr("interlock.cli.progress.on_terminal", lambda: True)
    moments = iter([0.0, 0.1, 1.0, 1.05, 2.0])
    monkeypatch.setattr("time.monotonic", lambda: next(moments))
    with Progress(wanted=True) as progress:
        for known in (1, 1000, 2000, 123456):
            progress(known, 7)
    assert shown.getvalue() == (
        "\r\x1b[Kexploring: 1,000 situations, 1,000 a second, 7 events deep"
        "\r\x1b[Kexploring: 123,456 situations, 61,728 a second, 7 events deep\r\x1b[K"
    )


def test_progress_of_what_goes_in_no_order_tells_no_depth_and_each_exploration_its_own_rate(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shown = _Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr("interlock.cli.progress.on_terminal", lambda: True)
    moments = iter([0.0, 1.0, 10.0, 11.0])
    monkeypatch.setattr("time.monotonic", lambda: next(moments))
    with Progress(wanted=True) as progress:
        for known in (1000, 10, 3000):
            progress(known, None)
    assert shown.getvalue().split("\r\x1b[K")[1:] == [
        "exploring: 1,000 situations, 1,000 a second",
        "exploring: 10 situations, 50 a second",
        "exploring: 3,000 situations, 3,000 a second",
        "",
    ]


def test_a_first_compile_says_what_it_does_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = _Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr("interlock.cli.progress.on_terminal", lambda: True)
    with Progress(wanted=True):
        NOTICES.compiling()
    assert "compiling what explores large systems, once for this machine" in shown.getvalue()
    NOTICES.compiling()
    assert shown.getvalue().count("compiling") == 1


def test_there_is_no_progress_where_there_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = io.StringIO()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr("interlock.cli.progress.on_terminal", lambda: False)
    monkeypatch.setattr("interlock.cli.progress.AFTER_S", -1.0)
    with Progress(wanted=True) as progress:
        progress(1000, 7)
    assert shown.getvalue() == ""


# --- files ---


def test_a_file_is_written_whole_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    write_whole(file, "één\n")
    assert file.read_bytes() == "één\n".encode()
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.txt"
    file.write_text("old", encoding="utf-8")

    def fail(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(Refusal, match="no space left on device"):
        write_whole(file, "new")
    assert file.read_text(encoding="utf-8") == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_an_interrupt_while_writing_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.txt"
    file.write_text("old", encoding="utf-8")

    def interrupt(descriptor: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_whole(file, "new")
    assert [(one.name, one.read_text(encoding="utf-8")) for one in tmp_path.iterdir()] == [("a.txt", "old")]


def test_a_link_stays_a_link_and_the_mode_of_a_file_is_kept(tmp_path: Path) -> None:
    file, link = tmp_path / "a.txt", tmp_path / "link.txt"
    file.write_text("old", encoding="utf-8")
    file.chmod(0o640)
    link.symlink_to(file)
    write_whole(link, "new")
    assert link.is_symlink()
    assert file.read_text(encoding="utf-8") == "new"
    assert stat.S_IMODE(file.stat().st_mode) == 0o640


def test_text_that_is_no_unicode_is_written_with_its_numbers(
    capsysbinary: pytest.CaptureFixture[bytes],
) -> None:
    streams.show("a\udcffb\n")
    assert capsysbinary.readouterr().out == b"a\\udcffb\n"


def test_output_is_utf_8_whatever_the_locale_says(typed_apart: Typed, tmp_path: Path) -> None:
    spec = tmp_path / "a.yaml"
    text = (
        "format: interlock/1\ntitle: Brücke\nequipment: {k: {states: [a, b], start: a}}\nrules: {R1: {never: k is b}}\n"
    )
    spec.write_text(text, encoding="utf-8")
    done = typed_apart("check", spec, env={"PYTHONIOENCODING": "ascii", "LC_ALL": "C"})
    assert re.search("^Checked        Brücke$", done.out, re.MULTILINE)
