"""The JSON Schema that editors use: it takes every spec that we ship, sees typical slips, and explains each key."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft7Validator, Draft202012Validator

from interlock.logic.operators import RESERVED
from interlock.spec.loading import load_text

REPOSITORY = Path(__file__).resolve().parents[3]
SPECS = sorted([*REPOSITORY.glob("specs/**/*.yaml"), *REPOSITORY.glob("tests/corpus/**/*.yaml")])

SHARED = {
    "$ref",
    "$schema",
    "additionalProperties",
    "anyOf",
    "const",
    "definitions",
    "description",
    "else",
    "enum",
    "if",
    "items",
    "minItems",
    "minProperties",
    "minimum",
    "not",
    "oneOf",
    "pattern",
    "properties",
    "propertyNames",
    "required",
    "then",
    "title",
    "type",
    "uniqueItems",
}
"""Keywords that mean the same in draft-07 and 2020-12, so that old and new editors agree."""


class Loader(yaml.SafeLoader):
    """Reads YAML as editors do: version 1.2, where `on` is a text and `1:30` is one too."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


for _tag, _pattern, _first in [
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
    ("null", r"~|null|Null|NULL|", ["~", "n", "N", ""]),
]:
    Loader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(rf"^(?:{_pattern})$"), list(_first))


@cache
def schema() -> dict[str, Any]:
    text = (REPOSITORY / "interlock/spec/schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def slips(text: str) -> list[str]:
    """What an editor underlines in the text of a spec: the path to each wrong place."""
    found = Draft7Validator(schema()).iter_errors(yaml.load(text, Loader=Loader))
    return sorted(" ".join(map(str, error.absolute_path)) for error in found)


def parts_of(node: Any, inside: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema within the schema, with the word under which it stands."""
    if isinstance(node, dict):
        yield inside, node
        for key, value in node.items():
            if key in ("properties", "definitions"):
                for name, inner in value.items():
                    yield from parts_of(inner, name)
            elif key in ("additionalProperties", "else", "if", "items", "not", "propertyNames", "then"):
                yield from parts_of(value, inside)
            elif key in ("anyOf", "oneOf"):
                for inner in value:
                    yield from parts_of(inner, inside)


def test_it_is_a_schema_of_both_drafts_and_says_which() -> None:
    assert schema()["$schema"] == "http://json-schema.org/draft-07/schema#"
    Draft7Validator.check_schema(schema())
    Draft202012Validator.check_schema({key: value for key, value in schema().items() if key != "$schema"})
    assert {keyword for _, part in parts_of(schema()) for keyword in part} <= SHARED


def test_specs_were_found() -> None:
    assert len(SPECS) > 20


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_every_spec_of_ours_is_valid_in_both_drafts(path: Path) -> None:
    document = yaml.load(path.read_text(encoding="utf-8"), Loader=Loader)
    for draft in (Draft7Validator, Draft202012Validator):
        assert [(list(error.absolute_path), error.message) for error in draft(schema()).iter_errors(document)] == []


def test_an_editor_can_show_help_on_every_key() -> None:
    definitions = schema()["definitions"]
    silent = []
    for inside, part in parts_of(schema()):
        for key, value in part.get("properties", {}).items():
            target = definitions[value["$ref"].rpartition("/")[2]] if "$ref" in value else {}
            if not (value.get("description") or target.get("description")):
                silent.append(f"{inside} {key}")
    assert not silent


def test_unknown_keys_are_refused_wherever_the_keys_are_ours() -> None:
    lenient = [
        inside
        for inside, part in parts_of(schema())
        if "properties" in part and part.get("additionalProperties") is not False
    ]
    assert not lenient


def test_the_words_of_the_language_cannot_be_names() -> None:
    assert set(schema()["definitions"]["name"]["not"]["enum"]) == RESERVED


SPEC = """\
format: interlock/1
title: a shoe and its feeder
parameters: {travel: 2 s .. 4 s, tries: 3}
equipment:
  train: {states: [away, standing], start: away, moves: {arrives: {from: away, to: standing}}}
  shoe:
    states: [up, down]
    start: up
    moves: {lowers: {from: up, to: down, when: command lower, takes: travel}}
  feeder: {states: [open, closed], follows: command close_feeder}
readings:
  shoe_seen: {shows: shoe, late: 10 ms .. 50 ms}
logic:
  ground:
    reacts: immediately
    steps:
      idle: {start: true}
      live: {drives: [close_feeder], timeout: {after: 5 s, to: idle}}
    moves:
      begin: {from: idle, to: live, needs: {shoe_down: {condition: shoe_seen is down, for: 500 ms}}}
    trips:
      lost: {from: live, to: idle, when: shoe_seen is up}
failures:
  shoe_stuck: {of: shoe, effect: {stays: up}, rate: 1e-6 /h, source: invented}
hazards:
  H1: {words: live without a train, happens: feeder is closed and train is away, severity: critical}
rules:
  R1: {while: feeder is closed, must: shoe is down, guards_against: [H1], withstands: 1}
  R2: {possible: ground is live}
"""


def test_the_spec_that_the_slips_are_made_in_has_none_itself() -> None:
    assert slips(SPEC) == []


@pytest.mark.parametrize(
    ("written", "slip", "where"),
    [
        ("format: interlock/1\n", "", ""),
        ("interlock/1", "interlock/2", "format"),
        ("title:", "titel:", ""),
        ("equipment:", "equipments:", ""),
        ("states: [up, down]", "state: [up, down]", "equipment shoe"),
        ("states: [up, down]", "states: up", "equipment shoe states"),
        ("states: [up, down]", "states: [up, down, up]", "equipment shoe states"),
        ("takes: travel", "takes: 2", "equipment shoe moves lowers takes"),
        ("takes: travel", "take: travel", "equipment shoe moves lowers"),
        ("{from: away, to: standing}", "{from: away}", "equipment train moves arrives"),
        ("{from: away, to: standing}", "away to standing", "equipment train moves arrives"),
        ("moves: {lowers", "moves: {lowers it", "equipment shoe moves"),
        ("moves: {lowers", "moves: {2nd", "equipment shoe moves"),
        ("late: 10 ms .. 50 ms", "late: [10 ms, 50 ms]", "readings shoe_seen late"),
        ("{shows: shoe, ", "{show: shoe, ", "readings shoe_seen"),
        ("steps:", "stages:", "logic ground"),
        ("idle: {start: true}", "idle: {start: yes}", "logic ground steps idle start"),
        ("after: 5 s", "after: 5", "logic ground steps live timeout after"),
        (", needs: {shoe_down: {condition: shoe_seen is down, for: 500 ms}}", "", "logic ground moves begin"),
        (
            "needs: {shoe_down: {condition: shoe_seen is down, for: 500 ms}}",
            "needs: shoe",
            "logic ground moves begin needs",
        ),
        ("for: 500 ms", "lasting: 500 ms", "logic ground moves begin needs shoe_down"),
        (", when: shoe_seen is up", "", "logic ground trips lost"),
        ("effect: {stays: up}", "effect: stays up", "failures shoe_stuck effect"),
        ("effect: {stays: up}", "effect: {remains: up}", "failures shoe_stuck effect"),
        ("effect: {stays: up}", "effect: {output: on}", "failures shoe_stuck effect output"),
        ("of: shoe, ", "", "failures shoe_stuck"),
        ("rate: 1e-6 /h", "rate: 1e-6", "failures shoe_stuck rate"),
        ("happens: feeder", "when: feeder", "hazards H1"),
        (", must: shoe is down", "", "rules R1"),
        ("while: feeder is closed", "never: feeder is closed, possible: feeder is open", "rules R1"),
        ("withstands: 1", "withstands: one", "rules R1 withstands"),
        ("withstands: 1", "withstands: -1", "rules R1 withstands"),
        ("  R2: {", "  not: {", "rules"),
    ],
)
def test_a_typical_slip_is_seen_where_it_was_made(written: str, slip: str, where: str) -> None:
    assert SPEC.count(written) == 1
    found = slips(SPEC.replace(written, slip))
    assert found
    assert set(found) == {where}


DRAFT = """\
format: interlock/1
based_on: ../station.yaml
changes:
  - remove: logic ground trips lost
  - replace: rules R1 withstands
    with: 2
expect:
  - {rule: R1, failures: 0, also: [H1]}
"""


def test_the_draft_that_the_slips_are_made_in_has_none_itself() -> None:
    assert slips(DRAFT) == []


@pytest.mark.parametrize(
    ("written", "slip", "where"),
    [
        ("changes:", "change:", ""),
        ("remove:", "delete:", "changes 0"),
        ("remove: logic ground trips lost", "remove: [logic, ground, trips, lost]", "changes 0 remove"),
        ("    with: 2\n", "", "changes 1"),
        ("failures: 0", "failures: none", "expect 0 failures"),
        ("rule: R1, ", "", "expect 0"),
    ],
)
def test_a_typical_slip_in_a_draft_is_seen_where_it_was_made(written: str, slip: str, where: str) -> None:
    assert DRAFT.count(written) == 1
    assert set(slips(DRAFT.replace(written, slip))) == {where}


STRANGERS = """\
format: interlock/1
stranger: 1
parameters: {t: 1 s, u: {value: 2 s, stranger: 1}}
equipment:
  train:
    states: [away, standing]
    start: away
    stranger: 1
    moves: {leaves: {from: standing, to: away, stranger: 1}, stops: {from: away, to: standing, takes: 1 s}}
readings: {seen: {shows: train, stranger: 1}}
links: {line: {carries: {far: {shows: seen is away, stranger: 1}}, stranger: 1}}
logic:
  ground:
    stranger: 1
    memory: {cause: {states: [none, lost], start: none, stranger: 1}}
    steps:
      idle: {start: true, stranger: 1}
      busy: {drives: run, timeout: {after: 1 s, to: idle, stranger: 1}}
    moves: {go: {from: idle, to: busy, needs: {clear: {condition: seen is away, stranger: 1}}, stranger: 1}}
    trips: {back: {from: busy, to: idle, when: {condition: seen is away, stranger: 1}, stranger: 1}}
failures:
  stays:
    of: train
    effect: {stays: away, stranger: 1}
    stranger: 1
    upon: {move: train leaves, stranger: 1}
    found: {by: looking, stranger: 1}
  late: {of: line, effect: {messages: {late: 1 s, stranger: 1}}}
  both: {common_cause: [late, shown], stranger: 1}
  shown: {of: seen, effect: {stranger: 1}}
  given: {of: command run, effect: {stranger: 1}}
  sent: {of: line, effect: {stranger: 1}}
  run: {of: ground, effect: {stranger: 1}}
assumptions: {A: {strengthens: train leaves, with: command run, stranger: 1}}
hazards: {H: {happens: {condition: train is away, stranger: 1}, stranger: 1}}
rules:
  R1: {never: train is away, stranger: 1}
  R2: {while: train is away, must: train is away, stranger: 1}
  R3: {before: train is away, first: train is away, stranger: 1}
  R4: {after: train is away, within: 1 s, must: train is away, stranger: 1}
  R5: {condition: train is away, lasts: 1 s, stranger: 1}
  R6: {possible: train is away, stranger: 1}
  R7: {always_possible: train is away, stranger: 1}
  R8: {always_ends: train is away, from: train is standing, stranger: 1}
stop_budget:
  stranger: 1
  stop: 1 min
  needs: 1 kWh
  power: 1 MW
  charging: charge
  phases:
    waiting: {takes: 1 s, stranger: 1}
    charge: {from: train is away, until: train is standing, stranger: 1}
  battery: {holds: 1 kWh, recharged_with: 1 kW, next_train: 1 h, stranger: 1}
parts: {door: {equipment: {leaf: {states: [shut, open], start: shut}}, stranger: 1}}
instances: {doors: {part: door, count: 2, stranger: 1}}
"""
"""Every mapping of the language once, each with a key that none of them knows."""

DRAFT_OF_STRANGERS = """\
format: interlock/1
based_on: beneath.yaml
stranger: 1
changes:
- {remove: equipment train, stranger: 1}
- {replace: equipment train, with: {}, stranger: 1}
- {add: equipment lamp, with: {}, stranger: 1}
expect:
- {rule: R1, failures: 0, stranger: 1}
- {hazard: H1, failures: 0, stranger: 1}
"""
"""Every mapping that only drafts have, likewise."""

PLACES: dict[str, tuple[str | int, ...]] = {
    "the file": ("definitions", "spec"),
    "the draft": ("definitions", "draft"),
    "the change": ("definitions", "change"),
    "the expectation": ("definitions", "expectation"),
    "parameter": ("definitions", "parameters", "additionalProperties", "anyOf", 1),
    "item": ("definitions", "item"),
    "move of train": ("definitions", "item_move"),
    "reading": ("definitions", "readings", "additionalProperties"),
    "link": ("definitions", "links", "additionalProperties"),
    "link value": (
        *("definitions", "links", "additionalProperties", "properties", "carries"),
        *("additionalProperties", "anyOf", 1),
    ),
    "sequence": ("definitions", "sequence"),
    "memory": ("definitions", "sequence", "properties", "memory", "additionalProperties"),
    "step": ("definitions", "step"),
    "timeout of step": ("definitions", "step", "properties", "timeout"),
    "clear of move": ("definitions", "permissive", "anyOf", 1),
    "when of trip": ("definitions", "permissive", "anyOf", 1),
    "move": ("definitions", "step_move"),
    "trip": ("definitions", "trip"),
    "failure": ("definitions", "failure"),
    "effect of failure": ("definitions", "effect"),
    "messages of failure": ("definitions", "effect", "properties", "messages", "anyOf", 1),
    "upon of failure": ("definitions", "failure", "properties", "upon"),
    "found of failure": ("definitions", "failure", "properties", "found"),
    "assumption": ("definitions", "assumptions", "additionalProperties"),
    "hazard": ("definitions", "hazards", "additionalProperties"),
    "happens of hazard": ("definitions", "hazards", "additionalProperties", "properties", "happens", "anyOf", 1),
    "rule": ("definitions", "rule"),
    "stop_budget": ("definitions", "stop_budget"),
    "phase": ("definitions", "stop_budget", "properties", "phases", "additionalProperties"),
    "the battery of the stop budget": ("definitions", "stop_budget", "properties", "battery"),
    "part": ("definitions", "part"),
    "instances": ("definitions", "instances", "additionalProperties"),
}
"""Where in the schema the keys of each mapping stand, by what the reader calls the mapping, its name left out."""


def keys_by_the_reader() -> dict[str, set[str]]:
    """The keys that the reader of specs knows in each sort of mapping: it lists them when it meets a stranger."""
    told = load_text(STRANGERS, "strangers.yaml")[1].sorted()
    told += load_text(DRAFT_OF_STRANGERS, "draft.yaml", lambda path, shown: b"format: interlock/1")[1].sorted()
    known: dict[str, set[str]] = {}
    for mistake in told:
        if mistake.kind != "unknown-key":
            continue
        called = re.fullmatch(r"(.*) has no key `stranger`", mistake.headline)
        assert called, mistake.headline
        sort = re.sub(r"^`(\w+)`", r"\1", called[1]).replace("`leaves` of `train`", "of train").split(" `")[0]
        known.setdefault(sort, set()).update(mistake.helps[0].removeprefix("its keys: ").split(", "))
    return known


def test_the_reader_tells_every_stranger_in_the_spec_of_strangers() -> None:
    assert STRANGERS.count("stranger: 1") == len(load_text(STRANGERS, "strangers.yaml")[1].sorted())
    assert set(keys_by_the_reader()) == set(PLACES)


def test_the_schema_refuses_every_stranger_too() -> None:
    assert len(slips(STRANGERS)) + len(slips(DRAFT_OF_STRANGERS)) >= len(PLACES)


@pytest.mark.parametrize("sort", PLACES)
def test_the_schema_knows_the_very_keys_that_the_reader_knows(sort: str) -> None:
    assert set(_at(PLACES[sort])["properties"]) == keys_by_the_reader()[sort]


def test_every_mapping_in_the_schema_is_compared_with_the_reader() -> None:
    ours = [part for _, part in parts_of(schema()) if "properties" in part]
    compared = {id(part) for part in ours} & {id(_at(path)) for path in PLACES.values()}
    assert len(compared) == len(ours)


def _at(path: tuple[str | int, ...]) -> Any:
    node: Any = schema()
    for step in path:
        node = node[step]
    return node
