"""Each flawed draft of Brackwater Quay breaks what it declares, and nothing else: most by any timing, some in time.

What is checked: rules `never`, `while` and `before` and hazards without a duration, but for `KNOWN`.

* A draft that needs no failure: all of them are asked without failures, and just those declared are broken.
* A draft that needs one names it in its notes: without it none of those declared is broken; with that one allowed, just
  those declared are broken, and what the same failure breaks in the full spec. So "nothing else" is said of that
  failure alone; and rules judged on events (`becomes`, `was`) are then asked only of drafts that declare one, as they
  cost most.
* A draft with a mistake in its times breaks its rule by the declared timing, with the failure that it names, if any;
  the full spec keeps it. A rule that the draft adds is kept by the draft itself with that time put right. By any timing
  it breaks what it declares for any timing, and nothing else.
* The full spec: all of them without failures; those that are declared with one failure again, with any one of the
  failures that the notes name (`before` and rules judged on events: that the drafts which declare them name).

Not checked: what other failures do to a draft; rules about what is possible; what else a mistake in times breaks. Every
scenario is replayed by the engine that found it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from interlock.core.question import NO_OVERLAY, Answer, Bound, Overlay, Question, Timing, Verdict
from interlock.core.slice import slice_for
from interlock.core.system import PropertyKind, System, TickWindow
from interlock.engines.timed.engine import ZonesEngine
from interlock.spec.model import Spec
from tests.breaches import DRAFTS, LIMITS, QUAY, broken, decided_by_any_timing, loaded, read

pytestmark = pytest.mark.no_cover

KNOWN = {"shoes_stay_under_current"}
"""Broken in the full spec as well: only the declared timing tells."""

IN_TIME = {
    "cab_told_too_late",
    "charges_past_the_stop",
    "consent_older_than_its_stop",
    "fault_told_too_late",
    "insulation_filtered_too_long",
    "one_monitor_alone",
    "permit_outlives_its_controller",
    "poles_slower_than_the_stop",
    "proves_dead_too_patiently",
    "reset_races_the_trip",
    "shoes_raised_while_opening",
    "sign_told_too_late",
    "watchdog_slower_than_the_deadline",
}
"""Drafts of which only the declared timing tells that they are flawed."""


@dataclass(frozen=True, slots=True)
class PutRight:
    """The window of an event that keeps a rule which a draft adds, and the ends that this rests on."""

    rule: str
    event: str
    earliest_ms: int
    latest_ms: int
    rests_on: tuple[Bound, ...]


PUT_RIGHT = {
    "earth_before_the_discharge_ends": PutRight(
        "earths_wait_for_the_discharge",
        "ground earth proved_dead timer elapses",
        600,
        600,
        (Bound("rail decays", True), Bound("ground earth proved_dead timer elapses", False)),
    ),
    "watchdog_slower_than_the_deadline": PutRight(
        "loss_is_noticed", "to_control_room is lost", 9_000, 10_000, (Bound("to_control_room is lost", True),)
    ),
}
"""Drafts that add a rule which only their own times break. Any timing breaks that of the earth as well."""

ZONES = ZonesEngine()

FILES = sorted(DRAFTS.glob("*.yaml"))


def asked(system: System) -> list[str]:
    return [id for id in decided_by_any_timing(system) if id not in KNOWN]


def asked_with_a_failure(system: System, declared: set[str]) -> list[str]:
    on_events = {one.id for one in system.properties if one.every_event and one.kind is PropertyKind.NEVER}
    return [id for id in asked(system) if id not in on_events or declared & on_events]


def declared(spec: Spec, failures: int) -> set[str]:
    """What any timing breaks with so many failures."""
    expected = [one for one in spec.expect if one.failures == failures and not one.waits_for_timing]
    return {id for one in expected for id in (one.id, *one.also)}


def shown_by(spec: Spec) -> tuple[str, ...]:
    """The failure that the notes name; nothing for a draft that needs none."""
    return tuple(re.findall(r"It takes one failure: `([^`]+)`", spec.notes))


def test_the_full_spec_breaks_nothing_without_failures_but_what_waits_for_timing() -> None:
    system = loaded(QUAY).system
    assert set(broken(system, decided_by_any_timing(system))) == KNOWN


def test_the_full_spec_withstands_every_failure_that_shows_a_draft() -> None:
    system = loaded(QUAY).system
    shown: dict[str, set[str]] = {}
    for spec in (read(file) for file in FILES):
        for id in declared(spec, 1):
            shown.setdefault(id, set()).update(shown_by(spec))
    asked_together = {p.id for p in system.properties if p.kind is PropertyKind.NEVER and not p.every_event}
    settled = asked_together & set(shown)
    assert settled
    every = sorted(set().union(*shown.values()))
    assert len(every) > 10
    assert broken(system, sorted(settled), 1, tuple(every)) == {}
    for id in sorted(set(shown) - set(settled)):
        assert broken(system, [id], 1, tuple(sorted(shown[id]))) == {}


def test_there_are_enough_of_them_and_each_names_the_failure_it_takes() -> None:
    counted = [read(file) for file in FILES if file.stem not in IN_TIME]
    assert len(counted) >= 22
    for spec in counted:
        assert not any(expectation.waits_for_timing for expectation in spec.expect)
        assert max(expectation.failures for expectation in spec.expect) == len(shown_by(spec))


def test_those_that_only_timing_tells_are_known_by_name() -> None:
    in_time = {file.stem: read(file).expect for file in FILES}
    assert {stem for stem, expect in in_time.items() if any(one.waits_for_timing for one in expect)} == IN_TIME
    waiting = [(stem, one) for stem in IN_TIME for one in in_time[stem] if one.waits_for_timing]
    assert all(one.failures == len(shown_by(read(DRAFTS / f"{stem}.yaml"))) for stem, one in waiting)


@cache
def in_time(file: Path, id: str, shown: tuple[str, ...] = (), overlay: Overlay = NO_OVERLAY) -> Answer:
    """The answer for the declared timing with these failures at the most, on the part that bears on it."""
    part = slice_for(loaded(file).system, (id,)).system
    (answer,) = ZONES.answer(part, (Question(id, Timing.DECLARED, len(shown), shown, overlay),), LIMITS)
    return answer


@pytest.mark.parametrize("stem", sorted(IN_TIME))
def test_a_mistake_in_times_breaks_its_rule_and_the_full_spec_keeps_it(stem: str) -> None:
    file = DRAFTS / f"{stem}.yaml"
    for one in read(file).expect:
        if one.waits_for_timing:
            assert in_time(file, one.id, shown_by(read(file))).verdict is Verdict.FAILS
            if stem not in PUT_RIGHT:
                assert in_time(QUAY, one.id, shown_by(read(file))).verdict is Verdict.HOLDS


@pytest.mark.parametrize("stem", sorted(PUT_RIGHT))
def test_a_rule_that_a_draft_adds_is_broken_by_its_time_and_kept_with_the_time_put_right(stem: str) -> None:
    file, right = DRAFTS / f"{stem}.yaml", PUT_RIGHT[stem]
    shown = shown_by(read(file)) if stem in IN_TIME else ()
    assert in_time(file, right.rule, shown).verdict is Verdict.FAILS
    tick_ms = loaded(file).system.tick_s * 1000
    window = TickWindow(int(right.earliest_ms / tick_ms), int(right.latest_ms / tick_ms))
    kept = in_time(file, right.rule, shown, Overlay(windows=((right.event, window),)))
    assert kept.verdict is Verdict.HOLDS
    assert kept.rests_on == right.rests_on


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_draft_breaks_what_it_declares_and_nothing_else(file: Path) -> None:
    draft = loaded(file)
    without, with_one = declared(draft.spec, 0) - KNOWN, declared(draft.spec, 1)
    in_question = asked(draft.system) if without or not with_one else with_one
    assert set(broken(draft.system, in_question)) == without
    if with_one:
        ids = asked_with_a_failure(draft.system, with_one)
        found = set(broken(draft.system, ids, 1, shown_by(draft.spec)))
        assert with_one | without <= found
        others = found - with_one - without
        assert set(broken(loaded(QUAY).system, sorted(others), 1, shown_by(draft.spec))) == others
