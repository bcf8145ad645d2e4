"""`interlock exercise`: random runs of the executable machines against the rules."""

from __future__ import annotations

from argparse import Namespace

from interlock.cli.arguments import Arguments, Command, add_look, add_source, whole
from interlock.cli.faults import Codes
from interlock.cli.source import read_source
from interlock.cli.streams import show
from interlock.cli.work import look_of, read_spec

HELP = """\
Usage: interlock exercise SPEC [OPTIONS]

Walk the executable machines of a spec at random and watch for breaches. This
is a second road to a breach: the spec is interpreted directly, not through the
core that `check` explores. Walks are a sample and never show that a rule
holds. Exit code 1: a breach was found; 3: none was found.

SPEC is the file of the spec; - is standard input.

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


def declare(arguments: Arguments) -> None:
    """The options of the command."""
    add_source(arguments)
    arguments.option("--runs", default=200, type=whole(1, 1_000_000))
    arguments.option("--length", default=50, type=whole(1, 10_000))
    arguments.option("--seed", default=1, type=whole(0))
    arguments.option("--failures", type=whole(0, 20))
    add_look(arguments)


def work(asked: Namespace) -> int:
    """Walk and report."""
    spec, _ = read_spec(read_source(asked.spec, asked.stdin_name), asked.colour)

    from interlock import pipeline

    done = pipeline.exercise(spec, runs=asked.runs, length=asked.length, seed=asked.seed, failures=asked.failures)
    show(pipeline.exercise_report(done, spec, look_of(asked.colour), quiet=asked.quiet))
    return Codes.FAILS if done.breaches else Codes.UNDECIDED


COMMAND = Command("exercise", HELP, declare, work)
