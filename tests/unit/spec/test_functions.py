"""The functions of quantities: their worst ends, what they refuse, and that a report tells those ends rightly."""

from __future__ import annotations

from fractions import Fraction
from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.diag.place import Span
from interlock.spec.functions import FUNCTIONS, Function, Impossible
from interlock.spec.quantities import Quantity, point
from interlock.spec.units import COUNT, CURRENT, CURRENT_RATE, TIME, VOLTAGE

SPAN = Span("f", 1, 1, 1, 2)

TOLD = [function for function in FUNCTIONS.values() if function.formula]
"""Those whose formula and worst ends a report tells."""


@st.composite
def arguments(draw: st.DrawFn, function: Function) -> list[Quantity]:
    """Positive values for every argument, some with a tolerance; durations and voltages near the rows of the table."""
    found = []
    for _, dimension in function.takes:
        most = {TIME: 2, VOLTAGE: 1000}.get(dimension or COUNT, 100)
        low = draw(st.fractions(min_value=Fraction(1, 50), max_value=most, max_denominator=50))
        high = low + draw(st.fractions(min_value=0, max_value=most, max_denominator=50))
        found.append(Quantity(low, high, dimension or COUNT, SPAN))
    return found


def at(values: list[Quantity], uppers: list[bool]) -> list[Quantity]:
    """One end of each value, without tolerance."""
    return [
        point(one.high if upper else one.low, one.measures, SPAN) for one, upper in zip(values, uppers, strict=True)
    ]


@pytest.mark.parametrize("function", TOLD, ids=lambda function: function.name)
@settings(max_examples=20)
@given(data=st.data())
def test_the_ends_lie_where_the_report_says_that_they_lie(function: Function, data: st.DataObject) -> None:
    values = data.draw(arguments(function))
    bounds = function.compute(values, SPAN)
    greatest = function.compute(at(values, list(function.rises)), SPAN)
    least = function.compute(at(values, [not rises for rises in function.rises]), SPAN)
    assert (bounds.low, bounds.high) == (least.low, greatest.high)


@pytest.mark.parametrize("function", TOLD, ids=lambda function: function.name)
@settings(max_examples=20)
@given(data=st.data())
def test_no_choice_within_the_tolerances_gives_a_value_outside_the_bounds(
    function: Function, data: st.DataObject
) -> None:
    values = data.draw(arguments(function))
    chosen = [
        point(one.low + data.draw(st.fractions(0, 1, max_denominator=9)) * (one.high - one.low), one.measures, SPAN)
        for one in values
    ]
    bounds, value = function.compute(values, SPAN), function.compute(chosen, SPAN)
    assert bounds.low <= value.high
    assert value.low <= bounds.high
    assert value.high - value.low <= bounds.high - bounds.low + Fraction(1, 10**9)


@settings(max_examples=20)
@given(*[st.fractions(min_value=Fraction(1, 100), max_value=1000, max_denominator=100)] * 4)
def test_discharge_and_precharge_are_the_natural_logarithm_of_the_voltages(
    resistance: Fraction, capacitance: Fraction, first: Fraction, last: Fraction
) -> None:
    """Against the floating-point logarithm of the standard library, nine digits."""
    for name in ("discharge_time", "precharge_time"):
        function = FUNCTIONS[name]
        values = [
            point(value, dimension or COUNT, SPAN)
            for value, (_, dimension) in zip((resistance, capacitance, first, last), function.takes, strict=True)
        ]
        bounds = function.compute(values, SPAN)
        expected = float(resistance * capacitance) * max(log(first / last), 0.0)
        assert float(bounds.low) == pytest.approx(expected, rel=1e-9, abs=1e-9)
        assert float(bounds.high) == pytest.approx(expected, rel=1e-9, abs=1e-9)
        assert bounds.low <= bounds.high


@settings(max_examples=20)
@given(*[st.fractions(min_value=0, max_value=1000, max_denominator=100)] * 2)
def test_a_current_falls_in_exactly_the_time_that_its_rate_gives(first: Fraction, last: Fraction) -> None:
    given_ = [point(first, CURRENT, SPAN), point(last, CURRENT, SPAN), point(Fraction(200), CURRENT_RATE, SPAN)]
    bounds = FUNCTIONS["fall_time"].compute(given_, SPAN)
    assert bounds.low == bounds.high == max(first - last, Fraction(0)) / 200


@pytest.mark.parametrize(
    ("name", "ends", "argument"),
    [
        ("discharge_time", [(1, 1), (1, 1), (900, 900), (0, 0)], 3),
        ("discharge_time", [(1, 1), (1, 1), (900, 900), (-1, 60)], 3),
        ("discharge_time", [(-1, 1), (1, 1), (900, 900), (60, 60)], 0),
        ("discharge_time", [(1, 1), (-1, 1), (900, 900), (60, 60)], 1),
        ("precharge_time", [(1, 1), (1, 1), (750, 750), (0, 20)], 3),
        ("precharge_time", [(1, 1), (1, 1), (-1, 750), (20, 20)], 2),
        ("fall_time", [(200, 200), (5, 5), (0, 200)], 2),
        ("fall_time", [(-1, 200), (5, 5), (200, 200)], 0),
        ("touch_voltage_limit", [(-1, 1)], 0),
        ("touch_time_limit", [(-1, 1)], 0),
        ("outward", [(1, 1), (0, 0)], 1),
        ("outward", [(1, 1), (1, 2)], 1),
    ],
)
def test_what_has_no_value_for_some_choice_is_refused_at_that_argument(
    name: str, ends: list[tuple[int, int]], argument: int
) -> None:
    function = FUNCTIONS[name]
    values = [
        Quantity(Fraction(low), Fraction(high), dimension or COUNT, SPAN)
        for (low, high), (_, dimension) in zip(ends, function.takes, strict=True)
    ]
    with pytest.raises(Impossible) as refused:
        function.compute(values, SPAN)
    assert refused.value.argument == argument


def test_outward_rounds_both_ends_away_from_each_other_and_keeps_whole_steps() -> None:
    function = FUNCTIONS["outward"]
    step = point(Fraction(1, 10), TIME, SPAN)
    between = function.compute([Quantity(Fraction("0.38"), Fraction("0.41"), TIME, SPAN), step], SPAN)
    whole = function.compute([point(Fraction("0.4"), TIME, SPAN), step], SPAN)
    assert (between.low, between.high) == (Fraction("0.3"), Fraction("0.5"))
    assert (whole.low, whole.high) == (Fraction("0.4"), Fraction("0.4"))


def test_every_told_function_says_for_each_argument_whether_it_rises_with_it() -> None:
    assert {function.name for function in TOLD} == {
        "discharge_time", "precharge_time", "fall_time", "touch_voltage_limit", "touch_time_limit"
    }  # fmt: skip
    assert all(len(function.rises) == len(function.takes) for function in TOLD)
