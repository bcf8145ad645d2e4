"""Bars of text."""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.report.bars import bar, span


@pytest.mark.parametrize(
    ("used", "of", "expected"),
    [
        (0, 10, ".........."),
        (5, 10, "#####....."),
        (10, 10, "##########"),
        (11, 10, "#########!"),
        (Fraction(1, 100), 10, "#........."),
        (Fraction(999, 100), 10, "#########."),
        (0, 0, "##########"),
        (1, 0, "!!!!!!!!!!"),
    ],
)
def test_a_bar_shows_what_is_used_and_what_is_left(used: Fraction | int, of: int, expected: str) -> None:
    assert bar(used, of, 10) == expected


@pytest.mark.parametrize(
    ("begin", "end", "expected"),
    [(0, 5, "#####     "), (5, 10, "     #####"), (2, 2, "  #       "), (8, 20, "        ##"), (10, 12, "          ")],
)
def test_a_span_lies_where_it_belongs(begin: int, end: int, expected: str) -> None:
    assert span(begin, end, 10, 10) == expected
