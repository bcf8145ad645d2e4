"""Bars of text, for reports that show lengths side by side: exact, and never more than they stand for.

In: whole lengths. Out: a text of a fixed number of cells. A bar is full only where all of it is used.
"""

from __future__ import annotations

from fractions import Fraction

USED, LEFT, OVER = "#", ".", "!"


def bar(used: Fraction | int, of: Fraction | int, cells: int) -> str:
    """What is used of something, on so many cells: `#` used, `.` left; `!` at the end: more than there is. Anything
    used shows, and anything left shows."""
    if of <= 0:
        return (USED if used <= 0 else OVER) * cells
    if used > of:
        return USED * (cells - 1) + OVER
    n = int(Fraction(used) * cells / Fraction(of))
    if used > 0 and n == 0:
        n = 1
    return USED * n + LEFT * (cells - n)


def span(begin: Fraction | int, end: Fraction | int, of: Fraction | int, cells: int, mark: str = USED) -> str:
    """From where to where something lies on a line that is `of` long, on so many cells; it takes one cell at the least,
    and what lies beyond the line is cut off."""
    if of <= 0 or begin >= of:
        return " " * cells
    first = int(Fraction(begin) * cells / Fraction(of))
    last = -int(-Fraction(min(end, of)) * cells // Fraction(of))
    last = max(last, first + 1)
    return " " * first + mark * (last - first) + " " * (cells - last)
