"""Standard output and standard error, and files that are written whole or not at all.

In: text. Out: UTF-8 bytes with LF. A reader that closes its end early is no mistake; anything else that cannot be
written is.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from enum import StrEnum
from pathlib import Path

from interlock.cli.faults import Refusal


class Colour(StrEnum):
    """When to use colour."""

    AUTO = "auto"
    ALWAYS = "always"
    NEVER = "never"


def coloured(choice: Colour, descriptor: int) -> bool:
    """Whether to use colour on standard output (1) or error (2): as told, else as the environment says, else on a
    terminal."""
    if choice is not Colour.AUTO:
        return choice is Colour.ALWAYS
    if os.environ.get("NO_COLOR"):
        return False
    return bool(os.environ.get("FORCE_COLOR")) or (_terminal(descriptor) and os.environ.get("TERM") != "dumb")


def columns(descriptor: int, most: int) -> int:
    """The width to write for: that of the terminal, at most `most`; 80 where there is none."""
    if not _terminal(descriptor):
        return min(80, most)
    try:
        return min(os.get_terminal_size(descriptor).columns or 80, most)
    except OSError:
        return min(80, most)


def show(text: str | bytes) -> None:
    """Write a result to standard output."""
    try:
        _write(1, text)
    except BrokenPipeError:
        _forget(1)
    except OSError as found:
        _forget(1)
        raise Refusal(f"cannot write to standard output: {_reason(found)}") from None


def complain(text: str) -> None:
    """Write a diagnostic or progress to standard error; if that fails there is nobody to tell."""
    with contextlib.suppress(OSError):
        _write(2, text)


def shown_on_terminal() -> bool:
    """Whether standard output is a terminal, which can show no picture."""
    return _terminal(1)


def on_terminal() -> bool:
    """Whether standard error is a terminal, so that progress can be shown."""
    return _terminal(2) and os.environ.get("TERM") != "dumb"


def close() -> None:
    """Give up what is still held for streams that are closed, so that the interpreter ends in silence."""
    for descriptor, stream in ((1, sys.stdout), (2, sys.stderr)):
        try:
            if stream is not None:
                stream.flush()
        except (OSError, ValueError):
            _forget(descriptor)


def refuse_unwritable(path: Path) -> None:
    """Refuse a file that cannot be written, before any work is done for it."""
    if path.is_dir():
        raise Refusal(f"cannot write `{path}`: it is a directory", "name a file in it")
    folder = path.parent
    if not folder.is_dir():
        raise Refusal(f"cannot write `{path}`: there is no directory `{folder}`", "make the directory first")
    probe = path if path.exists() else folder
    if not os.access(probe, os.W_OK) or (_replaceable(path) and not os.access(folder, os.W_OK)):
        raise Refusal(f"cannot write `{path}`: permission denied")


def write_whole(path: Path, text: str | bytes) -> None:
    """Write a file whole or not at all: beside it, then renamed over it. A link stays a link, the mode is kept."""
    data = text if isinstance(text, bytes) else text.encode("utf-8")
    try:
        if not _replaceable(path):
            path.write_bytes(data)
            return
        _replace(path.resolve(), data)
    except OSError as found:
        raise Refusal(f"cannot write `{path}`: {_reason(found)}") from None


def _replace(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with beside.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            beside.chmod(stat.S_IMODE(path.stat().st_mode))
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def _replaceable(path: Path) -> bool:
    """Whether it is an ordinary file or not there yet; not a device or a pipe."""
    return path.is_file() or not path.exists()


def _write(descriptor: int, text: str | bytes) -> None:
    stream = sys.stdout if descriptor == 1 else sys.stderr
    if stream is None:
        return
    data = text if isinstance(text, bytes) else text.encode("utf-8", "backslashreplace")
    buffer = getattr(stream, "buffer", None)
    if buffer is None:
        stream.write(data.decode("utf-8", "replace"))
    else:
        stream.flush()
        buffer.write(data)
    stream.flush()


def _forget(descriptor: int) -> None:
    """Send what is still to be written nowhere."""
    with contextlib.suppress(OSError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, descriptor)
        os.close(nowhere)


def _terminal(descriptor: int) -> bool:
    try:
        return os.isatty(descriptor)
    except OSError:
        return False


def _reason(found: OSError) -> str:
    """Why, in words that begin in lower case."""
    words = found.strerror or type(found).__name__
    return words[:1].lower() + words[1:]
