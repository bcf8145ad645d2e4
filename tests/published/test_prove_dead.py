"""The order of isolating and earthing: disconnect, secure against reconnection, prove dead, earth.

Source: EN 50110-1, the five safety rules, the first four of them; the claims (a) to (d) below are what an order like
that must show when a state machine follows it. Brackwater Quay has more barriers than the rules ask for: two poles in
series, a relay beside the proving, contacts of the poles beside that. So each claim is tried twice: on the spec as it
is, where a second barrier may take the place of the one that was left out, and on `PLAIN`, the same sequence with one
pole, no relay, and a pole that counts as open when it is told to open: there the barrier in question stands alone.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from interlock.core.system import System
from tests.breaches import DRAFTS, QUAY, broken, loaded

pytestmark = pytest.mark.no_cover

ON_EARTH = ("H4", "H12", "earths_free_while_live", "no_feeder_on_earth")
"""An earth on a live rail; a source on to an earth; the same as rules."""

BLOCKED = "earthing_stays_blocked"

PLAIN = (
    "{replace: instances poles named, with: [positive]}",
    "remove: logic ground steps closing drives negative pole close",
    "remove: logic ground steps charging drives negative pole close",
    "remove: logic ground steps ramping drives negative pole close",
    "remove: failures both_poles_weld",
    "remove: failures both_poles_driven",
    "{replace: instances earths with no_voltage, with: rail is dead or rail is not dead}",
    "{replace: logic ground moves secure needs poles_proved_open, with: not command positive pole close}",
    "remove: logic ground moves earth_after_raising needs poles_proved_open",
    # As nothing but the proving of the rails tells that the pole is open, it opens at once; and the lock, which is all
    # that stands against an output driven by itself, is not released in the step in which the earths may still lift.
    "{replace: parts pole equipment pole moves starts_opening to, with: open}",
    "remove: logic ground steps opening drives release_lock",
    "{add: rules " + BLOCKED + ", with: {never: positive pole welds and positive pole pole is closed and any earths "
    "switch is not free}}",
)

NOT_PROVED_DEAD = ("remove: logic ground moves earth needs proved_dead",)
NOT_SECURED = ("{replace: instances poles with coil_path, with: all stop_channels closed}",)


def changed(folder: Path, *changes: str) -> System:
    """The full spec with these changes. Each set of changes is a file of its own, as what was read is kept by path."""
    draft = folder / f"draft{len(list(folder.iterdir()))}.yaml"
    beneath = os.path.relpath(QUAY, folder)
    head = ["format: interlock/1", "title: The order of isolating and earthing", f"based_on: {beneath}", "changes:"]
    draft.write_text("\n".join(head + [f"  - {change}" for change in changes]) + "\n")
    return loaded(draft).system


@pytest.mark.parametrize("changes", [(), PLAIN], ids=["as it is", "plain"])
def test_a_without_a_failure_no_earth_is_closed_while_the_supply_is(tmp_path: Path, changes: tuple[str, ...]) -> None:
    system = changed(tmp_path, *changes) if changes else loaded(QUAY).system
    assert broken(system, ON_EARTH) == {}


def test_a_can_fail_where_the_earths_are_not_proved_free_before_the_feeder_closes() -> None:
    assert set(broken(loaded(DRAFTS / "earths_not_proved_free.yaml").system, ON_EARTH)) == set(ON_EARTH)


def test_b_with_the_only_pole_welded_the_proving_keeps_the_earths_from_closing(tmp_path: Path) -> None:
    plain = changed(tmp_path, *PLAIN)
    assert broken(plain, (*ON_EARTH, BLOCKED), 1, ("positive pole welds",)) == {}


def test_b_with_both_poles_welded_by_one_cause_the_proving_keeps_the_earths_from_closing(tmp_path: Path) -> None:
    # Two poles, counted as open when told to open, and no relay: the proving stands alone here as well.
    poles_not_asked = (
        "{replace: instances earths with no_voltage, with: rail is dead or rail is not dead}",
        "{replace: logic ground moves secure needs poles_proved_open, with: not command positive pole close}",
        "remove: logic ground moves earth_after_raising needs poles_proved_open",
    )
    system = changed(tmp_path, *poles_not_asked)
    assert broken(system, ON_EARTH, 1, ("both_poles_weld",)) == {}
    without = changed(tmp_path, *poles_not_asked, *NOT_PROVED_DEAD)
    assert set(broken(without, ON_EARTH, 1, ("both_poles_weld",))) == set(ON_EARTH)


def test_c_without_proving_dead_the_welded_pole_is_a_single_failure_that_earths_a_live_rail(tmp_path: Path) -> None:
    system = changed(tmp_path, *PLAIN, *NOT_PROVED_DEAD)
    asked = (*ON_EARTH, BLOCKED)
    assert broken(system, asked) == {}
    found = broken(system, asked, 1, ("positive pole welds",))
    assert set(found) == set(asked)
    assert "positive pole welds happens" in found["H4"].events


def test_c_in_the_spec_as_it_is_the_contacts_of_the_poles_take_the_place_of_the_proving(tmp_path: Path) -> None:
    system = changed(tmp_path, *NOT_PROVED_DEAD)
    welds = ("positive pole welds", "negative pole welds", "both_poles_weld")
    assert broken(system, ON_EARTH, 1, welds) == {}
    # What is lost is the order itself: with the relay stuck the earths close on rails that are not proved dead.
    assert set(broken(system, ("order_prove_dead",), 1, ("voltage_relay_sticks",))) == {"order_prove_dead"}


def test_d_secured_against_reconnection_a_close_output_driven_by_itself_does_nothing(tmp_path: Path) -> None:
    plain = changed(tmp_path, *PLAIN)
    assert broken(plain, ON_EARTH, 1, ("positive pole close_output_driven",)) == {}
    # Two poles take both outputs, by one common cause. As it is the spec releases the lock in "opening" too, which a
    # trip may enter with the earths on their way; without that the lock stands against the common cause too.
    locked_while_opening = changed(tmp_path, "remove: logic ground steps opening drives release_lock")
    assert broken(locked_while_opening, ON_EARTH, 1, ("both_poles_driven",)) == {}


def test_d_without_the_lock_a_close_output_driven_by_itself_is_a_single_failure(tmp_path: Path) -> None:
    system = changed(tmp_path, *PLAIN, *NOT_SECURED)
    found = broken(system, ON_EARTH, 1, ("positive pole close_output_driven",))
    assert set(found) == set(ON_EARTH)
    assert found["H4"].at_start == ("positive pole close_output_driven",)


def test_d_with_two_poles_it_takes_both_outputs_and_one_common_cause_is_enough(tmp_path: Path) -> None:
    system = changed(tmp_path, *NOT_SECURED)
    one_each = ("positive pole close_output_driven", "negative pole close_output_driven")
    assert broken(system, ON_EARTH, 1, one_each) == {}
    assert set(broken(system, ON_EARTH, 1, ("both_poles_driven",))) == set(ON_EARTH)
    assert set(broken(system, ["no_feeder_on_earth"], 2, one_each)) == {"no_feeder_on_earth"}
