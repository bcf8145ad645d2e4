"""The language reference: every example in it is read, and it speaks of every construct."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from interlock.core.elaborate import elaborate
from interlock.diag.render import render
from interlock.logic.operators import OPERATORS, RESERVED
from interlock.spec import load_text
from interlock.spec.drafts import DRAFT_KEYS
from interlock.spec.files import beside
from interlock.spec.instances import PART_KEYS, ROOT_KEYS
from interlock.spec.model import EffectKind, RuleKind
from interlock.spec.units import UNITS

REFERENCE = Path(__file__).resolve().parents[2] / "specs" / "README.md"
TEXT = REFERENCE.read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```yaml\n(.*?)^```", TEXT, re.M | re.S)
SPECS = [block for block in BLOCKS if block.startswith("format:")]


def titles() -> list[str]:
    """The heading above each spec."""
    return [
        re.findall(r"^## (.*)$", TEXT[: TEXT.index(block)], re.M)[-1].lower().replace(" ", "_").replace(",", "")
        for block in SPECS
    ]


@pytest.mark.parametrize("block", SPECS, ids=titles())
def test_an_example_is_a_spec_without_mistakes(block: str) -> None:
    spec, bag, sources = load_text(block, "example.yaml", beside(str(REFERENCE.parent)))
    assert spec is not None, render(bag.sorted(), sources)
    assert elaborate(spec).properties


def test_every_section_of_the_reference_that_shows_a_construct_has_an_example() -> None:
    without = {"What may be spoken of where", "Limits"}
    assert set(re.findall(r"^## (.*)$", TEXT, re.M)) - without == {
        re.findall(r"^## (.*)$", TEXT[: TEXT.index(block)], re.M)[-1] for block in SPECS
    }
    assert BLOCKS == SPECS


def test_the_last_example_uses_every_key_of_the_file() -> None:
    spec, _, _ = load_text(SPECS[-1], "example.yaml")
    assert spec is not None
    assert set(re.findall(r"^(\w+):", SPECS[-1], re.M)) == set(ROOT_KEYS)
    assert {rule.kind for rule in spec.rules} == set(RuleKind)


def test_the_reference_names_every_operator_unit_effect_and_reserved_word() -> None:
    for operator in OPERATORS.values():
        assert any(form in TEXT for form in (operator.form, operator.form.replace("X", "C"))) or operator.key in "+*"
    for unit in UNITS:
        assert re.search(rf"(?<![\w/]){re.escape(unit)}(?!\w)", TEXT), unit
    for word in RESERVED:
        assert f"`{word}`" in TEXT, word
    for kind in EffectKind:
        assert re.search(rf"\b{kind.value}\b", TEXT), kind
    for key in (*ROOT_KEYS, *PART_KEYS, *DRAFT_KEYS):
        assert re.search(rf"\b{key}\b", TEXT), key


def test_the_limits_told_are_those_of_the_program() -> None:
    from interlock.logic.parse import MAX_DEPTH as LEVELS_OF_EXPRESSIONS
    from interlock.spec import book, changes, domains, drafts, instances, read

    told = TEXT[TEXT.index("## Limits") :].replace(",", "")
    assert read.MAX_BYTES == 1 << 20
    numbers = (
        read.MAX_DEPTH,
        read.MAX_NODES,
        read.MAX_SCALAR,
        domains.MAX_VALUES,
        instances.MAX_INSTANCES,
        LEVELS_OF_EXPRESSIONS,
        book.MAX_MISTAKES,
    )
    assert all(re.search(rf"\b{number}\b", told) for number in numbers)
    assert (changes.MAX_CHANGES, book.MAX_MISTAKES) == (200, 200)
    assert "A draft may have 200 changes" in " ".join(told.split())
    assert drafts.MAX_DRAFTS == 5
    assert "up to five one on another" in TEXT
