"""A condition that is looked for, read as if it were one of the spec's own conditions.

In: the text of a spec and an expression. Out: the spec, and the expression as a formula over it. The expression is laid
beside the conditions of the file before anything is built, so that names mean there what they mean in the file.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Sources, Span
from interlock.logic.formula import Formula
from interlock.logic.text import Text
from interlock.spec.build import build
from interlock.spec.model import Spec
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.read import read


def load_sought(
    source: bytes, file: str, condition: str, place: str
) -> tuple[Spec | None, Formula | None, Bag, Sources]:
    """The spec, the formula that `condition` says in it, the mistakes (then both are None), and the texts. `place`: the
    name under which places in the condition are told."""
    condition = " ".join(condition.splitlines())
    bag = Bag()
    root, text = read(source, file, bag)
    sources = Sources({file: text, place: condition})
    if root is None or not isinstance(root, Mapping):
        return None, None, bag, sources
    name = "sought"
    while name in text:
        name += "_"
    spec = build(_beside(root, name, condition, place), bag, file, sha256(source).hexdigest())
    if spec is None:
        return None, None, bag, sources
    formula = next(formula for id, formula, _ in spec.conditions if id == name)
    return replace(spec, conditions=tuple(one for one in spec.conditions if one[0] != name)), formula, bag, sources


def _beside(root: Mapping, name: str, condition: str, place: str) -> Mapping:
    span = Span(place, 1, 1, 1, len(condition) + 1)
    entry: tuple[Scalar, Node] = (Scalar(Text(name, span), False), Scalar(Text(condition, span), True))
    entries = list(root.entries)
    for i, (key, node) in enumerate(entries):
        if key.text == "conditions" and isinstance(node, Mapping):
            entries[i] = (key, replace(node, entries=(*node.entries, entry)))
            return replace(root, entries=tuple(entries))
    section = (Scalar(Text("conditions", span), False), Mapping((entry,), span))
    return replace(root, entries=(*entries, section))
