"""Logic: sequences, their steps, memory, moves, trips and timeouts."""

from __future__ import annotations

from interlock.diag.diagnostic import Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.spec.book import Book
from interlock.spec.domains import domain_of
from interlock.spec.equipment import declare, same, starts_of
from interlock.spec.fields import (
    Fields,
    entries_of,
    fields,
    first_line,
    named_entries,
    peek,
    text_of,
    texts_of,
    truth_of,
    words_of,
)
from interlock.spec.model import ChangeKind, Memory, Permissive, Sequence, SetTo, Step, StepChange, Window
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.overrun import check_overruns
from interlock.spec.resolve import Resolver
from interlock.spec.scopes import Declared, Scope, Sort
from interlock.spec.uses import PERMISSIVE, POWER, SETTING
from interlock.spec.windows import window_of

_KEYS = ("words", "reacts", "powered_by", "memory", "moves", "trips", "priority")


def declare_logic(scope: Scope, book: Book) -> None:
    """Make the sequences of a scope known, with their steps and memory, and the commands that steps drive."""
    bag = book.bag
    for key, node in named_entries(bag, scope.sections.get("logic"), "`logic`", "a sequence"):
        id = scope.id(key.text)
        steps = list(named_entries(bag, peek(node, "steps"), f"`steps` of sequence `{key.text}`", "a step"))
        names = tuple(step.text for step, _ in steps)
        declare(Declared(Sort.SEQUENCE, id, key.span, names, not names), book)
        for step, entry in steps:
            one = Declared(Sort.STEP, id, step.span, step=step.text)
            book.names.add(one, f"{id} {step.text}")
            book.names.add(one, scope.id(step.text))
            for command in texts_of(bag, peek(entry, "drives"), f"`drives` of step `{step.text}`"):
                driven = _driven(command, scope, book)
                if driven is not None:
                    book.names.driven.setdefault(driven, command.span)
        for name, entry in named_entries(bag, peek(node, "memory"), f"`memory` of sequence `{key.text}`", "a memory"):
            what = f"memory `{name.text}`"
            values = domain_of(peek(entry, "states"), what, name.span, scope, book)
            one = Declared(Sort.MEMORY, f"{id} {name.text}", name.span, values, values is None)
            declare(one, book)
            book.memories.setdefault(id, {})[name.text] = one


def _driven(command: Scalar, scope: Scope, book: Book) -> str | None:
    """The id of a command that a step of this scope drives; None (and told) if it is of no instance."""
    words = command.text.split()
    id = scope.id(" ".join(words))
    if len(words) > 1:
        owner = scope.id(" ".join(words[:-1]))
        prefixes = {one.prefix: one.at for one in book.root.all() if one.prefix}
        if owner not in prefixes:
            known: dict[str, Span | None] = dict(prefixes)
            book.unknown(
                "unknown-instance",
                owner,
                f"no instance is called `{owner}`, so it has no command",
                command.written.part(0, len(command.text.rstrip()) - len(words[-1]) - 1),
                known,
            )
            return None
    return id


def define_logic(scope: Scope, book: Book) -> list[Sequence]:
    """The sequences of a scope."""
    sequences = (
        _Logic(key, node, scope, book).build()
        for key, node in named_entries(book.bag, scope.sections.get("logic"), "`logic`", "a sequence")
    )
    return [sequence for sequence in sequences if sequence is not None]


class _Logic:
    """The building of one sequence."""

    def __init__(self, key: Scalar, node: Node, scope: Scope, book: Book) -> None:
        self.key = key
        self.node = node
        self.scope = scope
        self.book = book
        self.bag = book.bag
        self.id = scope.id(key.text)
        self.what = f"sequence `{key.text}`"
        self.steps: dict[str, Span] = {}

    def build(self) -> Sequence | None:
        found = fields(self.bag, self.node, self.what, self.key.span, required=("steps",), optional=_KEYS)
        if found is None or self.book.names.one(self.id, ("",), (Sort.SEQUENCE,)) is None:
            return None
        steps, start, timeouts = self._steps(found)
        memories = self._memories(found)
        trips = self._changes(found, "trips", ChangeKind.TRIP)
        moves = self._changes(found, "moves", ChangeKind.MOVE)
        changes = (*trips, *timeouts, *moves)
        self._unique(trips, moves)
        powered_by = None
        if "powered_by" in found:
            scalar = text_of(self.bag, found["powered_by"], f"`powered_by` of {self.what}")
            powered_by = Resolver(self.book, self.scope, POWER).read(scalar)
        sequence = Sequence(
            self.id,
            self._reacts(found),
            powered_by,
            steps,
            start,
            memories,
            changes,
            self._priority(found, changes),
            words_of(self.bag, found["words"], f"`words` of {self.what}"),
            self.key.span,
        )
        check_overruns(sequence, self.book)
        return sequence

    def _reacts(self, found: Fields) -> Window | None:
        node = found["reacts"]
        if node is None or (isinstance(node, Scalar) and node.text == "immediately"):
            return None
        return window_of(node, f"`reacts` of {self.what}", self.scope, self.book)

    # --- steps ---

    def _steps(self, found: Fields) -> tuple[tuple[Step, ...], str, list[StepChange]]:
        steps: list[Step] = []
        starts: list[Scalar] = []
        timeouts: list[tuple[Scalar, Node]] = []
        unclear = False
        entries = list(named_entries(self.bag, found["steps"], f"`steps` of {self.what}", "a step"))
        self.steps = {key.text: key.span for key, _ in entries}
        for key, node in entries:
            what = f"step `{key.text}`"
            entry = fields(self.bag, node, what, key.span, optional=("start", "drives", "timeout", "words"))
            if entry is None:
                continue
            drives = [
                id
                for command in texts_of(self.bag, entry["drives"], f"`drives` of {what}")
                if (id := _driven(command, self.scope, self.book)) is not None
            ]
            for id in drives:
                self.book.commands.setdefault(id)
            if truth_of(self.bag, entry["start"], f"`start` of {what}", False):
                starts.append(key)
            elif "start" in entry and not (isinstance(entry["start"], Scalar) and entry["start"].text == "false"):
                unclear = True
            if (timeout := entry["timeout"]) is not None:
                timeouts.append((key, timeout))
            words = words_of(self.bag, entry["words"], f"`words` of {what}")
            steps.append(Step(key.text, tuple(dict.fromkeys(drives)), words, key.span))
        if not unclear:
            self._one_start(entries, starts, found)
        changes = [change for key, node in timeouts if (change := self._timeout(key, node)) is not None]
        return tuple(steps), starts[0].text if starts else "", changes

    def _one_start(self, entries: list[tuple[Scalar, Node]], starts: list[Scalar], found: Fields) -> None:
        if len(starts) > 1:
            self.bag.add(
                "two-starts",
                f"{self.what} has {len(starts)} start steps",
                starts[1].span,
                "another one",
                "keep `start: true` at one of them",
                also=tuple(Mark(key.span, "a start step") for key in (starts[0], *starts[2:])),
            )
        elif not starts and entries:
            first = entries[0][0].text
            self.bag.add(
                "no-start",
                f"{self.what} has no start step",
                found.key("steps"),
                "none of these",
                f"mark the step it begins with: `{first}: {{start: true}}`",
            )
        elif not entries and isinstance(found["steps"], Mapping | Scalar):
            self.bag.add("no-start", f"{self.what} has no steps", found.key("steps"), "none", "name its steps")

    def step(self, scalar: Scalar) -> str | None:
        """A step by name; told if there is none."""
        if scalar.text in self.steps:
            return scalar.text
        if not self.steps:
            return None
        known: dict[str, Span | None] = dict(self.steps)
        guess = near(scalar.text, known)
        listed = ", ".join(f"`{name}`" for name in known)
        cure = f"`{guess}` is defined at {known[guess]}; did you mean it?" if guess else f"its steps: {listed}"
        told = f"{self.what} has no step `{scalar.text}`"
        self.book.unknown("unknown-step", f"{self.id} is {scalar.text}", told, scalar.span, helps=(cure,))
        return None

    def _timeout(self, key: Scalar, node: Node) -> StepChange | None:
        what = f"timeout of step `{key.text}`"
        found = fields(self.bag, node, what, key.span, required=("after", "to"), optional=("sets", "words"))
        if found is None:
            return None
        after = window_of(found["after"], f"`after` of the {what}", self.scope, self.book)
        to = self._to(found, [key], "timeout", what)
        return StepChange(
            f"{key.text} timeout",
            ChangeKind.TIMEOUT,
            (key.text,),
            to,
            (),
            after,
            self._sets(found, what),
            words_of(self.bag, found["words"], f"`words` of the {what}"),
            key.span,
        )

    # --- memory ---

    def _memories(self, found: Fields) -> tuple[Memory, ...]:
        memories: list[Memory] = []
        for key, node in named_entries(self.bag, found["memory"], f"`memory` of {self.what}", "a memory"):
            what = f"memory `{key.text}`"
            entry = fields(self.bag, node, what, key.span, required=("states", "start"), optional=("kept", "words"))
            declared = self.book.names.one(f"{self.id} {key.text}", ("",), (Sort.MEMORY,))
            if entry is None or declared is None or entry["start"] is None:
                continue
            start = starts_of(entry["start"], f"`start` of {what}", declared, self.book)
            if len(start) > 1:
                self.bag.add(
                    "two-starts",
                    f"{what} starts with more than one value",
                    first_line(entry["start"]),
                    "one only",
                    "logic starts in one way: keep one value",
                )
            kept = truth_of(self.bag, entry["kept"], f"`kept` of {what}", False)
            if start:
                memories.append(Memory(declared.id, declared.values or (), start[0], kept, key.span))
        return tuple(memories)

    # --- changes of step ---

    def _changes(self, found: Fields, section: str, kind: ChangeKind) -> list[StepChange]:
        changes: list[StepChange] = []
        word = kind.value
        for key, node in named_entries(self.bag, found[section], f"`{section}` of {self.what}", f"a {word}"):
            what = f"{word} `{key.text}`"
            asks = "needs" if kind is ChangeKind.MOVE else "when"
            entry = fields(self.bag, node, what, key.span, required=("from", "to", asks), optional=("sets", "words"))
            if entry is None:
                continue
            sources = texts_of(self.bag, entry["from"], f"`from` of {what}", some=True)
            steps = [step for scalar in sources if (step := self.step(scalar)) is not None]
            to = self._to(entry, sources if kind is ChangeKind.TRIP else [], word, what)
            permissives = self._needs(entry, what) if kind is ChangeKind.MOVE else self._when(entry, what)
            changes.append(
                StepChange(
                    key.text,
                    kind,
                    tuple(dict.fromkeys(steps)),
                    to,
                    permissives,
                    None,
                    self._sets(entry, what),
                    words_of(self.bag, entry["words"], f"`words` of {what}"),
                    key.span,
                )
            )
        return changes

    def _to(self, found: Fields, refused: list[Scalar], word: str, what: str) -> str:
        scalar = text_of(self.bag, found["to"], f"`to` of {what}")
        if scalar is None:
            return ""
        to = self.step(scalar)
        for source in refused:
            if to is not None and source.text == to:
                self.bag.add(
                    "trip-to-itself",
                    f"the {what} leads from `{to}` to `{to}`"
                    if word == "timeout"
                    else f"{what} leads from `{to}` to `{to}`",
                    scalar.span,
                    "where it comes from",
                    "take the step out of `from`, or lead to another step"
                    if word == "trip"
                    else "lead to another step",
                    also=(Mark(source.span, "from here"),),
                )
        return to or ""

    def _needs(self, found: Fields, what: str) -> tuple[Permissive, ...]:
        node = found["needs"]
        if isinstance(node, Scalar) and not node.empty:
            self.bag.add(
                "wrong-type",
                f"`needs` of {what} must be named permissives, not a single text",
                first_line(node),
                "a single text",
                f"give it a name: `needs: {{NAME: {node.text}}}`",
            )
            return ()
        entries = named_entries(self.bag, node, f"`needs` of {what}", "a permissive")
        return tuple(self._permissive(key.text, key.span, entry, what) for key, entry in entries)

    def _when(self, found: Fields, what: str) -> tuple[Permissive, ...]:
        node = found["when"]
        return () if node is None else (self._permissive("when", found.key("when"), node, what),)

    def _permissive(self, name: str, span: Span, node: Node, what: str) -> Permissive:
        resolver = Resolver(self.book, self.scope, PERMISSIVE, self.id)
        title = f"`{name}` of {what}"
        if isinstance(node, Mapping):
            found = fields(self.bag, node, title, span, required=("condition",), optional=("for", "words"))
            if found is None:
                return Permissive(name, resolver.read(None), None, span)
            condition = resolver.read(text_of(self.bag, found["condition"], f"`condition` of {title}"))
            return Permissive(
                name, condition, window_of(found["for"], f"`for` of {title}", self.scope, self.book), span
            )
        return Permissive(name, resolver.read(text_of(self.bag, node, title)), None, span)

    def _sets(self, found: Fields, what: str) -> tuple[SetTo, ...]:
        sets: list[SetTo] = []
        memories = self.book.memories.get(self.id, {})
        for key, node in entries_of(self.bag, found["sets"], f"`sets` of {what}"):
            memory = memories.get(key.text)
            if memory is None:
                known: dict[str, Span | None] = {name: one.span for name, one in memories.items()}
                self.book.unknown(
                    "unknown-memory", key.text, f"{self.what} has no memory `{key.text}`", key.span, known
                )
                continue
            scalar = text_of(self.bag, node, f"what `{key.text}` is set to")
            if scalar is None or memory.broken:
                continue
            value = Resolver(self.book, self.scope, SETTING, self.id).assigned(scalar, memory)
            if value is not None:
                sets.append(SetTo(memory.id, value, scalar.span))
        return tuple(sets)

    def _unique(self, trips: list[StepChange], moves: list[StepChange]) -> None:
        known = {change.name: change for change in trips}
        for change in moves:
            if change.name in known:
                same("move", change.name, change.span, "trip", known[change.name].span, self.book)

    def _priority(self, found: Fields, changes: tuple[StepChange, ...]) -> tuple[str, ...]:
        names = {change.name: change.span for change in changes}
        order: dict[str, Span] = {}
        for scalar in texts_of(self.bag, found["priority"], f"`priority` of {self.what}"):
            name = " ".join(scalar.text.split())
            if name not in names:
                known: dict[str, Span | None] = dict(names)
                self.book.unknown(
                    "unknown-change", name, f"{self.what} has no move, trip or timeout `{name}`", scalar.span, known
                )
            elif name in order:
                self.bag.add(
                    "duplicate-name",
                    f"`priority` of {self.what} names `{name}` twice",
                    scalar.span,
                    "again",
                    "keep its first place or its second",
                    also=(Mark(order[name], "named first"),),
                )
            else:
                order[name] = scalar.span
        return tuple(order)
