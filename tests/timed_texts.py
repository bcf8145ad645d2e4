"""Timed examples written as specs, and what the commands say of them: verdicts, times, ways, margins.

judged = verdicts(text)                     # every rule and hazard by its id
least, greatest = between(text, "train is near", "gate is down")
"""

from __future__ import annotations

from fractions import Fraction

from interlock import pipeline
from interlock.analysis.options import Options
from interlock.analysis.result import CheckResult, FindResult, Judged
from interlock.analysis.result_timing import Extreme, Measured
from interlock.analysis.timing import Between, timing
from interlock.core.elaborate import elaborate
from interlock.core.question import Verdict
from interlock.spec.model import Spec

HEADING = "format: interlock/1\ntitle: an example\n"
NEVER = "never"
"""A greatest time: it may never come. A least one: it never comes."""

Time = str | None
"""A time as it is written in a spec: `2 s`, `over 2 s` (approached from above), `under 2 s`, `never`; None: not
decided."""


def spec_of(text: str) -> Spec:
    """The spec of a text without heading."""
    loaded = pipeline.load((HEADING + text).encode(), "example.yaml")
    assert loaded.spec is not None, loaded.mistakes
    return loaded.spec


def check(text: str, *only: str, margins: bool = False, failures: int | None = None) -> CheckResult:
    """What `interlock check` says."""
    return pipeline.check(spec_of(text), Options(only=only, margins=margins, failures=failures))


def verdicts(text: str, *only: str) -> dict[str, Verdict]:
    """The verdict of each rule and hazard."""
    found = check(text, *only)
    return {one.id: one.verdict for one in (*found.rules, *found.hazards)}


def holds(text: str, rule: str) -> bool:
    """Whether a rule or hazard holds; it must be decided."""
    verdict = judged(text, rule).verdict
    assert verdict is not Verdict.UNDECIDED
    return verdict is Verdict.HOLDS


def judged(text: str, rule: str, *, margins: bool = False) -> Judged:
    """All that is said of one rule or hazard."""
    found = check(text, rule, margins=margins)
    (only,) = (*found.rules, *found.hazards)
    return only


def find(text: str, condition: str) -> FindResult:
    """What `interlock find` says."""
    loaded = pipeline.load_with_condition((HEADING + text).encode(), "example.yaml", condition, "CONDITION")
    assert loaded.spec is not None, loaded.mistakes
    assert loaded.sought is not None, loaded.mistakes
    return pipeline.find(loaded.spec, loaded.sought, condition, Options())


def measured(text: str, begins: str, ends: str) -> tuple[Measured, Fraction]:
    """What `interlock timing --from --to` measures, and how many seconds a tick has."""
    conditions = (("FROM", begins), ("TO", ends))
    loaded = pipeline.load_with_conditions((HEADING + text).encode(), "example.yaml", conditions)
    assert loaded.spec is not None, loaded.mistakes
    assert loaded.sought is not None, loaded.mistakes
    (until,) = loaded.also_sought
    found = timing(loaded.spec, Between(loaded.sought, until, begins, ends), Options())
    assert found.between is not None
    return found.between.measured, elaborate(loaded.spec).tick_s


def between(text: str, begins: str, ends: str) -> tuple[Time, Time]:
    """The least and the greatest time from one condition to another."""
    both, tick = measured(text, begins, ends)
    return _told(both.earliest, tick, "over "), _told(both.latest, tick, "under ")


def _told(extreme: Extreme, tick: Fraction, approached: str) -> Time:
    if extreme.verdict is Verdict.UNDECIDED:
        return None
    if extreme.never or extreme.endless:
        return NEVER
    assert extreme.length is not None
    seconds = extreme.length.ticks * tick
    return f"{approached if extreme.length.open else ''}{seconds} s"
