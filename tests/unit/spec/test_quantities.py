"""Quantities: units and dimensions, numbers as people write them, arithmetic on bounds, the logarithm."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.diag.place import Span
from interlock.spec.intervals import about, greatest, least, over, plus, times
from interlock.spec.logarithm import _of_two, logarithm
from interlock.spec.quantities import (
    Quantity,
    Range,
    brief,
    exact,
    point,
    show_quantity,
    show_range,
    show_time,
    to_step,
)
from interlock.spec.units import (
    CAPACITANCE,
    CHARGE,
    COUNT,
    CURRENT,
    CURRENT_RATE,
    ENERGY,
    POWER,
    RATE,
    RESISTANCE,
    SPELLINGS,
    TIME,
    UNITS,
    VOLTAGE,
    Dimension,
    meant,
    unit_of,
)

SPAN = Span("f", 1, 1, 1, 2)


# --- units and dimensions ---


def test_every_unit_has_its_size_in_the_base_unit_of_what_it_measures() -> None:
    """From the SI brochure; a year is 365 days of 24 hours."""
    assert {unit: float(size) for unit, (_, size) in UNITS.items()} == {
        "ns": 1e-9, "us": 1e-6, "ms": 1e-3, "s": 1, "min": 60, "h": 3600, "d": 86400, "a": 31536000,
        "/h": 1 / 3600, "/a": 1 / 31536000, "mV": 1e-3, "V": 1, "kV": 1000, "mA": 1e-3, "A": 1, "kA": 1000,
        "ohm": 1, "kohm": 1000, "Mohm": 1e6, "F": 1, "mF": 1e-3, "uF": 1e-6, "C": 1, "Ah": 3600,
        "W": 1, "kW": 1000, "MW": 1e6, "J": 1, "kJ": 1000, "MJ": 1e6,
        "Wh": 3600, "kWh": 3.6e6, "MWh": 3.6e9, "m": 1, "km": 1000, "%": 0.01,
    }  # fmt: skip


def test_dimensions_fit_together_as_the_laws_of_electricity_have_it() -> None:
    assert RESISTANCE * CAPACITANCE == TIME
    assert VOLTAGE / RESISTANCE == CURRENT
    assert POWER * TIME == ENERGY == VOLTAGE * CHARGE
    assert CAPACITANCE * VOLTAGE * VOLTAGE == ENERGY
    assert CURRENT / CURRENT_RATE == TIME
    assert TIME * RATE == COUNT


@pytest.mark.parametrize(
    ("one", "same"),
    [
        ("A/s", "mA/ms"),
        ("V/A", "ohm"),
        ("J/s", "W"),
        ("C/s", "A"),
        ("C/V", "F"),
        ("1/s", ""),
        ("/s", "/s"),
        ("kW/kV", "A"),
    ],
)
def test_a_unit_over_another_is_a_unit(one: str, same: str) -> None:
    assert unit_of(one) == (unit_of(same) if same else None)


def test_rates_per_hour_and_per_second_measure_the_same() -> None:
    assert unit_of("/h") == (RATE, Fraction(1, 3600))
    assert unit_of("/s") == (RATE, Fraction(1))


@pytest.mark.parametrize("text", ["", "/", "s/", "Q", "V/Q", "/%", "A/s/s", "A//s"])
def test_what_is_no_unit_is_none(text: str) -> None:
    assert unit_of(text) is None


@pytest.mark.parametrize(
    ("text", "guess"),
    [
        ("msec", "ms"),
        ("kΩ", "kohm"),
        ("A/sec", "A/s"),
        ("amp/second", "A/s"),
        ("/hour", "/h"),
        ("blub", ""),
        ("x/y", ""),
    ],
)
def test_the_unit_that_was_meant_is_told(text: str, guess: str) -> None:
    assert meant(text) == guess


def test_other_spellings_lead_to_units_and_are_none_themselves() -> None:
    assert set(SPELLINGS.values()) <= set(UNITS)
    assert not set(SPELLINGS) & set(UNITS)


@pytest.mark.parametrize(
    ("dimension", "told"),
    [
        (TIME, "a time"),
        (ENERGY, "an energy"),
        (COUNT, "a plain number"),
        (VOLTAGE * VOLTAGE, "a quantity in V^2"),
        (VOLTAGE / (TIME * CURRENT), "a quantity in V/(A s)"),
        (Dimension(second=-2), "a quantity in /s^2"),
    ],
)
def test_a_dimension_is_told_with_its_article(dimension: Dimension, told: str) -> None:
    assert str(dimension) == told


# --- showing ---


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (Fraction(3, 100), "30 ms"),
        (Fraction(5, 2), "2.5 s"),
        (Fraction(0), "0 s"),
        (Fraction(210), "210 s"),
        (Fraction(180), "3 min"),
        (Fraction(7200), "2 h"),
        (Fraction(1, 10**9), "1 ns"),
        (Fraction(1, 3), "1000/3 ms"),
        (Fraction(-3), "-3 s"),
    ],
)
def test_a_time_is_shown_in_the_unit_that_suits_it(value: Fraction, shown: str) -> None:
    assert show_time(value) == shown


@pytest.mark.parametrize(
    ("value", "shown"),
    [(Fraction(7), "7"), (Fraction(1, 4), "0.25"), (Fraction(-1, 8), "-0.125"), (Fraction(2, 3), "2/3")],
)
def test_a_number_is_shown_exactly(value: Fraction, shown: str) -> None:
    assert exact(value) == shown


@pytest.mark.parametrize(
    ("low", "high", "dimension", "shown"),
    [
        ("750", "750", VOLTAGE, "750 V"),
        ("1500", "1500", VOLTAGE, "1.5 kV"),
        ("0", "0", VOLTAGE, "0 V"),
        ("-3", "-3", CURRENT, "-3 A"),
        ("30", "30", COUNT, "30"),
        ("9500", "10500", RESISTANCE, "9.5 kohm .. 10.5 kohm"),
        ("0.004", "0.004", CAPACITANCE, "4 mF"),
        ("0.0000001", "0.0000001", CAPACITANCE, "0.1 uF"),
        ("7200000", "7200000", ENERGY, "2 kWh"),
        ("45", "45", ENERGY, "45 J"),
        ("1/3", "2/3", TIME, "333.333 ms .. 666.667 ms"),
        ("9", "9", VOLTAGE * VOLTAGE, "9 V^2"),
        ("1/18000000000", "1/18000000000", RATE, "0.0000002 /h"),
    ],
)
def test_a_quantity_is_shown_in_the_unit_that_suits_it(low: str, high: str, dimension: Dimension, shown: str) -> None:
    assert show_quantity(Quantity(Fraction(low), Fraction(high), dimension, SPAN)) == shown


def test_a_window_is_shown_with_its_outer_ends() -> None:
    one = Quantity(Fraction(1), Fraction(2), TIME, SPAN)
    assert show_range(Range(one, one, True, False, SPAN)) == "over 1 s .. 2 s"
    assert show_range(Range(one, None, False, False, SPAN)) == "1 s .. never"


FRACTIONS = st.fractions(min_value=-1000, max_value=1000, max_denominator=1000)


@given(FRACTIONS)
def test_a_number_cut_for_people_is_cut_outwards_and_by_little(value: Fraction) -> None:
    below, above = brief(value, up=False), brief(value, up=True)
    assert below <= value <= above
    assert above - below <= abs(value) / 10**4


@given(FRACTIONS, st.fractions(min_value=Fraction(1, 100), max_value=10, max_denominator=100))
def test_rounding_to_a_step_is_to_the_next_one_and_outwards(value: Fraction, step: Fraction) -> None:
    below, above = to_step(value, step, up=False), to_step(value, step, up=True)
    assert below <= value <= above
    assert (below / step).denominator == (above / step).denominator == 1
    assert above - below == (0 if value == below else step)


# --- arithmetic on bounds ---


@st.composite
def quantities(draw: st.DrawFn, dimension: Dimension = COUNT, least: int = -1000) -> Quantity:
    low = draw(st.fractions(min_value=least, max_value=1000, max_denominator=50))
    return Quantity(low, low + draw(st.fractions(min_value=0, max_value=100, max_denominator=50)), dimension, SPAN)


SHARES = st.fractions(min_value=0, max_value=1, max_denominator=20)


def inside(quantity: Quantity, share: Fraction) -> Fraction:
    return quantity.low + share * (quantity.high - quantity.low)


@given(quantities(), quantities(), SHARES, SHARES)
def test_bounds_hold_the_result_of_whatever_lies_within_the_operands(
    one: Quantity, other: Quantity, share: Fraction, another: Fraction
) -> None:
    a, b = inside(one, share), inside(other, another)
    results = [
        (plus(one, other, SPAN), a + b),
        (plus(one, other, SPAN, minus=True), a - b),
        (times(one, other, SPAN), a * b),
        (least([one, other], SPAN), min(a, b)),
        (greatest([one, other], SPAN), max(a, b)),
    ]
    quotient = over(one, other, SPAN)
    assert (quotient is None) == (other.low <= 0 <= other.high)
    if quotient is not None:
        results.append((quotient, a / b))
    assert all(bounds.low <= value <= bounds.high for bounds, value in results)


@given(quantities(), quantities())
def test_bounds_are_no_wider_than_the_ends_of_the_operands_make_them(one: Quantity, other: Quantity) -> None:
    ends = list(product((one.low, one.high), (other.low, other.high)))
    quotient = over(one, other, SPAN)
    results = [(plus(one, other, SPAN), [a + b for a, b in ends]), (times(one, other, SPAN), [a * b for a, b in ends])]
    if quotient is not None:
        results.append((quotient, [a / b for a, b in ends]))
    assert all((bounds.low, bounds.high) == (min(found), max(found)) for bounds, found in results)


@given(quantities(VOLTAGE), st.fractions(min_value=0, max_value=2, max_denominator=100), SHARES, SHARES)
def test_a_tolerance_in_percent_is_a_share_of_the_value(
    value: Quantity, by: Fraction, share: Fraction, another: Fraction
) -> None:
    bounds = about(value, point(by, COUNT, SPAN), SPAN, share=True)
    assert bounds.low <= inside(value, share) * (1 - by + 2 * by * another) <= bounds.high
    if value.low == value.high:
        assert {bounds.low, bounds.high} == {value.low * (1 - by), value.low * (1 + by)}


def test_a_tolerance_with_a_unit_is_added_on_both_sides() -> None:
    bounds = about(point(Fraction(100), VOLTAGE, SPAN), point(Fraction(7), VOLTAGE, SPAN), SPAN, share=False)
    assert (bounds.low, bounds.high) == (Fraction(93), Fraction(107))


def test_only_what_can_give_long_numbers_counts_as_computed() -> None:
    time, number = point(Fraction(3, 1000), TIME, SPAN), point(Fraction(2), COUNT, SPAN)
    assert not times(time, number, SPAN).computed
    assert not plus(time, time, SPAN).computed
    assert times(time, point(Fraction(2), CURRENT, SPAN), SPAN).computed
    half, third = over(time, number, SPAN), over(number, point(Fraction(7), COUNT, SPAN), SPAN)
    assert half is not None
    assert not half.computed
    assert third is not None
    assert third.computed


# --- the logarithm ---


@given(st.fractions(min_value=Fraction(1, 10**6), max_value=10**6, max_denominator=10**6))
def test_the_logarithm_lies_within_its_bounds_and_they_are_close(x: Fraction) -> None:
    low, high = logarithm(x)
    assert 0 <= high - low < Fraction(1, 10**14)
    assert float(low) - 1e-12 <= log(x) <= float(high) + 1e-12


@given(*[st.fractions(min_value=Fraction(1, 1000), max_value=1000, max_denominator=1000)] * 2)
def test_the_bounds_of_a_product_and_of_its_factors_never_contradict_one_another(x: Fraction, y: Fraction) -> None:
    """Ln xy = ln x + ln y, exactly: the true value lies in both, so they meet."""
    (low, high), (x_low, x_high), (y_low, y_high) = logarithm(x * y), logarithm(x), logarithm(y)
    assert low <= x_high + y_high
    assert x_low + y_low <= high


@pytest.mark.parametrize(
    ("x", "digits"),
    [
        ("2", "0.69314718055994530941723212145818"),
        ("10", "2.30258509299404568401799145468436"),
        ("3", "1.09861228866810969139524523692253"),
        ("1/2", "-0.69314718055994530941723212145818"),
    ],
)
def test_known_digits_lie_strictly_within_the_bounds(x: str, digits: str) -> None:
    """Digits of ln 2, ln 3 and ln 10: OEIS A002162, A002391, A002392 (from memory); `decimal` gives the same below."""
    low, high = logarithm(Fraction(x))
    assert low < Fraction(digits) < high


@given(st.integers(1, 10**9), st.integers(1, 10**9))
def test_an_independent_logarithm_of_forty_digits_lies_within_the_bounds(a: int, b: int) -> None:
    from decimal import Decimal, localcontext

    with localcontext() as context:
        context.prec = 40
        value = Fraction(Decimal(a).ln() - Decimal(b).ln())
    low, high = logarithm(Fraction(a, b))
    slack = Fraction(1, 10**36)
    assert low - slack <= value <= high + slack


def test_the_terms_that_are_left_out_of_the_series_are_within_the_upper_bound() -> None:
    """They are about 3e-33 in all for ln 2; its digits: OEIS A002162 (here from `decimal`)."""
    from decimal import Decimal, localcontext

    with localcontext() as context:
        context.prec = 50
        value = Fraction(Decimal(2).ln())
    low, high = _of_two()
    assert low < value < high


def test_the_logarithm_of_one_is_zero_and_of_nothing_is_refused() -> None:
    assert logarithm(Fraction(1)) == (Fraction(0), Fraction(0))
    for x in (0, -1):
        with pytest.raises(ValueError, match="positive"):
            logarithm(Fraction(x))
