"""`interlock check`: is every rule kept, and every hazard out of reach?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

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
    one_of,
)
from interlock.cli.source import read_source
from interlock.cli.streams import Colour
from interlock.cli.targets import refuse_beneath, refuse_files, targets
from interlock.cli.work import beneath, look_of, read_spec, refuse_unknown

FORMATS = ("text", "json", "junit")

HELP = f"""\
Usage: interlock check SPEC [OPTIONS]

Judge every rule and hazard of a spec by exhaustive exploration. The first line
is the verdict: holds, fails or undecided. Each rule is judged without failures
and with as many as it claims to withstand; for one that fails, the shortest
way to the breach is told step by step.

SPEC is the file of a spec or draft; - is standard input.

What to judge:
  --rule ID             only this rule or hazard; repeatable
  --failures N          also with every number of failures up to N, to see what
                        lies beyond the claims; this never changes the verdict
  --timing any|declared|both
                        which readings of time to report (both)
  --margins             tell also how far each time that a verdict rests on may
                        move before the rule breaks

How to search:
{LIMIT_HELP}  --engine NAME         quick, explicit or reference (chosen by size)

What to print:
  --format FORMAT       text, json or junit, on standard output (text)
  --output FORMAT=FILE  a format to a file as well; repeatable
  --dump-system FILE    the core of the spec as JSON, for other programs
  --every-scenario      tell also how rules fail beyond what they claim
  --statistics          add times and memory, which differ from run to run
{LAST_HELP}
Examples:
  interlock check station.yaml
  interlock check station.yaml --rule R3 --rule H1
  interlock check station.yaml --failures 2
  interlock check station.yaml --output json=check.json --output junit=check.xml
  interlock check - --stdin-name draft.yaml < draft.yaml
"""


def work(
    spec: SpecFile,
    rule: Annotated[list[str] | None, typer.Option("--rule")] = None,
    failures: Failures = None,
    timing: Annotated[str, typer.Option("--timing", parser=one_of("any", "declared", "both"))] = "both",
    margins: Annotated[bool, typer.Option("--margins")] = False,
    limit: Limit = None,
    engine: EngineName = None,
    format: Format = None,
    output: Output = None,
    dump_system: Annotated[Any, typer.Option("--dump-system", parser=Path)] = None,
    every_scenario: Annotated[bool, typer.Option("--every-scenario")] = False,
    statistics: Annotated[bool, typer.Option("--statistics")] = False,
    quiet: Quiet = False,
    colour: WhenColour = Colour.AUTO,
    stdin_name: StdinName = "stdin",
) -> int:
    """Check a spec and report."""
    places = targets(format, output or (), FORMATS, spec)
    if dump_system is not None:
        others = [place.path for place in places if place.path is not None]
        refuse_files([dump_system, *others], spec)
    source = read_source(spec, stdin_name)

    from interlock import pipeline
    from interlock.cli.statistics import Stopwatch

    watch = Stopwatch()
    with watch.stage("read and build"):
        read, loaded = read_spec(source, colour)
    results = [place.path for place in places if place.path is not None]
    refuse_beneath([*results, *([] if dump_system is None else [dump_system])], beneath(source, read))
    refuse_unknown(rule or [], read)

    from interlock.analysis.options import Options
    from interlock.cli.progress import Progress
    from interlock.cli.searching import engine_named, limits, refusing_too_many_starts
    from interlock.cli.streams import write_whole
    from interlock.report.as_text import Look

    if dump_system is not None:
        with watch.stage("elaborate"), refusing_too_many_starts():
            write_whole(dump_system, pipeline.system_text(pipeline.elaborate(read)))
    with (
        watch.stage("answer and analyse"),
        refusing_too_many_starts(),
        Progress(wanted=not quiet) as progress,
    ):
        options = Options(
            only=tuple(rule or ()),
            failures=failures,
            any_timing=timing != "declared",
            declared_timing=timing != "any",
            engine=engine_named(engine),
            margins=margins,
            limits=limits(limit, engine, progress),
        )
        result = pipeline.check(read, options)
    told = watch.told() if statistics else None
    on_screen = look_of(colour, every_scenario=every_scenario)
    in_file = Look(every_scenario=every_scenario)
    for place in places:
        look = on_screen if place.path is None else in_file
        place.write(pipeline.check_report(result, loaded.sources, place.format, look, quiet=quiet, statistics=told))
    return result.exit_code


COMMAND = Command("check", HELP, work)
