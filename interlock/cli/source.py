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
from interlock.spec.files import MOST_BYTES, Reader, Unread, beside, read_file


@dataclass(frozen=True, slots=True)
class Source:
    """The bytes of a spec. `name`: for places in results, never absolute; `typed`: for places in mistakes. `beside`:
    reads what a draft is based on."""

    data: bytes
    name: str
    typed: str
    beside: Reader


def read_source(typed: str, stdin_name: str) -> Source:
    """The spec that was named; `-` is standard input, taken to lie where its name says. Refusal with the reason if it
    cannot be read."""
    if typed == "-":
        source = Source(_from_stdin(), stdin_name, stdin_name, beside(os.path.dirname(stdin_name)))
    else:
        source = Source(_from_file(typed), shown_name(typed), typed, beside(os.path.dirname(typed)))
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
    found = read_file(typed)
    if isinstance(found, Unread):
        raise Refusal(f"cannot read `{typed}`: {found.reason}", *found.cures)
    return found
