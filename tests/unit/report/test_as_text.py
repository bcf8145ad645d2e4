"""The text report of a check; whole pages stand in tests/golden."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from interlock.analysis.result import CheckResult
from interlock.core.question import Verdict
from interlock.diag.cells import width
from interlock.report.as_text import Look, render, verdict_line
from interlock.report.words import CAUTIONS, OUTSIDE, STANDARDS
from tests.made_results import (
    ALL_HOLD,
    BREACH,
    DECLARED,
    EVERYTHING,
    FAILS,
    HOLDS,
    LOOP,
    NOTHING,
    SOURCES,
    cell,
    judged,
)

RESULTS = [ALL_HOLD, EVERYTHING, NOTHING]


def text(result: CheckResult, look: Look | None = None) -> str:
    return render(result, SOURCES, look or Look())


def section(report: str, heading: str) -> str:
    """The lines from a heading to the next empty line before a heading."""
    found = re.search(rf"^{re.escape(heading)}\n((?:(?:  .*)?\n)*?)(?=\n?\S|\Z)", report, re.MULTILINE)
    assert found, report
    return found[1]


@pytest.mark.parametrize("result", RESULTS)
@pytest.mark.parametrize("columns", [60, 80, 100])
def test_no_line_but_the_verdict_is_wider_than_the_terminal(result: CheckResult, columns: int) -> None:
    assert max(width(line) for line in text(result, Look(width=columns)).split("\n")[1:]) <= columns


@pytest.mark.parametrize("result", RESULTS)
def test_without_its_escapes_the_report_in_colour_is_the_report(result: CheckResult) -> None:
    painted = text(result, Look(colour=True))
    assert "\x1b[" in painted
    assert re.sub(r"\x1b\[[0-9;]*m", "", painted) == text(result)


@pytest.mark.parametrize("result", RESULTS)
def test_the_first_line_begins_with_the_verdict_and_is_all_that_quiet_prints(result: CheckResult) -> None:
    report = text(result)
    assert report.startswith(result.verdict.value)
    assert report.startswith(verdict_line(result))
    assert verdict_line(result).count("\n") == 1


@pytest.mark.parametrize("result", RESULTS)
def test_every_report_names_the_standards_the_cautions_and_what_lies_outside(result: CheckResult) -> None:
    words = " ".join(text(result).split())
    assert all(standard in words for standard in STANDARDS)
    assert all(caution in words for caution in CAUTIONS)
    assert ", ".join(OUTSIDE) in words


def test_a_failing_rule_is_told_with_its_place_and_its_scenario_once() -> None:
    report = text(EVERYTHING)
    assert "H1 fails with 1 failure" in report
    assert "Place      specs/made.yaml:5:3" in section(report, "R2 fails with 1 failure")
    assert "the same events as told at `H1 fails with 1 failure`" in section(report, "R2 fails with 1 failure")
    assert report.count("train leaves (between") == 1


def test_a_verdict_that_needs_more_failures_than_are_claimed_stands_in_parentheses_and_is_told_in_one_line() -> None:
    report = text(EVERYTHING)
    assert "(fails)" in report
    assert "R4 fails with 2 failures: hold_fails (at the start) and feeder_welded, in 5 events" in " ".join(
        section(report, "Beyond what is claimed").split()
    )
    assert "(more than is claimed)" not in report


def test_every_scenario_tells_also_those_beyond_the_claims() -> None:
    report = text(EVERYTHING, Look(every_scenario=True))
    assert "R4 fails with 2 failures (more than is claimed)" in report
    assert "Beyond what is claimed" not in report


def test_an_undecided_rule_shows_what_breaks_it_unless_timing_forbids_and_why_it_is_undecided() -> None:
    told = section(text(EVERYTHING), "R10 is undecided without failures")
    assert "Reason     undecided until declared timing is explored for rules" in told
    assert "This breaks it, unless timing forbids:" in told
    assert "key turns_back" in told


def test_undecided_rules_without_a_scenario_are_listed_by_their_reason() -> None:
    assert " ".join(section(text(EVERYTHING), "Undecided").split()) == (
        "R5: a deadline has a verdict for the declared timing only; the declared timing was not asked for"
    )


def test_errors_come_before_notes_with_their_place_their_cure_and_their_scenario() -> None:
    report = text(EVERYTHING)
    assert report.index("error[nothing-can-happen]") < report.index("note[holds-when-settled]")
    assert "to cure: give the last step a way out" in report
    assert "   5 |   R2: {}" in report


def test_assumptions_say_what_rests_on_them() -> None:
    told = section(text(EVERYTHING), "Assumed, and to be confirmed on site")
    assert "A1: nobody moves the train while it is held (owner: operator)\n    rests on it: H1 and R2\n" in told
    assert "rests on it: no rule and no hazard" in told
    assert "however slow the logic that reacts immediately: H2 holds" in told
    assert "not known whether also with slower logic: R3 holds" in told


def test_what_was_not_checked_is_told_with_the_reason() -> None:
    told = section(text(EVERYTHING), "Not checked")
    assert " ".join(told.split()) == "deadlines: R5: the declared timing was not asked for"


def test_a_rule_that_fails_for_any_timing_and_holds_for_the_declared_one_rests_on_timing() -> None:
    assert "  Rests on timing: R3.\n" in text(EVERYTHING)
    assert "Rests on timing" not in text(ALL_HOLD)


def test_more_numbers_of_failures_than_fit_continue_in_a_second_table() -> None:
    cells = tuple(cell(n, HOLDS) for n in range(6))
    report = text(replace(ALL_HOLD, rules=(judged("R1", HOLDS, *cells),)))
    tables = section(report, "Rules") + section(report, "Rules, with more failures").partition("A hazard")[0]
    assert len(re.findall(r"\bholds\b", tables)) == 6 + 2
    assert re.findall(r" (\d)(?=\s)", tables) == list("012345")


def test_long_ids_and_words_wrap_within_their_columns() -> None:
    long = judged("a_rule_with_a_name_that_goes_on_and_on_for_ever", FAILS, cell(0, FAILS, scenario=BREACH))
    report = text(replace(EVERYTHING, rules=(long,)))
    assert max(map(len, report.split("\n")[1:])) <= 80
    assert "a_rule_with_a_name_that" in report


def test_nothing_in_a_spec_can_steer_the_terminal() -> None:
    hostile = replace(
        judged("R1", FAILS, cell(0, FAILS, scenario=replace(BREACH, breach="\x1b[2J\u202egone"))),
        words="\x1b]0;title\x07",
    )
    report = text(replace(EVERYTHING, rules=(hostile,), heading=replace(EVERYTHING.heading, title="\x1b[31m")))
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", report)


def test_statistics_are_shown_only_when_asked_for() -> None:
    shown = render(
        ALL_HOLD,
        SOURCES,
        statistics={"stages": [{"stage": "read and build", "milliseconds": 7}], "peak_memory_kib": 20480},
    )
    assert "  read and build        7 ms\n  most memory used      20480 KiB\n" in shown
    assert "most memory used" not in text(ALL_HOLD)


def test_nothing_checked_has_no_tables_and_is_undecided() -> None:
    report = text(NOTHING)
    assert report.startswith("undecided: no rule and no hazard was checked")
    assert "Rules" not in report
    assert NOTHING.verdict is Verdict.UNDECIDED


def test_a_breach_that_the_declared_times_forbid_is_not_told_as_one() -> None:
    timed = replace(LOOP, breach="at its declared times")
    grid = (
        cell(0, FAILS, scenario=BREACH),
        cell(0, HOLDS, timing=DECLARED),
        cell(1, FAILS, scenario=BREACH),
        cell(1, FAILS, timing=DECLARED, scenario=timed),
    )
    rule = judged("R1", FAILS, *grid, combined=((0, False, HOLDS), (1, False, FAILS)))
    report = text(replace(ALL_HOLD, verdict=FAILS, rules=(rule,)))
    assert "R1 fails with 1 failure\n" in report
    assert "at its declared times" in report
    assert "R1 fails without failures" not in report
