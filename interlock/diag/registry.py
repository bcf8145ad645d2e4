"""The registry of kinds: every kind of mistake and finding by its name.

In: the tables of kinds, one module a family. Out: the kinds by name, in alphabetical order. The tables are imported on
use, since a run without a mistake needs none of their texts.
"""

from __future__ import annotations

from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from interlock.diag.kind import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["Kind", "all_kinds", "kind", "merged"]


@cache
def all_kinds() -> Mapping[str, Kind]:
    """All kinds by name, in alphabetical order."""
    from interlock.diag import kinds_findings, kinds_spec

    return merged([kinds_spec.KINDS, kinds_findings.KINDS])


def kind(name: str) -> Kind:
    """The kind of that name; KeyError with the name if there is none."""
    return all_kinds()[name]


def merged(tables: Iterable[Iterable[Kind]]) -> Mapping[str, Kind]:
    """The kinds of all tables by name, in alphabetical order; ValueError if a name is given twice."""
    found: dict[str, Kind] = {}
    for table in tables:
        for entry in table:
            if entry.name in found:
                raise ValueError(f"kind `{entry.name}` is registered twice")
            found[entry.name] = entry
    return MappingProxyType(dict(sorted(found.items())))
