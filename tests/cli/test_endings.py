"""How commands end: specs that cannot be read, faults of the program, exit codes that take precedence."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import pytest

from interlock import __version__
from interlock.cli.ending import ending
from interlock.cli.faults import Codes, Refusal, worst
from interlock.engines.api import EngineFault
from tests.cli.conftest import Typed

# --- specs that cannot be read ---


def test_a_missing_file_is_told_with_the_one_that_was_meant(typed: Typed, sound: Path) -> None:
    done = typed("check", sound.with_name("suond.yaml"))
    assert (done.code, done.out) == (2, "")
    assert "there is no such file" in done.err
    assert f"`{sound}`?" in done.err


def test_an_ending_that_was_left_out_is_offered(typed: Typed, sound: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(sound.parent)
    assert "did you mean `sound.yaml`?" in typed("check", "sound").err


def test_a_missing_folder_is_told(typed: Typed) -> None:
    done = typed("check", "nowhere/sound.yaml")
    assert done.code == 2
    assert "there is no directory `nowhere`\n" in done.err


def test_a_folder_is_told_with_the_spec_in_it(typed: Typed, sound: Path) -> None:
    done = typed("check", sound.parent)
    assert done.code == 2
    assert "it is a directory" in " ".join(done.err.split())
    assert "sound.yaml" in done.err
    (sound.parent / "b.yaml").touch()
    assert "name the file of the spec in it" in typed("check", sound.parent).err


@pytest.mark.parametrize(
    "data", [b"", b"# nothing but a remark\n", b"\x00\x01\x02\xff" * 40, b"\xff\xfe", b"%PDF-1.4\n"]
)
def test_a_file_that_is_no_spec_gives_2_and_one_clear_word(typed: Typed, tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "odd.yaml"
    file.write_bytes(data)
    done = typed("check", file)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("error[")
    assert "internal-error" not in done.err
    assert "\x00" not in done.err


def test_a_file_without_end_is_not_read_to_its_end(typed: Typed) -> None:
    done = typed("check", "/dev/zero")
    assert done.code == 2
    assert "error[" in done.err


def test_a_file_that_may_not_be_read_is_told(typed: Typed, sound: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*words: object, **more: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    done = typed("check", sound)
    assert done.code == 2
    assert "permission denied" in done.err


def test_a_name_with_a_nul_is_refused(typed: Typed) -> None:
    done = typed("check", "a\x00b")
    assert done.code == 2
    assert "\x00" not in done.err


# --- faults of the program ---


@pytest.mark.parametrize(
    "fault", [ValueError("of\nours"), EngineFault("engines disagree"), RecursionError(), KeyError("x")]
)
def test_a_fault_of_the_program_gives_4_with_version_and_digest_and_no_traceback(
    typed: Typed, sound: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    def fail(*words: object) -> None:
        raise fault

    monkeypatch.setattr("interlock.pipeline.check", fail)
    done = typed("check", sound)
    assert (done.code, done.out) == (4, "")
    assert done.err.startswith("error[internal-error]: a fault of the program itself, not of the spec")
    assert f"  {type(fault).__name__}" in done.err
    assert f"interlock {__version__}, spec digest " in done.err
    assert "not known" not in done.err
    assert "Traceback" not in done.err
    assert str(Path.cwd()) not in done.err


def test_a_fault_can_be_traced_on_request(typed: Typed, sound: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*words: object) -> None:
        raise ValueError("of ours")

    monkeypatch.setattr("interlock.pipeline.check", fail)
    monkeypatch.setenv("INTERLOCK_TRACEBACK", "1")
    assert "Traceback" in typed("check", sound).err


def test_memory_that_runs_out_is_undecided(typed: Typed, sound: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*words: object) -> None:
        raise MemoryError

    monkeypatch.setattr("interlock.pipeline.check", fail)
    done = typed("check", sound)
    assert (done.code, done.out) == (3, "")
    assert done.err.startswith("error: memory ran out, so nothing was decided\n")
    assert "`--limit N`" in done.err


@pytest.mark.parametrize(
    ("stop", "code"),
    [
        (lambda: 0, 0),
        (lambda: 3, 3),
        (lambda: _raise(Refusal("wrong")), 2),
        (lambda: _raise(ValueError()), 4),
        (lambda: _raise(KeyboardInterrupt()), 130),
    ],
)
def test_every_way_to_end_has_its_code(stop: Callable[[], int], code: int) -> None:
    assert ending(stop) == code


def _raise(fault: BaseException) -> int:
    raise fault


def test_an_uncaught_exception_never_ends_in_1(typed_apart: Typed, repository: Path, tmp_path: Path) -> None:
    broken = tmp_path / "interlock"
    os.symlink(repository / "interlock", broken)
    done = typed_apart(
        "check", repository / "specs/teaching.yaml", env={"PYTHONPATH": f"{tmp_path}", "COLUMNS": "x", "TERM": ""}
    )
    assert done.code == 0


def test_of_several_codes_the_worst_counts() -> None:
    order = [Codes.INTERRUPTED, Codes.FAULT, Codes.WRONG, Codes.FAILS, Codes.UNDECIDED, Codes.HOLDS]
    assert all(worst(late, early) == early for early, late in combinations(order, 2))
