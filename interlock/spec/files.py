"""Files of specs: the bytes of one, or in words why it cannot be read. Only here does anything below the command line
open a file.

In: a path. Out: bytes, one more than a spec may have at the most, or `Unread`.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

MOST_BYTES = (1 << 20) + 1
"""No more is ever read: one byte beyond what a spec may have is enough to refuse it."""


@dataclass(frozen=True, slots=True)
class Unread:
    """Why a file was not read, to be put after "cannot be read: ", and the cures."""

    reason: str
    cures: tuple[str, ...] = ()


Reader: TypeAlias = Callable[[str, str], "bytes | Unread"]
"""Reads a file beside a spec: by its path from the folder of that spec, and the path as written where it is named."""


def read_file(path: str, shown: str | None = None) -> bytes | Unread:
    """The bytes of a file, no more than `MOST_BYTES`. `shown`: the path as people wrote it, for the cures."""
    shown = path if shown is None else shown
    try:
        with open(path, "rb") as file:
            return file.read(MOST_BYTES)
    except FileNotFoundError:
        folder = os.path.dirname(path)
        missing = folder and not os.path.isdir(folder)
        what = f"directory `{os.path.dirname(shown)}`" if missing else "such file"
        return Unread(f"there is no {what}", _meant(path, shown))
    except IsADirectoryError:
        return Unread("it is a directory", _inside(path, shown))
    except PermissionError:
        return Unread("permission denied")
    except (OSError, ValueError) as found:
        reason = getattr(found, "strerror", None) or str(found)
        return Unread(f"{reason[:1].lower()}{reason[1:]}")


def beside(folder: str) -> Reader:
    """Reads ordinary files by their path from a folder. What is none (a pipe, a device) could hold the program up for
    ever, and a person did not type its name."""

    def read(path: str, shown: str) -> bytes | Unread:
        there = os.path.join(folder, path)
        try:
            mode = os.stat(there).st_mode
        except (OSError, ValueError):
            return read_file(there, shown)
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            return Unread("it is not an ordinary file", ("name the file of a spec",))
        return read_file(there, shown)

    return read


def nothing_beside(path: str, shown: str) -> bytes | Unread:
    """The reader of a spec that is known as text alone."""
    return Unread("this one is known as text alone, without a folder", ("keep it in a file",))


def _meant(path: str, shown: str) -> tuple[str, ...]:
    """The one file that was most likely meant."""
    from interlock.diag.near import near

    folder, name = os.path.split(path)
    try:
        known = sorted(os.listdir(folder or "."))
    except (OSError, ValueError):
        return ()
    likely = next((wanted for wanted in (name, f"{name}.yaml", f"{name}.yml") if wanted in known), near(name, known))
    return () if likely is None else (f"did you mean `{os.path.join(os.path.dirname(shown), likely)}`?",)


def _inside(folder: str, shown: str) -> tuple[str, ...]:
    """The spec in a directory, if there is just one."""
    try:
        specs = sorted(name for name in os.listdir(folder) if name.endswith((".yaml", ".yml")))
    except OSError:
        return ()
    if len(specs) == 1:
        return (f"name the spec in it: `{os.path.join(shown, specs[0])}`",)
    return ("name the file of the spec in it",)
