"""`interlock find`: is there a way to a condition?"""

from __future__ import annotations

from argparse import Namespace

from interlock.cli.arguments import Arguments, Command, add_look, add_search, add_source, add_targets, whole
from interlock.cli.source import read_source
from interlock.cli.targets import targets
from interlock.cli.work import look_of, read_spec

FORMATS = ("text", "json")

HELP = """\
Usage: interlock find SPEC CONDITION [OPTIONS]

Look for a way to a condition and tell the shortest one step by step. The
condition is written as in a spec; every name of the spec may stand in it.
Exit code 0: there is a way; 1: there is none; 3: not decided.

SPEC is the file of the spec; - is standard input.

Options:
  --failures N          look without failures, then with 1, up to N (0)
  --limit N             stop after N situations and say undecided (2,000,000)
  --engine NAME         quick or reference (quick)
  --format FORMAT       text or json, on standard output (text)
  --output FORMAT=FILE  a format to a file as well; repeatable
  -q, --quiet           the verdict line only
  --colour auto|always|never
                        NO_COLOR and FORCE_COLOR are heeded (auto)
  --stdin-name NAME     the name of standard input in places (stdin)
  -h, --help            print this text

Examples:
  interlock find station.yaml "ground is charging"
  interlock find station.yaml "rail is live and train is away" --failures 2
  interlock find station.yaml "becomes(rail is live) and not was(shoe is down)"
"""


def declare(arguments: Arguments) -> None:
    """The options of the command."""
    add_source(arguments)
    arguments.argument("CONDITION")
    arguments.option("--failures", default=0, type=whole(0, 20))
    add_search(arguments)
    add_targets(arguments)
    add_look(arguments)


def work(asked: Namespace) -> int:
    """Look for the condition and report."""
    places = targets(asked.format, asked.output, FORMATS, asked.spec)
    source = read_source(asked.spec, asked.stdin_name)
    spec, loaded = read_spec(source, asked.colour, asked.condition)
    assert loaded.sought is not None

    from interlock import pipeline
    from interlock.analysis.options import Options
    from interlock.cli.progress import Progress
    from interlock.cli.searching import engine_named, limits, refusing_too_many_starts
    from interlock.report.as_text import Look

    with refusing_too_many_starts(), Progress(wanted=not asked.quiet) as progress:
        options = Options(
            failures=asked.failures, engine=engine_named(asked.engine), limits=limits(asked.limit, progress)
        )
        result = pipeline.find(spec, loaded.sought, asked.condition, options)
    for place in places:
        look = look_of(asked.colour) if place.path is None else Look()
        place.write(pipeline.find_report(result, place.format, look, quiet=asked.quiet))
    return result.exit_code


COMMAND = Command("find", HELP, declare, work)
