"""How engines are to search: which engine, which limits, and specs that are too large to begin with."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from interlock.cli.arguments import meant
from interlock.cli.faults import Refusal

if TYPE_CHECKING:
    from interlock.cli.progress import Progress
    from interlock.engines.api import Limits


def engine_named(name: str | None) -> str | None:
    """The engine's name if there is one of that name; Refusal else."""
    from interlock.engines.table import ENGINES

    if name is None or name in ENGINES:
        return name
    raise Refusal(
        f"`--engine`: there is no engine `{name}`",
        meant(name, ENGINES) or f"the engines are {', '.join(sorted(ENGINES))}",
    )


def limits(states: int | None, engine: str | None, progress: Progress) -> Limits:
    """The limits asked for, or the usual ones of an engine."""
    from interlock.engines.api import Limits
    from interlock.engines.table import usual_states

    return Limits(usual_states(engine) if states is None else states, progress)


@contextmanager
def refusing_too_many_starts() -> Iterator[None]:
    """Turns start states that multiply beyond measure into a mistake of the spec."""
    from interlock.core.elaborate import MAX_STARTS, TooManyStarts

    try:
        yield
    except TooManyStarts as found:
        raise Refusal(
            f"the start states of the equipment multiply to {found.args[0]:,} combinations, more than {MAX_STARTS:,}",
            "let fewer items start in any of several states, or in fewer of them",
        ) from None
