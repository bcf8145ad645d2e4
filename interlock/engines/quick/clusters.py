"""Clusters of actions, and what they do in a situation, remembered by the bits they look at.

In: compiled actions. Out: for a list of packed situations, the deltas of the events that the guards allow.

The idea: the actions of a cluster look at few variables. Each combination of values of these is worked out once; from
then on the events of the whole cluster are one look-up. Actions that look at many variables share a *wide* cluster: its
key is put together from *signals*, small parts of their conditions, which are themselves looked up by the few bits that
they look at. Whatever the key, the entry is worked out from the situation itself, so a key only has to tell apart what
the actions can tell apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import log2
from operator import or_
from typing import TypeAlias

from interlock.core.system import Action
from interlock.engines.quick.layout import Change, Condition, Layout
from interlock.logic.expression import Expression, Kind

NARROW_BITS = 12.0
"""A cluster whose variables have at most 2 ** NARROW_BITS combinations is looked up directly."""

NARROW_SHARE = 0.45
"""But at most this share of all bits of the system, so that small systems too meet the same combinations again."""

SIGNAL_BITS = 8.0
"""The same bound for a signal and for a group of signals."""

Watch: TypeAlias = Callable[[int, int], "tuple[int, bool] | None"]
"""What observers make of an event, by situation and delta: the delta with their flags and whether it is an end; None:
the run is cut there."""


@dataclass(frozen=True, slots=True)
class Compiled:
    """An action, compiled. `i`: its index in `System.actions`; `names`: all variables it reads or writes."""

    i: int
    action: Action
    guard: Condition
    change: Change
    names: frozenset[str]
    writes: int

    @staticmethod
    def of(layout: Layout, i: int, action: Action) -> Compiled:
        """Compile an action."""
        written = frozenset(assignment.variable for assignment in action.update)
        names = layout.names(action.guard) | written
        for assignment in action.update:
            names = names.union(*(layout.names(condition) for condition, _ in assignment.cases))
        return Compiled(
            i, action, layout.condition(action.guard), layout.change(action.update), names, layout.mask_of(written)
        )


class _Signals(dict[int, int]):
    """A group of signals: from the bits they look at to a number that tells their values."""

    __slots__ = ("_conditions", "_lowest", "mask")

    def __init__(self, mask: int, conditions: tuple[Condition, ...], lowest: int) -> None:
        super().__init__()
        self.mask = mask
        self._conditions = conditions
        self._lowest = lowest

    def __missing__(self, part: int) -> int:
        number = 0
        for i, condition in enumerate(self._conditions):
            if condition(part):
                number |= 1 << i
        number <<= self._lowest
        self[part] = number
        return number


class Cluster:
    """Actions of one tier and one cost, with everything that was worked out about them."""

    __slots__ = ("_acts", "_deltas", "_ends", "_signals", "_watch", "ending", "mask", "members", "writes")

    def __init__(
        self, members: tuple[Compiled, ...], mask: int, signals: tuple[_Signals, ...], watch: Watch | None = None
    ) -> None:
        self.members = members
        self.mask = mask
        self.writes = 0
        for member in members:
            self.writes |= member.writes
        self._signals = signals
        self._watch = watch
        self._deltas: dict[int, tuple[int, ...]] = {}
        self._acts: dict[int, tuple[int, ...]] = {}
        self._ends: dict[int, tuple[bool, ...]] = {}
        self.ending: set[int] = set()

    def watched(self, looks_at: int, watch: Watch) -> Cluster:
        """The same actions with observers that look at some more bits."""
        return Cluster(self.members, self.mask | looks_at, self._signals, watch)

    def keys(self, states: Iterable[int]) -> list[int]:
        """The keys of situations. Cost: one look-up for each group of signals."""
        keys = list(map(self.mask.__and__, states))
        for group in self._signals:
            keys = list(map(or_, keys, map(group.__getitem__, map(group.mask.__and__, states))))
        return keys

    def deltas(self, states: list[int]) -> list[tuple[int, ...]]:
        """For each situation, one delta for each event that the guards allow."""
        return self.deltas_of(self.keys(states), states)

    def deltas_of(self, keys: list[int], states: list[int]) -> list[tuple[int, ...]]:
        """The same for keys known already."""
        known = self._deltas
        try:
            return list(map(known.__getitem__, keys))
        except KeyError:
            for key, state in zip(keys, states, strict=True):
                if key not in known:
                    self._entry(key, state)
            return list(map(known.__getitem__, keys))

    @property
    def n_known(self) -> int:
        """How many combinations were worked out so far."""
        return len(self._deltas)

    def grouped(self, states: list[int]) -> Iterator[tuple[tuple[int, ...], list[int]]]:
        """The situations in groups that are alike to this cluster, each with its deltas; groups without any left
        out."""
        groups: dict[int, list[int]] = {}
        if self.narrow:
            mask = self.mask
            for state in states:
                key = state & mask
                if key in groups:
                    groups[key].append(state)
                else:
                    groups[key] = [state]
        else:
            for key, state in zip(self.keys(states), states, strict=True):
                groups.setdefault(key, []).append(state)
        for key, alike in groups.items():
            deltas = self._entry(key, alike[0])
            if deltas:
                yield deltas, alike

    def _entry(self, key: int, state: int) -> tuple[int, ...]:
        found = self._deltas.get(key)
        if found is not None:
            return found
        deltas: list[int] = []
        acts: list[int] = []
        ends: list[bool] = []
        for member in self.members:
            if member.guard(state):
                delta, is_end = member.change(state), False
                if self._watch is not None:
                    seen = self._watch(state, delta)
                    if seen is None:
                        continue
                    delta, is_end = seen
                deltas.append(delta)
                acts.append(member.i)
                ends.append(is_end)
        entry = self._deltas[key] = tuple(deltas)
        self._acts[key] = tuple(acts)
        if self._watch is not None:
            self._ends[key] = tuple(ends)
            if any(ends):
                self.ending.add(key)
        return entry

    def events(self, state: int) -> list[tuple[int, int, bool]]:
        """(action, delta, whether an observer calls it an end) for one situation, in declaration order."""
        key = state & self.mask
        for group in self._signals:
            key |= group[state & group.mask]
        deltas = self._entry(key, state)
        ends = self._ends.get(key)
        if ends is None:
            return [(act, delta, False) for act, delta in zip(self._acts[key], deltas, strict=True)]
        return list(zip(self._acts[key], deltas, ends, strict=True))

    def some(self, state: int) -> bool:
        """Whether the guards allow any event in a situation."""
        key = state & self.mask
        for group in self._signals:
            key |= group[state & group.mask]
        return bool(self._entry(key, state))

    def acts(self, states: list[int]) -> list[tuple[int, ...]]:
        """For each situation, the actions whose guards allow them."""
        keys = self.keys(states)
        self.deltas_of(keys, states)
        return list(map(self._acts.__getitem__, keys))

    def moves(self) -> Iterator[tuple[int, int, int]]:
        """(action, delta, bits of the mask before it) of everything that was ever worked out, each perhaps many
        times."""
        for key, deltas in self._deltas.items():
            for act, delta in zip(self._acts[key], deltas, strict=True):
                yield act, delta, key & self.mask

    @property
    def narrow(self) -> bool:
        """Whether the bits of the mask alone decide what happens."""
        return not self._signals


def clustered(layout: Layout, members: Iterable[Compiled]) -> tuple[Cluster, ...]:
    """Put actions into clusters: as few as can be, so long as none has too many combinations to look at.

    Cost: actions times clusters.
    """
    bits = {name: log2(size) for name, size in layout.size.items() if size > 1}

    def weight(names: Iterable[str]) -> float:
        return sum(bits.get(name, 0.0) for name in names)

    bound = min(NARROW_BITS, NARROW_SHARE * sum(bits.values()))
    narrow: list[tuple[set[str], list[Compiled]]] = []
    wide: list[tuple[set[str], list[Compiled]]] = []
    for member in sorted(members, key=lambda m: (-weight(m.names), m.i)):
        if weight(member.names) > NARROW_BITS:
            _join(wide, member, lambda names: len(names & member.names) * 2 >= len(member.names), weight)  # noqa: B023
        else:
            _join(narrow, member, lambda names: weight(names | member.names) <= bound, weight)  # noqa: B023
    made = [Cluster(_ordered(group), layout.mask_of(names), ()) for names, group in narrow]
    made += [_wide(layout, _ordered(group), weight) for _, group in wide]
    return tuple(sorted(made, key=lambda cluster: cluster.members[0].i))


def _ordered(group: list[Compiled]) -> tuple[Compiled, ...]:
    return tuple(sorted(group, key=lambda member: member.i))


def _join(
    groups: list[tuple[set[str], list[Compiled]]],
    member: Compiled,
    fits: Callable[[set[str]], bool],
    weight: Callable[[Iterable[str]], float],
) -> None:
    """Put an action where it adds least, or into a group of its own."""
    best: tuple[set[str], list[Compiled]] | None = None
    least = 0.0
    for group in groups:
        if fits(group[0]):
            added = weight(member.names - group[0])
            if best is None or added < least:
                best, least = group, added
    if best is None:
        groups.append((set(member.names), [member]))
    else:
        best[0].update(member.names)
        best[1].append(member)


def _wide(layout: Layout, members: tuple[Compiled, ...], weight: Callable[[Iterable[str]], float]) -> Cluster:
    """A cluster with signals: bits of written variables directly, everything that is read through signals."""
    parts: dict[Expression, None] = {}
    written: set[str] = set()
    for member in members:
        expressions = [member.action.guard]
        for assignment in member.action.update:
            written.add(assignment.variable)
            expressions.extend(condition for condition, _ in assignment.cases)
        for expression in expressions:
            parts.update(dict.fromkeys(_small_parts(layout, expression, weight)))
    direct = layout.mask_of(written)
    groups: list[tuple[set[str], list[Expression]]] = []
    for part in sorted(parts, key=lambda p: -weight(layout.names(p))):
        names = layout.names(part)
        if names <= written:
            continue
        for held, group in groups:
            if weight(held | names) <= SIGNAL_BITS:
                held.update(names)
                group.append(part)
                break
        else:
            groups.append((set(names), [part]))
    signals = []
    lowest = layout.bits + FLAG_BITS
    for held, group in groups:
        conditions = tuple(layout.condition(part) for part in group)
        signals.append(_Signals(layout.mask_of(held), conditions, lowest))
        lowest += len(conditions)
    return Cluster(members, direct, tuple(signals))


FLAG_BITS = 64
"""Bits kept free above a packed situation for the flags of observers."""


def _small_parts(
    layout: Layout, expression: Expression, weight: Callable[[Iterable[str]], float]
) -> Iterable[Expression]:
    """The largest parts of an expression that look at few combinations; together they tell its value."""
    work, seen = [expression], set()
    while work:
        node = work.pop()
        if node in seen or node.kind is Kind.CONSTANT:
            continue
        seen.add(node)
        if node.kind is Kind.IN or weight(layout.names(node)) <= SIGNAL_BITS:
            yield node
        else:
            work.extend(reversed(node.operands))
