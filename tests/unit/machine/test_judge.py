"""Rules and hazards along runs: what counts as broken, where, and with how many failures."""

from __future__ import annotations

import pytest

from interlock.machine.explore import judge_all
from interlock.machine.judge import Judge
from interlock.machine.machine import Machine
from interlock.spec.model import Spec
from tests.unit.machine.small_specs import spec_of, start_of

PLANT = """
equipment:
  rail:
    states: [dead, live]
    start: dead
    moves: {goes_live: {from: dead, to: live}, goes_dead: {from: live, to: dead}}
  lamp: {states: [dark, lit], follows: rail is live}
  earth:
    states: [lifted, closed]
    start: lifted
    moves: {closes: {from: lifted, to: closed}, lifts: {from: closed, to: lifted}}
failures:
  earth_falls: {of: earth, effect: {goes: closed}}
  lamp_out: {of: lamp, effect: {stuck: true}}
  both: {common_cause: [earth_falls, lamp_out]}
"""


def judged(rule: str, hazards: str = "") -> tuple[frozenset[str], frozenset[str]]:
    found = judge_all(with_rules(f"  R1: {{{rule}}}\n", hazards))
    assert found.complete
    return found.broken, found.reached


def with_rules(rules: str, hazards: str = "") -> Spec:
    return spec_of(PLANT + (f"hazards:\n{hazards}" if hazards else "") + f"rules:\n{rules}")


@pytest.mark.parametrize(
    ("rule", "broken"),
    [
        # Before the lamp has followed, nothing is settled.
        ("never: rail is live and lamp is dark", False),
        ("never: rail is live and lamp is dark, passing: true", True),
        ("while: rail is live, must: lamp is lit", False),
        ("while: rail is live, must: lamp is lit, passing: true", True),
        # A rule with `becomes` speaks of every event, passing situations included.
        ("never: becomes(rail is live) and lamp is dark", True),
        ("never: becomes(lamp is lit) and was(rail is dead)", False),
        # Nothing becomes at the start.
        ("never: becomes(rail is dead) and lamp is dark", False),
        # Failures beyond what the rule withstands, and common causes, do not count.
        ("never: rail is live and lamp is dark, withstands: 1", True),
        ("never: earth_falls", False),
        ("never: earth_falls, withstands: 1", True),
        ("never: earth_falls and lamp_out, withstands: 1", False),
        ("never: earth_falls and lamp_out, withstands: 1, even_common_cause: true", True),
        ("never: earth_falls and lamp_out, withstands: 2", True),
        # The earth has to close before the rail becomes live.
        ("before: becomes(rail is live), first: earth is closed", True),
        ("before: becomes(rail is live), first: earth is lifted", False),
        # The flag stays up though the earth is lifted again ...
        ("before: becomes(rail is dead), first: rail is live", False),
        # ... unless something since then takes it down; what takes it down in the same event does not count.
        ("before: rail is live, first: rail is dead, since: rail is live", False),
        ("before: earth is closed, first: rail is dead, since: rail is live", True),
    ],
)
def test_a_rule_is_broken_exactly_by_what_it_says(rule: str, broken: bool) -> None:
    assert judged(rule)[0] == (frozenset({"R1"}) if broken else frozenset())


@pytest.mark.parametrize(
    ("rule", "reached"),
    [
        ("possible: lamp is lit and earth is closed", True),
        ("possible: rail is live and lamp is dark", False),
        ("possible: earth_falls", False),
    ],
)
def test_what_is_possible_is_reached_without_a_failure_in_a_settled_situation(rule: str, reached: bool) -> None:
    assert judged(rule)[1] == (frozenset({"R1"}) if reached else frozenset())


def test_a_hazard_withstands_what_its_rules_claim_unless_it_says_so_itself() -> None:
    happens = "words: fire, happens: rail is live and lamp is dark, severity: critical"
    guarding = "never: rail is live and earth is closed and lamp is dark, guards_against: [H1], withstands: 1"
    assert "H1" in judged(guarding, f"  H1: {{{happens}}}\n")[0]
    assert "H1" not in judged(guarding, f"  H1: {{{happens}, withstands: 0}}\n")[0]


def test_rules_that_one_run_cannot_break_are_named_with_the_reason() -> None:
    rules = """
  R1: {possible: rail is live}
  R2: {always_possible: rail is dead}
  R3: {always_ends: rail is dead, from: rail is live, helped_by: [rail goes_dead]}
  R4: {after: rail is live, within: 1 s, must: lamp is lit}
  R5: {never: rail is live and lamp is dark}
"""
    judge = Judge(Machine(with_rules(rules), 0))
    assert judge.judged == ("R5",)
    assert judge.goals == ("R1",)
    assert {id for id, _ in judge.not_judged} == {"R1", "R2", "R3", "R4"}
    assert dict(judge.not_judged)["R4"] == "speaks of durations; walks know no clock"


def test_judging_that_stops_at_a_limit_says_so() -> None:
    spec = with_rules("  R1: {never: rail is live and lamp is dark}\n")
    assert not judge_all(spec, limit=2).complete


def test_a_start_can_break_a_rule() -> None:
    machine = Machine(with_rules("  R1: {never: rail is dead}\n"), 0)
    assert Judge(machine).begin(start_of(machine), ())[1] == ("R1",)
