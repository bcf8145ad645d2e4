"""The natural logarithm of a fraction, between two fractions that are certain.

In: an exact positive number. Out: a lower and an upper bound, less than 1e-14 apart for numbers up to 2^1000.
No floating point takes part.

x = m 2^k with 1 <= m < 2, and ln m = 2 artanh z with z = (m - 1)/(m + 1) < 1/3; artanh z = z + z^3/3 + z^5/5 + ... All
terms are positive and grow with z, so a sum of some of them at a z rounded down is a lower bound; the terms left out
are at most z^n / (n (1 - z^2)) in all, which with a z rounded up gives the upper bound.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache, lru_cache

from interlock.spec.quantities import to_step

TERMS = 32
"""So many terms are summed: z^65 is less than 1e-31."""

_FINE = Fraction(1, 2**110)
_STEP = Fraction(1, 10**16)
"""Steps to which z and the bounds are rounded, outwards, so that numbers stay short."""


@lru_cache(maxsize=1000)
def logarithm(x: Fraction) -> tuple[Fraction, Fraction]:
    """Bounds of ln x; ValueError if `x` is not positive. Cost: some hundred multiplications of short fractions."""
    if x <= 0:
        raise ValueError("only positive numbers have a logarithm")
    if x == 1:
        return Fraction(0), Fraction(0)
    if x < 1:
        low, high = logarithm(1 / x)
        return -high, -low
    k = (x.numerator // x.denominator).bit_length() - 1
    low, high = _below_two(x / 2**k)
    if k:
        two_low, two_high = _of_two()
        low, high = low + k * two_low, high + k * two_high
    return to_step(low, _STEP, up=False), to_step(high, _STEP, up=True)


@cache
def _of_two() -> tuple[Fraction, Fraction]:
    return _by_artanh(Fraction(1, 3))


def _below_two(m: Fraction) -> tuple[Fraction, Fraction]:
    return (Fraction(0), Fraction(0)) if m == 1 else _by_artanh((m - 1) / (m + 1))


def _by_artanh(z: Fraction) -> tuple[Fraction, Fraction]:
    """Bounds of 2 artanh z for 0 < z <= 1/3."""
    low, high = to_step(z, _FINE, up=False), to_step(z, _FINE, up=True)
    first = 2 * TERMS + 1
    rest = high**first / (first * (1 - high**2))
    return 2 * _sum(low), 2 * (_sum(high) + rest)


def _sum(z: Fraction) -> Fraction:
    return sum((z ** (2 * i + 1) / (2 * i + 1) for i in range(TERMS)), Fraction(0))
