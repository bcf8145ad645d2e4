"""The flawed drafts: each breaks just what it says, by any timing, and the full spec does not.

Checked in full: without failures, every rule and hazard that any timing decides, of each draft and of the full spec; a
draft that declares no failure breaks what it declares and nothing else, one that declares a failure breaks nothing
without it. For a draft that declares a failure: the rule or hazard itself with every single failure allowed; which
failure the shortest way takes; and with that failure alone every rule and hazard, of the draft and of the full spec,
whose difference is what the draft declares.

Not checked here: what else is broken with another failure than that one; that the full spec withstands every single
failure (`interlock check` on it says so; here it is only seen that it claims to); rules about how long something lasts,
which any timing does not decide. Every scenario was replayed by the engine before it is seen here.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from interlock.analysis.grid import TIMED, withstands_of
from interlock.analysis.inquiry import Inquiry
from interlock.core.elaborate import elaborate
from interlock.core.question import Ends, Question, Scenario, Verdict
from interlock.core.system import System
from interlock.diag.render import render
from interlock.engines.api import Limits
from interlock.engines.table import pick
from interlock.spec.loading import load
from interlock.spec.model import Expectation, Spec

FOLDER = Path(__file__).parents[2] / "specs" / "drafts"
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))
LIMITS = Limits(states=5_000_000)

WAIT_FOR_TIMING: tuple[str, ...] = ()
"""Drafts whose breach the full spec has too as long as any timing is allowed: only the declared timing tells them
apart."""


@cache
def spec_of(name: str) -> Spec:
    """A draft by its name; the full spec for an empty one."""
    path = FOLDER / f"{name}.yaml" if name else FOLDER.parent / "brackwater_quay.yaml"
    spec, bag, sources = load(path)
    assert spec is not None, render(bag.sorted(), sources)
    return spec


@cache
def system_of(name: str) -> System:
    return elaborate(spec_of(name))


def declared(name: str) -> Expectation:
    """What a draft is there to show; each shows one thing."""
    (expectation,) = spec_of(name).expect
    return expectation


def named(expectation: Expectation) -> set[str]:
    return {expectation.id, *expectation.also}


@cache
def broken(name: str, *modes: str) -> Mapping[str, Scenario | None]:
    """What any timing breaks, with one of these failures at the most; every question is decided."""
    system, engine = system_of(name), pick(None)
    budget = 1 if modes else 0
    asked = tuple(Question(one.id, budget=budget, allowed=modes) for one in system.properties if one.kind not in TIMED)
    answers = engine.answer(system, asked, LIMITS)
    assert not [one.limit for one in answers if one.verdict is Verdict.UNDECIDED]
    return {one.question.property: one.scenario for one in answers if one.verdict is Verdict.FAILS}


@cache
def failure_in(name: str) -> str:
    """The one failure on the shortest way to what a draft declares, whichever failure is allowed."""
    expectation = declared(name)
    spec, system = spec_of(name), system_of(name)
    asked = Inquiry(system, pick(None), LIMITS).ask(Question(expectation.id, budget=expectation.failures))
    assert asked.verdict is Verdict.FAILS
    assert asked.told is not None
    assert asked.told.ends is Ends.BREACH
    assert asked.told.n_failures == expectation.failures == 1
    happened = {one.id for one in spec.failures for event in asked.told.events if event.owner == one.id}
    (failure,) = {*asked.told.at_start, *happened}
    return failure


def test_there_are_enough_of_them_and_each_says_what_it_is_about() -> None:
    assert len(NAMES) >= 24
    assert len({spec_of(name).title for name in NAMES}) == len(NAMES)
    for name in NAMES:
        spec = spec_of(name)
        assert spec.notes != spec_of("").notes
        assert [Path(one.file).name for one in spec.based_on] == ["brackwater_quay.yaml"]
        assert declared(name).failures <= 1


def test_each_differs_from_the_full_spec_and_from_every_other() -> None:
    digests = [system_of(name).digest for name in ("", *NAMES)]
    assert len(set(digests)) == len(digests)


def test_those_that_wait_for_the_declared_timing_are_known_by_name() -> None:
    assert tuple(name for name in NAMES if declared(name).waits_for_timing) == WAIT_FOR_TIMING


def test_the_full_spec_breaks_nothing_without_failures() -> None:
    assert broken("") == {}


@pytest.mark.parametrize("name", NAMES)
def test_without_failures_a_draft_breaks_what_it_declares_and_nothing_else(name: str) -> None:
    expectation = declared(name)
    wanted = named(expectation) if not expectation.failures else set()
    assert set(broken(name)) == wanted


@pytest.mark.parametrize("name", [name for name in NAMES if declared(name).failures])
def test_with_its_failure_a_draft_breaks_what_it_declares_beyond_the_full_spec(name: str) -> None:
    expectation, failure = declared(name), failure_in(name)
    before = broken("", failure)
    after = broken(name, failure)
    assert set(after) - set(before) == named(expectation)
    base = spec_of("")
    claimed = {one.id: one.withstands for one in base.rules}
    claimed |= {one.id: withstands_of(base, one) for one in base.hazards}
    assert claimed[expectation.id] >= 1
