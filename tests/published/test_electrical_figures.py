"""Published and worked figures of discharge, pre-charge, falling current and touch voltage, through a whole spec.

Touch voltages: EN 50122-1:2011 (IEC 62128-1), Table 6, d.c. The rows were seen in another public text that quotes the
table (a data set of rail potentials), not in the standard itself; the row "less than 0.7 s" is from memory.
Limits of 60 V within 1 s: ISO 17409, ISO 6469-3, UN R100 (from memory). 20 V before closing: IEC 61851-23 (from
memory). 5 A within 1 s and 200 A/s: IEC 61851-23 (from memory; the two may stand in different annexes).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from interlock.spec import load_text
from interlock.spec.touch_voltages import ROWS, SHORT_TERM, time_limit, voltage_limit

# --- touch voltages ---

TABLE = [
    ("0.02", 870), ("0.05", 735), ("0.1", 625), ("0.2", 520), ("0.3", 460), ("0.4", 420), ("0.5", 385), ("0.6", 360),
    ("0.7", 175), ("0.8", 170), ("0.9", 165), ("1", 160), ("300", 150),
]  # fmt: skip
"""Duration (s) and permissible voltage (V), typed again here from the second text."""


@pytest.mark.parametrize(("duration", "volts"), TABLE)
def test_each_row_of_the_table_permits_its_voltage_for_its_duration_and_not_a_volt_more(
    duration: str, volts: int
) -> None:
    assert voltage_limit(Fraction(duration)) == volts
    assert time_limit(Fraction(volts)) == Fraction(duration)
    assert time_limit(Fraction(volts + 1)) < Fraction(duration)


@pytest.mark.parametrize(
    ("duration", "volts", "accepted"),
    [
        ("0.5", 385, True),
        ("0.5", 386, False),
        ("0.51", 385, False),
        ("301", 121, False),
        ("301", 120, True),
        ("0.7", 176, False),
        ("0.7", 175, True),
        ("0.6", 360, True),
        ("0.600001", 360, False),
        ("1.001", 160, False),
        ("300", 150, True),
        ("0", 870, True),
    ],
)
def test_boundary_cases_are_accepted_and_refused(duration: str, volts: int, accepted: bool) -> None:
    """A duration between two rows is judged by the row of the next longer one."""
    assert (volts <= voltage_limit(Fraction(duration))) is accepted


def test_nothing_above_the_first_row_may_be_touched_at_all() -> None:
    assert time_limit(Fraction(871)) == 0


def test_what_may_be_touched_for_ever_still_has_only_the_longest_duration_that_the_table_names() -> None:
    assert time_limit(Fraction(120)) == time_limit(Fraction(0)) == 300


def test_longer_durations_never_permit_more_and_the_jump_is_at_seven_tenths_of_a_second() -> None:
    volts = [row.voltage_v for row in ROWS]
    assert volts == sorted(volts, reverse=True)
    steps = [(a - b, row.duration_s) for a, b, row in zip(volts, volts[1:], ROWS[1:], strict=False)]
    assert max(steps, key=lambda step: step[0]) == (Fraction(185), Fraction("0.7"))
    assert SHORT_TERM.mark == "MEMORY"
    assert SHORT_TERM not in ROWS  # the stricter row is taken between 0.6 s and 0.7 s


# --- computed in a spec ---

SPEC = """
format: interlock/1
parameters:
  computed: "{text}"
equipment:
  rail: {{states: [dead, live], start: dead, moves: {{goes: {{from: dead, to: live, takes: 0 s .. computed}}}}}}
rules: {{R1: {{never: rail is live}}}}
"""


def seconds(text: str) -> Fraction:
    """The latest time that a window up to this text has."""
    spec, bag, _ = load_text(SPEC.format(text=text), "f.yaml")
    assert spec is not None, bag.sorted()
    takes = spec.items[0].moves[0].takes
    assert takes is not None
    assert takes.latest_s is not None
    return takes.latest_s


@pytest.mark.parametrize(
    ("volts", "to_volts", "most_rc"),
    [
        (750, 60, "0.3959"),
        (900, 60, "0.3693"),
        (1000, 60, "0.3554"),
        (1500, 60, "0.3107"),
        (1800, 60, "0.2940"),
        (750, 120, "0.5457"),
    ],
)
def test_a_second_is_enough_exactly_up_to_the_time_constant_that_an_independent_script_found(
    volts: int, to_volts: int, most_rc: str
) -> None:
    """RC <= 1 / ln(V0 / V) for a discharge within 1 s; four digits, computed apart from this program."""
    enough, too_much = Fraction(most_rc) - Fraction("0.00005"), Fraction(most_rc) + Fraction("0.00005")
    for rc, within in ((enough, True), (too_much, False)):
        milliohms = f"{float(rc):.5f} kohm"
        assert (seconds(f"discharge_time({milliohms}, 1 mF, {volts} V, {to_volts} V)") <= 1) is within


def test_ten_kilohm_and_a_millifarad_need_28_seconds_from_1000_to_60_volts() -> None:
    """A design note on discharge resistors prints about 28 s (read); 10 s * ln(1000 / 60) = 28.134 s by hand."""
    assert seconds("discharge_time(10 kohm, 1000 uF, 1000 V, 60 V)") == Fraction("28.135")  # 28.1341, rounded up


@pytest.mark.parametrize(("volts", "constants"), [(750, "3.624"), (900, "3.807"), (1000, "3.912")])
def test_a_precharge_to_within_20_volts_takes_so_many_time_constants(volts: int, constants: str) -> None:
    """ln(V / 20), three digits, computed apart from this program; one second is the time constant here."""
    found = seconds(f"precharge_time(1 kohm, 1 mF, {volts} V, 20 V)")
    assert abs(found - Fraction(constants)) <= Fraction("0.001")


@pytest.mark.parametrize(("amperes", "expected"), [(200, "0.975"), (205, "1"), (500, "2.475"), (1000, "4.975")])
def test_a_current_that_falls_by_200_amperes_a_second_reaches_5_amperes_when_arithmetic_says(
    amperes: int, expected: str
) -> None:
    assert seconds(f"fall_time({amperes} A, 5 A, 200 A/s)") == Fraction(expected)


def test_the_rate_and_the_second_are_compatible_up_to_205_amperes_and_not_beyond() -> None:
    assert seconds("fall_time(205 A, 5 A, 200 A/s)") <= 1 < seconds("fall_time(205.3 A, 5 A, 200 A/s)")


def test_tolerances_add_up_at_the_worst_end() -> None:
    """By hand: 2 kohm and 500 uF, each 10 % up, from 750 V + 10 % to 60 V: 1.21 s * ln 13.75 = 3.1712 s."""
    text = "discharge_time(2 kohm +- 10 %, 500 uF +- 10 %, 750 V +- 10 %, 60 V)"
    assert seconds(text) == Fraction("3.172")


def test_a_voltage_may_be_touched_for_as_long_as_a_discharge_to_it_leaves_it_there() -> None:
    """625 V may be touched for 0.1 s: of a discharge from 900 V that is the limit at that time."""
    assert seconds("touch_time_limit(625 V)") == Fraction("0.1")
    assert seconds("discharge_time(1 kohm, 1 mF, 900 V, touch_voltage_limit(0.1 s))") == Fraction("0.365")
