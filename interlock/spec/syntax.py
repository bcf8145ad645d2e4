"""Mistakes in the YAML itself, told in plain words with a likely cure."""

from __future__ import annotations

from typing import Any

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Span


def syntax_mistake(found: Any, lines: list[str], file: str, bag: Bag) -> None:
    """Tell what the YAML parser could not read, at the place where it gave up."""
    mark = getattr(found, "problem_mark", None) or getattr(found, "context_mark", None)
    problem = str(getattr(found, "problem", None) or "it cannot be read")
    line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
    bag.add("yaml-syntax", f"this is not valid YAML: {problem}", Span(file, line, column, line, column + 1), "here")
