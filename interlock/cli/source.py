"""The spec that a command is about: a file, or standard input.

In: the argument as typed. Out: its bytes, and the name that places in it are told under.
"""

from __future__ import annotations

import hashlib
import os
import sys
from dataclasses import dataclass
from pathlib import Path

from interlock.cli.ending import Reading
from interlock.cli.faults import Refusal

MOST_BYTES = (1 << 20) + 1
"""No more is ever read: one byte beyond what a spec may have is enough to refuse it."""


@dataclass(frozen=True, slots=True)
class Source:
    """The bytes of a spec. `name`: for places in results, never absolute; `typed`: for places in mistakes."""

    data: bytes
    name: str
    typed: str


def read_source(typed: str, stdin_name: str) -> Source:
    """The spec that was named; `-` is standard input. Refusal with the reason if it cannot be read."""
    if typed == "-":
        data = _from_stdin()
        source = Source(data, stdin_name, stdin_name)
    else:
        source = Source(_from_file(typed), shown_name(typed), typed)
    Reading.digest = hashlib.sha256(source.data).hexdigest()
    return source


def shown_name(typed: str) -> str:
    """The name of a file in results: as typed if that is relative, else relative to here, else its last part."""
    path = Path(typed)
    if not path.is_absolute():
        return path.as_posix()
    try:
        return path.relative_to(Path.cwd()).as_posix()
    except ValueError:
        return path.name


def _from_stdin() -> bytes:
    if sys.stdin is None:
        raise Refusal("cannot read standard input: it is closed", "name the file of the spec")
    if sys.stdin.isatty():
        sys.stderr.write("reading the spec from the terminal; end it with Ctrl-D on a line of its own\n")
    try:
        return sys.stdin.buffer.read(MOST_BYTES)
    except OSError as found:
        raise Refusal(f"cannot read standard input: {found.strerror}") from None


def _from_file(typed: str) -> bytes:
    try:
        with open(typed, "rb") as file:
            return file.read(MOST_BYTES)
    except FileNotFoundError:
        folder = os.path.dirname(typed)
        what = f"directory `{folder}`" if folder and not os.path.isdir(folder) else "such file"
        raise Refusal(f"cannot read `{typed}`: there is no {what}", *_meant(typed)) from None
    except IsADirectoryError:
        raise Refusal(f"cannot read `{typed}`: it is a directory", *_inside(typed)) from None
    except PermissionError:
        raise Refusal(f"cannot read `{typed}`: permission denied") from None
    except (OSError, ValueError) as found:
        reason = getattr(found, "strerror", None) or str(found)
        raise Refusal(f"cannot read `{typed}`: {reason[:1].lower()}{reason[1:]}") from None


def _meant(typed: str) -> tuple[str, ...]:
    """The one file that was most likely meant."""
    from interlock.diag.near import near

    folder, name = os.path.split(typed)
    try:
        known = sorted(os.listdir(folder or "."))
    except OSError:
        return ()
    for wanted in (name, f"{name}.yaml", f"{name}.yml"):
        if wanted in known:
            return (f"did you mean `{os.path.join(folder, wanted)}`?",)
    meant = near(name, known)
    return () if meant is None else (f"did you mean `{os.path.join(folder, meant)}`?",)


def _inside(folder: str) -> tuple[str, ...]:
    """The spec in a directory, if there is just one."""
    try:
        specs = sorted(name for name in os.listdir(folder) if name.endswith((".yaml", ".yml")))
    except OSError:
        return ()
    if len(specs) == 1:
        return (f"name the spec in it: `{os.path.join(folder, specs[0])}`",)
    return ("name the file of the spec in it",)
