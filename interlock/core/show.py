"""Expressions and values of the core as text that people read."""

from __future__ import annotations

from collections.abc import Mapping

from interlock.core.system import System
from interlock.logic.expression import Expression, Kind, fold, variables_of

Domain = tuple[str | int | bool, ...]


def domains(system: System) -> dict[str, Domain]:
    """The domain of each variable, by name."""
    return {variable.name: variable.values for variable in system.variables}


def value_text(value: str | int | bool) -> str:
    """A value as people write it in a spec."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def show(expression: Expression, domain_of: Mapping[str, Domain]) -> str:
    """The expression in the words of the language; `Named` nodes are shown by what stands inside them."""
    text, _ = fold(expression, lambda node, operands: _shown(node, operands, domain_of))
    return text


_LOOSE, _AND, _TIGHT = 0, 1, 2


def _shown(node: Expression, operands: tuple[tuple[str, int], ...], domain_of: Mapping[str, Domain]) -> tuple[str, int]:
    def inner(level: int) -> list[str]:
        return [text if tight >= level else f"({text})" for text, tight in operands]

    if node.kind is Kind.CONSTANT:
        return value_text(node.values[0] == 1), _TIGHT
    if node.kind is Kind.IN:
        domain = domain_of[node.name]
        chosen = [domain[i] for i in node.values]
        if domain == (False, True):
            return (node.name, _TIGHT) if chosen == [True] else (f"not {node.name}", _TIGHT)
        if len(chosen) == 1:
            return f"{node.name} is {value_text(chosen[0])}", _TIGHT
        if len(chosen) == len(domain) - 1:
            missing = next(v for i, v in enumerate(domain) if i not in node.values)
            return f"{node.name} is not {value_text(missing)}", _TIGHT
        return f"{node.name} in {{{', '.join(map(value_text, chosen))}}}", _TIGHT
    if node.kind is Kind.NOT and node.operands[0].kind is Kind.IN and operands[0][0].count(" is ") == 1:
        name, values = node.operands[0].name, node.operands[0].values
        if len(values) == 1 and domain_of[name] != (False, True):
            return f"{name} is not {value_text(domain_of[name][values[0]])}", _TIGHT
    if node.kind is Kind.NOT:
        return f"not {inner(_TIGHT)[0]}", _TIGHT
    if node.kind is Kind.AND:
        return " and ".join(inner(_TIGHT)), _AND
    if node.kind is Kind.OR:
        return " or ".join(inner(_AND)), _LOOSE
    if node.kind is Kind.AT_MOST:
        return f"at most {node.values[0]} of ({', '.join(text for text, _ in operands)})", _TIGHT
    if node.kind is Kind.WAS:
        return f"was({operands[0][0]})", _TIGHT
    return operands[0]


def read_by(expression: Expression, system: System) -> tuple[str, ...]:
    """The variables an expression reads, in the order of the system."""
    names = variables_of(expression)
    return tuple(variable.name for variable in system.variables if variable.name in names)
