"""What the stages of building share: the bag, the declared names, the mistakes about names collected until the end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from interlock.diag.diagnostic import Bag, Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.formula import Formula, Ref, Thing
from interlock.logic.parse import Start, parse
from interlock.logic.term import Term
from interlock.spec.model import Taken
from interlock.spec.nodes import Listing, Mapping, Node, Scalar
from interlock.spec.quantities import Quantity, Range
from interlock.spec.scopes import Declared, Names, Scope
from interlock.spec.uses import Use

MAX_MISTAKES = 200
"""After so many mistakes nobody reads on, and building stops."""

MAX_FORMULAS = 200_000
"""How many pieces all expressions together may have, with everything written out over the instances."""


class Enough(Exception):
    """There are so many mistakes that building stops. Never leaves `build`."""


@dataclass(slots=True)
class LimitedBag(Bag):
    """A bag that has enough after `MAX_MISTAKES`. It shares the list of another bag."""

    def add(
        self, kind: str, headline: str, at: Span | None, words: str = "", *helps: str, also: tuple[Mark, ...] = ()
    ) -> None:
        """As in `Bag`; `Enough` once it is full."""
        Bag.add(self, kind, headline, at, words, *helps, also=also)
        if len(self.found) >= MAX_MISTAKES:
            raise Enough


_USUAL: dict[str, tuple[str, ...]] = {
    "unknown-name": ("correct the name, or define it: under `conditions`, `readings` or where it belongs",),
    "unknown-command": ("let a step drive it, or correct the name",),
    "unknown-target": ("name an item, a reading, a link or a sequence, or `command NAME` for an output",),
    "unknown-item": ("correct the name, or add the item under `equipment`",),
    "unknown-parameter": ("correct the name, or add it under `parameters`",),
    "unknown-part": ("correct the name, or add the part under `parts`",),
    "unknown-group": ("correct the name, or add the instances under `instances`",),
    "unknown-instance": ("correct the name, or add the instances under `instances`",),
    "unknown-sequence": ("correct the name, or add the sequence under `logic`",),
    "unknown-memory": ("correct the name, or add it under `memory` of the sequence",),
    "unknown-change": ("name moves, trips, or timeouts as `STEP timeout`",),
    "unknown-failure": ("correct the name, or add the failure under `failures`",),
    "unknown-hazard": ("correct the name, or add the hazard under `hazards`",),
}
"""The cure where no other name is near."""


@dataclass(slots=True)
class _Unknown:
    headline: str
    places: list[Span]
    helps: tuple[str, ...]
    words: str
    also: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Footprint:
    """What a condition speaks of, those it names included: one example of each sort of thing, and of an event.

    `depth`: how many conditions are defined through one another in the longest chain below it, itself included.
    """

    things: dict[Thing, tuple[str, Span]]
    event: Span | None
    depth: int = 1


@dataclass(frozen=True, slots=True)
class SignalSource:
    """What a reading or link value shows, as written, and where to read it."""

    scalar: Scalar
    scope: Scope
    use: Use


@dataclass(slots=True)
class Book:
    """State of one build.

    `show`, `read_condition`: how a signal or condition is read, handed in so that looking up can do it on demand.
    `pending`: conditions as written; `conditions`, `footprints`: those resolved. `sources`: what signals show, as
    written; `shown`: those resolved so far (None: broken, or being resolved). `claims`: assumptions, hazards, rules.
    `item_nodes`: items as written. `memories`: by sequence. `taken`: what computed quantities were taken for.
    `origins`: by the place of a parameter's text, where its value comes from. `broken_parameters`: those that were told
    to have no value.
    `n_formulas`, `n_tried`: work done, for the limits.
    """

    bag: Bag
    root: Scope
    show: Callable[[Book, SignalSource], Formula | Ref | None]
    read_condition: Callable[[Book, Scalar, Scope], tuple[Formula, Footprint]]
    names: Names = field(default_factory=Names)
    unknowns: dict[tuple[str, str], _Unknown] = field(default_factory=dict)
    commands: dict[str, None] = field(default_factory=dict)
    parsed: dict[tuple[int, Start], tuple[Scalar, Term | None]] = field(default_factory=dict)
    pending: dict[str, tuple[Scalar, Scope]] = field(default_factory=dict)
    conditions: dict[str, Formula] = field(default_factory=dict)
    footprints: dict[str, Footprint] = field(default_factory=dict)
    opening: list[str] = field(default_factory=list)
    sources: dict[str, SignalSource] = field(default_factory=dict)
    followers: set[str] = field(default_factory=set)
    triggered: dict[str, Span] = field(default_factory=dict)
    claims: dict[str, tuple[str, Span]] = field(default_factory=dict)
    shown: dict[str, Formula | Ref | None] = field(default_factory=dict)
    opening_parameters: list[tuple[int, str]] = field(default_factory=list)
    parameter_values: dict[tuple[int, str], Quantity | Range | None] = field(default_factory=dict)
    circles: set[tuple[int, str]] = field(default_factory=set)
    broken_parameters: set[str] = field(default_factory=set)
    item_nodes: dict[str, Node] = field(default_factory=dict)
    memories: dict[str, dict[str, Declared]] = field(default_factory=dict)
    taken: list[Taken] = field(default_factory=list)
    origins: dict[Span, str] = field(default_factory=dict)
    n_formulas: int = 0
    n_tried: int = 0

    def unknown(
        self,
        kind: str,
        word: str,
        headline: str,
        at: Span,
        candidates: dict[str, Span | None] | None = None,
        helps: tuple[str, ...] = (),
        *,
        words: str = "not defined",
        also: tuple[Mark, ...] = (),
    ) -> None:
        """Note a name that nothing defines; told once at its first place, with the others beside it.

        `word`: what is the same in all places. `candidates`: names that could have been meant, with the place of their
        definition; the near one is told, or all if they are few. `helps`: the cures, where those are not wanted.
        `words`: at the first place. `also`: other places to show.
        """
        candidates = candidates or {}
        entry = self.unknowns.get((kind, word))
        if entry is None:
            guess = near(word, candidates)
            if guess is not None:
                place = candidates[guess]
                helps = (
                    (f"`{guess}` is defined at {place}; did you mean it?",)
                    if place is not None
                    else (f"did you mean `{guess}`?",)
                )
            elif len(candidates) in range(1, 9):
                helps = ("there is " + _listed(list(candidates)),)
            entry = self.unknowns[kind, word] = _Unknown(headline, [], helps or _USUAL.get(kind, ()), words, also)
        if at not in entry.places and len(entry.places) < MAX_MISTAKES:
            entry.places.append(at)
        if len(self.unknowns) >= MAX_MISTAKES:
            raise Enough

    def flush(self, root: Node) -> None:
        """Tell the unknown names.

        While the shape of the file is wrong, a name that some key of the file bears is taken to be defined in a piece
        that was not looked at, and not told.
        """
        structure = any(one.kind in _SHAPELESS for one in self.bag.found)
        keys, texts = _words_in(root) if structure and self.unknowns else (frozenset(), frozenset())
        for (kind, word), entry in _merged(self.unknowns).items():
            if word.split()[-1] in (texts if kind == "unknown-command" else keys):
                continue
            first, *others = sorted(entry.places)
            marks = (*entry.also, *(Mark(span, "and here") for span in others[:9]))
            Bag.add(self.bag, kind, entry.headline, first, entry.words, *entry.helps, also=marks)

    def term(self, scalar: Scalar, start: Start) -> Term | None:
        """The term of a scalar, parsed once however many instances read it."""
        key = (id(scalar), start)
        if key not in self.parsed:
            self.parsed[key] = (scalar, parse(scalar.written, start, self.bag))
        return self.parsed[key][1]


def _listed(words: list[str]) -> str:
    quoted = [f"`{word}`" for word in words]
    return quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + " and " + quoted[-1]


_SHAPELESS = frozenset({"unknown-key", "duplicate-key", "missing-key", "wrong-type", "bad-name", "duplicate-name"})


_NAMES = ("unknown-name", "unknown-target", "unknown-item", "unknown-sequence", "unknown-failure", "unknown-memory")


def _merged(unknowns: dict[tuple[str, str], _Unknown]) -> dict[tuple[str, str], _Unknown]:
    """The unknown names, each once whatever it was used for; `link value` is told with an unknown `link`."""
    first: dict[str, tuple[str, str]] = {}
    for kind, word in sorted(unknowns, key=lambda key: min(unknowns[key].places)):
        if kind in _NAMES:
            first.setdefault(word, (kind, word))
    merged: dict[tuple[str, str], _Unknown] = {}
    for (kind, word), entry in unknowns.items():
        words = word.split()
        parts = [" ".join(words[: i + 1]) for i in range(len(words))] + [" ".join(words[i:]) for i in range(len(words))]
        home = next((first[part] for part in parts if part in first), None) if kind in _NAMES else None
        if home is None or home == (kind, word):
            merged.setdefault((kind, word), entry)
        else:
            unknowns[home].places.extend(span for span in entry.places if span not in unknowns[home].places)
            unknowns[home].helps = unknowns[home].helps or entry.helps
    return merged


def _words_in(root: Node) -> tuple[frozenset[str], frozenset[str]]:
    """All keys in a tree, and all its texts."""
    keys: set[str] = set()
    texts: set[str] = set()
    stack = [root]
    while stack:
        node = stack.pop()
        if isinstance(node, Mapping):
            keys.update(key.text for key, _ in node.entries)
            stack.extend(value for _, value in node.entries)
        elif isinstance(node, Listing):
            stack.extend(node.items)
        else:
            texts.add(node.text)
    return frozenset(keys), frozenset(texts)


def nearby(declared: list[Declared], prefixes: tuple[str, ...]) -> dict[str, Span | None]:
    """Declared things as candidates for a wrong name, by the words one would write where `prefixes` are seen."""
    found: dict[str, Span | None] = {}
    for one in declared:
        inside = next((prefix for prefix in prefixes if prefix and one.id.startswith(prefix + " ")), "")
        name = one.id[len(inside) + 1 :] if inside else one.id
        found.setdefault(one.step or name, one.span)
    return found
