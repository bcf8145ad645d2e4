"""What a draft is there to show, held against what the check found.

In: the expectations of a spec, everything judged. Out: for each whether it is met, not met, or not known, and why. An
expectation changes no verdict: what is broken is broken, expected or not.
"""

from __future__ import annotations

from collections.abc import Mapping

from interlock.analysis.result import Expected, Judged
from interlock.core.question import Timing, Verdict
from interlock.spec.model import Expectation, Spec

BY_TIME = "only the declared timing tells"


def expected(spec: Spec, judged: tuple[Judged, ...]) -> tuple[Expected, ...]:
    """The expectations of a draft in their order."""
    by_id = {one.id: one for one in judged}
    return tuple(_one(expectation, by_id) for expectation in spec.expect)


def _one(expectation: Expectation, by_id: Mapping[str, Judged]) -> Expected:
    timing = Timing.DECLARED if expectation.waits_for_timing else Timing.ANY
    met: bool | None = True
    reasons: list[str] = []
    for id in (expectation.id, *expectation.also):
        this, reason = _broken(by_id.get(id), expectation.failures, timing)
        if this is not True:
            reasons.append(f"{id} {reason}")
            met = False if met is False or this is False else None
    return Expected(
        expectation.id, expectation.failures, expectation.also, timing, met, "; ".join(reasons), expectation.span
    )


def _broken(one: Judged | None, failures: int, timing: Timing) -> tuple[bool | None, str]:
    """Whether it is broken with just so many failures, and not with fewer; else the reason, in words."""
    if one is None:
        return None, "was not asked about"
    found = {cell.failures: cell.verdict for cell in one.grid if cell.timing is timing and not cell.common_cause}
    fewer = [n for n in sorted(found) if n < failures and found[n] is Verdict.FAILS]
    if fewer:
        return False, f"fails with {fewer[0]} already"
    if failures not in found:
        return None, f"was not asked with {failures}; `--failures {failures}` does"
    if found[failures] is Verdict.UNDECIDED:
        return None, f"is undecided; {BY_TIME}" if timing is Timing.DECLARED else "is undecided"
    return found[failures] is Verdict.FAILS, "holds"
