"""One name is offered for a mistyped word, or none: a wrong guess is worse than no guess."""

from __future__ import annotations

import time

import pytest

from interlock.diag.near import near

NAMES = (
    "shoes_proved",
    "contact_proved",
    "rails_earthed",
    "rails_energised",
    "train_ready",
    "berth 1 rail",
    "berth 2 rail",
    "front shoe read_down",
    "rear shoe read_down",
    "in_position",
    "out_of_position",
    "locked",
    "unlocked",
    "open",
    "closed",
)


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("shoe_proved", "shoes_proved"),
        ("shoes_prooved", "shoes_proved"),
        ("Shoes_Proved", "shoes_proved"),
        ("shoes-proved", "shoes_proved"),
        ("shoesproved", "shoes_proved"),
        ("rails_energized", "rails_energised"),
        ("rails_erathed", "rails_earthed"),
        ("opne", "open"),
        ("colsed", "closed"),
        ("front shoe read_donw", "front shoe read_down"),
        ("in_postion", "in_position"),
    ],
)
def test_an_ordinary_slip_finds_the_name_that_was_meant(word: str, meant: str) -> None:
    assert near(word, NAMES) == meant


@pytest.mark.parametrize(
    ("word", "candidates"),
    [
        ("rails_energised", ["rails_earthed"]),
        ("unlocked", ["locked"]),
        ("locked", ["unlocked"]),
        ("contact_not_made", ["contact_made"]),
        ("deenergised", ["energised"]),
        ("shoe_front_down", ["shoe_rear_down"]),
        ("voltage_increasing", ["voltage_decreasing"]),
        ("feeder_disconnected", ["feeder_connected"]),
        ("feeder_opening", ["feeder_open"]),
        ("east_platform", ["west_platform"]),
    ],
)
def test_the_opposite_is_never_offered(word: str, candidates: list[str]) -> None:
    assert near(word, candidates) is None


@pytest.mark.parametrize(
    ("word", "candidates"),
    [
        ("berth 3 rail", ["berth 2 rail"]),
        ("detector_a", ["detector_b"]),
        ("berth 17 rail_live", ["berth 18 rail_live", "berth 7 rail_live"]),
        ("section_ii", ["section_iii"]),
    ],
)
def test_a_neighbour_with_another_number_or_letter_is_never_offered(word: str, candidates: list[str]) -> None:
    assert near(word, candidates) is None


@pytest.mark.parametrize("word", ["banana", "", "x", "proved", "shoes", "read_down", "contact_seen_by_the_other_side"])
def test_nothing_is_offered_where_nothing_is_like_the_word(word: str) -> None:
    assert near(word, NAMES) is None


def test_nothing_is_offered_where_two_names_are_equally_like_the_word() -> None:
    assert near("shoe_prove", ["shoe_proved", "shoe_proves"]) is None


def test_the_same_name_in_other_spelling_beats_one_that_is_merely_like_it() -> None:
    assert near("Shoe Proved", ["shoe_proved", "shoes_proved"]) == "shoe_proved"


def test_a_name_with_a_longer_end_is_not_offered() -> None:
    assert near("contact_seen_by", ["contact_seen_by_all"]) is None
    assert near("contact_see", ["contact_seen"]) == "contact_seen"


def test_a_word_that_is_a_candidate_itself_needs_no_other() -> None:
    assert near("locked", ["locked", "lockes"]) is None


def test_the_order_of_the_candidates_does_not_matter() -> None:
    for word in ("shoe_proved", "rails_energized", "opne", "berth 3 rail"):
        assert near(word, NAMES) == near(word, reversed(NAMES)) == near(word, set(NAMES))


def test_a_long_list_of_names_is_searched_at_once() -> None:
    names = [f"berth {i} {name}" for i in range(300) for name in NAMES]
    began = time.perf_counter()
    assert near("berth 17 shoes_prooved", names) == "berth 17 shoes_proved"
    assert time.perf_counter() - began < 2
