"""Telling that a name, a state or a command is not there, with the likeliest cure."""

from __future__ import annotations

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.logic.formula import Value
from interlock.logic.term import Name
from interlock.spec.book import Book, nearby
from interlock.spec.domains import boolean, show_value, whole
from interlock.spec.scopes import Declared, Scope, Sort


def tell_unknown(book: Book, prefixes: tuple[str, ...], name: Name) -> None:
    """Tell that nothing is called so; that it is a command or a state, if it is one."""
    word, names = str(name), book.names
    if any((f"{prefix} {word}" if prefix else word) in names.driven for prefix in prefixes):
        told = f"nothing is called `{word}`; it is a command"
        book.unknown("unknown-name", word, told, name.span, helps=(f"write `command {word}`",))
        return
    everything = [one for entries in names.declared.values() for one in entries]
    owners = [one.id for one in everything if one.sort in (Sort.ITEM, Sort.MEMORY) and word in (one.values or ())]
    if len(owners) == 1:
        told = f"nothing is called `{word}`; it is a state of `{owners[0]}`"
        book.unknown("unknown-name", word, told, name.span, helps=(f"write `{owners[0]} is {word}`",))
        return
    few = _few(word, nearby(everything, prefixes))
    book.unknown("unknown-name", word, f"nothing is called `{word}`", name.span, few)


def _few(word: str, candidates: dict[str, Span | None]) -> dict[str, Span | None]:
    """The near candidate only: a list of all names helps nobody."""
    guess = near(word, candidates)
    return {} if guess is None else {guess: candidates[guess]}


def tell_no_state(book: Book, declared: Declared, values: tuple[Value, ...], word: str, span: Span) -> None:
    """Tell that a thing has no state of this name."""
    id, bag = declared.id, book.bag
    if declared.sort is Sort.LINK and word == "lost":
        bag.add(
            "link-never-lost",
            f"link `{id}` has no watchdog, so it is never lost",
            span,
            "never",
            "give the link `watchdog` and `when_lost`",
            also=(Mark(declared.span, "the link"),),
        )
        return
    if declared.sort is Sort.SEQUENCE:
        kind, headline = "unknown-step", f"sequence `{id}` has no step `{word}`"
    elif whole(values):
        kind, headline = (
            "unknown-state",
            f"{declared.sort.value} `{id}` is never {word}: it goes from {values[0]} to {values[-1]}",
        )
    elif boolean(values) or declared.sort is Sort.CONDITION:
        kind, headline = "unknown-state", f"{declared.sort.value} `{id}` is only `true` or `false`, not `{word}`"
    else:
        kind, headline = "unknown-state", f"{declared.sort.value} `{id}` has no state `{word}`"
    shown = [show_value(value) for value in values]
    guess = near(word, shown)
    owners = [
        one.id
        for entries in book.names.declared.values()
        for one in entries
        if one.sort is Sort.ITEM and one.values and word in one.values and one.id != id
    ]
    helps = [f"did you mean `{guess}`?"] if guess else []
    if not guess and not whole(values) and len(shown) <= 12:
        helps.append(f"`{id}` is " + " or ".join(f"`{value}`" for value in shown))
    if not guess and owners:
        helps.append(f"`{word}` is a state of `{owners[0]}`")
    book.unknown(kind, f"{id} is {word}", headline, span, helps=tuple(helps))


def command_id(book: Book, scope: Scope, name: str, span: Span) -> str | None:
    """The id of a command read in `scope`: the innermost that a step drives, else the common one (told, if there is
    logic but no step drives it)."""
    for prefix in scope.prefixes():
        id = f"{prefix} {name}" if prefix else name
        if id in book.names.driven:
            book.commands.setdefault(id)
            return id
    if book.names.has_logic:
        candidates: dict[str, Span | None] = dict(book.names.driven)
        book.unknown("unknown-command", name, f"no step drives the command `{name}`", span, _few(name, candidates))
        return None
    book.commands.setdefault(name)
    return name
