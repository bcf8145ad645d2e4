"""The ordinary cycle of Brackwater Quay means the same to the core and to the machine, in full, both ways.

The whole installation is too large for the machine, so what disturbs the cycle is taken away by a draft: other
trains, the stop, leaf film, work on the rails, what only tells people something, and the time that the train's request
is on its way.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Verdict
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.spec.files import beside
from interlock.spec.loading import load_text
from interlock.spec.model import Spec
from tests.side_by_side import compare

pytestmark = pytest.mark.no_cover

SPECS = Path(__file__).parents[2] / "specs"

AWAY = """\
equipment train moves other_approaches
equipment train moves stops_wrongly
equipment train moves draws_up
equipment train moves rolls
equipment stop_button moves is_pressed
equipment insulation moves goes_poor
equipment isolator moves is_locked
equipment stationary_battery moves is_drained
parts shoe equipment surface moves films_over
failures radio_late
rules lamp_goes_dark
rules lamp_is_lit
rules sign_warns
rules fault_is_told
logic sign
logic cab
logic meter
logic control_room
links to_control_room
readings live_shown
readings held_shown
readings shoes_shown
readings current_shown
equipment live_sign
equipment cab_lamp
failures sign_line_sticks
failures control_line_lost
"""


def ordinary_cycle() -> Spec:
    """Brackwater Quay without what disturbs the cycle."""
    lines = ["format: interlock/1", "based_on: brackwater_quay.yaml", "changes:"]
    lines += [f"  - remove: {place}" for place in AWAY.splitlines()]
    lines += ["  - replace: links from_unit carries asks", "    with: wants_charge", ""]
    spec, bag, _ = load_text("\n".join(lines), "cycle.yaml", beside(str(SPECS)))
    assert spec is not None, bag.sorted()
    return spec


def test_the_ordinary_cycle_means_the_same_to_both_in_full() -> None:
    spec = ordinary_cycle()
    system = elaborate(spec)
    limits = Limits(states=50_000)
    possible, never = ENGINES["quick"].answer(system, (Question("ordinary_cycle"), Question("H1")), limits)
    assert possible.verdict is Verdict.HOLDS
    assert never.counts is not None
    compared = compare(spec, limit=50_000)
    assert compared.difference is None
    assert compared.complete
    assert compared.situations == never.counts.settled + never.counts.passing
    print(f"{compared.situations} situations, {sum(compared.events.values())} events")
    assert compared.situations > 1_000
