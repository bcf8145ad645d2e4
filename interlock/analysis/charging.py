"""Energy that is delivered in a time when power rises and falls in even ramps: a trapezoid, as in any textbook.

Exact in fractions. Power in watts, energy in joules, times in seconds.
"""

from __future__ import annotations

from fractions import Fraction
from math import isqrt

from interlock.spec.quantities import to_step

STEP_S = Fraction(1, 1000)
"""A time that is no fraction (a root) is rounded up to whole steps."""


def energy(power_w: Fraction, ramps_s: Fraction, time_s: Fraction) -> Fraction:
    """What is delivered in a time, both ramps (together `ramps_s`) within it. In a time too short for them the power
    rises as steeply, turns below its full height, and what is delivered is a triangle."""
    if time_s <= 0:
        return Fraction(0)
    if time_s >= ramps_s:
        return power_w * (time_s - ramps_s / 2)
    return power_w * time_s * time_s / (2 * ramps_s)


def time_for(power_w: Fraction, ramps_s: Fraction, energy_j: Fraction) -> Fraction:
    """The time in which so much is delivered; exact, but rounded up to whole milliseconds where it is a root."""
    if energy_j >= power_w * ramps_s / 2:
        return energy_j / power_w + ramps_s / 2
    square = 2 * ramps_s * energy_j / power_w
    steps = square / (STEP_S * STEP_S)
    n = isqrt(steps.numerator // steps.denominator)
    while n * n < steps:
        n += 1
    return to_step(n * STEP_S, STEP_S, up=True)
