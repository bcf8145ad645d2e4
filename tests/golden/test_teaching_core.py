"""The core of the teaching spec against `teaching_core.txt`, which was written by hand from specs/MEANING.md.

The system is written out in the notation of that file and compared line by line. Lines that hold a formula (a guard, a
condition) are compared by what they mean: both are evaluated, here, under every value of the variables they name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from itertools import product, zip_longest
from pathlib import Path
from typing import TypeAlias

from interlock.core.elaborate import elaborate
from interlock.core.system import Action, Assignment, Mode, Property, System
from interlock.logic.expression import TRUE, Expression, Kind, variables_of
from interlock.spec.loading import load

GOLDEN = Path(__file__).with_name("teaching_core.txt")
SPEC = Path(__file__).parents[2] / "specs" / "teaching.yaml"

Line: TypeAlias = tuple[str, Expression | None]
"""A line without its formula, and the formula."""

Values: TypeAlias = Mapping[str, str]


def test_the_core_of_the_teaching_spec_is_the_one_written_by_hand() -> None:
    spec, bag, _ = load(SPEC)
    assert spec is not None, bag.sorted()
    system = elaborate(spec)
    domains = {v.name: tuple(map(shown, v.values)) for v in system.variables}
    differences = []
    for ours, golden in zip_longest(written_out(system), golden_lines()):
        if ours is None or golden is None:
            differences.append(f"one has no more lines: core {ours}, golden {golden}")
            break
        head, formula = ours
        if formula is None:
            same = head == golden
        else:
            same = golden.startswith(head) and means_the_same(formula, golden[len(head) :], domains)
        if not same:
            differences.append(f"golden: {golden}\n  core: {head}{formula or ''}")
    assert not differences, "\n".join(differences)


def test_the_comparison_sees_a_difference_of_one_value() -> None:
    spec, _, _ = load(SPEC)
    assert spec is not None
    system = elaborate(spec)
    domains = {v.name: tuple(map(shown, v.values)) for v in system.variables}
    leaves = next(action for action in system.actions if action.id == "train leaves")
    assert means_the_same(leaves.guard, "(hold_fails or ground is idle) and not train is away", domains)
    assert not means_the_same(leaves.guard, "train is standing and ground is idle", domains)
    assert not means_the_same(leaves.guard, "not train is away and (not ground is preparing or hold_fails)", domains)


def golden_lines() -> list[str]:
    lines = GOLDEN.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line.strip() and not line.startswith("#")]


# --- the core, written out ---


def written_out(system: System) -> Iterator[Line]:
    for variable in system.variables:
        yield f"variable {variable.name} ({variable.kind.value}): {', '.join(map(shown, variable.values))}", None
    for start in system.start:
        values = zip(system.variables, start, strict=True)
        yield "start: " + " ".join(f"{v.name}={shown(v.values[i])}" for v, i in values), None
    for action in system.actions:
        yield from action_lines(system, action)
    for mode in system.modes:
        yield from mode_lines(system, mode)
    for rule in system.properties:
        yield from property_lines(rule)


def action_lines(system: System, action: Action) -> Iterator[Line]:
    failing = f", costs {action.cost}, brings {', '.join(action.modes)}" if action.modes else ""
    assert not action.restarts
    assert action.window is None or not action.window.bears
    yield f"event {action.id}: {action.kind.value}, tier {action.tier.value}{failing}", None
    yield "  if ", action.guard
    for assignment in action.update:
        yield f"  {assigned(system, assignment)}", None


def mode_lines(system: System, mode: Mode) -> Iterator[Line]:
    assert mode.at_start is not None
    assert not mode.common_cause
    yield f"mode {mode.id}", None
    yield "  if ", mode.guard
    for assignment in mode.at_start:
        yield f"  at start: {assigned(system, assignment)}", None


def property_lines(rule: Property) -> Iterator[Line]:
    helpers = f", helped by {', '.join(rule.helped_by)}" if rule.helped_by else ""
    yield f"property {rule.id}: {rule.kind.value}{', hazard' if rule.hazard else ''}{helpers}", None
    for unused in (rule.every_event, rule.passing, rule.within, rule.must, rule.unless):
        assert not unused
    for name in ("condition", "first", "since", "start", "trigger"):
        formula = getattr(rule, name)
        if formula is not None:
            yield f"  {name} ", formula


def assigned(system: System, assignment: Assignment) -> str:
    ((condition, value),) = assignment.cases
    assert condition is TRUE
    return f"{assignment.variable} := {shown(system.variable(assignment.variable).values[value])}"


def shown(value: str | int | bool) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


# --- what formulas mean ---


def means_the_same(expression: Expression, text: str, domains: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether both have the same value whatever the variables they name."""
    written = Written(text)
    names = sorted(variables_of(expression) | written.names)
    choices = product(*(domains[name] for name in names))
    return all(
        truth(expression, values, domains) == written.value(values)
        for values in (dict(zip(names, chosen, strict=True)) for chosen in choices)
    )


def truth(expression: Expression, values: Values, domains: Mapping[str, tuple[str, ...]]) -> bool:
    below = [truth(operand, values, domains) for operand in expression.operands]
    match expression.kind:
        case Kind.CONSTANT:
            return expression.values == (1,)
        case Kind.IN:
            return domains[expression.name].index(values[expression.name]) in expression.values
        case Kind.NOT:
            return not below[0]
        case Kind.AND:
            return all(below)
        case Kind.OR:
            return any(below)
        case Kind.NAMED:
            return below[0]
    raise AssertionError(f"not in the teaching spec: {expression.kind}")


class Written:
    """A formula of the golden text: names, `is`, `in {..}`, `not`, `and`, `or`, parentheses."""

    def __init__(self, text: str) -> None:
        self._words = re.findall(r"\w+|[(){},]", text)
        self._next = 0
        self.names: set[str] = set()
        self.value = self._either()
        assert self._next == len(self._words), text

    def _take(self, word: str) -> bool:
        if self._next < len(self._words) and self._words[self._next] == word:
            self._next += 1
            return True
        return False

    def _word(self) -> str:
        self._next += 1
        word: str = self._words[self._next - 1]
        return word

    def _either(self) -> Callable[[Values], bool]:
        parts = [self._both()]
        while self._take("or"):
            parts.append(self._both())
        return lambda values: any(part(values) for part in parts)

    def _both(self) -> Callable[[Values], bool]:
        parts = [self._one()]
        while self._take("and"):
            parts.append(self._one())
        return lambda values: all(part(values) for part in parts)

    def _one(self) -> Callable[[Values], bool]:
        if self._take("not"):
            inner = self._one()
            return lambda values: not inner(values)
        if self._take("("):
            inner = self._either()
            assert self._take(")")
            return inner
        name = self._word()
        self.names.add(name)
        chosen = {"true"}
        if self._take("is"):
            chosen = {self._word()}
        elif self._take("in"):
            assert self._take("{")
            chosen = {self._word()}
            while self._take(","):
                chosen.add(self._word())
            assert self._take("}")
        return lambda values: values[name] in chosen
