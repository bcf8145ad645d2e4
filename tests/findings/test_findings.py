"""Every kind of finding: a spec in which an ordinary slip triggers it, the words that are printed, the spec put right.

`KIND.yaml` has the slip, `KIND.txt` what is told of it, `KIND.good.yaml` the same spec without the slip. To accept new
words: `python -m tests.findings.test_findings`, then read them aloud.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.analysis.check import check
from interlock.analysis.options import Options
from interlock.analysis.result import CheckResult, Finding
from interlock.diag.kinds_findings import KINDS
from interlock.diag.render import render
from interlock.spec import load_text

HERE = Path(__file__).parent
NAMES = [kind.name for kind in KINDS]


def checked(path: Path) -> tuple[CheckResult, str]:
    """The check of a spec, and the findings of the file's kind as text."""
    spec, bag, sources = load_text(path.read_bytes(), path.name)
    assert spec is not None, bag.sorted()
    result = check(spec, Options())
    kind = path.name.split(".")[0]
    told = [one for one in result.findings if one.diagnostic.kind == kind]
    return result, "\n".join(render([one.diagnostic], sources) + way(one) for one in told)


def way(finding: Finding) -> str:
    """The events of a finding's scenario, one a line."""
    if finding.scenario is None:
        return ""
    start = [f"  at the start: {name}" for name in finding.scenario.at_start]
    return "".join(f"{line}\n" for line in [*start, *(f"  {event.says}" for event in finding.scenario.events)])


@pytest.mark.parametrize("name", NAMES)
def test_a_slip_is_told_in_the_expected_words(name: str) -> None:
    _, told = checked(HERE / f"{name}.yaml")
    assert told == (HERE / f"{name}.txt").read_text(encoding="utf-8")
    assert told.count(f"[{name}]") >= 1


@pytest.mark.parametrize("name", NAMES)
def test_without_the_slip_the_finding_is_gone(name: str) -> None:
    result, told = checked(HERE / f"{name}.good.yaml")
    assert told == ""
    assert result.heading.title


def test_an_error_among_the_findings_gives_exit_code_1_and_a_note_does_not() -> None:
    for kind in KINDS:
        result, _ = checked(HERE / f"{kind.name}.yaml")
        errors = [one for one in result.findings if one.is_error]
        assert (kind.severity.value == "error") <= bool(errors)
        assert (result.exit_code == 1) == bool(errors or any(j.verdict.value == "fails" for j in result.rules))


def test_every_file_here_belongs_to_a_kind() -> None:
    assert {path.name.split(".")[0] for path in HERE.glob("*.yaml")} == set(NAMES)


if __name__ == "__main__":
    for each in NAMES:
        (HERE / f"{each}.txt").write_text(checked(HERE / f"{each}.yaml")[1], encoding="utf-8")
