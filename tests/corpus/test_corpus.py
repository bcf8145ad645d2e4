"""The corpus: small specs, each with its known answers and their hand proof in comments at the top of the file.

`# expect: R1 holds 0; R1 fails 1 with both_lie; R2 undecided 0` says the verdict of a rule or hazard for any timing at
a number of failures; after `with`, a common cause that may happen too. `undecided`: no engine says more without time.
`# expect in time: R1 holds 0` says the same of the declared timing, as a check asks for it.
`# situations at 1: settled 5 passing 2` is the exact count of everything reachable, from hand or from the proof.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from interlock.analysis.inquiry import Inquiry
from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES, pick
from interlock.machine.explore import explore
from interlock.spec.loading import load
from interlock.spec.model import Spec
from tests.side_by_side import compare

FILES = sorted(Path(__file__).parent.glob("*.yaml"))
EXPECTED = re.compile(r"(.+?) (holds|fails|undecided) (\d+)(?: with (\S+))?$")
COUNTED = re.compile(r"# situations at (\d+): settled (\d+) passing (\d+)$")
LIMITS = Limits(states=200_000)


@dataclass(frozen=True)
class Expected:
    property: str
    verdict: str
    budget: int
    common_cause: str | None


def expected_in(text: str, begin: str = "# expect:") -> list[Expected]:
    """The known answers of a file; a line that cannot be read is an error of the file."""
    found = []
    for line in text.splitlines():
        if line.startswith(begin):
            for part in line.removeprefix(begin).split(";"):
                match = EXPECTED.match(part.strip())
                assert match, f"not an expectation: {part!r}"
                found.append(Expected(match[1], match[2], int(match[3]), match[4]))
    return found


def counts_in(text: str) -> list[tuple[int, int, int]]:
    """The known counts of a file: budget, settled, passing."""
    lines = [line for line in text.splitlines() if line.startswith("# situations at")]
    matches = [COUNTED.match(line) for line in lines]
    assert all(matches), f"not a count: {lines}"
    return [(int(m[1]), int(m[2]), int(m[3])) for m in matches if m]


def allowed(system: System, expected: Expected) -> tuple[str, ...] | None:
    """What may happen: the independent failures and the common cause that was named."""
    if expected.common_cause is None:
        return None
    modes = tuple(m.id for m in system.modes if not m.common_cause or m.id == expected.common_cause)
    assert expected.common_cause in modes
    return modes


def read(path: Path) -> tuple[Spec, str]:
    """The spec and its text; a corpus spec has no mistakes."""
    spec, bag, _ = load(path)
    assert spec is not None, bag.sorted()
    return spec, path.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_rule_and_hazard_of_a_corpus_spec_has_a_known_answer(path: Path) -> None:
    spec, text = read(path)
    known = {expected.property for expected in expected_in(text)}
    assert known == {rule.id for rule in spec.rules} | {hazard.id for hazard in spec.hazards}


@pytest.mark.parametrize("engine", sorted(ENGINES))
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_engines_give_the_known_answers(path: Path, engine: str) -> None:
    spec, text = read(path)
    system = elaborate(spec)
    wrong = []
    for expected in expected_in(text):
        question = Question(expected.property, budget=expected.budget, allowed=allowed(system, expected))
        if not ENGINES[engine].decides(system, question):
            verdict = Verdict.UNDECIDED.value
        else:
            (answer,) = ENGINES[engine].answer(system, (question,), LIMITS)
            assert answer.limit is None
            verdict = answer.verdict.value
        if verdict != expected.verdict:
            wrong.append(f"{expected}: the {engine} engine says {verdict}")
    assert not wrong, "\n".join(wrong)


IN_TIME = [path for path in FILES if "# expect in time:" in path.read_text(encoding="utf-8")]


@pytest.mark.parametrize("path", IN_TIME, ids=lambda path: path.stem)
def test_the_declared_timing_gives_the_known_answers(path: Path) -> None:
    spec, text = read(path)
    inquiry = Inquiry(elaborate(spec), pick(None), LIMITS)
    known = expected_in(text, "# expect in time:")
    asked = inquiry.ask_in_time(tuple(Question(one.property, Timing.DECLARED, one.budget) for one in known))
    told = {one.property: answer.verdict.value for one, answer in zip(known, asked, strict=True)}
    assert told == {one.property: one.verdict for one in known}


def test_some_files_tell_answers_for_the_declared_timing() -> None:
    assert len(IN_TIME) >= 2


@pytest.mark.parametrize("engine", sorted(ENGINES))
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_engines_count_the_situations_that_were_counted_by_hand(path: Path, engine: str) -> None:
    spec, text = read(path)
    system = elaborate(spec)
    for budget, settled, passing in counts_in(text):
        counts = ENGINES[engine].survey(system, Question("", budget=budget), (), LIMITS).counts
        assert (counts.settled, counts.passing) == (settled, passing), f"at {budget}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_machine_counts_the_situations_that_were_counted_by_hand(path: Path) -> None:
    spec, text = read(path)
    for budget, settled, passing in counts_in(text):
        seen = explore(spec, budget)
        assert seen.complete
        assert (len(seen.settled), len(seen.situations) - len(seen.settled)) == (settled, passing), f"at {budget}"


@pytest.mark.parametrize("budget", [0, 1])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_both_meanings_of_a_corpus_spec_are_the_same(path: Path, budget: int) -> None:
    spec, _ = read(path)
    compared = compare(spec, budget)
    assert compared.complete
    assert compared.difference is None
