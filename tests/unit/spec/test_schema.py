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
    "enum",
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
            elif key in ("additionalProperties", "items", "not", "propertyNames"):
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
