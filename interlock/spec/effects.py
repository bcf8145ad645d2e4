"""What a failure does to its target: which effects fit which targets, and what each must say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.formula import Value
from interlock.spec.book import Book
from interlock.spec.fields import entries_of, fields, first_line, peek, text_of, texts_of, truth_of, wrong_type
from interlock.spec.model import Effect, EffectKind
from interlock.spec.moves import moves_of, tell_no_move
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.scopes import Declared, Scope
from interlock.spec.states import state_of
from interlock.spec.telling import command_id
from interlock.spec.units import TIME
from interlock.spec.windows import End, quantity_of


@dataclass(frozen=True, slots=True)
class Target:
    """What a failure is of; `declared` None: the output of a command."""

    declared: Declared | None
    id: str
    written: Scalar

    @property
    def sort(self) -> str:
        """What it is, in a word."""
        return "command" if self.declared is None else self.declared.sort.value


_FITS: dict[str, tuple[str, ...]] = {
    "item": ("stays", "stuck", "goes", "held", "ignores", "slow"),
    "reading": ("reads",),
    "link": ("messages",),
    "command": ("output",),
    "sequence": ("controller",),
}
_EXAMPLES = {
    "item": "`stays: closed`, `stuck: true`, `goes: open`, `ignores: COMMAND` or `slow: {MOVE: 10 s}`",
    "reading": "`reads: true`, `reads: frozen` or `reads: anything`",
    "link": "`messages: lost`, `frozen`, `repeated`, `wrong_partner` or `{late: 2 s}`",
    "command": "`output: driven` or `output: silent`",
    "sequence": "`controller: stops_holding`, `stops_dropping` or `restarts`",
}
_KEYS = tuple(key for keys in _FITS.values() for key in keys)


def effects_of(node: Node, at: Span, target: Target | None, what: str, scope: Scope, book: Book) -> tuple[Effect, ...]:
    """The effects that `effect` says, on the target; those that do not fit it are told."""
    bag = book.bag
    if not isinstance(node, Mapping):
        cure = f"for {_article(target.sort)}: {_EXAMPLES[target.sort]}" if target else "as in `{stays: closed}`"
        wrong_type(bag, node, f"`effect` of {what}", "a mapping of keys", cure)
        return ()
    written = {key.text: key for key, _ in node.entries}
    effects: list[Effect] = []
    for key, value in entries_of(bag, node, f"`effect` of {what}"):
        if key.text not in _KEYS:
            fitting = _FITS[target.sort] if target else _KEYS
            guess = near(key.text, [one for one in _KEYS if one not in written])
            bag.add(
                "unknown-key",
                f"`effect` of {what} has no key `{key.text}`",
                key.span,
                "not known here",
                f"did you mean `{guess}`?" if guess else "its keys: " + ", ".join(fitting),
            )
            continue
        if target is None:
            continue
        if key.text not in _FITS[target.sort]:
            bag.add(
                "effect-does-not-fit",
                f"`{key.text}` is not something that happens to {_article(target.sort)}",
                key.span,
                f"`{target.id}` is {_article(target.sort)}",
                f"for {_article(target.sort)}: {_EXAMPLES[target.sort]}",
                also=(Mark(target.written.span, f"{_article(target.sort)}"),),
            )
            continue
        if key.text == "held":
            if "goes" not in written:
                bag.add(
                    "effect-does-not-fit",
                    "`held` belongs beside `goes`",
                    key.span,
                    "no `goes` here",
                    "an item that keeps a state it has is said with `stays`",
                )
            continue
        effects += _EFFECTS[key.text](_Place(key, value, node, target, what, scope, book))
    if not node.entries:
        bag.add("missing-key", f"{what} has no effect", at, "empty", "say what it does")
    if "stays" in written and "goes" in written:
        bag.add(
            "effect-does-not-fit",
            "`stays` and `goes` do not go together",
            written["goes"].span,
            "beside `stays`",
            "to go to a state and stay there write `{goes: STATE, held: true}`",
        )
    return tuple(effects)


def _article(sort: str) -> str:
    return f"an {sort}" if sort == "item" else f"a {sort}"


@dataclass(frozen=True, slots=True)
class _Place:
    """One entry of `effect` and what is around it."""

    key: Scalar
    node: Node
    around: Mapping
    target: Target
    what: str
    scope: Scope
    book: Book

    def title(self) -> str:
        return f"`{self.key.text}` of {self.what}"

    def text(self) -> Scalar | None:
        return text_of(self.book.bag, self.node, self.title())

    def effect(self, kind: EffectKind, **more: object) -> list[Effect]:
        values: dict[str, object] = {
            "value": None, "held": False, "move": None, "command": None, "latest_s": None, **more
        }  # fmt: skip
        return [Effect(kind, self.target.id, **values)]  # type: ignore[arg-type]


def _stays(place: _Place) -> list[Effect]:
    value = state_of(place.text(), place.target.declared, place.book)
    return [] if value is None else place.effect(EffectKind.STAYS, value=value)


def _stuck(place: _Place) -> list[Effect]:
    if not truth_of(place.book.bag, place.node, place.title(), True):
        place.book.bag.add(
            "effect-does-not-fit",
            "`stuck: false` says nothing",
            first_line(place.node),
            "not stuck",
            "write `stuck: true`, or take it away",
        )
    return place.effect(EffectKind.STUCK)


def _goes(place: _Place) -> list[Effect]:
    value = state_of(place.text(), place.target.declared, place.book)
    held = truth_of(place.book.bag, peek(place.around, "held"), f"`held` of {place.what}", False)
    return [] if value is None else place.effect(EffectKind.GOES, value=value, held=held)


def _ignores(place: _Place) -> list[Effect]:
    found: list[Effect] = []
    for scalar in texts_of(place.book.bag, place.node, place.title()):
        words = scalar.text.split()
        name = " ".join(words[1:] if words[0] == "command" and len(words) > 1 else words)
        id = command_id(place.book, place.scope, name, scalar.span)
        if id is not None:
            found += place.effect(EffectKind.IGNORES, command=id)
    return found


def _slow(place: _Place) -> list[Effect]:
    declared = place.target.declared
    assert declared is not None
    moves = moves_of(declared, place.book)
    found: list[Effect] = []
    for key, node in entries_of(place.book.bag, place.node, place.title()):
        if key.text not in moves:
            tell_no_move(declared, key.text, moves, key.span, place.book)
            continue
        takes = peek(moves[key.text][0], "takes")
        if takes is None or (isinstance(takes, Scalar) and takes.text == "nothing"):
            place.book.bag.add(
                "effect-does-not-fit",
                f"move `{key.text}` of `{declared.id}` takes no stated time, so it cannot be slow",
                key.span,
                "no time to make longer",
                "give the move a window, as in `takes: 2 s .. 4 s`",
                also=(Mark(moves[key.text][1], "the move"),),
            )
            continue
        sound, latest_s = _latest(node, f"`slow` of {place.what}", place)
        if sound:
            found += place.effect(EffectKind.SLOW, move=key.text, latest_s=latest_s)
    return found


def _latest(node: Node, what: str, place: _Place) -> tuple[bool, Fraction | None]:
    if isinstance(node, Scalar) and node.text == "never":
        return True, None
    quantity = quantity_of(node, what, TIME, place.scope, place.book, End.UPPER)
    return quantity is not None, None if quantity is None else quantity[0]


def _reads(place: _Place) -> list[Effect]:
    scalar = place.text()
    if scalar is None:
        return []
    if scalar.text == "frozen":
        return place.effect(EffectKind.FROZEN)
    if scalar.text == "anything":
        return place.effect(EffectKind.ANYTHING)
    value: Value | None = state_of(scalar, place.target.declared, place.book)
    return [] if value is None else place.effect(EffectKind.READS, value=value)


def _messages(place: _Place) -> list[Effect]:
    if isinstance(place.node, Mapping):
        found = fields(place.book.bag, place.node, place.title(), place.key.span, required=("late",))
        if found is None or found["late"] is None:
            return []
        sound, latest_s = _latest(found["late"], f"`late` of {place.what}", place)
        return place.effect(EffectKind.LATE, latest_s=latest_s) if sound else []
    words = {
        "lost": EffectKind.LOST,
        "frozen": EffectKind.FROZEN,
        "repeated": EffectKind.ANYTHING,
        "wrong_partner": EffectKind.ANYTHING,
    }
    return _one_of(place, words)


def _output(place: _Place) -> list[Effect]:
    return _one_of(place, {"driven": EffectKind.DRIVEN, "silent": EffectKind.SILENT})


def _controller(place: _Place) -> list[Effect]:
    words = {kind.value: kind for kind in (EffectKind.STOPS_HOLDING, EffectKind.STOPS_DROPPING, EffectKind.RESTARTS)}
    return _one_of(place, words)


def _one_of(place: _Place, words: dict[str, EffectKind]) -> list[Effect]:
    scalar = place.text()
    if scalar is None:
        return []
    if scalar.text in words:
        return place.effect(words[scalar.text])
    guess = near(scalar.text, words)
    place.book.bag.add(
        "unknown-word",
        f"{place.title()} cannot be `{scalar.text}`",
        first_line(scalar),
        "not one of the words for it",
        f"did you mean `{guess}`?" if guess else "write " + " or ".join(f"`{word}`" for word in words),
    )
    return []


_EFFECTS: dict[str, Callable[[_Place], list[Effect]]] = {
    "stays": _stays,
    "stuck": _stuck,
    "goes": _goes,
    "ignores": _ignores,
    "slow": _slow,
    "reads": _reads,
    "messages": _messages,
    "output": _output,
    "controller": _controller,
}
