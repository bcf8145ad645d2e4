"""Memory set outside its domain: found by trying all values of the whole numbers that a change reads.

In: a sequence and the formulas of its permissives. A permissive that speaks of other things too counts as possible
whenever the memories of the sequence alone do not make it false; readings, and memories of others, may change between
deciding and acting, so nothing guards them.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import prod

from interlock.diag.diagnostic import Mark
from interlock.logic.formula import (
    TRUE,
    And,
    AtMost,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    Not,
    Or,
    Ref,
    Same,
    Sum,
    Thing,
    Value,
)
from interlock.spec.book import Book
from interlock.spec.domains import show_value
from interlock.spec.lookup import refs_in, values_of
from interlock.spec.model import Sequence, SetTo, StepChange

MAX_TRIED = 100_000
"""How many combinations of values are tried in a whole spec; beyond, permissives are left out of account."""

Known = dict[Ref, Value]


def check_overruns(sequence: Sequence, book: Book) -> None:
    """Tell every assignment that can leave the domain of its memory."""
    for change in sequence.changes:
        for set_to in change.sets:
            if isinstance(set_to.to, Sum):
                _check(sequence, change, set_to, set_to.to, book)


def _check(sequence: Sequence, change: StepChange, set_to: SetTo, total: Sum, book: Book) -> None:
    memory = book.names.owners.get(Ref(Thing.MEMORY, set_to.memory))
    if memory is None or memory.values is None:
        return
    guards = [permissive.condition for permissive in change.permissives]
    own = {Ref(Thing.MEMORY, one.id) for one in sequence.memories}
    summed = list(dict.fromkeys(ref for _, ref in total.parts))
    guarding = [ref for guard in guards for ref in refs_in(guard, book.conditions) if ref in own]
    asked = list(dict.fromkeys([*summed, *guarding]))
    domains = {ref: _values(ref, book) for ref in asked}
    n = prod(len(domain) for domain in domains.values())
    book.n_tried += n
    if book.n_tried > MAX_TRIED:
        book.n_tried -= n
        guards, tried = [], _extremes(total, domains)
    else:
        tried = (dict(zip(asked, chosen, strict=True)) for chosen in product(*(domains[ref] for ref in asked)))
    for known in tried:
        result = total.constant + sum(sign * int(known[ref]) for sign, ref in total.parts)
        if result in memory.values:
            continue
        sure = {ref: value for ref, value in known.items() if ref in own}
        if all(_true(guard, sure, book, {}) is not False for guard in guards):
            _tell(change, set_to, result, {ref: known[ref] for ref in summed}, memory.values, book)
            return


def _extremes(total: Sum, domains: dict[Ref, tuple[Value, ...]]) -> Iterator[Known]:
    """The values that make the sum least and greatest."""
    signs: dict[Ref, int] = {}
    for sign, ref in total.parts:
        signs[ref] = signs.get(ref, 0) + sign
    if all(domains[ref] for ref in signs):
        yield {ref: (min if sign > 0 else max)(domains[ref], key=int) for ref, sign in signs.items()}
        yield {ref: (max if sign > 0 else min)(domains[ref], key=int) for ref, sign in signs.items()}


def _tell(change: StepChange, set_to: SetTo, result: int, known: Known, values: tuple[Value, ...], book: Book) -> None:
    name = set_to.memory.rsplit(" ", 1)[-1]
    when = " and ".join(f"`{ref.id.rsplit(' ', 1)[-1]}` is {show_value(value)}" for ref, value in known.items())
    side = f"less than {values[0]}" if result < int(values[0]) else f"more than {values[-1]}"
    limit = f"`{name} < {values[-1]}`" if result > int(values[-1]) else f"`{values[0]} < {name}`"
    memory = book.names.owners[Ref(Thing.MEMORY, set_to.memory)]
    book.bag.add(
        "domain-overrun",
        f"{change.kind.value} `{change.name}` can set `{name}` to {result}, {side}"
        + (f", when {when}" if when else ""),
        set_to.span,
        f"{result} is not among its states",
        f"let the {change.kind.value} happen only while {limit}, or give `{name}` more states",
        also=(Mark(memory.span, f"its states: {values[0]} .. {values[-1]}"),),
    )


def _values(ref: Ref, book: Book) -> tuple[Value, ...]:
    owner = book.names.owners.get(ref)
    values = None if owner is None else values_of(book, owner)
    return () if values is None else values


def _true(formula: Formula, known: Known, book: Book, conditions: dict[str, bool | None]) -> bool | None:
    """The value of a formula where only some things are known; None: it depends on others. `conditions`: those read."""
    if isinstance(formula, Const):
        return formula.value
    if isinstance(formula, Is):
        return None if formula.ref not in known else known[formula.ref] in formula.values
    if isinstance(formula, Same):
        both = formula.left in known and formula.right in known
        return known[formula.left] == known[formula.right] if both else None
    if isinstance(formula, Compare):
        return _compare(formula, known)
    if isinstance(formula, Not):
        inner = _true(formula.operand, known, book, conditions)
        return None if inner is None else not inner
    if isinstance(formula, And | Or | AtMost):
        return _several(formula, [_true(operand, known, book, conditions) for operand in formula.operands])
    if isinstance(formula, Condition):
        if formula.id not in conditions:
            conditions[formula.id] = None
            conditions[formula.id] = _true(book.conditions.get(formula.id, TRUE), known, book, conditions)
        return conditions[formula.id]
    return None


def _several(formula: And | Or | AtMost, found: list[bool | None]) -> bool | None:
    if isinstance(formula, AtMost):
        least = found.count(True)
        if least > formula.limit:
            return False
        return True if least + found.count(None) <= formula.limit else None
    ruling = isinstance(formula, Or)
    if ruling in found:
        return ruling
    return None if None in found else not ruling


def _compare(formula: Compare, known: Known) -> bool | None:
    sides: list[int] = []
    for side in (formula.left, formula.right):
        if any(ref not in known for _, ref in side.parts):
            return None
        sides.append(side.constant + sum(sign * int(known[ref]) for sign, ref in side.parts))
    left, right = sides
    return {"=": left == right, "<": left < right, "<=": left <= right}[formula.operator]
