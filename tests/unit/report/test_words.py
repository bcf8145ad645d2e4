"""The words of reports: the verdict line, counts, lists, ids in their order, ages."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from interlock.analysis.result import ALL_FINDINGS, Age, CheckResult, NotChecked
from interlock.core.question import Verdict
from interlock.report.words import age, counted, headline, listed, natural, with_failures
from tests.made_results import ALL_HOLD, ERROR, EVERYTHING, NOTE, NOTHING


@pytest.mark.parametrize(
    ("result", "line"),
    [
        (ALL_HOLD, "holds: 1 rule and 1 hazard; no findings"),
        (replace(ALL_HOLD, findings=(NOTE, NOTE)), "holds: 1 rule and 1 hazard; 2 notes"),
        (
            replace(ALL_HOLD, findings=(ERROR,), exit_code=1),
            "holds, but an error is found: 1 rule and 1 hazard; 1 error",
        ),
        (
            EVERYTHING,
            "fails: 1 of 5 rules and 1 of 2 hazards; 2 of 5 rules undecided; 1 error, 1 note",
        ),
        (
            replace(ALL_HOLD, hazards=(), not_checked=(NotChecked(ALL_FINDINGS, "only some rules were asked for"),)),
            "holds: 1 rule; findings not looked for",
        ),
        (NOTHING, "undecided: no rule and no hazard was checked; no findings"),
        (replace(ALL_HOLD, hazards=(), rules=ALL_HOLD.rules * 3), "holds: all 3 rules; no findings"),
        (
            replace(EVERYTHING, verdict=Verdict.UNDECIDED, hazards=(), rules=EVERYTHING.rules[:1], findings=()),
            "undecided: 1 rule; no findings",
        ),
    ],
)
def test_the_first_line_is_the_verdict_and_what_it_is_made_of(result: CheckResult, line: str) -> None:
    assert headline(result) == line


def test_ids_are_sorted_as_people_count() -> None:
    assert sorted(["R10", "R2", "H1", "R2a", "berth 2 R1", "berth 10 R1"], key=natural) == [
        "H1",
        "R2",
        "R2a",
        "R10",
        "berth 2 R1",
        "berth 10 R1",
    ]


def test_ids_that_begin_with_digits_and_with_letters_can_be_compared() -> None:
    assert sorted(["a", "1", "", "1a"], key=natural) == ["", "1", "1a", "a"]


def test_counts_agree_with_their_nouns() -> None:
    assert [counted(n, "rule") for n in (0, 1, 2, 1234567)] == ["0 rules", "1 rule", "2 rules", "1,234,567 rules"]


def test_names_are_listed_with_an_and_before_the_last() -> None:
    assert [listed(names) for names in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a and b", "a, b and c"]


def test_numbers_of_failures_are_told_in_words() -> None:
    told = [with_failures(0), with_failures(1), with_failures(2, True)]
    assert told == ["without failures", "with 1 failure", "with 2 failures, common causes included"]


@pytest.mark.parametrize(
    ("at", "latest", "told"),
    [
        (Age(0, False), False, "0 s"),
        (Age(30, False), False, "30 ms"),
        (Age(2000, True), True, "just before 2 s"),
        (Age(2000, True), False, "just after 2 s"),
        (Age(2500, False), True, "2.5 s"),
    ],
)
def test_ages_are_exact_and_say_which_side_is_open(at: Age, latest: bool, told: str) -> None:
    assert age(at, Fraction(1, 1000), latest=latest) == told
