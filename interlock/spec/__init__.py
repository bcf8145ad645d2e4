"""The document: read (YAML to nodes with positions), build (nodes to `Spec`), check (names, types, units, unused).

In: text. Out: a `Spec`, or every mistake in it. The readers are imported on use: `interlock.spec.model` stays light.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from interlock.diag.diagnostic import Bag
    from interlock.diag.place import Sources
    from interlock.spec.files import Reader
    from interlock.spec.model import Spec


def load_text(source: str | bytes, file: str, reader: Reader | None = None) -> tuple[Spec | None, Bag, Sources]:
    """The spec that a text says, the mistakes in it (then the spec is None), and the texts for showing their lines.
    `reader`: reads what a draft is based on."""
    from interlock.spec.loading import load_text

    return load_text(source, file) if reader is None else load_text(source, file, reader)


def load(path: str | Path) -> tuple[Spec | None, Bag, Sources]:
    """As `load_text`, from a file; OSError if it cannot be read."""
    from interlock.spec.loading import load

    return load(path)
