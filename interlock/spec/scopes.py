"""Scopes: the whole file and each instance of a part; what is declared in them, and how a name is looked up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum

from interlock.diag.place import Span
from interlock.logic.formula import Ref, Thing, Value
from interlock.spec.nodes import Node, Scalar


class Sort(Enum):
    """What a declared name stands for."""

    ITEM = "item"
    READING = "reading"
    LINK = "link"
    CARRIED = "link value"
    SEQUENCE = "sequence"
    STEP = "step"
    MEMORY = "memory"
    CONDITION = "condition"
    FAILURE = "failure"
    COMMON_CAUSE = "common cause"


BOOLEAN: tuple[Value, ...] = (False, True)


@dataclass(slots=True)
class Declared:
    """Something with a name. `values`: its domain, where it is known at once (readings and link values find theirs
    later); None with `broken`: its definition has a mistake, so nothing is said about its uses."""

    sort: Sort
    id: str
    span: Span
    values: tuple[Value, ...] | None = None
    broken: bool = False
    step: str = ""

    @property
    def ref(self) -> Ref:
        """How formulas speak of it."""
        return Ref(_THINGS[self.sort], self.id)


_THINGS = {
    Sort.ITEM: Thing.ITEM,
    Sort.READING: Thing.READING,
    Sort.LINK: Thing.LINK,
    Sort.CARRIED: Thing.CARRIED,
    Sort.SEQUENCE: Thing.STEP,
    Sort.STEP: Thing.STEP,
    Sort.MEMORY: Thing.MEMORY,
    Sort.FAILURE: Thing.FAILURE,
}


@dataclass(eq=False, slots=True)
class Scope:
    """The whole file (prefix "") or one instance of a part.

    `sections`: its sections by name. `groups`: its instances by group. `givens`: expressions handed to the instance,
    each with the scope it is read in; `ungiven`: those that are missing. `parameters`: each with the scope its text is
    read in and the place of its name.
    """

    prefix: str
    parent: Scope | None
    sections: dict[str, Node]
    at: Span
    part: str = ""
    groups: dict[str, list[Scope]] = field(default_factory=dict)
    givens: dict[str, tuple[Scalar, Scope]] = field(default_factory=dict)
    ungiven: set[str] = field(default_factory=set)
    parameters: dict[str, tuple[Node, Scope, Span]] = field(default_factory=dict)

    def id(self, name: str) -> str:
        """The id of what is called `name` in here."""
        return f"{self.prefix} {name}" if self.prefix else name

    def chain(self) -> Iterator[Scope]:
        """The scope itself, then the ones around it."""
        scope: Scope | None = self
        while scope is not None:
            yield scope
            scope = scope.parent

    def all(self) -> Iterator[Scope]:
        """The scope itself and all instances within, in the order of the file."""
        yield self
        for group in self.groups.values():
            for child in group:
                yield from child.all()

    def prefixes(self) -> tuple[str, ...]:
        """The prefixes under which a name is looked up, innermost first."""
        return tuple(scope.prefix for scope in self.chain())


@dataclass(slots=True)
class Names:
    """All declared names by full id, and bare steps by the id they have in their scope.

    `owners`: what a `Ref` speaks of. `driven`: the commands that steps drive.
    """

    declared: dict[str, list[Declared]] = field(default_factory=dict)
    owners: dict[Ref, Declared] = field(default_factory=dict)
    driven: dict[str, Span] = field(default_factory=dict)
    has_logic: bool = False

    def add(self, declared: Declared, id: str | None = None) -> None:
        """Make a name known (under its own id unless told)."""
        self.has_logic = self.has_logic or (declared.sort is Sort.SEQUENCE and not declared.broken)
        self.declared.setdefault(declared.id if id is None else id, []).append(declared)
        if declared.sort not in (Sort.CONDITION, Sort.STEP, Sort.COMMON_CAUSE):
            self.owners[declared.ref] = declared

    def find(self, name: str, prefixes: tuple[str, ...]) -> list[Declared]:
        """What `name` stands for at the innermost place that knows it; several if it is ambiguous."""
        for prefix in prefixes:
            found = self.declared.get(f"{prefix} {name}" if prefix else name)
            if found:
                return found
        return []

    def one(self, name: str, prefixes: tuple[str, ...], sorts: tuple[Sort, ...]) -> Declared | None:
        """What `name` stands for, among these sorts only."""
        for prefix in prefixes:
            for found in self.declared.get(f"{prefix} {name}" if prefix else name, ()):
                if found.sort in sorts:
                    return found
        return None
