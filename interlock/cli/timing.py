"""`interlock timing`: how long does it take, and does it keep to what is allowed?"""

from __future__ import annotations

from typing import Annotated

import typer

from interlock.cli.arguments import (
    LAST_HELP,
    Command,
    Failures,
    Format,
    Limit,
    Output,
    Quiet,
    SpecFile,
    StdinName,
    WhenColour,
)
from interlock.cli.faults import Refusal
from interlock.cli.source import read_source
from interlock.cli.streams import Colour
from interlock.cli.targets import refuse_beneath, targets
from interlock.cli.work import beneath, look_of, read_spec, refuse_unknown

FORMATS = ("text", "json")
FROM, TO = "--from", "--to"

HELP = f"""\
Usage: interlock timing SPEC [--from CONDITION --to CONDITION] [OPTIONS]

Measure times under the declared windows, exactly, in dense time.

With --from and --to: the earliest and the latest time from each moment at which
one condition comes to hold until the other one holds, with a run to each, or
that it may never come. Both are looked at in settled situations.
Without: how near every time limit of the spec (`within`, `lasts`, a hazard
`longer_than`) comes to being exceeded, and what is left of it; and its stop
budget: what an ordinary stop leaves for charging, and what that brings.
Exit code 0: all is known and kept; 1: a limit is exceeded, the stop budget is
not met, or what was asked for never comes; 3: not decided, or nothing to
measure.

SPEC is the file of a spec or draft; - is standard input.

Options:
  --from CONDITION      measure from here; written as in a spec
  --to CONDITION        measure to here
  --stop                only the stop budget
  --rule ID             only the limit of this rule or hazard; repeatable
  --failures N          with up to N failures (0); rules that do not claim to
                        withstand so many never change the exit code
  --limit N             stop after N situations, or zones of ages, and say
                        undecided (5,000,000 zones; situations that fit into
                        memory)
  --format FORMAT       text or json, on standard output (text)
  --output FORMAT=FILE  a format to a file as well; repeatable
{LAST_HELP}
Examples:
  interlock timing station.yaml
  interlock timing station.yaml --rule stop_cuts --failures 1
  interlock timing station.yaml --from "contact is none" --to "pole is open"
"""


def work(
    spec: SpecFile,
    begins: Annotated[str | None, typer.Option(FROM)] = None,
    ends: Annotated[str | None, typer.Option(TO)] = None,
    rule: Annotated[list[str] | None, typer.Option("--rule")] = None,
    stop: Annotated[bool, typer.Option("--stop")] = False,
    failures: Failures = 0,
    limit: Limit = None,
    format: Format = None,
    output: Output = None,
    quiet: Quiet = False,
    colour: WhenColour = Colour.AUTO,
    stdin_name: StdinName = "stdin",
) -> int:
    """Measure and report."""
    places = targets(format, output or (), FORMATS, spec)
    if (begins is None) != (ends is None):
        given, missing = (FROM, TO) if ends is None else (TO, FROM)
        raise Refusal(f"`{given}` without `{missing}`", f"write `{FROM} CONDITION {TO} CONDITION`")
    if begins is not None and rule:
        raise Refusal(f"`--rule` with `{FROM}` and `{TO}`", "write the one or the other")
    if stop and (begins is not None or rule):
        raise Refusal(f"`--stop` with `{FROM if rule is None else '--rule'}`", "write the one or the other")
    source = read_source(spec, stdin_name)
    conditions = () if begins is None or ends is None else ((FROM, begins), (TO, ends))
    read, loaded = read_spec(source, colour, more=conditions)
    refuse_beneath([place.path for place in places if place.path is not None], beneath(source, read))
    refuse_unknown(rule or [], read)
    if stop and read.stop_budget is None:
        raise Refusal("`--stop`: the spec has no `stop_budget`", "add one; specs/README.md shows how")

    from interlock import pipeline
    from interlock.analysis.options import Options
    from interlock.analysis.timing import Between, speaks_of_an_event
    from interlock.cli.progress import Progress
    from interlock.cli.searching import limits, refusing_too_many_starts
    from interlock.report.as_text import Look

    between = None
    if begins is not None and ends is not None and loaded.sought is not None:
        between = Between(loaded.sought, loaded.also_sought[0], begins, ends)
        for option, formula in ((FROM, between.begins), (TO, between.ends)):
            if speaks_of_an_event(read, formula):
                raise Refusal(
                    f"`{option}`: the condition speaks of an event (`was`, `becomes`); times are measured between "
                    "situations",
                    "write the condition that holds after the event",
                )
    with refusing_too_many_starts(), Progress(wanted=not quiet) as progress:
        options = Options(only=tuple(rule or ()), failures=failures, limits=limits(limit, None, progress))
        result = pipeline.timing(read, between, options, only_stop=stop)
    for place in places:
        look = look_of(colour) if place.path is None else Look()
        place.write(pipeline.timing_report(result, place.format, look, quiet=quiet))
    return result.exit_code


COMMAND = Command("timing", HELP, work)
