"""Energy under even ramps, against areas worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.analysis.charging import energy, time_for

POWER, RAMPS = Fraction(720_000), Fraction(6)


@pytest.mark.parametrize(
    ("time_s", "energy_j"),
    [
        # A trapezoid of 720 kW: whole height for t - 6 s, two triangles of 6 s in all.
        (60, 720_000 * 57),
        (6, 720_000 * 3),
        # Half the time of the ramps: half the height, a quarter of the area.
        (3, 720_000 * 3 // 4),
        (0, 0),
    ],
)
def test_energy_is_the_area_of_a_trapezoid_or_a_triangle(time_s: int, energy_j: int) -> None:
    assert energy(POWER, RAMPS, Fraction(time_s)) == energy_j


def test_without_ramps_energy_is_power_times_time() -> None:
    assert energy(POWER, Fraction(0), Fraction(1, 2)) == 360_000


@pytest.mark.parametrize("time_s", [Fraction(60), Fraction(6), Fraction(3), Fraction(13, 2)])
def test_the_time_for_an_energy_is_the_time_that_gives_it(time_s: Fraction) -> None:
    assert time_for(POWER, RAMPS, energy(POWER, RAMPS, time_s)) == time_s


def test_a_time_that_is_a_root_is_rounded_up_to_a_millisecond() -> None:
    # t * t = 2 * 6 * 720,000 / 720,000 = 12: t = 3.4641...
    assert time_for(POWER, RAMPS, Fraction(720_000)) == Fraction(3465, 1000)
