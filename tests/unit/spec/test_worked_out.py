"""What a spec says of its computed parameters for a reviewer: text, value, source, inputs, formula, worst ends."""

from __future__ import annotations

from interlock.spec import load_text
from interlock.spec.model import Spec

HEAD = """
format: interlock/1
equipment: {rail: {states: [dead, live], start: dead, moves: {goes: {from: dead, to: live}}}}
rules: {R1: {never: rail is live}}
"""

PARAMETERS = """
parameters:
  plain: 2 s
  same: plain
  measured: {value: 900 V, source: the design of the supply}
  resistor: {value: 10 kohm +- 5 %, source: data sheet}
  capacitance: 800 uF .. 1200 uF
  discharge: discharge_time(resistor, capacitance, measured, 60 V) + plain
"""


def spec_of(text: str) -> Spec:
    spec, bag, _ = load_text(text, "f.yaml")
    assert spec is not None, bag.sorted()
    return spec


def test_parameters_that_say_their_value_themselves_are_told_only_with_a_source() -> None:
    told = {one.name: one for one in spec_of(HEAD + PARAMETERS).worked_out}
    assert list(told) == ["measured", "resistor", "discharge"]
    assert (told["measured"].value, told["measured"].source) == ("900 V", "the design of the supply")
    assert (told["resistor"].written, told["resistor"].value) == ("10 kohm +- 5 %", "9.5 kohm .. 10.5 kohm")


def test_a_computed_parameter_is_told_with_its_inputs_formula_and_worst_ends() -> None:
    """By hand: 9.5 kohm * 0.8 mF * ln 15 = 20.5812 s, 10.5 kohm * 1.2 mF * ln 15 = 34.1214 s; two seconds more each."""
    discharge = spec_of(HEAD + PARAMETERS).worked_out[-1]
    assert discharge.value == "22.5811 s .. 36.1215 s"
    assert dict(discharge.inputs) == {
        "resistor": "9.5 kohm .. 10.5 kohm",
        "capacitance": "800 uF .. 1.2 mF",
        "measured": "900 V",
        "plain": "2 s",
    }
    (used,) = discharge.used
    assert (used.name, used.formula) == ("discharge_time", "resistance * capacitance * ln(from / to)")
    assert used.value == "20.5811 s .. 34.1215 s"
    ends = [("resistance", "9.5 kohm"), ("capacitance", "800 uF"), ("from", "900 V"), ("to", "60 V")]
    assert list(used.least) == ends
    assert list(used.greatest) == [("resistance", "10.5 kohm"), ("capacitance", "1.2 mF"), *ends[2:]]


def test_inner_functions_are_told_too_with_the_source_of_their_figures() -> None:
    (one,) = spec_of(
        HEAD + "parameters: {T: 'discharge_time(1 kohm, 1 mF, 900 V, touch_voltage_limit(1 s))'}"
    ).worked_out
    outer, inner = one.used
    assert dict(outer.greatest)["to"] == "160 V"
    assert inner.least == inner.greatest == (("duration", "1 s"),)
    assert inner.source.startswith("EN 50122-1:2011, Table 6")
    assert "printed standard takes precedence" in inner.source


def test_a_parameter_of_a_part_is_told_once_for_each_value_that_it_has() -> None:
    text = """
format: interlock/1
parts:
  shoe:
    parameters: {base: 1 s, travel: base * 2}
    equipment: {shoe: {states: [up, down], start: up, moves: {lowers: {from: up, to: down, takes: travel}}}}
    rules: {R1: {never: shoe is down}}
instances:
  shoes: {part: shoe, named: [front, rear]}
  slow_shoes: {part: shoe, named: [heavy], with: {base: 3 s}}
"""
    assert [(one.name, one.value) for one in spec_of(text).worked_out] == [
        ("front shoe travel", "2 s"),
        ("heavy shoe travel", "6 s"),
    ]


def test_a_parameter_with_a_source_and_without_a_value_is_a_mistake_at_its_name() -> None:
    spec, bag, _ = load_text(HEAD + "parameters: {U: {source: data sheet}, V: 2 * U}", "f.yaml")
    assert spec is None
    (mistake,) = bag.sorted()
    assert mistake.kind == "missing-key"
    assert "`value`" in mistake.headline


def test_a_draft_may_replace_the_value_alone_or_the_whole_parameter() -> None:
    beneath = (HEAD + PARAMETERS).encode()
    changes = {
        "measured": ("replace: parameters measured", "with: 600 V"),
        "measured value": ("replace: parameters measured value", "with: 600 V"),
    }
    for what, (where, value) in changes.items():
        draft = f"format: interlock/1\ntitle: a\nbased_on: b.yaml\nchanges: [{{{where}, {value}}}]\n"
        draft += "expect: [{rule: R1, failures: 0}]\n"
        spec, bag, _ = load_text(draft, "d.yaml", lambda path, shown: beneath)
        assert spec is not None, (what, bag.sorted())
        (discharge,) = [one for one in spec.worked_out if one.name == "discharge"]
        assert dict(discharge.inputs)["measured"] == "600 V"


def test_an_argument_with_which_the_value_falls_is_told_at_its_other_end() -> None:
    """The slower the rate the longer the fall."""
    (one,) = spec_of(HEAD + "parameters: {T: 'fall_time(200 A +- 10 %, 5 A, 200 A/s +- 10 %)'}").worked_out
    (used,) = one.used
    assert used.least == (("from", "180 A"), ("to", "5 A"), ("rate", "220 A/s"))
    assert used.greatest == (("from", "220 A"), ("to", "5 A"), ("rate", "180 A/s"))
