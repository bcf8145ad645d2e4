"""What a rule asks of how long something lasts is told with both of its ends, and whether they are included."""

from __future__ import annotations

import pytest

from tests.timed_texts import check

LAMP = """
equipment:
  lamp: {states: [dark, lit, over], start: dark, moves: {MOVES}}
rules:
  R: {condition: lamp is lit, lasts: LASTS}
"""
MOVES = "lights: {from: dark, to: lit}, ends: {from: lit, to: over, takes: 2 s .. 5 s}"


@pytest.mark.parametrize(
    ("lasts", "broken"),
    [
        ("0 s .. 5 s", None),
        ("0 s .. under 5 s", "lamp is lit, for 5 s or longer"),
        ("0 s .. 4 s", "lamp is lit, for longer than 4 s"),
        ("over 2 s .. never", "lamp is lit, for 2 s or less"),
        ("3 s .. 5 s", "lamp is lit, for less than 3 s"),
        ("5 s", "lamp is lit, for less than 5 s"),
    ],
)
def test_how_long_something_lasts_is_told_as_it_was_written(lasts: str, broken: str | None) -> None:
    (rule,) = check(LAMP.replace("MOVES", MOVES).replace("LASTS", lasts), "R").rules
    assert rule.says == f"condition: lamp is lit, lasts: {lasts}"
    breaches = [cell.scenario.breach for cell in rule.grid if cell.claimed and cell.scenario is not None]
    assert breaches[-1:] == ([] if broken is None else [broken])
