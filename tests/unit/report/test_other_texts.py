"""The texts of `find`, `exercise` and `explain`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.analysis.result import FindResult
from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind
from interlock.machine.exercise import Breach, Exercise, Happened
from interlock.report.as_text import Look
from interlock.report.exercise_text import render_exercise
from interlock.report.explain_text import render_kind, render_kinds
from interlock.report.find_text import render_find
from interlock.spec import load_text
from interlock.spec.model import Spec
from tests.made_results import FOUND, NOT_FOUND, UNDECIDED, cell

MAYBE = replace(FOUND, verdict=UNDECIDED, exit_code=3, rests_on_timing=True)
LIMITED = replace(FOUND, verdict=UNDECIDED, exit_code=3, cells=(cell(0, UNDECIDED, limit="more than 9 situations"),))


@pytest.mark.parametrize(
    ("result", "line"),
    [
        (
            FOUND,
            "holds: there is a way to `rail is live and train is away` with 2 failures, in 5 events",
        ),
        (NOT_FOUND, "fails: there is no way to `rail is live and train is away` with 1 failure"),
        (
            replace(NOT_FOUND, cells=NOT_FOUND.cells[:1]),
            "fails: there is no way to `rail is live and train is away` without failures",
        ),
        (
            MAYBE,
            "undecided: unless timing forbids, there is a way to `rail is live and train is away` with 2 failures, "
            "in 5 events",
        ),
        (
            LIMITED,
            "undecided: no way to `rail is live and train is away` was found, and not every situation was seen",
        ),
    ],
)
def test_the_first_line_of_a_search_says_whether_there_is_a_way(result: FindResult, line: str) -> None:
    quiet = render_find(result, Look(), quiet=True)
    assert " ".join(quiet.split()) == line
    assert render_find(result, Look()).startswith(quiet)


def test_a_search_that_finds_tells_the_shortest_way() -> None:
    report = render_find(FOUND, Look())
    assert "The shortest way\n" in report
    assert "  Reached    rail is live and train is away\n" in report
    assert max(map(len, report.split("\n")[1:])) <= 80


def test_a_search_that_hits_its_limit_says_so() -> None:
    assert "Reason         more than 9 situations\n" in render_find(LIMITED, Look())
    assert "The shortest way" not in render_find(LIMITED, Look())


@pytest.fixture(scope="module")
def spec() -> Spec:
    text = "format: interlock/1\ntitle: A key\nrevision: B\nequipment:\n  key: {states: [rest, turned], start: rest, "
    text += "moves: {turns: {from: rest, to: turned}}}\nrules: {R1: {never: key is turned, words: the key rests}}\n"
    made, bag, _ = load_text(text, "key.yaml")
    assert made is not None, bag.sorted()
    return made


WALKED = Exercise(
    breaches=(),
    judged=("R10", "R2"),
    not_judged=(("R3", "no single run can break it"),),
    reached=("R4",),
    budget=1,
    seed=7,
    walks=200,
    events=10_000,
    situations=107,
    never_happened=tuple(f"event {i}" for i in range(20)),
)

BROKEN = replace(
    WALKED,
    breaches=(
        Breach(
            "R1",
            (("key", "rest"), ("lamp", False)),
            ("lamp_fails",),
            (
                Happened("key turns", (), (("key", "rest", "turned"),)),
                Happened("key_sticks happens", ("key_sticks",), ()),
            ),
            2,
        ),
    ),
)


def test_walks_without_a_breach_are_undecided_and_say_that_they_prove_nothing(spec: Spec) -> None:
    report = render_exercise(WALKED, spec, Look())
    assert report.startswith("undecided: no breach was found in 200 walks, which proves nothing\n")
    assert "Judged         R2, R10\n" in report
    assert "  R3: no single run can break it\n" in report
    assert "event 11 and 8 more" in " ".join(report.split())
    assert "Walks are a sample" in report


def test_walks_with_a_breach_tell_it_step_by_step(spec: Spec) -> None:
    report = render_exercise(BROKEN, spec, Look())
    assert report.startswith("fails: R1 is broken in 200 walks\n")
    assert (
        """
R1 is broken with 2 failures
  At start   FAILURE: lamp_fails is present
             key is rest
  1           key turns                         key: rest -> turned
  2  FAILURE  key_sticks happens
  Broken     R1, the key rests
"""
        in report
    )


def test_walks_that_judge_nothing_say_so(spec: Spec) -> None:
    assert render_exercise(replace(WALKED, judged=()), spec, Look(), quiet=True).startswith(
        "undecided: nothing was judged"
    )


KIND = Kind(
    "unknown-name", Severity.ERROR, "A name that nothing defines. It may be mistyped.", "bad: x", "good: y\nz: 1"
)


def test_a_kind_is_explained_with_both_examples() -> None:
    assert (
        render_kind(KIND)
        == """\
error[unknown-name]

A name that nothing defines. It may be mistyped.

With it
    bad: x

Cured
    good: y
    z: 1
"""
    )


def test_kinds_are_listed_with_the_first_sentence_of_their_meaning() -> None:
    note = replace(KIND, name="a-note", severity=Severity.NOTE, meaning="A window `1 s .. 2 s` that is odd. More")
    listed = render_kinds([note, KIND])
    assert "  unknown-name  A name that nothing defines.\n" in listed
    assert "  a-note        A window `1 s .. 2 s` that is odd.\n" in listed
    assert listed.index("unknown-name") < listed.index("a-note")
