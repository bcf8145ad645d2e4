"""`interlock explain`: what a kind of mistake or finding means."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from interlock.cli.arguments import Command, WhenColour, meant
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


def work(kind: Annotated[str, typer.Argument(metavar="KIND")] = "", colour: WhenColour = Colour.AUTO) -> int:
    """Explain one kind, or list them all."""
    from interlock.diag.registry import all_kinds
    from interlock.report.explain_text import render_kind, render_kinds

    kinds = all_kinds()
    look = look_of(colour)
    if not kind:
        show(render_kinds(kinds.values(), colour=look.colour, width=look.width))
        return Codes.HOLDS
    bracketed = re.fullmatch(r"(?:error|note)\[(.*)\]:?", kind)
    wanted = bracketed[1] if bracketed else kind
    if wanted not in kinds:
        raise Refusal(f"there is no kind `{wanted}`", meant(wanted, kinds) or "`interlock explain` lists all kinds")
    show(render_kind(kinds[wanted], colour=look.colour, width=look.width))
    return Codes.HOLDS


COMMAND = Command("explain", HELP, work)
