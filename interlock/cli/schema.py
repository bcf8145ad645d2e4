"""`interlock schema`: the JSON Schemas of the spec and of what this program writes."""

from __future__ import annotations

from importlib.resources import files
from typing import Annotated

import typer

from interlock.cli.arguments import Command, meant
from interlock.cli.faults import Codes, Refusal
from interlock.cli.streams import show

FILES = {
    "spec": ("interlock.spec", "schema.json"),
    "check": ("interlock.report", "schema_check.json"),
    "timing": ("interlock.report", "schema_timing.json"),
    "system": ("interlock.core", "schema_system.json"),
}

HELP = """\
Usage: interlock schema [spec|check|timing|system]

Print a JSON Schema. Without a word it is that of the spec, for editors that
check YAML while one writes.

  spec                  the spec
  check                 the results of `interlock check` as JSON
  timing                the results of `interlock timing` as JSON
  system                the core of a spec, for programs that explore it

Options:
  -h, --help            print this text

Examples:
  interlock schema > interlock.schema.json
  interlock schema check
"""


def work(subject: Annotated[str, typer.Argument(metavar="SUBJECT")] = "spec") -> int:
    """Print the schema."""
    if subject not in FILES:
        cure = meant(subject, FILES) or f"the schemas are {', '.join(FILES)}"
        raise Refusal(f"there is no schema `{subject}`", cure)
    package, name = FILES[subject]
    show(files(package).joinpath(name).read_text(encoding="utf-8"))
    return Codes.HOLDS


COMMAND = Command("schema", HELP, work)
