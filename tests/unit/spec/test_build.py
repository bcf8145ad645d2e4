"""Building: what each construct of a spec becomes."""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.logic.formula import And, AtMost, Compare, Condition, Const, Is, Not, Or, Ref, Same, Sum, Thing, Was
from interlock.spec import load_text
from interlock.spec.model import ChangeKind, EffectKind, RuleKind, Spec, Window

ITEMS = """
equipment:
  train:
    states: [away, arriving, there]
    start: any of [away, there]
    moves:
      comes: {from: away, to: arriving}
      stops: {from: arriving, to: there, takes: 2 s .. 3 s}
      leaves: {from: [arriving, there], to: away, when: not command hold, also: {film: absent}}
  film: {states: [absent, there], start: absent}
  count: {states: 0 .. 3, start: 2}
  rail: {states: [dead, live], follows: train is there}
"""
LOGIC = """
readings:
  in_place: {shows: train is there}
  seen: {shows: train, late: 10 ms .. 50 ms, steady: 100 ms, in_flight: 3}
logic:
  ground:
    memory:
      tries: {states: 0 .. 3, start: 0}
      cause: {states: [none, gone], start: none, kept: true}
    steps:
      waiting: {start: true, words: nothing is driven}
      charging: {drives: [hold], timeout: {after: 5 s .. 6 s, to: waiting, sets: {cause: gone}}}
    moves:
      begin:
        from: waiting
        to: charging
        needs: {here: in_place, steady: {condition: seen is there, for: 500 ms}, left: tries < 3}
        sets: {tries: tries + 1}
    trips:
      gone: {from: charging, to: waiting, when: not in_place, sets: {cause: gone}}
    priority: [gone, charging timeout]
"""
RULES = "rules: {R1: {never: rail is live and train is away}}\n"
SHOES = """
parts:
  shoe:
    parameters: {travel: 2 s .. 4 s}
    given: [in_place]
    equipment:
      shoe: {states: [up, down], start: up, moves: {lowers: {from: up, to: down, when: command lower, takes: travel}}}
    readings: {is_down: {shows: shoe is down}}
    failures: {stuck: {of: shoe, effect: {stays: up}}}
    hazards: {H1: {happens: shoe is down and not in_place}}
    rules: {R7: {never: shoe is down and not in_place, guards_against: [H1]}}
instances:
  shoes: {part: shoe, named: [front, rear], with: {in_place: train is there, travel: 1 s}}
  more: {part: shoe, count: 2, with: {in_place: train is away}}
"""


def built(*pieces: str, rules: str = RULES) -> Spec:
    spec, bag, _ = load_text("format: interlock/1\n" + "".join(pieces) + rules, "f")
    assert spec is not None, bag.sorted()
    return spec


def formula(text: str, *pieces: str) -> object:
    """What a rule forbids, without places."""
    spec = built(*(pieces or (ITEMS, LOGIC)), rules=f"rules:\n  R1:\n    never: {text}\n")
    return bare(spec.rules[0].condition)


def bare(value: object) -> object:
    """A formula as nested tuples, without places."""
    if isinstance(value, And | Or | AtMost):
        limit = (value.limit,) if isinstance(value, AtMost) else ()
        return (type(value).__name__, *limit, *map(bare, value.operands))
    if isinstance(value, Not | Was):
        return (type(value).__name__, bare(value.operand))
    if isinstance(value, Is):
        return (value.ref.thing.value, value.ref.id, value.values)
    if isinstance(value, Same):
        return ("same", value.left.id, value.right.id)
    if isinstance(value, Compare):
        return (value.left, value.operator, value.right)
    if isinstance(value, Condition):
        return ("condition", value.id)
    assert isinstance(value, Const)
    return value.value


# --- equipment ---


def test_an_item_has_its_states_starts_and_moves() -> None:
    train, film, count, rail = built(ITEMS).items
    assert train.states == ("away", "arriving", "there")
    assert train.start == ("away", "there")
    assert count.states == (0, 1, 2, 3)
    assert count.start == (2,)
    comes, stops, leaves = train.moves
    assert comes.free
    assert not comes.instant
    assert stops.takes is not None
    assert (stops.takes.earliest_s, stops.takes.latest_s) == (Fraction(2), Fraction(3))
    assert leaves.from_states == ("arriving", "there")
    assert leaves.also == (("film", "absent"),)
    assert bare(leaves.when) == ("Not", ("command", "hold", (True,)))
    assert (rail.start, bare(rail.follows)) == (("dead",), ("item", "train", ("there",)))
    assert film.moves == ()


@pytest.mark.parametrize("start", ["any of [a, c]", "[a, c]", "any of [ a , c ]", "'any of [a,c]'"])
def test_several_starts_can_be_written_in_two_ways(start: str) -> None:
    spec = built(f"equipment:\n  x:\n    states: [a, b, c]\n    start: {start}\n", rules="rules: {R1: {never: x is b}}")
    assert spec.items[0].start == ("a", "c")


@pytest.mark.parametrize(
    ("takes", "window"),
    [
        ("500 ms", Window(Fraction(1, 2), Fraction(1, 2))),
        ("2 s .. never", Window(Fraction(2), None)),
        ("over 2 s .. under 3 s", Window(Fraction(2), Fraction(3), True, True)),
        ("2 * base + 500 ms .. stop - 1 min", Window(Fraction(5, 2), Fraction(150))),
        ("range", Window(Fraction(1), Fraction(4))),
    ],
)
def test_windows_are_exact_and_may_be_computed(takes: str, window: Window) -> None:
    spec = built(
        "parameters: {base: 1 s, stop: 210 s, range: base .. 4 * base}\n",
        f"equipment: {{x: {{states: [a, b], start: a, moves: {{m: {{from: a, to: b, takes: {takes}}}}}}}}}\n",
        rules="rules: {R1: {never: x is b}}",
    )
    found = spec.items[0].moves[0].takes
    assert found is not None
    assert (found.earliest_s, found.latest_s) == (window.earliest_s, window.latest_s)
    assert (found.earliest_open, found.latest_open) == (window.earliest_open, window.latest_open)


def test_a_move_that_takes_nothing_is_instant_and_withdrawing_can_be_of_two_kinds() -> None:
    spec = built(
        "equipment:\n  x:\n    states: [a, b]\n    start: a\n    moves:\n"
        "      m: {from: a, to: b, takes: nothing}\n"
        "      n: {from: b, to: a, when: command c, takes: 1 s, withdrawn: completes}\n",
        rules="rules: {R1: {never: x is b}}",
    )
    instant, bound = spec.items[0].moves
    assert (instant.instant, instant.takes, instant.free, bound.completes) == (True, None, False, True)


# --- readings, links, logic ---


def test_a_reading_shows_a_truth_or_the_states_of_an_item() -> None:
    in_place, seen = built(ITEMS, LOGIC).readings
    assert (in_place.values, bare(in_place.shows)) == ((False, True), ("item", "train", ("there",)))
    assert (seen.values, seen.shows) == (("away", "arriving", "there"), Ref(Thing.ITEM, "train"))
    assert (seen.in_flight, in_place.in_flight, in_place.late) == (3, 2, None)
    assert seen.late is not None
    assert seen.steady is not None
    assert (seen.late.latest_s, seen.steady.earliest_s) == (Fraction(1, 20), Fraction(1, 10))


def test_a_link_carries_steps_readings_and_memory() -> None:
    link = """
links:
  to_train:
    from: ground
    carries:
      ready: ground is charging
      place: {shows: seen, late: 1 s}
      step: ground
      tries: ground tries
      near: in_place
    late: 20 ms .. 200 ms
    watchdog: 900 ms .. 1 s
    when_lost: {ready: false, place: away, step: waiting, tries: 0, near: true}
"""
    (found,) = built(ITEMS, LOGIC, link).links
    ready, place, step, tries, near = found.carries
    assert (found.sender, found.receiver) == ("ground", None)
    assert (ready.id, bare(ready.shows)) == ("to_train ready", ("step", "ground", ("charging",)))
    assert place.shows == Ref(Thing.READING, "seen")
    assert place.late is not None
    assert ready.late is not None
    assert (place.late.earliest_s, ready.late.earliest_s) == (Fraction(1), Fraction(1, 50))
    assert (step.shows, step.values) == (Ref(Thing.STEP, "ground"), ("waiting", "charging"))
    assert (tries.shows, tries.values) == (Ref(Thing.MEMORY, "ground tries"), (0, 1, 2, 3))
    assert bare(near.shows) == ("reading", "in_place", (True,))
    assert dict(found.when_lost) == {
        "to_train ready": False,
        "to_train place": "away",
        "to_train step": "waiting",
        "to_train tries": 0,
        "to_train near": True,
    }


def test_a_sequence_has_steps_memory_and_changes_in_their_order() -> None:
    (ground,) = built(ITEMS, LOGIC).sequences
    assert (ground.start, ground.step("charging").drives, ground.reacts) == ("waiting", ("hold",), None)
    assert [(one.id, one.values, one.start, one.kept) for one in ground.memories] == [
        ("ground tries", (0, 1, 2, 3), 0, False),
        ("ground cause", ("none", "gone"), "none", True),
    ]
    trip, timeout, move = ground.changes
    assert [one.kind for one in ground.changes] == [ChangeKind.TRIP, ChangeKind.TIMEOUT, ChangeKind.MOVE]
    assert (trip.name, timeout.name, move.name) == ("gone", "charging timeout", "begin")
    assert [one.name for one in trip.permissives] == ["when"]
    assert timeout.permissives == ()
    assert [one.name for one in move.permissives] == ["here", "steady", "left"]
    assert [one.held_for is not None for one in move.permissives] == [False, True, False]
    assert (trip.sets[0].memory, trip.sets[0].to) == ("ground cause", "gone")
    assert move.sets[0].to == Sum(1, ((1, Ref(Thing.MEMORY, "ground tries")),))
    assert ground.priority == ("gone", "charging timeout")


# --- expressions ---

CHARGING = ("step", "ground", ("charging",))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("train is there", ("item", "train", ("there",))),
        ("train is not there", ("Not", ("item", "train", ("there",)))),
        ("train in {away, there}", ("item", "train", ("away", "there"))),
        ("in_place", ("reading", "in_place", (True,))),
        ("in_place is false", ("Not", ("reading", "in_place", (True,)))),
        ("charging", CHARGING),
        ("ground charging", CHARGING),
        ("ground is charging", CHARGING),
        ("ground cause is gone", ("memory", "ground cause", ("gone",))),
        ("ground tries is 2", ("memory", "ground tries", (2,))),
        ("seen is train", ("same", "seen", "train")),
        ("command hold", ("command", "hold", (True,))),
        ("becomes(charging)", ("And", CHARGING, ("Not", ("Was", CHARGING)))),
        (
            "ground tries + 1 <= count - 2",
            (
                Sum(1, ((1, Ref(Thing.MEMORY, "ground tries")),)),
                "<=",
                Sum(-2, ((1, Ref(Thing.ITEM, "count")),)),
            ),
        ),
    ],
)  # fmt: skip
def test_names_are_resolved(text: str, expected: object) -> None:
    assert formula(text) == expected


def test_a_value_of_the_left_side_goes_before_a_thing_of_that_name() -> None:
    """`film` has a state `there`; a reading called `there` does not change what `film is there` says."""
    extra = LOGIC.replace("  in_place:", "  there: {shows: film}\n  in_place:")
    assert formula("film is there", ITEMS, extra) == ("item", "film", ("there",))
    assert formula("film is not absent and there is film", ITEMS, extra) == (
        "And",
        ("Not", ("item", "film", ("absent",))),
        ("same", "there", "film"),
    )


def test_parameters_that_are_numbers_stand_in_comparisons() -> None:
    assert formula("ground tries < limit", "parameters: {limit: 2}\n", ITEMS, LOGIC) == (
        Sum(0, ((1, Ref(Thing.MEMORY, "ground tries")),)),
        "<",
        Sum(2, ()),
    )


def test_the_names_of_conditions_are_kept() -> None:
    spec = built(
        ITEMS, "conditions: {gone: train is away, far: gone and rail is dead}\n", rules="rules: {R1: {never: far}}"
    )
    assert bare(spec.rules[0].condition) == ("condition", "far")
    assert [(name, bare(inner)) for name, inner, _ in spec.conditions] == [
        ("gone", ("item", "train", ("away",))),
        ("far", ("And", ("condition", "gone"), ("item", "rail", ("dead",)))),
    ]


# --- parts ---

LOWER = LOGIC.replace("drives: [hold]", "drives: [hold, lower, front shoe lower]")


def test_instances_are_written_out_with_their_names_in_front() -> None:
    spec = built(ITEMS, LOWER, SHOES)
    assert [item.id for item in spec.items][4:] == ["front shoe shoe", "rear shoe shoe", "shoe 1 shoe", "shoe 2 shoe"]
    assert [rule.id for rule in spec.rules] == ["R1", "front shoe R7", "rear shoe R7", "shoe 1 R7", "shoe 2 R7"]
    assert spec.rules[1].guards_against == ("front shoe H1",)
    assert [one.id for one in spec.failures] == ["front shoe stuck", "rear shoe stuck", "shoe 1 stuck", "shoe 2 stuck"]
    assert spec.failures[0].effects[0].target == "front shoe shoe"


def test_with_overrides_the_default_of_a_parameter_in_these_instances_only() -> None:
    spec = built(ITEMS, LOWER, SHOES)
    takes = [item.moves[0].takes for item in spec.items[4:]]
    sides = [f"{one.earliest_s} .. {one.latest_s}" for one in takes if one]
    assert sides == ["1 .. 1", "1 .. 1", "2 .. 4", "2 .. 4"]


def test_what_an_instance_is_given_is_a_condition_of_its_own_read_outside() -> None:
    spec = built(ITEMS, LOWER, SHOES)
    conditions = {name: bare(inner) for name, inner, _ in spec.conditions}
    assert conditions["front shoe in_place"] == ("item", "train", ("there",))
    assert conditions["shoe 1 in_place"] == ("item", "train", ("away",))


def test_a_command_inside_an_instance_is_its_own_if_a_step_drives_that_else_the_common_one() -> None:
    spec = built(ITEMS, LOWER, SHOES)
    assert [bare(item.moves[0].when) for item in spec.items[4:]] == [
        ("command", "front shoe lower", (True,)),
        ("command", "lower", (True,)),
        ("command", "lower", (True,)),
        ("command", "lower", (True,)),
    ]
    assert set(spec.commands) == {"hold", "lower", "front shoe lower"}


@pytest.mark.parametrize(
    ("text", "kind"),
    [("all shoes shoe is down", "And"), ("any shoes shoe is down", "Or"), ("at most 1 of shoes is_down", 1)],
)
def test_quantifiers_are_written_out_over_the_instances(text: str, kind: object) -> None:
    found = formula(text, ITEMS, LOWER, SHOES)
    assert isinstance(found, tuple)
    if kind == 1:
        assert found == (
            "AtMost",
            1,
            ("reading", "front shoe is_down", (True,)),
            ("reading", "rear shoe is_down", (True,)),
        )
    else:
        assert found == (kind, ("item", "front shoe shoe", ("down",)), ("item", "rear shoe shoe", ("down",)))


def test_names_inside_an_instance_are_looked_up_there_first_then_outside() -> None:
    """Inside the part `in_place` is what the instance is given; outside it is the reading."""
    spec = built(
        ITEMS, LOWER, SHOES, rules="rules: {R1: {never: all shoes (shoe is down and train is away and in_place)}}"
    )
    assert bare(spec.rules[0].condition) == (
        "And",
        *(
            (
                "And",
                ("item", f"{end} shoe shoe", ("down",)),
                ("item", "train", ("away",)),
                ("condition", f"{end} shoe in_place"),
            )
            for end in ("front", "rear")
        ),
    )


def test_parts_may_hold_instances_of_other_parts_and_logic() -> None:
    spec = built("""
equipment: {supply: {states: [lost, there], start: there}}
parts:
  shoe: {equipment: {shoe: {states: [up, down], start: up}}, readings: {is_down: {shows: shoe is down}}}
  berth:
    instances: {shoes: {part: shoe, named: [front, rear]}}
    equipment: {rail: {states: [dead, live], follows: command close}}
    logic:
      control:
        powered_by: supply is there
        steps: {waiting: {start: true}, charging: {drives: [close, front shoe hold]}}
        moves: {begin: {from: waiting, to: charging, needs: {all_down: all shoes is_down}}}
instances: {berths: {part: berth, count: 2}}
""", rules="rules: {R1: {never: at most 1 of berths (charging and any shoes shoe is up)}}")  # fmt: skip
    assert [item.id for item in spec.items] == [
        "supply",
        "berth 1 rail",
        "berth 1 front shoe shoe",
        "berth 1 rear shoe shoe",
        "berth 2 rail",
        "berth 2 front shoe shoe",
        "berth 2 rear shoe shoe",
    ]
    assert [one.id for one in spec.sequences] == ["berth 1 control", "berth 2 control"]
    assert spec.sequences[1].step("charging").drives == ("berth 2 close", "berth 2 front shoe hold")
    needs = spec.sequences[1].changes[0].permissives[0].condition
    assert bare(needs) == (
        "And",
        ("reading", "berth 2 front shoe is_down", (True,)),
        ("reading", "berth 2 rear shoe is_down", (True,)),
    )
    assert bare(spec.items[1].follows) == ("command", "berth 1 close", (True,))


# --- failures, assumptions, hazards, rules ---

FAILURES = """
failures:
  welded:
    of: count
    effect: {stays: 3}
    rate: 2e-7 /h
    source: invented
    found: {by: the next test, within: 1 d}
    repair: any time
  upon_leaving:
    {of: film, effect: {goes: there, held: true}, upon: {move: train leaves, while: rail is live}, probability: 1e-3}
  deaf: {of: train, effect: {ignores: hold, slow: {stops: 10 s}}}
  never_there: {of: train, effect: {slow: {stops: never}}, only_while: rail is dead}
  blind: {of: in_place, effect: {reads: false}}
  frozen: {of: seen, effect: {reads: frozen}}
  mad: {of: seen, effect: {reads: anything}}
  driven: {of: command hold, effect: {output: driven}}
  stopped: {of: ground, effect: {controller: stops_holding}}
  both: {common_cause: [blind, frozen], rate: 8.76e-3 /a}
"""


def test_failures_have_effects_on_their_targets() -> None:
    failures = {one.id: one for one in built(ITEMS, LOGIC, FAILURES).failures}
    kinds = {id: [effect.kind for effect in one.effects] for id, one in failures.items()}
    assert kinds == {
        "welded": [EffectKind.STAYS],
        "upon_leaving": [EffectKind.GOES],
        "deaf": [EffectKind.IGNORES, EffectKind.SLOW],
        "never_there": [EffectKind.SLOW],
        "blind": [EffectKind.READS],
        "frozen": [EffectKind.FROZEN],
        "mad": [EffectKind.ANYTHING],
        "driven": [EffectKind.DRIVEN],
        "stopped": [EffectKind.STOPS_HOLDING],
        "both": [],
    }
    welded = failures["welded"]
    assert (welded.rate_per_h, welded.found_within_s) == (Fraction(2, 10**7), Fraction(86400))
    assert welded.repaired
    assert (welded.effects[0].target, welded.effects[0].value) == ("count", 3)
    trigger = failures["upon_leaving"].trigger
    assert trigger is not None
    assert (trigger.item, trigger.move, bare(trigger.condition)) == ("train", "leaves", ("item", "rail", ("live",)))
    assert failures["upon_leaving"].effects[0].held
    assert failures["deaf"].effects[0].command == "hold"
    assert (failures["deaf"].effects[1].move, failures["deaf"].effects[1].latest_s) == ("stops", Fraction(10))
    assert failures["never_there"].effects[0].latest_s is None
    assert bare(failures["never_there"].only_while) == ("item", "rail", ("dead",))
    assert failures["both"].members == ("blind", "frozen")
    assert failures["both"].rate_per_h == Fraction(1, 10**6)


def test_rules_and_hazards_of_every_kind_are_read() -> None:
    spec = built(ITEMS, LOGIC, FAILURES, rules="""
assumptions:
  A1: {words: nobody moves it, strengthens: [train leaves, blind], with: not command hold, owner: operator}
hazards:
  H1: {words: live, happens: rail is live, severity: catastrophic, tolerable: 1e-9 /h, withstands: 1, passing: true}
  H2: {happens: {condition: rail is live, longer_than: 500 ms}, kind: service}
rules:
  R1: {never: rail is live, guards_against: [H1, H2], withstands: 2, even_common_cause: true, passing: true}
  R2: {while: rail is live, must: train is there}
  R3: {before: becomes(rail is live), first: in_place, since: becomes(rail is dead)}
  R4: {after: train is away, within: 300 ms, must: rail is dead, unless: film is there}
  R5: {condition: charging, lasts: 1 s .. 210 s}
  R6: {possible: ground is charging}
  R7: {always_possible: ground is waiting}
  R8: {always_ends: ground is waiting, from: ground is charging, helped_by: [train leaves]}
""")  # fmt: skip
    assert [rule.kind for rule in spec.rules] == list(RuleKind)
    never, _, _, after, lasts, _, _, ends = spec.rules
    assert (never.guards_against, never.withstands) == (("H1", "H2"), 2)
    assert never.even_common_cause
    assert never.passing
    assert after.within is not None
    assert lasts.within is not None
    assert (after.within.earliest_s, after.within.latest_s) == (Fraction(0), Fraction(3, 10))
    assert (lasts.within.earliest_s, lasts.within.latest_s) == (Fraction(1), Fraction(210))
    assert ends.helped_by == ("train leaves",)
    first, second = spec.hazards
    assert (first.tolerable_per_h, first.withstands, first.safety, first.passing) == (Fraction(1, 10**9), 1, True, True)
    assert (second.longer_than_s, second.withstands, second.safety) == (Fraction(1, 2), None, False)
    (assumption,) = spec.assumptions
    assert (assumption.strengthens, assumption.owner) == (("train leaves", "blind"), "operator")


def test_the_digest_is_that_of_the_bytes_of_the_file() -> None:
    from hashlib import sha256

    source = ("format: interlock/1\n" + ITEMS + RULES).encode()
    spec, _, _ = load_text(source, "f")
    assert spec is not None
    assert spec.digest == sha256(source).hexdigest()


def test_a_move_or_trip_may_leave_any_of_several_steps() -> None:
    logic = LOGIC.replace("from: waiting\n", "from: [waiting, charging]\n").replace(
        "{from: charging", "{from: [charging]"
    )
    trip, _, move = built(ITEMS, logic).sequences[0].changes
    assert (trip.from_steps, move.from_steps) == (("charging",), ("waiting", "charging"))


def test_a_sequence_may_react_within_a_window() -> None:
    logic = LOGIC.replace("  ground:\n", "  ground:\n    reacts: 0 ms .. 50 ms\n")
    reacts = built(ITEMS, logic).sequences[0].reacts
    assert reacts is not None
    assert (reacts.earliest_s, reacts.latest_s) == (Fraction(0), Fraction(1, 20))


def test_memory_may_copy_a_reading() -> None:
    logic = LOGIC.replace(
        "cause: {states: [none, gone], start: none", "cause: {states: [away, arriving, there], start: away"
    )
    logic = logic.replace("sets: {cause: gone}", "sets: {cause: seen}")
    trip = built(ITEMS, logic).sequences[0].changes[0]
    assert trip.sets[0].to == Ref(Thing.READING, "seen")
