"""Whole reports as they are printed, made from results that hold something of everything.

To accept a change on purpose, read the difference, then write the new text: `python -m tests.golden.test_reports`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from interlock.report.as_json import render_check, render_find
from interlock.report.as_junit import render as render_junit
from interlock.report.as_text import Look, render
from interlock.report.find_text import render_find as render_find_text
from tests.made_results import ALL_HOLD, EVERYTHING, FOUND, SOURCES

FOLDER = Path(__file__).parent

REPORTS: Mapping[str, Callable[[], str]] = {
    "check_everything.txt": lambda: render(EVERYTHING, SOURCES),
    "check_everything_in_colour.txt": lambda: render(EVERYTHING, SOURCES, Look(colour=True, every_scenario=True)),
    "check_everything.json": lambda: render_check(EVERYTHING),
    "check_everything.xml": lambda: render_junit(EVERYTHING),
    "check_all_hold.txt": lambda: render(ALL_HOLD, SOURCES),
    "find_found.txt": lambda: render_find_text(FOUND, Look()),
    "find_found.json": lambda: render_find(FOUND),
}


@pytest.mark.parametrize("name", REPORTS)
def test_a_report_is_printed_as_it_was_read_and_accepted(name: str) -> None:
    assert REPORTS[name]() == (FOLDER / name).read_bytes().decode("utf-8")


if __name__ == "__main__":
    for name, report in REPORTS.items():
        (FOLDER / name).write_bytes(report().encode("utf-8"))
