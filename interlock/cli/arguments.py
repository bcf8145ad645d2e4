"""Options and arguments of a command: what may be typed, what it comes to, and what is said when it makes no sense.

In: words of the command line. Out: values by name. The reading is argparse's, the words of every mistake are ours. The
help of a command is a text of its own, written to be read; a test holds it against the options that there are.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn

from interlock.cli.faults import Refusal
from interlock.cli.streams import Colour
from interlock.diag.near import near


@dataclass(frozen=True, slots=True)
class Command:
    """A command: its help, the options it declares, and its work, which gives the exit code."""

    name: str
    help: str
    declare: Callable[[Arguments], None]
    work: Callable[[argparse.Namespace], int]

    def run(self, words: Sequence[str]) -> int:
        """Read the words and do the work."""
        return self.work(self.arguments().read(words))

    def arguments(self) -> Arguments:
        """The options and arguments that may be typed."""
        arguments = Arguments(self.name)
        self.declare(arguments)
        return arguments


class Arguments:
    """The options and arguments of one command."""

    def __init__(self, command: str) -> None:
        self.command = command
        self._parser = _Parser(prog=f"interlock {command}", add_help=False, allow_abbrev=False)

    def argument(self, name: str, default: str | None = None) -> None:
        """An argument; one with a default may be left out."""
        if default is None:
            self._parser.add_argument(name.lower(), metavar=name)
        else:
            self._parser.add_argument(name.lower(), metavar=name, nargs="?", default=default)

    def option(self, *names: str, default: Any = None, type: Callable[[str], Any] = str, many: bool = False) -> None:
        """An option with a value; `many`: it may be repeated, and comes to a list."""
        if many:
            self._parser.add_argument(*names, action="append", default=[], type=type)
        else:
            self._parser.add_argument(*names, default=default, type=type)

    def flag(self, *names: str) -> None:
        """An option without a value."""
        self._parser.add_argument(*names, action="store_true")

    @property
    def options(self) -> list[str]:
        """All options, as typed."""
        return list(self._parser.declared)

    def read(self, words: Sequence[str]) -> argparse.Namespace:
        """The values of the words by name. Refusal if they make no sense."""
        values, rest = self._parser.parse_known_intermixed_args(list(words))
        for word in rest:
            if word.startswith("-") and word != "-":
                name = word.partition("=")[0]
                cure = meant(name, self.options) or f"`interlock {self.command} --help` lists the options"
                raise Refusal(f"`interlock {self.command}` has no option `{name}`", cure)
            cure = f"`interlock {self.command} --help` shows how it is used"
            if self.command == "find":
                cure = 'put quotes round the condition: "rail is live and train is away"'
            raise Refusal(f"`{word}` is one argument too many for `interlock {self.command}`", cure)
        return values


class _Parser(argparse.ArgumentParser):
    """argparse, with its mistakes in our words."""

    @property
    def declared(self) -> Iterable[str]:
        return self._option_string_actions

    def error(self, message: str) -> NoReturn:
        help = f"`{self.prog} --help` shows how it is used"
        missing = re.fullmatch(r"the following arguments are required: (.*)", message)
        if missing:
            raise Refusal(f"`{self.prog}` needs {' and '.join(missing[1].split(', '))}", help)
        about = re.fullmatch(r"argument (\S+): (.*)", message, re.DOTALL)
        if about is None:
            raise Refusal(f"`{self.prog}`: {message}", help)
        option = about[1].split("/")[-1]
        if about[2].startswith("expected "):
            raise Refusal(f"`{option}` needs a value", help)
        if about[2].startswith("ignored explicit argument"):
            raise Refusal(f"`{option}` takes no value", help)
        raise Refusal(f"`{option}`: {about[2]}", help)


def meant(word: str, known: Iterable[str]) -> str | None:
    """A cure that names the one word that was most likely meant: it begins so, or is very like it."""
    known = list(known)
    begins = [one for one in known if len(word) > 2 and one.startswith(word)]
    likely = begins[0] if len(begins) == 1 else near(word, known)
    return None if likely is None else f"did you mean `{likely}`?"


def whole(least: int, most: int | None = None) -> Callable[[str], int]:
    """Reads a whole number within bounds."""

    def read(text: str) -> int:
        bounds = f"from {least} to {most}" if most is not None else f"of at least {least}"
        plain = re.fullmatch(r"[0-9]{1,18}", text)
        number = int(text) if plain else -1
        if number < least or (most is not None and number > most):
            raise argparse.ArgumentTypeError(f"`{text}` is not a whole number {bounds}")
        return number

    return read


def one_of(*known: str) -> Callable[[str], str]:
    """Reads one of several words."""

    def read(text: str) -> str:
        if text in known:
            return text
        told = meant(text, known)
        raise argparse.ArgumentTypeError(f"there is no `{text}`; {told or 'it is one of ' + ', '.join(known)}")

    return read


def colour(text: str) -> Colour:
    """Reads when to use colour."""
    return Colour(one_of(*(choice.value for choice in Colour))(text))


# --- options that several commands share ---


def add_source(arguments: Arguments) -> None:
    """The spec, and its name where it is standard input."""
    arguments.argument("SPEC")
    arguments.option("--stdin-name", default="stdin")


def add_look(arguments: Arguments) -> None:
    """How the report looks."""
    arguments.option("--colour", "--color", default=Colour.AUTO, type=colour)
    arguments.flag("-q", "--quiet")


def add_search(arguments: Arguments) -> None:
    """How engines are to search."""
    arguments.option("--limit", type=whole(1))
    arguments.option("--engine")


def add_targets(arguments: Arguments) -> None:
    """Where results go."""
    arguments.option("--format")
    arguments.option("--output", many=True)
