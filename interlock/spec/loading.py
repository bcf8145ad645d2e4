"""Loading a spec: bytes, text or a file, to a `Spec` or the mistakes in it."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Sources, Span
from interlock.spec.build import build
from interlock.spec.fields import first_line
from interlock.spec.model import Spec
from interlock.spec.read import read


def load_text(source: str | bytes, file: str) -> tuple[Spec | None, Bag, Sources]:
    """The spec that a text says, the mistakes in it (then the spec is None), and the text for showing its lines.

    `file`: the name under which places are told.
    """
    bag = Bag()
    root, text = read(source, file, bag)
    whole = source if isinstance(source, bytes) else source.encode("utf-8", "surrogatepass")
    spec = None if root is None else build(root, bag, file, sha256(whole).hexdigest())
    if spec is not None and not spec.rules and not spec.hazards:
        bag.add(
            "nothing-to-check",
            "the file has neither a rule nor a hazard, so there is nothing to check",
            Span(file, 1, 1, 1, 2) if root is None else first_line(root),
            "no `rules`, no `hazards`",
            "say what must never be: `rules: {R1: {never: rail is live and earth is earthed}}`",
        )
        spec = None
    return spec, bag, Sources({file: text})


def load(path: str | Path) -> tuple[Spec | None, Bag, Sources]:
    """As `load_text`, from a file; OSError if it cannot be read."""
    return load_text(Path(path).read_bytes(), str(path))
