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


@dataclass(slots=True)
class _Unknown:
    headline: str
    places: list[Span]
    helps: tuple[str, ...]


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
    `item_nodes`: items as written. `memories`: by sequence. `n_formulas`, `n_tried`: work done, for the limits.
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
    item_nodes: dict[str, Node] = field(default_factory=dict)
    memories: dict[str, dict[str, Declared]] = field(default_factory=dict)
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
    ) -> None:
        """Note a name that nothing defines; told once at its first place, with the others beside it.

        `word`: what is the same in all places. `candidates`: names that could have been meant, with the place of their
        definition; the near one is told, or all if they are few. `helps`: the cures, where those are not wanted.
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
            entry = self.unknowns[kind, word] = _Unknown(headline, [], helps)
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
        keys = _keys(root) if structure and self.unknowns else frozenset()
        for (kind, word), entry in self.unknowns.items():
            if not keys.isdisjoint(word.split()[-1:]):
                continue
            first, *others = sorted(entry.places)
            also = tuple(Mark(span, "and here") for span in others[:9])
            words = "not a unit" if kind == "unknown-unit" else "not defined"
            Bag.add(self.bag, kind, entry.headline, first, words, *entry.helps, also=also)

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


def _keys(root: Node) -> frozenset[str]:
    """All keys in a tree."""
    found: set[str] = set()
    stack = [root]
    while stack:
        node = stack.pop()
        if isinstance(node, Mapping):
            found.update(key.text for key, _ in node.entries)
            stack.extend(value for _, value in node.entries)
        elif isinstance(node, Listing):
            stack.extend(node.items)
    return frozenset(found)


def nearby(declared: list[Declared], prefix: str) -> dict[str, Span | None]:
    """Declared things as candidates for a wrong name, by the words one would write in the scope of `prefix`."""
    found: dict[str, Span | None] = {}
    for one in declared:
        inside = prefix and one.id.startswith(prefix + " ")
        found.setdefault(one.id[len(prefix) + 1 :] if inside else one.id, one.span)
    return found
