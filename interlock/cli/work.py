"""What commands have in common: a spec built from a source, its mistakes told, how a report is to look."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from interlock.cli.arguments import meant
from interlock.cli.faults import Refusal, Reported
from interlock.cli.source import Source
from interlock.cli.streams import Colour, coloured, columns, complain

if TYPE_CHECKING:
    from interlock.diag.diagnostic import Diagnostic
    from interlock.diag.place import Sources
    from interlock.pipeline import Loaded
    from interlock.report.as_text import Look
    from interlock.spec.model import Spec

CONDITION = "CONDITION"
"""What places in a condition on the command line are told under."""

MISTAKES_SHOWN = 50
"""No more mistakes than this are printed; the rest are counted."""


def read_spec(
    source: Source, colour: Colour, condition: str | None = None, more: tuple[tuple[str, str], ...] = ()
) -> tuple[Spec, Loaded]:
    """The spec of a source, with the condition that is looked for, if any, or several (each with the name of its
    place). If there are mistakes they are printed and `Reported` is raised."""
    conditions = more if condition is None else ((CONDITION, condition), *more)
    loaded = _loaded(source, source.name, conditions)
    if loaded.spec is not None:
        return loaded.spec, loaded
    if source.typed != source.name:
        loaded = _loaded(source, source.typed, conditions)  # places as typed, so that an editor can follow them
    _tell(loaded.mistakes, loaded.sources, colour)
    raise Reported


def beneath(source: Source, spec: Spec) -> list[Path]:
    """The files that a draft is based on, to be found from here."""
    folder, named = os.path.dirname(source.typed), os.path.dirname(source.name)
    return [Path(folder) / os.path.relpath(one.file, named or ".") for one in spec.based_on]


def _loaded(source: Source, name: str, conditions: tuple[tuple[str, str], ...]) -> Loaded:
    from interlock import pipeline

    if not conditions:
        return pipeline.load(source.data, name, source.beside)
    return pipeline.load_with_conditions(source.data, name, conditions, source.beside)


def _tell(mistakes: tuple[Diagnostic, ...], sources: Sources, colour: Colour) -> None:
    """Print mistakes on standard error, with their number at the end if there are several."""
    from interlock.diag.render import render

    shown = mistakes[:MISTAKES_SHOWN]
    complain(render(shown, sources, colour=coloured(colour, 2), width=columns(2, 120)))
    if len(mistakes) > 1:
        more = f", {len(mistakes) - len(shown)} of them not shown" if len(mistakes) > len(shown) else ""
        complain(f"\n{len(mistakes)} mistakes{more}; nothing was decided\n")


def refuse_unknown(ids: list[str], spec: Spec) -> None:
    """Refuse an id that no rule and no hazard has."""
    known = [*(one.id for one in spec.hazards), *(one.id for one in spec.rules)]
    for id in ids:
        if id not in known:
            raise Refusal(
                f"`--rule`: the spec has no rule and no hazard `{id}`",
                meant(id, known) or f"the spec has {', '.join(known) or 'none at all'}",
            )


def look_of(colour: Colour, *, every_scenario: bool = False) -> Look:
    """How a report on standard output is to look."""
    from interlock.report.as_text import Look

    return Look(coloured(colour, 1), max(columns(1, 80), 60), every_scenario)
