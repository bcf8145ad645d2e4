"""`interlock explain`: what a kind of mistake or finding means."""

from __future__ import annotations

import re
from argparse import Namespace

from interlock.cli.arguments import Arguments, Command, colour, meant
from interlock.cli.faults import Codes, Refusal
from interlock.cli.streams import Colour, show
from interlock.cli.work import look_of

HELP = """\
Usage: interlock explain [KIND] [OPTIONS]

Tell what a kind of mistake or finding means, with an example of it and of its
cure. The kind stands in brackets in a message: `error[unknown-name]` is of kind
unknown-name. Without a kind, all are listed.

Options:
  --colour auto|always|never
                        NO_COLOR and FORCE_COLOR are heeded (auto)
  -h, --help            print this text

Examples:
  interlock explain
  interlock explain unknown-name
"""


def declare(arguments: Arguments) -> None:
    """The options of the command."""
    arguments.argument("KIND", default="")
    arguments.option("--colour", "--color", default=Colour.AUTO, type=colour)


def work(asked: Namespace) -> int:
    """Explain one kind, or list them all."""
    from interlock.diag.registry import all_kinds
    from interlock.report.explain_text import render_kind, render_kinds

    kinds = all_kinds()
    look = look_of(asked.colour)
    if not asked.kind:
        show(render_kinds(kinds.values(), colour=look.colour, width=look.width))
        return Codes.HOLDS
    bracketed = re.fullmatch(r"(?:error|note)\[(.*)\]:?", asked.kind)
    wanted = bracketed[1] if bracketed else asked.kind
    if wanted not in kinds:
        raise Refusal(f"there is no kind `{wanted}`", meant(wanted, kinds) or "`interlock explain` lists all kinds")
    show(render_kind(kinds[wanted], colour=look.colour, width=look.width))
    return Codes.HOLDS


COMMAND = Command("explain", HELP, declare, work)
