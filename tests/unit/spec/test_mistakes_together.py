"""Several mistakes in one file: all told at once, each once, and none that only follows from another."""

from __future__ import annotations

from interlock.diag.diagnostic import Diagnostic
from interlock.spec import load_text

GOOD = """
equipment:
  train: {states: [away, there], start: away, moves: {comes: {from: away, to: there}, leaves: {from: there, to: away}}}
  feeder:
    {states: [open, closed], start: open, moves: {closes: {from: open, to: closed, when: command close, takes: 1 s}}}
readings: {in_place: {shows: train is there}}
logic:
  ground:
    steps: {waiting: {start: true}, charging: {drives: [close]}}
    moves: {begin: {from: waiting, to: charging, needs: {here: in_place}}}
    trips: {gone: {from: charging, to: waiting, when: not in_place}}
rules: {R1: {never: feeder is closed and train is away}}
"""


def told(text: str) -> tuple[Diagnostic, ...]:
    spec, bag, _ = load_text("format: interlock/1" + text, "f.yaml")
    assert (spec is None) == (not bag.empty)
    return bag.sorted()


def kinds(text: str) -> list[str]:
    return [one.kind for one in told(text)]


def changed(*pairs: tuple[str, str]) -> str:
    text = GOOD
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return text


def test_the_good_file_has_none() -> None:
    assert kinds(GOOD) == []


def test_all_mistakes_of_a_file_are_told_at_once_in_the_order_of_the_file() -> None:
    text = changed(
        ("start: open", "strat: opne"),
        ("takes: 1 s", "takes: 1 sec"),
        ("to: charging, needs", "to: chargin, needs"),
        ("not in_place", "not in_plce"),
        ("never: feeder is closed", "never: feeder is close &&"),
    )
    assert kinds(text) == [
        "unknown-key",
        "unknown-state",
        "unknown-unit",
        "unknown-step",
        "unknown-name",
        "expression-syntax",
    ]


def test_one_wrong_name_used_in_many_places_is_told_once_with_all_of_them() -> None:
    text = changed(("rules: {", "rules: {R2: {never: rial is live}, R3: {while: rial is live, must: rial is live}, "))
    (mistake,) = told(text)
    assert (mistake.kind, len(mistake.also)) == ("unknown-name", 2)


def test_a_mistake_in_a_part_is_told_once_however_many_instances_there_are() -> None:
    text = (
        GOOD
        + """
parts: {shoe: {equipment: {shoe: {states: [up, down], start: up, moves: {falls: {from: up, to: dwon}}}},
  rules: {R2: {never: shoe is down and blub}}}}
instances: {shoes: {part: shoe, count: 20}}
"""
    )
    assert len(kinds(text)) == 2


def test_uses_of_a_thing_whose_own_definition_is_wrong_are_not_told() -> None:
    assert kinds(changed(("train: {states: [away, there]", "train: {states: away"))) == ["wrong-type"]
    assert kinds(changed(("shows: train is there", "shows: train is thare"))) == ["unknown-state"]
    assert kinds(changed(("in_place: {shows: train is there}", "in_place: {late: 1 s}"))) == ["missing-key"]
    assert kinds(changed(("{states: [open, closed]", "{states: []"))) == ["no-states"]


def test_a_misspelt_section_is_told_and_not_everything_that_was_defined_in_it() -> None:
    assert kinds(changed(("equipment:", "equipmnt:"))) == ["unknown-key"]
    assert kinds(changed(("equipment:", "devices:"))) == ["unknown-key"]
    assert kinds(changed(("readings:", "sensors:"))) == ["unknown-key"]
    assert kinds(changed(("logic:", "controllers:"))) == ["unknown-key"]


def test_a_section_that_comes_twice_is_told_and_not_what_stands_in_the_second() -> None:
    text = GOOD + "equipment: {rail: {states: [dead, live], follows: feeder is closed}}\n"
    assert kinds(text.replace("never: feeder is closed", "never: rail is live")) == ["duplicate-key"]


def test_a_command_without_any_logic_is_no_mistake() -> None:
    """A drafter may begin with the plant."""
    plant = GOOD[: GOOD.index("readings:")] + GOOD[GOOD.index("rules:") :]
    assert kinds(plant) == []


def test_equipment_seen_through_a_condition_is_told_at_the_name_of_the_condition() -> None:
    text = changed(
        ("needs: {here: in_place}", "needs: {here: arrived}"),
        ("rules:", "conditions: {arrived: train is there}\nrules:"),
    )
    (mistake,) = told(text)
    assert mistake.kind == "not-seen-here"
    assert mistake.headline == "a permissive cannot speak of equipment, as condition `arrived` does"
    assert [mark.words for mark in mistake.also] == ["`train` here"]


def test_a_permissive_that_holds_back_the_end_of_the_range_is_enough() -> None:
    def with_memory(needs: str, value: str) -> list[str]:
        return kinds(
            changed(
                (
                    "    steps:",
                    "    memory: {tries: {states: 0 .. 3, start: 0}, n: {states: 0 .. 9, start: 0}}\n    steps:",
                ),
                ("needs: {here: in_place}", f"needs: {{here: in_place, left: {needs}}}, sets: {{tries: {value}}}"),
            )
        )

    assert with_memory("tries < 3", "tries + 1") == []
    assert with_memory("tries < 3 or in_place", "tries + 1") == ["domain-overrun"]
    assert with_memory("not 3 <= tries", "tries + 1") == []
    assert with_memory("tries is not 3", "tries + 1") == []
    assert with_memory("tries + n <= 3", "tries + n") == []
    assert with_memory("tries <= 3 and n <= 3", "tries + n") == ["domain-overrun"]
    assert with_memory("tries = 0", "tries - 1") == ["domain-overrun"]
    assert with_memory("0 < tries", "tries - 1") == []
    assert with_memory("true", "n") == ["domain-overrun"]
    assert with_memory("n <= 3", "n") == []


def test_expressions_of_each_place_may_speak_of_what_is_known_there() -> None:
    """Each line: a place, an expression, and whether it may stand there."""
    logic = (
        GOOD.replace(
            "logic:",
            """links: {from_train: {carries: {ready: in_place}, watchdog: 1 s, when_lost: {ready: false}}}
failures: {welded: {of: feeder, effect: {stays: closed}, only_while: ONLY}}
assumptions: {A1: {strengthens: [train leaves], with: WITH}}
hazards: {H1: {happens: HAPPENS}}
logic:""",
        )
        .replace("shows: train is there", "shows: SHOWS")
        .replace("when: command close", "when: WHEN")
    )
    logic = logic.replace("needs: {here: in_place}", "needs: {here: NEEDS}").replace(
        "carries: {ready: in_place}", "carries: {ready: CARRIES}"
    )
    usual = {
        "ONLY": "true", "WITH": "true", "HAPPENS": "train is there", "SHOWS": "train is there", "WHEN": "command close",
        "NEEDS": "in_place", "CARRIES": "in_place",
    }  # fmt: skip
    cases = {
        "WHEN": (
            {"train is there", "welded", "command close"},
            {"in_place", "charging", "from_train ready", "from_train is lost"},
        ),
        "ONLY": ({"train is there", "command close"}, {"in_place", "charging"}),
        "WITH": ({"train is there", "welded", "command close"}, {"in_place", "charging", "from_train ready"}),
        "HAPPENS": ({"train is there", "becomes(train is there)"}, {"in_place", "charging", "command close", "welded"}),
        "SHOWS": ({"train is there", "welded"}, {"command close", "charging", "from_train ready"}),
        "NEEDS": (
            {"in_place", "from_train ready", "from_train is lost", "charging", "command close"},
            {"train is there", "welded", "was(in_place)"},
        ),
        "CARRIES": ({"in_place", "train is there", "charging", "command close", "welded"}, {"from_train is lost"}),
    }
    for place, (allowed, refused) in cases.items():
        for expression in allowed | refused:
            text = logic
            for key, value in (usual | {place: expression}).items():
                text = text.replace(key, value)
            expected = [] if expression in allowed else ["event-not-here"] if "was" in expression else ["not-seen-here"]
            assert kinds(text) == expected, (place, expression)


def test_a_name_that_is_wrong_in_its_definition_is_told_once_for_all_sorts_of_use() -> None:
    text = changed(("  feeder:", "  fedeer:")) + "failures: {welded: {of: feeder, effect: {stays: closed}}}\n"
    (mistake,) = told(text)
    assert (mistake.kind, len(mistake.also)) == ("unknown-name", 1)
    assert "`fedeer` is defined" in mistake.helps[0]


def test_commands_of_steps_that_could_not_be_read_are_not_told() -> None:
    for wrong in ("stps:", "is:"):
        assert kinds(changed(("    steps:", f"    {wrong}"))) == ["unknown-key"]
    assert kinds(changed(("drives: [close]", "drive: [close]"))) == ["unknown-key"]


def test_a_link_whose_watchdog_is_misspelt_is_not_also_told_to_have_none() -> None:
    link = "links: {l: {carries: {ready: in_place}, wathdog: 1 s, when_lost: {ready: false}}}\nlogic:"
    assert kinds(changed(("logic:", link), ("when: not in_place", "when: l is lost"))) == ["unknown-key"]


def test_a_missing_key_beside_an_unknown_one_is_told_with_it() -> None:
    (mistake,) = told(changed(("in_place: {shows: train is there}", "in_place: {displays: train is there}")))
    assert (mistake.kind, mistake.helps) == ("unknown-key", ("`shows` is missing here: was it meant?",))
