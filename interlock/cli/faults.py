"""The exit codes, and what a command raises when it cannot go on."""

from __future__ import annotations

from enum import IntEnum


class Codes(IntEnum):
    """The exit codes; when several apply: 4, 2, 1, 3."""

    HOLDS = 0
    FAILS = 1
    WRONG = 2
    UNDECIDED = 3
    FAULT = 4
    INTERRUPTED = 130


PRECEDENCE = (Codes.INTERRUPTED, Codes.FAULT, Codes.WRONG, Codes.FAILS, Codes.UNDECIDED, Codes.HOLDS)


class Refusal(Exception):
    """The spec, an option or a file is wrong, in words, with cures: exit code 2."""

    def __init__(self, headline: str, *cures: str) -> None:
        super().__init__(headline)
        self.headline = headline
        self.cures = cures


class Reported(Exception):
    """As `Refusal`, but everything has been said already."""


def worst(*codes: int) -> int:
    """The one of several exit codes that counts."""
    return next(code for code in PRECEDENCE if code in codes)
