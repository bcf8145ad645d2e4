"""Quantities: the size of every unit, and numbers as people write them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.diag.place import Span
from interlock.spec.quantities import SPELLINGS, UNITS, Quantity, exact, show_quantity, show_time


def test_every_unit_has_its_size_in_the_base_unit_of_what_it_measures() -> None:
    """From the SI brochure; a year is 365 days of 24 hours."""
    assert {unit: float(size) for unit, (_, size) in UNITS.items()} == {
        "ns": 1e-9, "us": 1e-6, "ms": 1e-3, "s": 1, "min": 60, "h": 3600, "d": 86400, "a": 31536000,
        "/h": 1, "/a": 1 / 8760, "V": 1, "kV": 1000, "A": 1, "kA": 1000, "ohm": 1, "kohm": 1000,
        "F": 1, "mF": 1e-3, "uF": 1e-6, "W": 1, "kW": 1000, "MW": 1e6, "J": 1, "kJ": 1000, "MJ": 1e6,
        "Wh": 3600, "kWh": 3.6e6, "MWh": 3.6e9, "m": 1, "km": 1000,
    }  # fmt: skip


def test_units_that_measure_the_same_have_one_base_unit() -> None:
    for measures in {kind for kind, _ in UNITS.values()}:
        assert [size for kind, size in UNITS.values() if kind == measures].count(Fraction(1)) == 1


def test_other_spellings_lead_to_units_and_are_none_themselves() -> None:
    assert set(SPELLINGS.values()) <= set(UNITS)
    assert not set(SPELLINGS) & set(UNITS)


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


def test_a_quantity_is_shown_with_its_base_unit() -> None:
    span = Span("f", 1, 1, 1, 2)
    assert show_quantity(Quantity(Fraction(750), "voltage", span)) == "750 V"
    assert show_quantity(Quantity(Fraction(1, 5000000), "rate", span)) == "0.0000002 /h"
    assert show_quantity(Quantity(Fraction(30), "count", span)) == "30"
