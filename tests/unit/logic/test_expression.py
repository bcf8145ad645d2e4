"""Interned expressions: what folding keeps, what pins change."""

from __future__ import annotations

import pickle
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from interlock.logic.expression import (
    FALSE,
    TRUE,
    Expression,
    Kind,
    at_most,
    conjunction,
    disjunction,
    fold,
    has,
    named,
    negate,
    pin,
    variables_of,
    walk,
)

SIZES = {"a": 2, "b": 3, "c": 2}


def plain(kind: str, *operands: object) -> tuple[object, ...]:
    """A formula that nothing folds."""
    return (kind, *operands)


def raw() -> st.SearchStrategy[tuple[object, ...]]:
    atoms = st.one_of(
        st.sampled_from(sorted(SIZES)).flatmap(
            lambda name: st.sets(st.integers(0, SIZES[name] - 1)).map(lambda chosen: plain("in", name, sorted(chosen)))
        ),
        st.booleans().map(lambda value: plain("constant", value)),
    )

    def grown(inner: st.SearchStrategy[tuple[object, ...]]) -> st.SearchStrategy[tuple[object, ...]]:
        several = st.lists(inner, max_size=3)
        return st.one_of(
            inner.map(lambda x: plain("not", x)),
            several.map(lambda xs: plain("and", *xs)),
            several.map(lambda xs: plain("or", *xs)),
            st.tuples(st.integers(-1, 3), several).map(lambda pair: plain("at most", pair[0], *pair[1])),
            st.tuples(st.sampled_from("pqr"), inner).map(lambda pair: plain("named", *pair)),
        )

    return st.recursive(atoms, grown, max_leaves=12)


def built(formula: tuple[object, ...]) -> Expression:
    kind, *rest = formula
    if kind == "in":
        name, chosen = rest
        return has(name, chosen, SIZES[name])  # type: ignore[index, arg-type]
    if kind == "constant":
        return TRUE if rest[0] else FALSE
    if kind == "named":
        return named(rest[0], built(rest[1]))  # type: ignore[arg-type]
    if kind == "at most":
        return at_most(rest[0], [built(x) for x in rest[1:]])  # type: ignore[arg-type]
    operands = [built(x) for x in rest]  # type: ignore[arg-type]
    if kind == "not":
        return negate(operands[0])
    return conjunction(operands) if kind == "and" else disjunction(operands)


def value(formula: tuple[object, ...], now: dict[str, int], pins: dict[str, bool]) -> bool:
    kind, *rest = formula
    if kind == "in":
        return now[rest[0]] in rest[1]  # type: ignore[index, operator]
    if kind == "constant":
        return bool(rest[0])
    if kind == "named":
        return pins[rest[0]] if rest[0] in pins else value(rest[1], now, pins)  # type: ignore[arg-type]
    if kind == "at most":
        return sum(value(x, now, pins) for x in rest[1:]) <= rest[0]  # type: ignore[arg-type, operator]
    values = [value(x, now, pins) for x in rest]  # type: ignore[arg-type]
    if kind == "not":
        return not values[0]
    return all(values) if kind == "and" else any(values)


def evaluated(expression: Expression, now: dict[str, int]) -> bool:
    def combine(node: Expression, operands: tuple[bool, ...]) -> bool:
        if node.kind is Kind.CONSTANT:
            return node.values == (1,)
        if node.kind is Kind.IN:
            return now[node.name] in node.values
        if node.kind is Kind.NOT:
            return not operands[0]
        if node.kind is Kind.AND:
            return all(operands)
        if node.kind is Kind.OR:
            return any(operands)
        if node.kind is Kind.AT_MOST:
            return sum(operands) <= node.values[0]
        return operands[0]

    return fold(expression, combine)


@given(raw(), st.dictionaries(st.sampled_from("pqr"), st.booleans()))
def test_folding_and_pinning_never_change_what_a_formula_says(
    formula: tuple[object, ...], pins: dict[str, bool]
) -> None:
    expression = built(formula)
    pinned = pin(expression, pins)
    for values in product(*(range(size) for size in SIZES.values())):
        now = dict(zip(SIZES, values, strict=True))
        assert evaluated(expression, now) == value(formula, now, {})
        assert evaluated(pinned, now) == value(formula, now, pins)


@given(raw())
def test_equal_expressions_are_one_object_also_after_pickling(formula: tuple[object, ...]) -> None:
    assert built(formula) is built(formula)
    assert pickle.loads(pickle.dumps(built(formula))) is built(formula)


def test_a_named_node_is_kept_though_what_stands_inside_is_constant() -> None:
    node = conjunction([named("p", TRUE), has("a", [1], 2)])
    assert any(part.kind is Kind.NAMED for part in walk(node))
    assert pin(node, {"p": False}) is FALSE
    assert variables_of(node) == {"a"}


def test_operands_written_twice_count_twice_in_at_most() -> None:
    a = has("a", [1], 2)
    both = at_most(1, [a, a])
    assert not evaluated(both, {"a": 1})
    assert evaluated(both, {"a": 0})


def test_a_very_deep_expression_is_folded_without_recursion() -> None:
    deep = has("a", [1], 2)
    for _ in range(20_000):
        deep = named("p", deep)
    assert evaluated(deep, {"a": 1})
