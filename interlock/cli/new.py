"""`interlock new`: a spec to start from."""

from __future__ import annotations

import shlex
from importlib.resources import files
from pathlib import Path
from typing import Annotated

import typer

from interlock.cli.arguments import Command
from interlock.cli.faults import Codes, Refusal
from interlock.cli.streams import complain, refuse_unwritable, show, write_whole

HELP = """\
Usage: interlock new [FILE]

Write a small spec to start from, with a word about every part of it. FILE is
station.yaml if not given; - is standard output. A file that exists already is
never overwritten.

Options:
  -h, --help            print this text

Examples:
  interlock new
  interlock new quay.yaml
  interlock new -
"""


def work(file: Annotated[str, typer.Argument(metavar="FILE")] = "station.yaml") -> int:
    """Write the spec."""
    text = files("interlock.cli").joinpath("starter.yaml").read_text(encoding="utf-8")
    if file == "-":
        show(text)
        return Codes.HOLDS
    path = Path(file)
    if path.is_file() or path.is_symlink():
        raise Refusal(f"`{path}` exists already and is left as it is", "name a file that does not exist yet")
    refuse_unwritable(path)
    write_whole(path, text)
    complain(f"wrote {path}; next: interlock check {shlex.quote(str(path))}\n")
    return Codes.HOLDS


COMMAND = Command("new", HELP, work)
