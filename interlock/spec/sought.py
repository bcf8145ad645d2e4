"""A condition that is looked for, read as if it were one of the spec's own conditions.

In: the text of a spec and an expression. Out: the spec, and the expression as a formula over it. The expression is laid
beside the conditions of the file before anything is built, so that names mean there what they mean in the file.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.diag.diagnostic import Bag
from interlock.diag.place import Sources, Span
from interlock.logic.formula import Formula
from interlock.logic.text import Text
from interlock.spec.drafts import read_whole
from interlock.spec.files import Reader, nothing_beside
from interlock.spec.loading import built
from interlock.spec.model import Spec
from interlock.spec.nodes import Mapping, Node, Scalar


def load_sought(
    source: bytes, file: str, condition: str, place: str, reader: Reader = nothing_beside
) -> tuple[Spec | None, Formula | None, Bag, Sources]:
    """The spec, the formula that `condition` says in it, the mistakes (then both are None), and the texts. `place`: the
    name under which places in the condition are told. `reader`: reads what a draft is based on."""
    spec, formulas, bag, sources = load_conditions(source, file, ((place, condition),), reader)
    return spec, None if spec is None else formulas[0], bag, sources


def load_conditions(
    source: bytes, file: str, conditions: tuple[tuple[str, str], ...], reader: Reader = nothing_beside
) -> tuple[Spec | None, tuple[Formula, ...], Bag, Sources]:
    """As `load_sought`, for several conditions: each the name of its place and its text."""
    conditions = tuple((place, " ".join(text.splitlines())) for place, text in conditions)
    bag = Bag()
    whole = read_whole(source, file, reader, bag)
    sources = Sources({**whole.texts, **dict(conditions)})
    if not isinstance(whole.root, Mapping):
        return None, (), bag, sources
    name = "sought"
    while any(name in text for text in whole.texts.values()):
        name += "_"
    names = [f"{name}{i or ''}" for i in range(len(conditions))]
    root = whole.root
    for id, (place, text) in zip(names, conditions, strict=True):
        root = _beside(root, id, text, place)
    spec = built(whole, root, bag)
    if spec is None:
        return None, (), bag, sources
    formulas = {id: formula for id, formula, _ in spec.conditions if id in names}
    left = tuple(one for one in spec.conditions if one[0] not in names)
    return replace(spec, conditions=left), tuple(formulas[id] for id in names), bag, sources


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
