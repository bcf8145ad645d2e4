"""The commands by name, and which one the user asked for.

In: the words of the command line. Out: an exit code. Only the module of the command that was asked for is imported.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module

from interlock import __version__
from interlock.cli.arguments import Command, meant
from interlock.cli.faults import Codes, Refusal
from interlock.cli.streams import complain, show

COMMANDS = {
    "check": "interlock.cli.check",
    "find": "interlock.cli.find",
    "draw": "interlock.cli.draw",
    "timing": "interlock.cli.timing",
    "exercise": "interlock.cli.exercise",
    "explain": "interlock.cli.explain",
    "new": "interlock.cli.new",
    "schema": "interlock.cli.schema",
}

HELP = """\
Usage: interlock COMMAND ...

Exhaustive checks of the permissive chain of a station fast-charging
installation for battery trains. A spec says what equipment there is, what the
logic sees and does, what can fail, and what must never happen; interlock
explores every situation it allows, tells whether the rules hold and the
hazards stay out of reach, and if not, shows the shortest way to the breach.

Commands:
  check       judge every rule and hazard of a spec
  find        look for a way to a condition
  draw        draw the logic, the permissive chain, a scenario, situations
  timing      measure times, and how near they come to their limits
  exercise    walk the machines of a spec at random
  explain     tell what a mistake or finding means
  new         write a spec to start from
  schema      print the JSON Schema of a spec, of results, of a core

  interlock COMMAND --help tells more about each.

Options:
  -h, --help  print this text
  --version   print the version

Examples:
  interlock new station.yaml
  interlock check station.yaml
  interlock find station.yaml "rail is live and train is away"
  interlock draw station.yaml --output station.svg
  interlock explain unknown-name

Exit codes:
  0    everything asked was decided and holds
  1    a rule or hazard fails, or there is a finding of severity error
  2    the spec, an option or a file is wrong; nothing was decided
  3    something stayed undecided, or nothing was checked
  4    a fault of the program itself
  130  interrupted
"""


def run(words: Sequence[str]) -> int:
    """Do what the words ask and give the exit code. Refusal if they make no sense."""
    if not words:
        complain(HELP)
        return Codes.WRONG
    first, *rest = words
    if first in ("-h", "--help"):
        show(command_named(rest[0]).help if rest else HELP)
        return Codes.HOLDS
    if first == "--version":
        show(f"interlock {__version__}\n")
        return Codes.HOLDS
    command = command_named(first)
    if "-h" in rest or "--help" in rest:
        show(command.help)
        return Codes.HOLDS
    return command.run(rest)


def command_named(name: str) -> Command:
    """The command of that name; Refusal with the one that was most likely meant if there is none."""
    if name not in COMMANDS:
        sort = "option" if name.startswith("-") else "command"
        known = ["--help", "--version"] if sort == "option" else list(COMMANDS)
        raise Refusal(f"there is no {sort} `{name}`", meant(name, known) or f"the {sort}s are {', '.join(known)}")
    command: Command = import_module(COMMANDS[name]).COMMAND
    return command
