"""Windows and quantities in use: which end of a tolerance counts where, and to what a computed time is rounded."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from interlock.spec import load_text
from interlock.spec.model import ChangeKind, Spec, Window

SPEC = """
format: interlock/1
parameters:
  about: 2 s +- 10 %
  third: 10 s / 7
  tenth: 10 %
  chance: 2.5 % +- 20 %
  often: 1e-6 /h +- 50 %
equipment:
  train:
    states: [away, there]
    start: away
    moves:
      comes: {from: away, to: there, takes: TAKES}
      goes: {from: there, to: away}
  shoe:
    states: [up, down]
    start: up
    moves:
      lowers: {from: up, to: down, when: command lower, takes: 1 s}
      raises: {from: down, to: up, when: not command lower, takes: 1 s}
readings:
  seen: {shows: train is there, late: LATE, steady: STEADY}
logic:
  ground:
    reacts: REACTS
    steps:
      waiting: {start: true}
      lowering: {drives: [lower], timeout: {after: TIMEOUT, to: waiting}}
    moves:
      begin: {from: waiting, to: lowering, needs: {here: {condition: seen, for: FOR}}}
failures:
  drags: {of: shoe, effect: {slow: {lowers: SLOW}}, rate: RATE, found: {by: eye, within: FOUND}}
  sticks: {of: shoe, effect: {stays: up}, probability: CHANCE}
hazards:
  H1: {words: a, happens: {condition: shoe is down, longer_than: LONGER}, tolerable: TOLERABLE}
rules:
  R1: {after: train is there, within: WITHIN, must: shoe is down}
  R2: {condition: shoe is down, lasts: LASTS}
"""

PLAIN = {
    "TAKES": "1 s .. 2 s", "LATE": "1 s .. 2 s", "STEADY": "1 s .. 2 s", "REACTS": "0 s .. 1 s",
    "TIMEOUT": "1 s .. 2 s", "FOR": "1 s", "SLOW": "9 s", "RATE": "1e-6 /h", "FOUND": "1 d",
    "CHANCE": "0.1", "LONGER": "1 s",    "TOLERABLE": "1e-9 /h", "WITHIN": "5 s", "LASTS": "0 s .. 9 s",
}  # fmt: skip


def with_(**uses: str) -> Spec:
    """The spec with some of its times replaced."""
    text = SPEC
    for key in sorted(PLAIN, key=len, reverse=True):
        text = text.replace(f": {key}", f": {uses.get(key, PLAIN[key])}")
    spec, bag, _ = load_text(text, "f.yaml")
    assert spec is not None, bag.sorted()
    return spec


def window(found: Window | None) -> tuple[Fraction, Fraction | None]:
    assert found is not None
    return found.earliest_s, found.latest_s


def takes(spec: Spec) -> tuple[Fraction, Fraction | None]:
    (move,) = [move for item in spec.items for move in item.moves if move.name == "comes"]
    return window(move.takes)


def debounce(spec: Spec) -> tuple[Fraction, Fraction | None]:
    (begin,) = [change for change in spec.sequences[0].changes if change.name == "begin"]
    return window(begin.permissives[0].held_for)


def timeout(spec: Spec) -> tuple[Fraction, Fraction | None]:
    (change,) = [change for change in spec.sequences[0].changes if change.kind is ChangeKind.TIMEOUT]
    return window(change.after)


S: Callable[[str], Fraction] = Fraction

HAPPENS = {
    "TAKES": takes,
    "LATE": lambda spec: window(spec.readings[0].late),
    "STEADY": lambda spec: window(spec.readings[0].steady),
    "REACTS": lambda spec: window(spec.sequences[0].reacts),
    "TIMEOUT": timeout,
    "FOR": debounce,
}
"""Where a window says what happens: how it is found in the spec."""


@pytest.mark.parametrize("use", HAPPENS)
def test_a_window_of_what_happens_reaches_to_the_outer_ends_of_its_tolerances(use: str) -> None:
    """2 s give or take a tenth: 1.8 s to 2.2 s."""
    assert HAPPENS[use](with_(**{use: "about"})) == (S("1.8"), S("2.2"))
    assert HAPPENS[use](with_(**{use: "about .. 2 * about"})) == (S("1.8"), S("4.4"))


@pytest.mark.parametrize("use", HAPPENS)
def test_a_computed_time_of_what_happens_is_rounded_outwards_to_milliseconds(use: str) -> None:
    """10/7 s is 1.428571... s."""
    assert HAPPENS[use](with_(**{use: "third"})) == (S("1.428"), S("1.429"))


def test_a_deadline_takes_the_lower_end_and_is_rounded_down() -> None:
    assert window(with_(WITHIN="about").rules[0].within) == (S("0"), S("1.8"))
    assert window(with_(WITHIN="third").rules[0].within) == (S("0"), S("1.428"))


def test_a_duration_keeps_only_the_times_that_its_tolerances_leave_in_it() -> None:
    assert window(with_(LASTS="about .. 2 * about").rules[1].within) == (S("2.2"), S("3.6"))
    assert window(with_(LASTS="third .. 9 s").rules[1].within) == (S("1.429"), S("9"))


def test_a_hazard_takes_the_lower_end_of_its_duration_and_of_what_is_tolerable() -> None:
    assert with_(LONGER="about").hazards[0].longer_than_s == S("1.8")
    assert with_(TOLERABLE="often").hazards[0].tolerable_per_h == S("0.0000005")


def test_failures_take_the_upper_end_of_rates_probabilities_and_times() -> None:
    spec = with_(RATE="often", CHANCE="chance", FOUND="about", SLOW="about")
    drags, sticks = spec.failures
    assert drags.rate_per_h == S("0.0000015")
    assert sticks.probability == S("0.03")
    assert drags.found_within_s == S("2.2")


def test_a_written_time_is_never_rounded_however_fine_it_is() -> None:
    assert takes(with_(TAKES="0.1234567 s .. 7 us + 1 s")) == (S("0.1234567"), S("1.000007"))
    assert with_(TAKES="0.1234567 s").taken == ()


def test_a_deadline_whose_tolerance_leaves_no_time_is_a_mistake() -> None:
    text = SPEC
    for key in sorted(PLAIN, key=len, reverse=True):
        text = text.replace(f": {key}", f": {'about .. 2.1 s' if key == 'LASTS' else PLAIN[key]}")
    spec, bag, _ = load_text(text, "f.yaml")
    assert spec is None
    (mistake,) = bag.sorted()
    assert mistake.kind == "impossible-window"
    assert "stricter end" in mistake.helps[0]


def test_every_choice_of_an_end_and_every_rounding_is_told() -> None:
    spec = with_(TAKES="0 s .. third", WITHIN="about")
    told = {one.what: one for one in spec.taken}
    assert set(told) == {"`takes` of move `comes` of `train`", "`within` of rule `R1`"}
    rounded, chosen = told["`takes` of move `comes` of `train`"], told["`within` of rule `R1`"]
    assert (rounded.written, rounded.taken, rounded.rounded) == ("0 s .. third", "0 s .. 1.429 s", True)
    assert (chosen.worked_out, chosen.taken, chosen.rounded) == ("1.8 s .. 2.2 s", "1.8 s", False)
    assert chosen.inputs == (("about", "1.8 s .. 2.2 s"),)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("50 +- 10 %", "45", "55"),  # a share
        ("50 +- 10", "40", "60"),  # so many
        ("50 +- tenth", "45", "55"),  # either may be meant: the wider counts
        ("0.2 +- tenth", "0.1", "0.3"),
    ],
)
def test_a_tolerance_of_a_plain_number_is_a_share_if_it_says_percent_and_never_less_than_meant(
    text: str, low: str, high: str
) -> None:
    found = takes(with_(TAKES=f"({text}) * 1 s"))
    assert found == (S(low), S(high))
