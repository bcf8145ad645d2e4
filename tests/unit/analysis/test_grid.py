"""How the verdicts for any and for the declared timing combine, row by row of a table, and what is asked in the
declared timing at all. The answers are made up; the combining is not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import pytest

from interlock.analysis.grid import claims_of, judge_all
from interlock.analysis.inquiry import Asked, Inquiry, _keeps_ages
from interlock.analysis.options import Options
from interlock.core.elaborate import elaborate
from interlock.core.question import Bound, Question, Verdict
from interlock.core.slice import Slice
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.loading import load_text
from interlock.spec.model import Spec

HOLDS, FAILS, UNDECIDED = Verdict.HOLDS, Verdict.FAILS, Verdict.UNDECIDED

SPEC = """\
format: interlock/1
title: A lamp
equipment:
  lamp:
    states: [dark, lit]
    start: dark
    moves:
      lights: {from: dark, to: lit, when: true, takes: 10 ms .. 20 ms}
      dies: {from: lit, to: dark}
rules:
  never: {never: lamp is lit}
  before: {before: lamp is lit, first: lamp is dark}
  possible: {possible: lamp is lit}
  always_possible: {always_possible: lamp is lit}
  always_ends: {always_ends: lamp is lit, from: lamp is dark}
  after: {after: lamp is dark, within: 30 ms, must: lamp is lit}
  lasts: {condition: lamp is dark, lasts: 0 ms .. 30 ms}
"""


@dataclass(slots=True)
class Answered(Inquiry):
    """An inquiry with answers given beforehand; it keeps what it was asked in the declared timing."""

    any_timing: Verdict = HOLDS
    declared: Verdict = UNDECIDED
    windows: bool = True
    in_time: list[Question] = field(default_factory=list)

    def windows_bear(self, question: Question) -> bool:
        return self.windows

    def ask_all(self, questions: tuple[Question, ...]) -> tuple[Asked, ...]:
        limit = "too many" if self.any_timing is UNDECIDED else None
        return tuple(Asked(one, self.any_timing, self.windows, None, limit, "made") for one in questions)

    def ask_in_time(self, questions: tuple[Question, ...]) -> tuple[Asked, ...]:
        self.in_time += questions
        limit = "too many zones" if self.declared is UNDECIDED else None
        rests = (Bound("lamp lights", True),) if self.declared is HOLDS else None
        return tuple(Asked(one, self.declared, True, None, limit, "made in time", rests) for one in questions)


def spec_of() -> Spec:
    spec, bag, _ = load_text(SPEC, "lamp.yaml")
    assert spec is not None, bag
    return spec


SPEAKING_OF_REACHING = ("never", "before")

TABLE = [
    # rules, any timing, windows bear, declared timing, combined, asked in the declared timing
    *((kind, HOLDS, True, FAILS, HOLDS, False) for kind in (*SPEAKING_OF_REACHING, "always_ends")),
    *((kind, FAILS, True, HOLDS, HOLDS, True) for kind in SPEAKING_OF_REACHING),
    *((kind, FAILS, True, FAILS, FAILS, True) for kind in SPEAKING_OF_REACHING),
    *((kind, FAILS, True, UNDECIDED, UNDECIDED, True) for kind in (*SPEAKING_OF_REACHING, "always_ends")),
    *((kind, FAILS, False, HOLDS, FAILS, False) for kind in (*SPEAKING_OF_REACHING, "always_possible")),
    *((kind, UNDECIDED, True, HOLDS, HOLDS, True) for kind in SPEAKING_OF_REACHING),
    *((kind, UNDECIDED, True, FAILS, FAILS, True) for kind in SPEAKING_OF_REACHING),
    *((kind, UNDECIDED, False, HOLDS, UNDECIDED, False) for kind in SPEAKING_OF_REACHING),
    ("possible", FAILS, True, HOLDS, FAILS, False),
    ("possible", HOLDS, True, FAILS, FAILS, True),
    ("possible", HOLDS, True, HOLDS, HOLDS, True),
    ("possible", HOLDS, True, UNDECIDED, UNDECIDED, True),
    ("possible", HOLDS, False, FAILS, HOLDS, False),
    *(("always_possible", HOLDS, True, said, said, True) for said in (HOLDS, FAILS)),
    *(("always_possible", FAILS, True, said, said, True) for said in (HOLDS, FAILS)),
    *(("always_ends", UNDECIDED, True, said, said, True) for said in (HOLDS, FAILS)),
    ("always_possible", HOLDS, True, UNDECIDED, UNDECIDED, True),
    ("always_possible", FAILS, True, UNDECIDED, UNDECIDED, True),
    ("always_possible", HOLDS, False, UNDECIDED, HOLDS, False),
    *((kind, HOLDS, False, said, said, True) for kind in ("after", "lasts") for said in (HOLDS, FAILS, UNDECIDED)),
]


@pytest.mark.parametrize(("rule", "any_timing", "windows", "declared", "combined", "asked"), TABLE)
def test_the_timings_combine_as_the_table_says(
    rule: str, any_timing: Verdict, windows: bool, declared: Verdict, combined: Verdict, asked: bool
) -> None:
    spec = spec_of()
    inquiry = Answered(elaborate(spec), ENGINES["reference"], Limits(), False, {}, {}, any_timing, declared, windows)
    claims = claims_of(spec, inquiry, (rule,))
    (judged,) = judge_all(spec, inquiry, claims, Options(), lambda asked, row: None)
    assert judged.verdict is combined
    assert bool(inquiry.in_time) is asked
    rests = ("lamp lights: at most 20 ms",) if asked else ()
    assert judged.rests_on == (rests if combined is HOLDS else None)
    assert (judged.undecided_because is None) is (combined is not UNDECIDED)


@pytest.mark.parametrize("rule", ["never", "possible", "after"])
def test_without_the_declared_timing_nothing_is_asked_of_it_and_what_needs_it_is_undecided(rule: str) -> None:
    spec = spec_of()
    any_timing = HOLDS if rule == "possible" else FAILS
    inquiry = Answered(elaborate(spec), ENGINES["reference"], Limits(), False, {}, {}, any_timing, HOLDS, True)
    options = Options(declared_timing=False)
    (judged,) = judge_all(spec, inquiry, claims_of(spec, inquiry, (rule,)), options, lambda asked, row: None)
    assert (judged.verdict, inquiry.in_time) == (UNDECIDED, [])


def test_a_slice_that_leaves_out_what_restarts_or_owns_a_kept_age_is_told_apart() -> None:
    whole = elaborate(spec_of())
    lights, dies = (next(a for a in whole.actions if a.id == id) for id in ("lamp lights", "lamp dies"))
    small = replace(whole, actions=(lights,))
    assert _keeps_ages(Slice(replace(whole, actions=(lights, dies)), small, ()))
    restarting = replace(dies, restarts=(lights.id,))
    assert not _keeps_ages(Slice(replace(whole, actions=(lights, restarting)), small, ()))
    riding = replace(lights, ages_with=dies.id)
    assert not _keeps_ages(Slice(replace(whole, actions=(riding, dies)), replace(small, actions=(riding,)), ()))
