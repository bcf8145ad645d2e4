"""Codes: one number for which failures are present and how many have happened, instead of one bit a failure.

In: a system, a budget, the allowed failures, the start states. Out: all codes that can occur, numbered by failures
happened, and what each kind of change of failure variables makes of them.

The idea: with a budget of two, sixty failures have 1,771 sets of at most two, eleven bits instead of sixty. All
sets are enumerated that the changes of failure variables can lead to, whatever their guards say. Where these are too
many, failure variables stay ordinary variables and a code tells only how many have happened.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.meaning import Meaning
from interlock.core.system import Assignment, VariableKind
from interlock.logic.expression import TRUE

MAX_CODES = 1 << 15

Change: TypeAlias = tuple[int, int, int]
"""Failure variables set, cleared (bits by `Codes.bit`), failures that happen."""


@dataclass(frozen=True, slots=True)
class Codes:
    """`names`: the failure variables that codes stand for. `sets`, `spent`: by code, which of them are true and how
    many failures have happened. Codes are ordered by `spent`."""

    names: tuple[str, ...]
    sets: tuple[int, ...]
    spent: tuple[int, ...]
    index: dict[tuple[int, int], int]

    @property
    def bit(self) -> dict[str, int]:
        """The bit of each failure variable in a set."""
        return {name: 1 << i for i, name in enumerate(self.names)}

    @property
    def everything(self) -> int:
        """All codes, as bits."""
        return (1 << len(self.sets)) - 1

    def present(self) -> dict[str, int]:
        """For each failure variable, the codes in which it is true, as bits."""
        found = dict.fromkeys(self.names, 0)
        for code, chosen in enumerate(self.sets):
            rest = chosen
            while rest:
                lowest = rest & -rest
                found[self.names[lowest.bit_length() - 1]] |= 1 << code
                rest ^= lowest
        return found

    def below(self, budget: int) -> int:
        """The codes with fewer failures happened than a budget, as bits."""
        return sum(1 << code for code, spent in enumerate(self.spent) if spent < budget)

    def after(self, code: int, change: Change) -> int:
        """The code after a change; -1 if there is none (the budget is spent)."""
        on, off, cost = change
        return self.index.get(((self.sets[code] | on) & ~off, self.spent[code] + cost), -1)


def codes_for(meaning: Meaning) -> Codes:
    """The codes of a system under the budget and the allowed failures of a meaning."""
    names = tuple(v.name for v in meaning.system.variables if v.kind is VariableKind.FAILURE and len(v.values) == 2)
    starts: set[tuple[int, int]] = set()
    places = [(meaning.index[name], 1 << i) for i, name in enumerate(names)]
    for state in meaning.starts():
        starts.add((sum(bit for place, bit in places if state.valuation[place]), state.spent))
    bits = {name: 1 << i for i, name in enumerate(names)}
    changes = {
        (on, off, action.cost)
        for action in meaning.system.actions
        if meaning.may_fail(action)
        for on, off in _changes(action.update, bits)
    }
    found = _closed(starts, changes, meaning.budget)
    if found is None:
        names, found = (), {(0, spent) for spent in range(meaning.budget + 1)}
    ordered = sorted(found, key=lambda pair: (pair[1], pair[0]))
    index = {pair: code for code, pair in enumerate(ordered)}
    return Codes(names, tuple(pair[0] for pair in ordered), tuple(pair[1] for pair in ordered), index)


def _changes(update: tuple[Assignment, ...], bits: dict[str, int]) -> set[tuple[int, int]]:
    """Every way in which an update may change failure variables."""
    ways = {(0, 0)}
    for assignment in update:
        bit = bits.get(assignment.variable)
        if bit is not None:
            values = {value for _, value in assignment.cases}
            stays = ways if assignment.cases[-1][0] is not TRUE else set()
            ways = stays | {
                ((on | bit, off & ~bit) if value else (on & ~bit, off | bit)) for value in values for on, off in ways
            }
    return ways


def _closed(starts: set[tuple[int, int]], changes: set[Change], budget: int) -> set[tuple[int, int]] | None:
    """All pairs that changes lead to; None if there are too many."""
    found = set(starts)
    work = list(starts)
    while work:
        chosen, spent = work.pop()
        for on, off, cost in changes:
            pair = ((chosen | on) & ~off, spent + cost)
            if pair[1] <= budget and pair not in found:
                found.add(pair)
                work.append(pair)
        if len(found) > MAX_CODES:
            return None
    return found
