"""Whole checks, end to end: what the grid says of a spec, by surveys, slices, lifted scenarios and the quick engine, is
what the reference engine says of the whole core asked one question at a time."""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.analysis.check import check
from interlock.analysis.grid import claims_of as claims
from interlock.analysis.grid import question_for, rows_of
from interlock.analysis.inquiry import Inquiry
from interlock.analysis.options import Options
from interlock.analysis.result import CheckResult, Judged
from interlock.core.elaborate import elaborate
from interlock.core.question import Timing, Verdict
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec import load
from interlock.spec.model import Spec
from tests.random_specs import random_spec

pytestmark = pytest.mark.no_cover

CORPUS = sorted((Path(__file__).parent.parent / "corpus").glob("*.yaml"))
SEEDS = range(60)
LIMITS = Limits(states=2_500)


def cells_that_differ(spec: Spec, result: CheckResult) -> tuple[list[str], int]:
    """Cells for any timing that the reference engine decides otherwise, and how many were compared."""
    system = elaborate(spec)
    reference = ENGINES["reference"]
    judged: dict[str, Judged] = {one.id: one for one in (*result.rules, *result.hazards)}
    wrong, compared = [], 0
    for claim in claims(spec, Inquiry(system, reference, LIMITS)):
        for row in rows_of(spec, claim, None):
            cell = next(
                (
                    cell
                    for cell in judged[claim.property.id].grid
                    if (cell.failures, cell.common_cause, cell.timing) == (row.failures, row.common_cause, Timing.ANY)
                ),
                None,
            )
            question = question_for(spec, claim.property.id, row)
            if cell is None or not reference.decides(system, question):
                continue
            (answer,) = reference.answer(system, (question,), LIMITS)
            if Verdict.UNDECIDED in (answer.verdict, cell.verdict):
                continue
            compared += 1
            if answer.verdict is not cell.verdict:
                wrong.append(
                    f"{claim.property.id} with {row.failures}: {cell.verdict.value}, not {answer.verdict.value}"
                )
    return wrong, compared


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_the_grid_says_what_the_reference_engine_says_on(path: Path) -> None:
    spec, bag, _ = load(path)
    assert spec is not None, bag.sorted()
    wrong, _ = cells_that_differ(spec, check(spec, Options(limits=LIMITS, side_states=500)))
    assert wrong == []


def test_the_grid_says_what_the_reference_engine_says_on_random_specs() -> None:
    total = {Verdict.HOLDS: 0, Verdict.FAILS: 0, Verdict.UNDECIDED: 0}
    n_compared = 0
    for seed in SEEDS:
        spec = random_spec(seed)
        # Cells for any timing are compared: the declared one is not asked for.
        result = check(spec, Options(limits=LIMITS, side_states=500, declared_timing=False))
        wrong, compared = cells_that_differ(spec, result)
        assert wrong == [], f"random spec {seed}"
        n_compared += compared
        for one in (*result.rules, *result.hazards):
            total[one.verdict] += 1
    print(f"{n_compared} cells compared; rules and hazards: {[(v.value, n) for v, n in total.items()]}")
    assert n_compared >= 100
    assert all(n >= 10 for n in total.values())
