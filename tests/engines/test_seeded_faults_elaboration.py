"""Faults put into the elaboration on purpose, one at a time: each must make the two meanings of a spec differ.

The named test that turns red is the comparison of `test_two_meanings.py`; here its check is called under each fault, on
random specs in their order, until it tells a difference. A fault that no spec shows would mean that the comparison
is blind.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from interlock.core import controllers, elaborate, failures, plant, signals
from interlock.core.controllers import Controllers
from interlock.core.draft import Draft
from interlock.core.failing import Faults
from interlock.core.failures import Failures
from interlock.core.phrases import Phrases
from interlock.core.plant import Plant
from interlock.core.signals import Signals
from interlock.core.system import ActionKind, Tier
from interlock.logic.expression import FALSE, TRUE
from interlock.spec.model import ChangeKind, EffectKind
from tests.random_specs import random_spec
from tests.side_by_side import compare

pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch
SEEDS = range(400)
LIMIT = 250


def logic_waits_like_everything_else(patch: Patch) -> None:
    original = Draft.action

    def action(self, owner, name, kind, tier, *rest, **more):  # type: ignore[no-untyped-def]
        return original(self, owner, name, kind, Tier.OTHER if tier is Tier.LOGIC else tier, *rest, **more)

    patch.setattr(Draft, "action", action)


def consequences_wait(patch: Patch) -> None:
    original = Draft.action

    def action(self, owner, name, kind, tier, *rest, **more):  # type: ignore[no-untyped-def]
        late = tier is Tier.CONSEQUENCE and kind is ActionKind.CONSEQUENCE and name.startswith("becomes")
        return original(self, owner, name, kind, Tier.OTHER if late else tier, *rest, **more)

    patch.setattr(Draft, "action", action)


def priority_is_dropped(patch: Patch) -> None:
    original = controllers.goes_before

    def goes_before(sequence, first, second):  # type: ignore[no-untyped-def]
        return original(replace(sequence, priority=()), first, second)

    patch.setattr(controllers, "goes_before", goes_before)


def trips_wait_for_moves(patch: Patch) -> None:
    original = controllers.goes_before
    patch.setattr(controllers, "goes_before", lambda sequence, first, second: original(sequence, second, first))


def a_trip_is_missing_from_one_step(patch: Patch) -> None:
    original = Controllers._want

    def want(self, sequence, change):  # type: ignore[no-untyped-def]
        if change.kind is ChangeKind.TRIP and len(change.from_steps) > 1:
            change = replace(change, from_steps=change.from_steps[:-1])
        return original(self, sequence, change)

    patch.setattr(Controllers, "_want", want)


def a_debounce_counts_though_contact_is_lost(patch: Patch) -> None:
    patch.setattr(Controllers, "_condition", lambda self, sequence, change, permissive: TRUE)


def memory_is_not_set(patch: Patch) -> None:
    original = Controllers._change

    def change(self, sequence, one, may):  # type: ignore[no-untyped-def]
        original(self, sequence, replace(one, sets=()), may)

    patch.setattr(Controllers, "_change", change)


def a_loss_of_power_goes_unnoticed(patch: Patch) -> None:
    patch.setattr(Controllers, "_power", lambda self, sequence: None)


def an_unpowered_sequence_still_drives(patch: Patch) -> None:
    patch.setattr(Phrases, "powered", lambda self, sequence: TRUE)


def stopped_logic_goes_on(patch: Patch) -> None:
    patch.setattr(Phrases, "running", lambda self, sequence: self.powered(sequence))


def output_failures_do_nothing(patch: Patch) -> None:
    original = Faults.on

    def on(self, target, *kinds):  # type: ignore[no-untyped-def]
        return () if EffectKind.DRIVEN in kinds else original(self, target, *kinds)

    patch.setattr(Faults, "on", on)


def held_items_move_on(patch: Patch) -> None:
    patch.setattr(Plant, "hindered", lambda self, item, value: FALSE)


def phases_outlive_their_position(patch: Patch) -> None:
    patch.setattr(Plant, "setting", lambda self, item, value, condition=TRUE: (self.draft.to(item, value, condition),))


def withdrawn_moves_always_complete(patch: Patch) -> None:
    original = Plant._move

    def move(self, item, one):  # type: ignore[no-untyped-def]
        before = len(self.draft.actions)
        original(self, item, one)
        kept = [a for a in self.draft.actions[before:] if not a.name.endswith("is dropped")]
        self.draft.actions[before:] = kept

    patch.setattr(Plant, "_move", move)


def moves_change_only_their_own_item(patch: Patch) -> None:
    original = Plant._move
    patch.setattr(Plant, "_move", lambda self, item, move: original(self, item, replace(move, also=())))


def slow_failures_are_as_fast_as_ever(patch: Patch) -> None:
    original = plant.slowed
    patch.setattr(
        plant, "slowed", lambda name, guard, window, slowing, phrases: original(name, guard, window, (), phrases)
    )


def an_ignored_command_is_obeyed(patch: Patch) -> None:
    patch.setattr(Faults, "ignored", lambda self, item: ())


def lying_readings_tell_the_truth(patch: Patch) -> None:
    patch.setattr(Phrases, "_garbling", lambda self, signal, values: [])


def a_late_reading_overruns_one_change_too_late(patch: Patch) -> None:
    original = Signals._signal_actions

    def actions(self, signal, sending, slowing):  # type: ignore[no-untyped-def]
        before = len(self.draft.actions)
        original(self, signal, sending, slowing)
        kept = [a for a in self.draft.actions[before:] if not a.name.startswith("overruns")]
        self.draft.actions[before:] = kept

    patch.setattr(Signals, "_signal_actions", actions)


def a_stopped_link_goes_on_carrying(patch: Patch) -> None:
    patch.setattr(Faults, "stopping", lambda self, link: ())


def a_lost_link_keeps_its_values(patch: Patch) -> None:
    original = Signals._watchdog
    patch.setattr(
        Signals, "_watchdog", lambda self, link, watchdog: original(self, replace(link, when_lost=()), watchdog)
    )


def failures_are_never_there_at_the_start(patch: Patch) -> None:
    original = Failures._mode
    patch.setattr(Failures, "_mode", lambda self, failure, guard, at_start: original(self, failure, guard, None))


def a_riding_failure_does_not_hold_its_item(patch: Patch) -> None:
    patch.setattr(failures, "HOLDS", ())


def a_common_cause_spares_all_but_the_first(patch: Patch) -> None:
    original = Failures._common_cause

    def common_cause(self, failure):  # type: ignore[no-untyped-def]
        original(self, replace(failure, members=failure.members[:1]))

    patch.setattr(Failures, "_common_cause", common_cause)


def a_repair_leaves_its_traces(patch: Patch) -> None:
    patch.setattr(Failures, "_cleared", lambda self, failure: ())


def a_restart_keeps_the_timers(patch: Patch) -> None:
    patch.setattr(failures, "timers_of", lambda sequence: [])


def assumptions_are_forgotten(patch: Patch) -> None:
    patch.setattr(elaborate, "_strengthen", lambda spec, draft, phrases, plant: None)


FAULTS: list[Callable[[Patch], None]] = [
    logic_waits_like_everything_else,
    consequences_wait,
    priority_is_dropped,
    trips_wait_for_moves,
    a_trip_is_missing_from_one_step,
    a_debounce_counts_though_contact_is_lost,
    memory_is_not_set,
    a_loss_of_power_goes_unnoticed,
    an_unpowered_sequence_still_drives,
    stopped_logic_goes_on,
    output_failures_do_nothing,
    held_items_move_on,
    phases_outlive_their_position,
    withdrawn_moves_always_complete,
    moves_change_only_their_own_item,
    slow_failures_are_as_fast_as_ever,
    an_ignored_command_is_obeyed,
    lying_readings_tell_the_truth,
    a_late_reading_overruns_one_change_too_late,
    a_stopped_link_goes_on_carrying,
    a_lost_link_keeps_its_values,
    failures_are_never_there_at_the_start,
    a_riding_failure_does_not_hold_its_item,
    a_common_cause_spares_all_but_the_first,
    a_repair_leaves_its_traces,
    a_restart_keeps_the_timers,
    assumptions_are_forgotten,
]


def first_difference() -> int | None:
    """The first random spec on which the two meanings differ, with up to one failure; None if there is none."""
    for seed in SEEDS:
        spec = random_spec(seed)
        allowed = tuple(failure.id for failure in spec.failures)
        if compare(spec, 1, allowed=allowed, limit=LIMIT).difference is not None:
            return seed
    return None


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_the_two_meanings_differ_when(fault: Callable[[Patch], None], monkeypatch: Patch) -> None:
    fault(monkeypatch)
    assert first_difference() is not None, f"no random spec shows that {fault.__name__.replace('_', ' ')}"


def test_nothing_is_left_of_the_faults_afterwards() -> None:
    assert vars(signals)["slowed"] is plant.slowed
    for seed in list(SEEDS)[:3]:
        assert compare(random_spec(seed), 1, limit=LIMIT).difference is None
