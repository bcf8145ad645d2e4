"""JUnit XML: nothing undecided looks like a pass, strict readers accept it, hostile text cannot break it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from junitparser import JUnitXml

from interlock.analysis.result import CheckResult
from interlock.core.question import Ends
from interlock.report.as_junit import render
from tests.made_results import ALL_HOLD, BREACH, DECLARED, EVERYTHING, FAILS, HOLDS, LOOP, NOTHING, cell, judged

ALLOWED = {
    "testsuites": {"name", "time", "tests", "failures", "disabled", "errors"},
    "testsuite": {
        "name", "tests", "failures", "errors", "group", "time", "skipped", "timestamp", "hostname", "id", "package",
        "file", "log", "url", "version",
    },
    "testcase": {"name", "assertions", "time", "classname", "status", "class", "group"},
    "properties": set(),
    "property": {"name", "value"},
    "failure": {"type", "message"},
    "error": {"type", "message"},
    "skipped": {"type", "message"},
    "system-out": set(),
}  # fmt: skip
"""What the strict schema of the format knows of each element that is used here."""

CHILDREN = {
    "testsuites": {"testsuite"},
    "testsuite": {"properties", "testcase", "system-out"},
    "testcase": {"skipped", "error", "failure", "system-out"},
    "properties": {"property"},
}

RESULTS = [ALL_HOLD, EVERYTHING, NOTHING, replace(EVERYTHING, findings=(), not_checked=())]


def tree(result: CheckResult) -> ElementTree.Element:
    return ElementTree.fromstring(render(result).encode("utf-8"))


def outcome(result: CheckResult, name: str) -> list[str]:
    """The elements below the case whose name begins so."""
    (case,) = (case for case in tree(result).iter("testcase") if case.get("name", "").startswith(name + " "))
    return [child.tag for child in case]


@pytest.mark.parametrize("result", RESULTS)
def test_only_what_strict_readers_know_is_used(result: CheckResult) -> None:
    for element in tree(result).iter():
        assert set(element.attrib) <= ALLOWED[element.tag]
        assert {child.tag for child in element} <= CHILDREN.get(element.tag, set())
    for element in tree(result).iter("testcase"):
        assert element.get("name")
        assert element.get("classname")


@pytest.mark.parametrize("result", RESULTS)
def test_the_counts_are_those_of_the_cases(result: CheckResult) -> None:
    (suite,) = tree(result)
    cases = suite.findall("testcase")
    assert int(suite.attrib["tests"]) == len(cases)
    for attribute, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        assert int(suite.attrib[attribute]) == sum(case.find(tag) is not None for case in cases)


@pytest.mark.parametrize("result", RESULTS)
def test_another_reader_of_the_format_finds_the_same(result: CheckResult, tmp_path: Path) -> None:
    file = tmp_path / "check.xml"
    file.write_text(render(result), encoding="utf-8")
    (suite,) = JUnitXml.fromfile(str(file))
    assert suite.tests == len(list(suite))
    bad = [case for case in suite if any(type(one).__name__ in ("Failure", "Error") for one in case.result)]
    assert suite.failures + suite.errors == len(bad)


@pytest.mark.parametrize("result", RESULTS)
def test_a_build_passes_only_if_the_exit_code_is_0(result: CheckResult) -> None:
    root = tree(result)
    broken = [*root.iter("failure"), *root.iter("error")]
    assert bool(broken) == (result.exit_code != 0)


def test_what_fails_is_a_failure_and_what_is_undecided_an_error() -> None:
    assert outcome(EVERYTHING, "R2") == ["failure"]
    assert outcome(EVERYTHING, "R10") == ["error"]
    assert outcome(EVERYTHING, "R5") == ["error"]
    assert outcome(EVERYTHING, "R4") == []
    assert outcome(EVERYTHING, "nothing-can-happen:") == ["failure"]
    assert outcome(EVERYTHING, "holds-when-settled:") == ["system-out"]
    assert outcome(EVERYTHING, "deadlines:") == ["skipped"]


def test_a_failure_names_the_place_and_tells_the_scenario() -> None:
    (failure,) = (
        case.find("failure") for case in tree(EVERYTHING).iter("testcase") if case.get("name", "")[:3] == "R2 "
    )
    assert failure is not None
    assert failure.get("message") == "specs/made.yaml:5:3: R2 fails with 1 failure"
    assert "  4  FAILURE  feeder_welded happens" in (failure.text or "")


def test_an_undecided_rule_says_that_its_scenario_may_be_forbidden_by_timing() -> None:
    (error,) = (case.find("error") for case in tree(EVERYTHING).iter("testcase") if case.get("name", "")[:4] == "R10 ")
    assert error is not None
    assert "unless timing forbids" in (error.text or "")


def test_nothing_checked_is_an_error_and_never_an_empty_success() -> None:
    assert outcome(NOTHING, "something") == ["error"]


def test_characters_that_xml_forbids_are_replaced() -> None:
    hostile = replace(ALL_HOLD, heading=replace(ALL_HOLD.heading, title='a.b<&"\x00\x1b]]>', file="\ud800\uffff.yaml"))
    root = tree(hostile)
    assert root[0].get("name") == "\ufffd\ufffd.yaml"
    assert {case.get("classname") for case in root.iter("testcase")} == {
        'a b<&"\ufffd\ufffd]]>.hazards',
        'a b<&"\ufffd\ufffd]]>.rules',
    }


def test_the_same_result_gives_the_same_bytes() -> None:
    assert render(EVERYTHING) == render(EVERYTHING)
    assert render(EVERYTHING).startswith('<?xml version="1.0" encoding="UTF-8"?>\n<testsuites ')


def test_of_a_failure_the_scenario_is_one_that_the_declared_times_allow() -> None:
    timed = replace(LOOP, breach="at its declared times")
    grid = (cell(0, FAILS, scenario=BREACH), cell(0, FAILS, timing=DECLARED, scenario=timed))
    both = replace(ALL_HOLD, verdict=FAILS, rules=(judged("R1", FAILS, *grid, combined=((0, False, FAILS),)),))
    assert "at its declared times" in render(both)
    assert "train arrives" not in render(both)
    no_way = (cell(0, HOLDS, scenario=replace(BREACH, ends=Ends.REACHED)), cell(0, FAILS, timing=DECLARED))
    none = replace(ALL_HOLD, verdict=FAILS, rules=(judged("R1", FAILS, *no_way, combined=((0, False, FAILS),)),))
    assert "R1 fails without failures" in render(none)
    assert "train arrives" not in render(none)


def test_what_holds_by_its_times_names_them() -> None:
    (case,) = (one for one in tree(EVERYTHING).iter("testcase") if (one.get("name") or "").startswith("R3 "))
    assert "feeder closes: at most 120 ms" in (case.findtext("system-out") or "")
