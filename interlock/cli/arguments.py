"""Options and arguments of a command: what may be typed, and what is said when it makes no sense.

In: words of the command line. Out: the values a command's function is called with. The reading is typer's, from the
signature of the function; the words of every mistake are ours. The help of a command is a text of its own, written to
be read; a test holds it against the options that there are.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, NoReturn

import click
import typer

from interlock.cli.faults import Refusal
from interlock.cli.streams import Colour
from interlock.diag.near import near


@dataclass(frozen=True, slots=True)
class Command:
    """A command: its help, and its work, a function whose signature says what may be typed and which gives the exit
    code."""

    name: str
    help: str
    work: Callable[..., int]

    def run(self, words: Sequence[str]) -> int:
        """Read the words and do the work. Refusal if they make no sense."""
        command = self._command()
        try:
            context = command.make_context(f"interlock {self.name}", list(words), allow_extra_args=True)
        except click.ClickException as found:
            self._refuse(found)
        with context:
            if context.args:
                self._refuse_extra(context.args[0])
            code: int = command.invoke(context)
        return code

    def options(self) -> list[str]:
        """All options, as typed."""
        return [name for param in self._command().params if isinstance(param, click.Option) for name in param.opts]

    def _command(self) -> click.Command:
        app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
        app.command(self.name, add_help_option=False)(self.work)
        return typer.main.get_command(app)

    def _refuse(self, found: click.ClickException) -> NoReturn:
        cure = f"`interlock {self.name} --help` shows how it is used"
        if isinstance(found, click.NoSuchOption):
            name = found.option_name
            raise Refusal(
                f"`interlock {self.name}` has no option `{name}`",
                meant(name, self.options()) or f"`interlock {self.name} --help` lists the options",
            ) from None
        if isinstance(found, click.MissingParameter):
            missing = [p.human_readable_name for p in self._command().params if p.required]
            given = found.ctx.params if found.ctx is not None else {}
            left = [name.upper() for name in missing if given.get(name.lower()) is None]
            raise Refusal(f"`interlock {self.name}` needs {' and '.join(left)}", cure) from None
        if isinstance(found, click.BadOptionUsage):
            without = "requires an argument" in found.message or "requires" in found.message
            what = "needs a value" if without else "takes no value"
            raise Refusal(f"`{found.option_name}` {what}", cure) from None
        if isinstance(found, click.BadParameter) and found.param is not None:
            raise Refusal(f"`{found.param.opts[0]}`: {found.message}", cure) from None
        raise Refusal(f"`interlock {self.name}`: {found.message}", cure) from None

    def _refuse_extra(self, word: str) -> NoReturn:
        cure = f"`interlock {self.name} --help` shows how it is used"
        if self.name == "find":
            cure = 'put quotes round the condition: "rail is live and train is away"'
        raise Refusal(f"`{word}` is one argument too many for `interlock {self.name}`", cure)


def meant(word: str, known: Iterable[str]) -> str | None:
    """A cure that names the one word that was most likely meant: it begins so, or is very like it."""
    known = list(known)
    begins = [one for one in known if len(word) > 2 and one.startswith(word)]
    likely = begins[0] if len(begins) == 1 else near(word, known)
    return None if likely is None else f"did you mean `{likely}`?"


def whole(least: int, most: int | None = None) -> Callable[[str | int], int]:
    """Reads a whole number within bounds; a number is one already (the defaults are)."""

    def read(text: str | int) -> int:
        if isinstance(text, int):
            return text
        bounds = f"from {least} to {most}" if most is not None else f"of at least {least}"
        plain = re.fullmatch(r"[0-9]{1,18}", text)
        number = int(text) if plain else -1
        if number < least or (most is not None and number > most):
            raise typer.BadParameter(f"`{text}` is not a whole number {bounds}")
        return number

    return read


def one_of(*known: str) -> Callable[[str], str]:
    """Reads one of several words."""

    def read(text: str) -> str:
        if text in known:
            return text
        told = meant(text, known)
        raise typer.BadParameter(f"there is no `{text}`; {told or 'it is one of ' + ', '.join(known)}")

    return read


def colour(text: str) -> Colour:
    """Reads when to use colour."""
    return Colour(one_of(*(choice.value for choice in Colour))(text))


# --- arguments and options that several commands share ---

SpecFile = Annotated[str, typer.Argument(metavar="SPEC")]
StdinName = Annotated[str, typer.Option("--stdin-name")]
WhenColour = Annotated[Colour, typer.Option("--colour", "--color", parser=colour)]
Quiet = Annotated[bool, typer.Option("-q", "--quiet")]
Limit = Annotated[Any, typer.Option("--limit", parser=whole(1))]
EngineName = Annotated[str | None, typer.Option("--engine")]
Format = Annotated[str | None, typer.Option("--format")]
Output = Annotated[list[str] | None, typer.Option("--output")]
Failures = Annotated[Any, typer.Option("--failures", parser=whole(0, 20))]

# --- what the help of several commands says alike ---

LIMIT_HELP = """\
  --limit N             stop after N situations and say undecided; not written:
                        as many as fit into memory (quick, reference: 2,000,000;
                        declared timing: 5,000,000 zones of ages, 120,000,000
                        situations)
"""
LAST_HELP = """\
  -q, --quiet           the verdict line only
  --colour auto|always|never
                        NO_COLOR and FORCE_COLOR are heeded (auto)
  --stdin-name NAME     the name of standard input in places (stdin)
  -h, --help            print this text
"""
