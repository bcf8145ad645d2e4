"""What the spec of Brackwater Quay promises: what is in it, what holds, what needs time, which permissives are needed.

That no single independent failure reaches a safety hazard is explored here in full, about 80 million situations.
"""

from __future__ import annotations

from dataclasses import replace
from math import log
from pathlib import Path

import pytest

from interlock.analysis.inquiry import Inquiry
from interlock.core.elaborate import elaborate
from interlock.core.overlay import with_overlay
from interlock.core.question import NO_OVERLAY, Answer, Overlay, Question, Timing, Verdict
from interlock.core.slice import slice_for
from interlock.core.system import PropertyKind, System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES, MANY, pick
from interlock.engines.timed.engine import ZonesEngine
from interlock.spec.loading import load
from interlock.spec.model import RuleKind, Spec

pytestmark = pytest.mark.no_cover

QUAY = Path(__file__).parents[2] / "specs" / "brackwater_quay.yaml"
LIMITS = Limits(states=400_000_000)
ZONES = ZonesEngine()
WITH_ONE_FAILURE = ZonesEngine()

DEADLINES = {
    "H8",
    "H10",
    "H11",
    "H13",
    "insulation_watched",
    "sign_warns",
    "lamp_goes_dark",
    "fault_is_told",
    "stop_cuts",
    "lost_contact_cuts",
    "live_within_a_stop",
    "released_in_time",
}
"""Hazards and rules about how long something lasts: the declared timing decides them."""

FAILS_FOR_SOME_TIMING = {"shoes_stay_under_current"}
"""Rules that some timing breaks (a pole that opens later than its controller waits), and the declared one keeps."""

BEARS_TIME = {
    "ordinary_cycle",
    "released_afterwards",
    "lamp_is_lit",
    "always_back_to_earthed",
    "always_to_a_safe_end",
}
"""Possible for any timing; the declared timing says whether its windows leave the way open."""

IN_TIME_WITH_ONE_FAILURE = ("H8", "H10", "H13", "stop_cuts", "lost_contact_cuts", "insulation_watched", "fault_is_told")
"""Claimed with any one failure, decided by the declared timing, kept: all hazards that only the declared timing decides
but H11, which is claimed without failures, and all rules that withstand one."""

SAFETY = ("H1", "H2", "H3", "H4", "H5", "H6", "H7", "H9", "H12")
"""The safety hazards that any timing decides."""


@pytest.fixture(scope="module")
def spec() -> Spec:
    found, bag, _ = load(QUAY)
    assert found is not None, bag.sorted()
    return found


@pytest.fixture(scope="module")
def system(spec: Spec) -> System:
    return elaborate(spec)


def ask(system: System, *questions: Question) -> tuple[Answer, ...]:
    """The answers on the part that bears on the questions, all under one overlay."""
    overlay = questions[0].overlay
    part = slice_for(with_overlay(system, overlay), dict.fromkeys(question.property for question in questions)).system
    plain = tuple(replace(question, overlay=NO_OVERLAY) for question in questions)
    return ENGINES["explicit"].answer(part, plain, LIMITS)


def test_it_is_the_whole_installation(spec: Spec) -> None:
    assert len(spec.items) >= 25
    assert len([failure for failure in spec.failures if not failure.common_cause]) >= 40
    assert len(spec.hazards) >= 12
    assert len(spec.rules) >= 30
    late = [reading.id for reading in spec.readings if reading.late is not None]
    late += [value.id for link in spec.links for value in link.carries if value.late is not None]
    assert len(late) >= 6
    assert any(reading.steady is not None for reading in spec.readings)
    assert {"ground", "unit"} <= {sequence.id for sequence in spec.sequences}


def test_what_comes_in_pairs_is_written_once(spec: Spec) -> None:
    items = {item.id for item in spec.items}
    for pair in (("front shoe", "rear shoe"), ("positive pole", "negative pole"), ("near earth", "far earth")):
        first, second = ({item.removeprefix(name) for item in items if item.startswith(name)} for name in pair)
        assert first == second
        assert first


def test_every_failure_has_a_rate_or_probability_a_source_and_a_way_to_be_found(spec: Spec) -> None:
    for failure in spec.failures:
        assert (failure.rate_per_h is None) != (failure.probability is None), failure.id
        assert failure.source, failure.id
        if not failure.common_cause:
            assert failure.found_by, failure.id
            assert failure.found_within_s is not None, failure.id


def test_every_hazard_has_a_rule_and_everything_that_is_judged_has_words(spec: Spec) -> None:
    guarded = {hazard for rule in spec.rules for hazard in rule.guards_against}
    assert guarded == {hazard.id for hazard in spec.hazards}
    assert all(hazard.words for hazard in spec.hazards)
    assert all(rule.words for rule in spec.rules)
    assert all(assumption.words and assumption.owner for assumption in spec.assumptions)


def test_every_kind_of_rule_is_there(spec: Spec) -> None:
    assert {rule.kind for rule in spec.rules} == set(RuleKind)


@pytest.mark.parametrize(
    ("item", "move", "least_ms", "greatest_ms", "window_ms"),
    [
        # 2.85 kohm * 45 uF * ln(400 / 60) and 3.15 kohm * 55 uF * ln(900 / 60)
        ("rail", "decays", 2.85 * 45 * log(400 / 60), 3.15 * 55 * log(900 / 60), (200, 500)),
        # 66 ohm * 3.1 mF * ln(900 / 20); the least is stated, not computed
        ("input", "comes_up", None, 66 * 3.1 * log(900 / 20), (200, 800)),
        # (2100 A - 5 A) / 2112 A/s; the least is stated: less may have flowed
        ("current", "ends", None, 2095 / 2.112, (100, 1000)),
    ],
)
def test_computed_times_are_those_worked_out_by_hand_and_their_windows_hold_them(
    spec: Spec, item: str, move: str, least_ms: float | None, greatest_ms: float, window_ms: tuple[int, int]
) -> None:
    (found,) = [one for thing in spec.items if thing.id == item for one in thing.moves if one.name == move]
    assert found.takes is not None
    assert found.takes.latest_s is not None
    window = (found.takes.earliest_s * 1000, found.takes.latest_s * 1000)
    assert [int(end) for end in window] == list(window) == list(window_ms)
    assert window[1] - 100 < greatest_ms <= window[1]
    assert least_ms is None or window[0] <= least_ms < window[0] + 100
    (taken,) = [one for one in spec.taken if f"`{move}` of `{item}`" in one.what]
    (parameter,) = [one for one in spec.worked_out if one.name in dict(taken.inputs)]
    assert greatest_ms == pytest.approx(float(parameter.used[0].value.split(" .. ")[1].removesuffix(" ms")), rel=1e-5)


def test_the_notes_carry_the_cautions_and_the_standards(spec: Spec) -> None:
    for standard in ("EN 50126", "EN 50129", "EN 50716", "EN 50122-1", "IEC 61508", "EN 50110-1"):
        assert standard in spec.standards
    notes = " ".join(spec.notes.split())
    for caution in (
        "Local rules and the duty holder's procedures take precedence",
        "only as good as this model",
        "confirmed on site",
        "sign-off belongs to competent signalling and electrical safety engineers",
        "short circuit and overcurrent protection",
        "movement authority and signal protection",
    ):
        assert caution in notes


def test_what_needs_declared_timing_is_known_by_name(system: System) -> None:
    explicit = ENGINES["explicit"]
    assert {p.id for p in system.properties if not explicit.decides(system, Question(p.id))} == DEADLINES
    (answer,) = ask(system, Question("shoes_stay_under_current"))
    assert answer.verdict is Verdict.FAILS
    ways = {p.id for p in system.properties if p.kind in (PropertyKind.POSSIBLE, PropertyKind.ALWAYS_POSSIBLE)}
    assert ways == BEARS_TIME
    for id in sorted(ways):
        (answer,) = ask(system, Question(id))
        assert answer.verdict is Verdict.HOLDS, id


@pytest.mark.parametrize(
    "id", sorted(DEADLINES | FAILS_FOR_SOME_TIMING | {"ordinary_cycle", "released_afterwards", "lamp_is_lit"})
)
def test_what_needs_declared_timing_holds_for_it_without_failures(system: System, id: str) -> None:
    part = slice_for(system, (id,)).system
    (answer,) = ZONES.answer(part, (Question(id, Timing.DECLARED),), Limits(states=20_000_000))
    assert (answer.verdict, answer.limit) == (Verdict.HOLDS, None)


def test_no_single_independent_failure_reaches_a_hazard_that_lasts_or_breaks_a_deadline_that_withstands_one(
    system: System,
) -> None:
    """About 80 million situations, kept for all of them."""
    for id in IN_TIME_WITH_ONE_FAILURE:
        part = slice_for(system, (id,)).system
        (answer,) = WITH_ONE_FAILURE.answer(part, (Question(id, Timing.DECLARED, budget=1),), LIMITS)
        assert (answer.verdict, answer.limit) == (Verdict.HOLDS, None)


def test_everything_that_any_timing_decides_holds_without_failure(system: System) -> None:
    kinds = (PropertyKind.NEVER, PropertyKind.BEFORE)
    asked = [p for p in system.properties if p.kind in kinds and p.id not in FAILS_FOR_SOME_TIMING]
    together = ask(system, *(Question(p.id) for p in asked))
    assert [answer.question.property for answer in together if answer.verdict is not Verdict.HOLDS] == []
    counts = together[0].counts
    assert counts is not None
    assert counts.settled > 90_000


def test_no_single_independent_failure_reaches_a_safety_hazard_or_breaks_a_rule_that_withstands_one(
    spec: Spec, system: System
) -> None:
    withstanding = {rule.id for rule in spec.rules if rule.withstands}
    asked = [
        p.id
        for p in system.properties
        if p.kind is PropertyKind.NEVER and not p.every_event and (p.id in SAFETY or p.id in withstanding)
    ]
    assert set(SAFETY) <= set(asked)
    assert len(asked) >= 20
    answers = ask(system, *(Question(id, budget=1) for id in asked))
    assert [answer.question.property for answer in answers if answer.verdict is not Verdict.HOLDS] == []
    counts = answers[0].counts
    assert counts is not None
    assert counts.settled > 10_000_000


LESSONS = [
    ("H4", ("ground/begin/contactor_open",), "train_contactor_welds"),
    ("H2", ("ground/release/shoes_proved_up",), "front shoe up_felt_lies"),
    ("H5", ("ground/raise/earths_proved", "ground/release/earths_proved"), None),
    (
        "H1",
        (
            "ground/secure/poles_proved_open",
            "ground/earth/proved_dead",
            "ground/earth/contactor_open",
            "ground/raise/earths_proved",
            "ground/release/shoes_proved_up",
            "ground/release/earths_proved",
        ),
        None,
    ),
]


@pytest.mark.parametrize(("hazard", "permissives", "failure"), LESSONS)
def test_the_permissives_behind_a_hazard_are_needed(
    system: System, hazard: str, permissives: tuple[str, ...], failure: str | None
) -> None:
    overlay = Overlay(pins=tuple((permissive, True) for permissive in permissives))
    allowed = () if failure is None else (failure,)
    question = Question(hazard, budget=len(allowed), allowed=allowed, overlay=overlay)
    (answer,) = ask(system, question)
    assert answer.verdict is Verdict.FAILS


def test_there_is_always_a_way_back_and_to_a_safe_end_and_ramping_comes_to_an_end(system: System) -> None:
    inquiry = Inquiry(system, pick(None), Limits(states=MANY))
    (back,) = inquiry.ask_in_time((Question("always_back_to_earthed", Timing.DECLARED),))
    assert (back.verdict, back.engine) == (Verdict.HOLDS, "ways")
    # One failure of those that are looked at one by one (`withstands: 1` asks for all: some minutes).
    (safe,) = inquiry.ask_in_time(
        (Question("always_to_a_safe_end", Timing.DECLARED, 1, allowed=("lower_output_driven",)),)
    )
    assert (safe.verdict, safe.engine, safe.rests_on) == (Verdict.HOLDS, "ways", ())
    # What holds for any timing holds for the declared one.
    assert inquiry.ask(Question("ramping_comes_to_an_end")).verdict is Verdict.HOLDS
