"""The tree of a YAML file as we keep it: mappings, lists and scalars, each with its place; every scalar stays text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from interlock.diag.place import Span
from interlock.logic.text import Text


@dataclass(frozen=True, slots=True)
class Scalar:
    """A text. `written` knows where each character stands. Not quoted and empty: nothing was written."""

    written: Text
    quoted: bool

    @property
    def text(self) -> str:
        """The text itself."""
        return self.written.text

    @property
    def span(self) -> Span:
        """Where it stands, quotes included."""
        return self.written.span

    @property
    def empty(self) -> bool:
        """Whether nothing was written, as in `key:`."""
        return not self.quoted and not self.text


@dataclass(frozen=True, slots=True)
class Listing:
    """A list of nodes."""

    items: tuple[Node, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys and what stands under them, in the order written; the same key may come twice."""

    entries: tuple[tuple[Scalar, Node], ...]
    span: Span


Node: TypeAlias = Scalar | Listing | Mapping
