"""What pictures show: the tree of moves, the ordinary cycle, what permissives keep off, the lanes of a scenario."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from interlock.analysis.drawing import ScenarioPicture
from interlock.analysis.drawing_chain import chain_picture
from interlock.analysis.drawing_cycle import NoCycle, ordinary_cycle
from interlock.analysis.drawing_holds import Paper, TooMany
from interlock.analysis.drawing_scenario import rule_scenario, sought_scenario
from interlock.analysis.drawing_search import NoScenario
from interlock.analysis.drawing_sequences import sequences_picture
from interlock.analysis.drawing_text import named_in
from interlock.analysis.options import Options
from interlock.core.question import Ends
from interlock.diag.place import Sources, Span
from interlock.logic.formula import And, Condition, Is, Ref, Thing
from interlock.pipeline import Loaded, load, load_with_condition
from interlock.spec.model import Spec

REPOSITORY = Path(__file__).resolve().parents[3]

LOGIC = """\
format: interlock/1
equipment:
  door: {states: [open, shut], start: open, moves: {shuts: {from: open, to: shut}, opens: {from: shut, to: open}}}
  lamp: {states: [dark, lit], follows: command light}
readings:
  door_shut: {shows: door is shut}
  lamp_seen: {shows: lamp}
logic:
  ground:
    steps:
      rest: {start: true}
      ready: {}
      lit: {drives: [light], timeout: {after: stay, to: rest}}
      broken: {}
    trips:
      opened: {from: [ready, lit], to: broken, when: not door_shut}
    moves:
      prepare: {from: rest, to: ready, needs: {shut: door_shut}}
      begin: {from: ready, to: lit, needs: {shut: {condition: door_shut, for: 500 ms}}}
      mend: {from: broken, to: rest, needs: {}}
parameters: {stay: 60 s .. 61 s}
hazards:
  H1: {words: light in an open door, happens: lamp is lit and door is open, severity: marginal}
rules:
  R1: {never: lamp is lit and door is open, guards_against: [H1]}
  R2: {possible: door is shut and ground is lit}
"""


def built(text: str) -> tuple[Spec, Sources]:
    loaded: Loaded = load(text.encode(), "x.yaml")
    assert loaded.spec is not None, loaded.mistakes
    return loaded.spec, loaded.sources


# --- sequences ---


def test_each_step_but_the_first_hangs_under_the_move_that_reaches_it_first() -> None:
    (drawn,) = sequences_picture(*built(LOGIC)).sequences
    assert drawn.tree == (("rest", "prepare", "ready"), ("ready", "begin", "lit"))


def test_conditions_and_times_are_as_the_author_wrote_them_a_parameter_with_its_value() -> None:
    (drawn,) = sequences_picture(*built(LOGIC)).sequences
    changes = {change.name: change for change in drawn.changes}
    assert changes["lit timeout"].after == "stay (60 s .. 61 s)"
    assert [(need.name, need.condition, need.held_for) for need in changes["begin"].needs] == [
        ("shut", "door_shut", "500 ms")
    ]
    assert changes["opened"].needs[0].condition == "not door_shut"


@pytest.mark.parametrize(
    "condition",
    [
        "(door_shut or lamp_seen is lit) and not (lamp_seen is dark)",
        "not (door_shut and (lamp_seen is lit or lamp_seen is dark))",
        "door_shut and (lamp_seen is lit or (door_shut and lamp_seen is dark))",
        "(door_shut) and (lamp_seen is lit)",
    ],
)
def test_the_brackets_at_the_ends_of_a_condition_are_kept(condition: str) -> None:
    (drawn,) = sequences_picture(*built(LOGIC.replace("shut: door_shut}}", f'shut: "{condition}"}}}}', 1))).sequences
    prepare = next(change for change in drawn.changes if change.name == "prepare")
    assert prepare.needs[0].condition == condition


def test_conditions_that_permissives_speak_of_are_told_with_those_that_these_speak_of() -> None:
    text = LOGIC.replace("needs: {shut: door_shut}", "needs: {shut: door_shut and safe}") + (
        "conditions: {unused: door_shut, dark: lamp_seen is dark, safe: dark or not door_shut}\n"
    )
    assert chain_picture(*built(text)).named == (("safe", "dark or not door_shut"), ("dark", "lamp_seen is dark"))
    assert chain_picture(*built(LOGIC)).named == ()


def test_conditions_of_like_instances_are_told_once_and_those_that_differ_by_their_full_names() -> None:
    like = Is(Ref(Thing.ITEM, "door"), ("shut",))
    other = Is(Ref(Thing.ITEM, "door"), ("open",))
    nowhere = Span("", 1, 1, 1, 1)
    conditions = (("a ok", like, nowhere), ("b ok", like, nowhere), ("c ok", other, nowhere))
    spec = replace(built(LOGIC)[0], conditions=conditions)
    asked = And((Condition("a ok"), Condition("b ok"), Condition("c ok")))
    assert named_in([asked], spec, Sources({})) == (("ok", "door is shut"), ("c ok", "door is open"))


# --- the ordinary cycle ---


def test_the_cycle_takes_a_timeout_where_moves_do_not_lead_round_rather_than_a_trip() -> None:
    cycle = ordinary_cycle(built(LOGIC)[0])
    assert cycle.steps == ("rest", "ready", "lit")
    assert [change.name for change in cycle.changes] == ["prepare", "begin", "lit timeout"]
    assert "with timeouts where moves alone do not lead round" in cycle.chosen


def test_the_cycle_takes_a_trip_where_nothing_else_leads_round() -> None:
    cycle = ordinary_cycle(built(LOGIC)[0], ("ground", "broken"))
    assert [change.name for change in cycle.changes] == ["prepare", "opened", "mend"]
    assert "with trips" in cycle.chosen


def test_a_cycle_without_the_start_step_begins_at_the_last_step_that_no_trip_leaves() -> None:
    text = LOGIC.replace("      rest: {start: true}\n", "      first: {start: true}\n      rest: {}\n").replace(
        "    moves:\n      prepare:", "    moves:\n      come: {from: first, to: rest, needs: {}}\n      prepare:"
    )
    assert text.count("first") == 2
    cycle = ordinary_cycle(built(text)[0])
    assert cycle.steps[0] == "rest"
    assert "`rest`, the last step before it that no trip leaves" in cycle.chosen


def test_without_a_step_to_go_by_or_a_way_back_there_is_no_cycle() -> None:
    with pytest.raises(NoCycle, match="no `possible` rule"):
        ordinary_cycle(built(LOGIC.replace("  R2: {possible: door is shut and ground is lit}\n", ""))[0])
    with pytest.raises(NoCycle, match="lead from `broken` back"):
        ordinary_cycle(
            built(LOGIC.replace("      mend: {from: broken, to: rest, needs: {}}\n", ""))[0], ("ground", "broken")
        )


# --- what permissives keep off ---


def excluded(text: str, condition: str) -> list[str]:
    """The hazards that a condition, written in the spec, excludes."""
    spec, _ = built(text + f"conditions: {{asked: {condition}}}\n")
    formula = next(formula for id, formula, _ in spec.conditions if id == "asked")
    return sorted(Paper(spec).excluded((formula,)))


def test_a_hazard_is_kept_off_by_what_cannot_be_true_together_with_it() -> None:
    assert excluded(LOGIC, "door_shut") == ["H1"]
    assert excluded(LOGIC, "lamp_seen is dark") == ["H1"]


def test_a_hazard_is_not_kept_off_by_what_can_be_true_together_with_it() -> None:
    assert excluded(LOGIC, "not door_shut") == []
    assert excluded(LOGIC, "lamp_seen is lit") == []


def test_what_follows_something_is_taken_as_following_and_a_command_as_free() -> None:
    assert excluded(LOGIC, "not command light") == ["H1"]
    assert excluded(LOGIC, "command light") == []


def test_a_condition_that_is_never_true_keeps_off_nothing() -> None:
    assert excluded(LOGIC, "door_shut and not door_shut") == []


def test_a_rule_that_cannot_be_broken_keeps_off_the_hazards_it_guards_against() -> None:
    text = LOGIC.replace("lamp is lit and door is open, severity", "lamp is lit, severity")
    assert excluded(text, "door_shut") == ["H1"]
    assert excluded(text.replace(", guards_against: [H1]", ""), "door_shut") == []


def test_of_a_rule_about_order_the_condition_keeps_off_that_proves_what_must_come_first() -> None:
    text = LOGIC.replace("R1: {never: lamp is lit and door is open", "R1: {before: lamp is lit, first: door is shut")
    text = text.replace("happens: lamp is lit and door is open", "happens: lamp is lit")
    assert excluded(text, "door_shut") == ["H1"]
    assert excluded(text, "not door_shut") == []


def test_what_was_before_an_event_says_nothing_about_now() -> None:
    text = LOGIC.replace("never: lamp is lit and door is open", "never: becomes(lamp is lit) and was(door is open)")
    text = text.replace("happens: lamp is lit and door is open", "happens: lamp is lit")
    assert excluded(text, "door_shut") == []


def test_permissives_that_only_together_keep_something_off_are_told_apart_from_those_that_do_alone() -> None:
    text = LOGIC.replace("door is shut\n", "door is shut\n").replace(
        "happens: lamp is lit and door is open", "happens: lamp is dark or door is open"
    )
    text = text.replace(", guards_against: [H1]", "").replace(
        "needs: {shut: door_shut}", "needs: {shut: door_shut, seen: lamp_seen is lit, still: ground is rest}"
    )
    rung = chain_picture(*built(text)).rungs[0]
    told = {proof.need.name: (proof.excludes, proof.joins, proof.concerns) for proof in rung.proofs}
    assert told == {"shut": ((), ("H1",), ()), "seen": ((), ("H1",), ()), "still": ((), (), ())}


def test_the_search_gives_up_rather_than_guess(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.analysis.drawing_holds.MOST_CASES", 1)
    spec, sources = built(LOGIC)
    with pytest.raises(TooMany):
        Paper(spec).excluded((spec.rules[0].condition,))
    assert not any(proof.checked for rung in chain_picture(spec, sources).rungs for proof in rung.proofs)


def test_each_rung_tells_which_commands_begin_and_end_and_where_trips_lead() -> None:
    rungs = chain_picture(*built(LOGIC)).rungs
    assert [(rung.step.name, rung.gives, rung.withdraws) for rung in rungs] == [
        ("rest", (), ("light",)),
        ("ready", (), ()),
        ("lit", ("light",), ()),
    ]
    assert rungs[1].trips == rungs[2].trips == ((("opened",), "broken"),)


# --- scenarios ---


def scenario(text: str, rule: str, failures: int | None = None) -> ScenarioPicture:
    found = rule_scenario(built(text)[0], rule, Options(failures=failures))
    assert isinstance(found, ScenarioPicture)
    return found


def test_a_scenario_has_a_lane_for_each_thing_that_changes_and_for_no_other() -> None:
    spec, _ = built((REPOSITORY / "specs" / "teaching.yaml").read_text(encoding="utf-8"))
    picture = rule_scenario(spec, "H2", Options(failures=1))
    assert isinstance(picture, ScenarioPicture)
    assert [lane.thing for lane in picture.lanes] == ["ground", "train", "request", "shoe"]
    assert picture.n_folded == 3  # earth, feeder, rail
    assert picture.at_start == ("hold_fails",)
    (train,) = (lane for lane in picture.lanes if lane.thing == "train")
    assert [(one.value, one.first, one.n_rows, one.in_breach) for one in train.stretches] == [
        ("away", 0, 1, False),
        ("standing", 1, 4, False),
        ("away", 5, 3, True),
    ]
    assert picture.breach == "train is away and shoe is down"
    assert picture.ends is Ends.BREACH


def test_what_a_breach_reads_but_nothing_changes_is_named_with_its_value() -> None:
    text = LOGIC.replace("never: lamp is lit and door is open", "never: ground is ready and lamp is dark")
    picture = scenario(text, "R1")
    assert [(one.thing, one.after) for one in picture.folded] == [("lamp", "dark")]


def test_events_that_change_nothing_drawn_have_no_row_and_their_numbers_are_told() -> None:
    picture = scenario(LOGIC, "R2")
    numbers = [event.number for event in picture.events]
    assert picture.left_out
    assert sorted([*numbers, *picture.left_out]) == list(range(1, numbers[-1] + 1))
    assert all(sum(stretch.n_rows for stretch in lane.stretches) == len(numbers) + 1 for lane in picture.lanes)


def test_of_a_rule_that_holds_there_is_nothing_to_draw() -> None:
    found = rule_scenario(
        built(LOGIC.replace("lamp is lit and door is open", "lamp is lit and lamp is dark"))[0], "R1", Options()
    )
    assert found == NoScenario("R1 holds without failures", limit=False)


def test_a_way_to_a_condition_is_drawn_like_a_scenario() -> None:
    loaded = load_with_condition(LOGIC.encode(), "x.yaml", "ground is ready", "CONDITION")
    assert loaded.spec is not None
    assert loaded.sought is not None
    picture = sought_scenario(loaded.spec, loaded.sought, "ground is ready", Options())
    assert isinstance(picture, ScenarioPicture)
    assert picture.ends is Ends.REACHED
    assert picture.heading == "a way to ground is ready"
