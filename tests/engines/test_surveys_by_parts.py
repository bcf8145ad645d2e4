"""Surveys of large systems part by part say what one survey of the whole says.

Checked on random specs, with the size from which a system is taken apart set to nothing. Where consequences and logic
may go on for ever, a part can reach what the whole does not, so there only "never" has to agree.
"""

from __future__ import annotations

import pytest

from interlock.analysis import survey as survey_module
from interlock.analysis.survey import Surveyed, Surveys, survey_all
from interlock.core.elaborate import elaborate
from interlock.core.slice import parts_of
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.table import ENGINES
from interlock.logic.expression import variables_of
from interlock.spec.loading import load_text
from interlock.spec.model import Spec
from tests.random_specs import random_spec

pytestmark = pytest.mark.no_cover

LIMITS = Limits(states=20_000)
SEEDS = range(80)


def surveyed(spec: Spec, system: System, whole_first: int, monkeypatch: pytest.MonkeyPatch) -> Surveys:
    monkeypatch.setattr(survey_module, "WHOLE_FIRST", whole_first)
    return survey_all(spec, system, ENGINES["quick"], LIMITS, 1)


def differences(whole: Surveyed, parts: Surveyed) -> list[str]:
    """What two surveys with the same number of failures say differently."""
    settles = whole.unsettling is None
    found = []
    if (whole.unsettling is None) is not (parts.unsettling is None):
        found.append("whether everything settles")
    for what, one, other in (("happened", whole.happened, parts.happened), ("seen", whole.seen, parts.seen)):
        if one - other:
            found.append(f"{what} in the whole alone: {sorted(one - other)}")
        if settles and other - one:
            found.append(f"{what} in a part alone: {sorted(other - one)}")
    if settles and whole.stuck is not None and parts.limit is None:
        found.append("a stop of the whole was not seen")
    if settles and whole.orders is None and parts.orders is not None:
        found.append("orders that do not matter")
    return found


def test_parts_say_what_the_whole_says_on_random_specs(monkeypatch: pytest.MonkeyPatch) -> None:
    n_apart = n_compared = n_with_failure = 0
    for seed in SEEDS:
        spec = random_spec(seed)
        system = elaborate(spec)
        whole = surveyed(spec, system, 1_000_000, monkeypatch)
        parts = surveyed(spec, system, 0, monkeypatch)
        n_apart += len(parts.by_failures[0].parts) > 1
        for failures, (one, other) in enumerate(zip(whole.by_failures, parts.by_failures, strict=False)):
            if one.limit is None and len(other.parts) > 1:
                n_compared += 1
                n_with_failure += failures
                assert differences(one, other) == [], f"seed {seed}, {failures} failures"
    print(f"{n_apart} of {len(SEEDS)} specs taken apart, {n_compared} surveys compared")
    assert n_apart >= 20
    assert n_with_failure >= 15


LAMPS = """\
format: interlock/1
equipment:
  switch: {states: [up, down], start: up, moves: {falls: {from: up, to: down}, rises: {from: down, to: up}}}
  left: {states: [dark, lit], follows: switch is down}
  right: {states: [dark, lit], follows: switch is up}
  clock: {states: [tick, tock], start: tick, moves: {ticks: {from: tick, to: tock}, tocks: {from: tock, to: tick}}}
rules:
  R1: {possible: left is lit}
"""


def test_a_part_holds_all_that_can_influence_it() -> None:
    spec, bag, _ = load_text(LAMPS, "lamps.yaml")
    assert spec is not None, bag.sorted()
    system = elaborate(spec)
    assert [[v.name for v in part.system.variables] for part in parts_of(system, ())] == [
        ["switch", "left"],
        ["switch", "right"],
        ["clock"],
    ]
    both = variables_of(*(expression for one in system.properties for expression in one.expressions()))
    together = parts_of(system, (both | {"right"},))
    assert [[v.name for v in part.system.variables] for part in together] == [["switch", "left", "right"], ["clock"]]
