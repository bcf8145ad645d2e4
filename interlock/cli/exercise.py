"""`interlock exercise`: random runs of the executable machines against the rules."""

from __future__ import annotations

from typing import Annotated

import typer

from interlock.cli.arguments import Command, Failures, Quiet, SpecFile, StdinName, WhenColour, whole
from interlock.cli.faults import Codes
from interlock.cli.source import read_source
from interlock.cli.streams import Colour, show
from interlock.cli.work import look_of, read_spec

HELP = """\
Usage: interlock exercise SPEC [OPTIONS]

Walk the executable machines of a spec at random and watch for breaches. This
is a second road to a breach: the spec is interpreted directly, not through the
core that `check` explores. Walks are a sample and never show that a rule
holds. Exit code 1: a breach was found; 3: none was found.

SPEC is the file of a spec or draft; - is standard input.

Options:
  --runs N              how many walks (200)
  --length N            how many events a walk has at most (50)
  --seed N              the same seed gives the same walks (1)
  --failures N          failures in a walk at most (as many as the rules claim
                        to withstand)
  -q, --quiet           the verdict line only
  --colour auto|always|never
                        NO_COLOR and FORCE_COLOR are heeded (auto)
  --stdin-name NAME     the name of standard input in places (stdin)
  -h, --help            print this text

Examples:
  interlock exercise station.yaml
  interlock exercise station.yaml --runs 1000 --length 80 --seed 7
  interlock exercise station.yaml --failures 2
"""


def work(
    spec: SpecFile,
    runs: Annotated[int, typer.Option("--runs", parser=whole(1, 1_000_000))] = 200,
    length: Annotated[int, typer.Option("--length", parser=whole(1, 10_000))] = 50,
    seed: Annotated[int, typer.Option("--seed", parser=whole(0))] = 1,
    failures: Failures = None,
    quiet: Quiet = False,
    colour: WhenColour = Colour.AUTO,
    stdin_name: StdinName = "stdin",
) -> int:
    """Walk and report."""
    read, _ = read_spec(read_source(spec, stdin_name), colour)

    from interlock import pipeline

    done = pipeline.exercise(read, runs=runs, length=length, seed=seed, failures=failures)
    show(pipeline.exercise_report(done, read, look_of(colour), quiet=quiet))
    return Codes.FAILS if done.breaches else Codes.UNDECIDED


COMMAND = Command("exercise", HELP, work)
