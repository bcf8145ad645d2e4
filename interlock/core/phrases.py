"""Formulas of a spec as expressions of the core: names become variables, arithmetic and equality become value sets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from interlock.core.draft import Draft, is_among
from interlock.core.failing import Faults
from interlock.core.system import Origin
from interlock.logic.expression import (
    FALSE,
    TRUE,
    Expression,
    at_most,
    conjunction,
    constant,
    disjunction,
    named,
    negate,
    was,
)
from interlock.logic.formula import (
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
    Was,
    operands_of,
)
from interlock.spec.model import EffectKind, Sequence, Signal, Spec

Shown = Callable[[tuple[Value, ...]], Expression]
"""Given values, the expression that what is shown is among them."""


class Phrases:
    """Translates formulas. Signals are registered by the part of elaboration that makes their variables."""

    def __init__(self, spec: Spec, draft: Draft, faults: Faults, *, free_commands: bool) -> None:
        self.spec = spec
        self.draft = draft
        self.faults = faults
        self.free_commands = free_commands
        self.conditions: Mapping[str, Formula] = {name: formula for name, formula, _ in spec.conditions}
        self.signals: dict[str, tuple[Signal, Shown]] = {}
        self.drivers: dict[str, tuple[tuple[Sequence, tuple[str, ...]], ...]] = {
            command: tuple(
                (sequence, steps)
                for sequence in spec.sequences
                if (steps := tuple(step.name for step in sequence.steps if command in step.drives))
            )
            for command in spec.commands
        }

    # --- formulas ---

    def expression(self, formula: Formula, ignored: tuple[tuple[str, str], ...] = ()) -> Expression:
        """The formula as an expression. `ignored`: pairs of failure and command; while the failure is present the
        command reads as not given (for the moves of an item that ignores it)."""
        match formula:
            case Const(value):
                return constant(value)
            case Is(ref, values):
                return self.has(ref, values, ignored)
            case Same(left, right):
                shared = [v for v in self.values(left) if is_among(v, self.values(right))]
                return disjunction(
                    conjunction((self.has(left, (v,), ignored), self.has(right, (v,), ignored))) for v in shared
                )
            case Compare(operator, left, right):
                return disjunction(
                    case for case, number in self.cases(_difference(left, right)) if _compares(operator, number)
                )
            case Not(operand):
                return negate(self.expression(operand, ignored))
            case And(operands):
                return conjunction(self.expression(operand, ignored) for operand in operands)
            case Or(operands):
                return disjunction(self.expression(operand, ignored) for operand in operands)
            case AtMost(limit, operands):
                return at_most(limit, (self.expression(operand, ignored) for operand in operands))
            case Was(operand):
                return was(self.expression(operand, ignored))
            case Condition(name):
                return self.expression(self.conditions[name], ignored)

    def tree(self, id: str, words: str, formula: Formula) -> Expression:
        """The formula as a `Named` node `id`, its operands below it named `id/1`, `id/2` and so on, all the way
        down."""
        node = formula
        while isinstance(node, Condition):
            node = self.conditions[node.id]
        operands = [self.tree(f"{id}/{i}", words, part) for i, part in enumerate(operands_of(node), 1)]
        match node:
            case Not():
                inner = negate(operands[0])
            case And():
                inner = conjunction(operands)
            case Or():
                inner = disjunction(operands)
            case AtMost(limit):
                inner = at_most(limit, operands)
            case Was():
                inner = was(operands[0])
            case _:
                inner = self.expression(node)
        self.draft.origin.setdefault(id, Origin(words, getattr(formula, "span", None)))
        return named(id, inner)

    def cases(self, total: Sum) -> Iterator[tuple[Expression, int]]:
        """Every way a sum can come out: the condition on the things in it, and the number."""
        yield from self._cases(total.constant, total.parts)

    def _cases(self, number: int, parts: tuple[tuple[int, Ref], ...]) -> Iterator[tuple[Expression, int]]:
        if not parts:
            yield TRUE, number
            return
        (sign, ref), rest = parts[0], parts[1:]
        for value in self.values(ref):
            here = self.has(ref, (value,))
            for case, result in self._cases(number + sign * int(value), rest):
                both = conjunction((here, case))
                if both is not FALSE:
                    yield both, result

    # --- things ---

    def values(self, ref: Ref) -> tuple[Value, ...]:
        """The domain of a thing."""
        if ref.thing in (Thing.READING, Thing.CARRIED):
            return self.signals[ref.id][0].values
        if ref.thing is Thing.COMMAND or ref.thing is Thing.FAILURE:
            return (False, True)
        return self.draft.variables[ref.id].values

    def has(self, ref: Ref, values: tuple[Value, ...], ignored: tuple[tuple[str, str], ...] = ()) -> Expression:
        """The thing has one of these values."""
        if ref.thing is Thing.COMMAND:
            given = self.given(ref.id)
            ignoring = [self.present(failure) for failure, command in ignored if command == ref.id]
            if ignoring:
                given = conjunction((given, *(negate(failure) for failure in ignoring)))
            return truth(given, values)
        if ref.thing in (Thing.READING, Thing.CARRIED):
            return self.displayed(ref.id, values)
        if ref.thing is Thing.LINK and ref.id not in self.draft.variables:
            return constant("up" in values)
        return self.draft.has(ref.id, *values)

    def present(self, failure: str) -> Expression:
        """The failure is present."""
        return self.draft.has(failure, True)

    def displayed(self, signal: str, values: tuple[Value, ...]) -> Expression:
        """What logic sees of a reading or a carried value is among `values`: what is shown unless a failure says
        otherwise."""
        made, shown = self.signals[signal]
        result = shown(values)
        for failure, says in reversed(self._garbling(made, values)):
            absent = negate(self.present(failure))
            result = disjunction((conjunction((self.present(failure), says)), conjunction((absent, result))))
        return result

    def _garbling(self, signal: Signal, values: tuple[Value, ...]) -> list[tuple[str, Expression]]:
        link = next((link.id for link in self.spec.links if signal in link.carries), None)
        found: list[tuple[str, Expression]] = []
        for fault in self.faults.all:
            kind, target = fault.effect.kind, fault.effect.target
            if kind is EffectKind.READS and target == signal.id:
                found.append((fault.failure, constant(is_among(_known(fault.effect.value), values))))
            elif kind is EffectKind.FROZEN and target == signal.id:
                found.append((fault.failure, self.draft.has(f"{signal.id} frozen by {fault.failure}", *values)))
            elif kind is EffectKind.ANYTHING and target in (signal.id, link):
                found.append((fault.failure, self.draft.has(f"{signal.id} garbled by {fault.failure}", *values)))
        return found

    # --- sequences ---

    def powered(self, sequence: Sequence) -> Expression:
        """The sequence has its supply."""
        return TRUE if sequence.powered_by is None else self.expression(sequence.powered_by)

    def running(self, sequence: Sequence) -> Expression:
        """The sequence is powered and no failure has stopped it."""
        stops = self.faults.on(sequence.id, EffectKind.STOPS_HOLDING, EffectKind.STOPS_DROPPING)
        return conjunction((self.powered(sequence), *(negate(self.present(f.failure)) for f in stops)))

    def given(self, command: str) -> Expression:
        """The command is given: some powered sequence drives it, unless failures of the output say otherwise."""
        if self.free_commands:
            result = self.draft.has(f"command {command}", True)
        else:
            result = disjunction(
                conjunction(
                    (
                        self.draft.has(sequence.id, *steps),
                        self.powered(sequence),
                        *(
                            negate(self.present(f.failure))
                            for f in self.faults.on(sequence.id, EffectKind.STOPS_DROPPING)
                        ),
                    )
                )
                for sequence, steps in self.drivers[command]
            )
        for fault in self.faults.on(command, EffectKind.DRIVEN, EffectKind.SILENT):
            present = self.present(fault.failure)
            if fault.effect.kind is EffectKind.DRIVEN:
                result = disjunction((result, present))
            else:
                result = conjunction((result, negate(present)))
        return result


def truth(expression: Expression, values: tuple[Value, ...]) -> Expression:
    """The truth value of `expression` is among `values`."""
    chosen = [is_among(True, values), is_among(False, values)]
    if all(chosen):
        return TRUE
    if not any(chosen):
        return FALSE
    return expression if chosen[0] else negate(expression)


def _known(value: Value | None) -> Value:
    assert value is not None
    return value


def _difference(left: Sum, right: Sum) -> Sum:
    return Sum(left.constant - right.constant, left.parts + tuple((-sign, ref) for sign, ref in right.parts))


def _compares(operator: str, difference: int) -> bool:
    return {"=": difference == 0, "<": difference < 0, "<=": difference <= 0}[operator]
