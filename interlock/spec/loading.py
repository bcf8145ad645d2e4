"""Loading a spec or a draft: bytes, text or a file, to a `Spec` or the mistakes in it."""

from __future__ import annotations

from pathlib import Path

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Sources, Span
from interlock.spec.build import build
from interlock.spec.drafts import Whole, read_whole, tell_the_changes, with_expectations
from interlock.spec.fields import first_line
from interlock.spec.files import Reader, beside, nothing_beside
from interlock.spec.model import Spec
from interlock.spec.nodes import Node


def load_text(source: str | bytes, file: str, reader: Reader = nothing_beside) -> tuple[Spec | None, Bag, Sources]:
    """The spec that a text says, the mistakes in it (then the spec is None), and the texts for showing their lines.

    `file`: the name under which places are told. `reader`: reads what a draft is based on.
    """
    bag = Bag()
    whole = read_whole(source, file, reader, bag)
    spec = None if whole.root is None else built(whole, whole.root, bag)
    if spec is not None and not spec.rules and not spec.hazards:
        bag.add(
            "nothing-to-check",
            "the file has neither a rule nor a hazard, so there is nothing to check",
            Span(file, 1, 1, 1, 2) if whole.root is None else first_line(whole.root),
            "no `rules`, no `hazards`",
            "say what must never be: `rules: {R1: {never: rail is live and earth is earthed}}`",
        )
        spec = None
    return spec, bag, whole.sources


def built(whole: Whole, root: Node, bag: Bag) -> Spec | None:
    """The spec of a tree that was read, with what it is based on and expects; None if the bag holds a mistake."""
    spec = build(root, bag, whole.files[0].file, whole.digest)
    if spec is None:
        tell_the_changes(whole, bag)
        return None
    return with_expectations(spec, whole, bag)


def load(path: str | Path) -> tuple[Spec | None, Bag, Sources]:
    """As `load_text`, from a file, and what it is based on from its folder; OSError if the file cannot be read."""
    path = Path(path)
    return load_text(path.read_bytes(), str(path), beside(str(path.parent)))
