"""`interlock find`: is there a way to a condition?"""

from __future__ import annotations

from typing import Annotated

import typer

from interlock.cli.arguments import (
    LAST_HELP,
    LIMIT_HELP,
    Command,
    EngineName,
    Failures,
    Format,
    Limit,
    Output,
    Quiet,
    SpecFile,
    StdinName,
    WhenColour,
)
from interlock.cli.source import read_source
from interlock.cli.streams import Colour
from interlock.cli.targets import refuse_beneath, targets
from interlock.cli.work import beneath, look_of, read_spec

FORMATS = ("text", "json")

HELP = f"""\
Usage: interlock find SPEC CONDITION [OPTIONS]

Look for a way to a condition and tell the shortest one step by step. The
condition is written as in a spec; every name of the spec may stand in it.
Exit code 0: there is a way; 1: there is none; 3: not decided.

SPEC is the file of a spec or draft; - is standard input.

Options:
  --failures N          look without failures, then with 1, up to N (0)
{LIMIT_HELP}  --engine NAME         quick, explicit or reference (chosen by size)
  --format FORMAT       text or json, on standard output (text)
  --output FORMAT=FILE  a format to a file as well; repeatable
{LAST_HELP}
Examples:
  interlock find station.yaml "ground is charging"
  interlock find station.yaml "rail is live and train is away" --failures 2
  interlock find station.yaml "becomes(rail is live) and not was(shoe is down)"
"""


def work(
    spec: SpecFile,
    condition: Annotated[str, typer.Argument(metavar="CONDITION")],
    failures: Failures = 0,
    limit: Limit = None,
    engine: EngineName = None,
    format: Format = None,
    output: Output = None,
    quiet: Quiet = False,
    colour: WhenColour = Colour.AUTO,
    stdin_name: StdinName = "stdin",
) -> int:
    """Look for the condition and report."""
    places = targets(format, output or (), FORMATS, spec)
    source = read_source(spec, stdin_name)
    read, loaded = read_spec(source, colour, condition)
    assert loaded.sought is not None
    refuse_beneath([place.path for place in places if place.path is not None], beneath(source, read))

    from interlock import pipeline
    from interlock.analysis.options import Options
    from interlock.cli.progress import Progress
    from interlock.cli.searching import engine_named, limits, refusing_too_many_starts
    from interlock.report.as_text import Look

    with refusing_too_many_starts(), Progress(wanted=not quiet) as progress:
        options = Options(failures=failures, engine=engine_named(engine), limits=limits(limit, engine, progress))
        result = pipeline.find(read, loaded.sought, condition, options)
    for place in places:
        look = look_of(colour) if place.path is None else Look()
        place.write(pipeline.find_report(result, place.format, look, quiet=quiet))
    return result.exit_code


COMMAND = Command("find", HELP, work)
