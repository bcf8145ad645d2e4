"""Pictures of times: names as text, nothing on each other, time in its order, large ones still to be read."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from interlock.analysis.drawing import TimesPicture
from interlock.cli.rendering import READABLE_PT, size_pt, text_on_a3_pt
from interlock.core.question import Ends
from interlock.report.dot_style import SMALL
from interlock.report.svg_sheet import in_lines, wide
from interlock.report.svg_times import render_times
from interlock.report.times_axis import LEAST_GAP, Gap, axis
from interlock.report.times_spread import spread
from interlock.report.times_text import times_text
from interlock.report.words import short_time
from tests.svg_boxes import SVG, clashes, spilled, texts, width
from tests.timed_pictures import EIGHTY, made

SMALL_ONE = made((0, 20, 130), 6, 3)
FAILURE = made((0, 30), 9, 4, failure=5)
PICTURES = {
    "eighty events": EIGHTY,
    "six events": SMALL_ONE,
    "a failure": FAILURE,
    "one moment": made((0,), 30, 7),
    "a moment an event": made(tuple(range(1, 41)), 40, 9, missed_ms=900),
    "nothing happens": replace(made((0,), 1, 1), events=(), lanes=()),
    "it is reached": replace(SMALL_ONE, ends=Ends.REACHED),
}


def words(svg: str) -> list[str]:
    """The texts of a picture."""
    return ["".join(one.itertext()) for one in ET.fromstring(svg).iter(f"{SVG}text")]


def numbers(svg: str, picture: TimesPicture) -> list[float]:
    """Where the numbers of the events stand on the axis, in their order; they are the only ones set around a point."""
    shown = [one for one in ET.fromstring(svg).iter(f"{SVG}text") if one.get("text-anchor") == "middle"]
    places = {one.text: float(one.get("x", "")) for one in shown}
    return [places[str(event.number)] for event in picture.events]


@pytest.mark.parametrize("name", PICTURES)
def test_nothing_lies_on_anything_else_or_beyond_its_box(name: str) -> None:
    svg = render_times(PICTURES[name]).encode()
    assert not clashes(svg)
    assert not spilled(svg)
    size = size_pt(svg)
    assert size is not None
    assert all(box.left >= 0 and box.right <= size[0] and box.top >= 0 and box.bottom <= size[1] for box in texts(svg))


@pytest.mark.parametrize("name", PICTURES)
def test_things_values_and_events_are_text_that_can_be_read(name: str) -> None:
    picture = PICTURES[name]
    svg = render_times(picture)
    told = words(svg)
    for lane in picture.lanes:
        assert lane.thing in told
        assert {stretch.value for stretch in lane.stretches} <= set(told)
    joined = " ".join(told)
    assert all(event.says in joined for event in picture.events)
    assert picture.breach in joined
    assert all(float(size) >= SMALL for size in re.findall(r'font-size="([\d.]+)"', svg))


def test_eighty_events_of_twenty_things_can_be_read_on_an_a3_sheet() -> None:
    size = size_pt(render_times(EIGHTY).encode())
    assert size is not None
    assert text_on_a3_pt(size) >= READABLE_PT
    assert (len(EIGHTY.events), len(EIGHTY.lanes)) == (80, 20)


@pytest.mark.parametrize("name", PICTURES)
def test_events_stand_in_their_order_and_those_of_a_moment_closer_than_those_of_two(name: str) -> None:
    picture = PICTURES[name]
    places = numbers(render_times(picture), picture)
    steps = [after - before for before, after in pairwise(places)]
    together = [step for step, (a, b) in zip(steps, pairwise(picture.events), strict=True) if a.at == b.at]
    apart = [step for step, (a, b) in zip(steps, pairwise(picture.events), strict=True) if a.at != b.at]
    assert all(step >= 4.5 for step in steps)
    assert not together or max(together) - min(together) < 0.05
    assert all(step > LEAST_GAP for step in apart)


def test_thirty_milliseconds_and_two_hundred_seconds_stand_on_one_axis_and_the_long_wait_is_marked() -> None:
    found = axis([Fraction(30), Fraction(60), Fraction(200_060)], [], 0.0, 600.0, 20.0)
    assert [zone.gap for zone in found.zones] == [None, Gap.TO_SCALE, Gap.TO_SCALE, Gap.SHORTENED]
    assert found.right <= 600.0
    short, same, long = (b.left - a.right for a, b in pairwise(found.zones))
    assert short == pytest.approx(same)
    assert long >= short
    assert "a longer wait, drawn shorter than to scale" in " ".join(words(render_times(EIGHTY)))
    assert "drawn shorter" not in " ".join(words(render_times(SMALL_ONE)))


def test_waits_that_are_to_scale_are_as_long_as_they_last() -> None:
    found = axis([Fraction(10 * k * k) for k in range(1, 6)], [], 0.0, 700.0, 20.0)
    for before, after in pairwise(found.zones):
        true = float(after.at - before.at) * found.per_tick
        drawn = after.left - before.right
        assert {Gap.TO_SCALE: drawn == pytest.approx(true), Gap.SHORTENED: drawn < true, Gap.WIDENED: drawn > true}[
            after.gap or Gap.TO_SCALE
        ]


def test_where_not_every_wait_can_be_to_scale_the_longer_ones_are() -> None:
    found = axis([Fraction(0), Fraction(15_000), Fraction(15_003)], [], 0.0, 700.0, 20.0)
    assert [zone.gap for zone in found.zones] == [None, Gap.TO_SCALE, Gap.WIDENED]


def test_a_time_between_two_moments_stands_between_them_and_one_beyond_the_last_at_the_end() -> None:
    found = axis([Fraction(0), Fraction(0), Fraction(100)], [], 10.0, 500.0, 20.0)
    first, last = found.zones
    assert found.place(Fraction(0), last=False) == first.left == 10.0
    assert found.place(Fraction(0), last=True) == first.right
    assert found.place(Fraction(50), last=False) == pytest.approx((first.right + last.left) / 2)
    assert found.place(Fraction(101), last=True) == found.right


def test_each_event_is_told_when_it_can_happen_and_a_time_that_is_only_approached_is_hollow() -> None:
    svg = render_times(SMALL_ONE)
    assert "between just after 75 ms and 300 ms" in " ".join(words(svg))  # half of 150 ms, approached, to twice as long
    assert [(group.first, group.last) for group in spread(SMALL_ONE)] == [(1, 2), (3, 4), (5, 6)]
    hollow = [one.get("fill") for one in ET.fromstring(svg).iter(f"{SVG}circle")]
    assert hollow.count("#ffffff") == 3 + 1  # three beginnings, and one in the legend


def test_a_deadline_is_drawn_from_where_it_runs_to_where_it_is_over_and_tells_when_it_is_missed() -> None:
    told = words(render_times(EIGHTY))
    assert "within 214.995 s" in told
    assert "not met, and so broken here, at about 215.00033 s" in told
    assert "deadline" in told
    assert "deadline" not in words(render_times(SMALL_ONE))


def test_a_failure_is_told_in_words_and_so_is_what_is_read_at_the_end() -> None:
    told = words(render_times(FAILURE))
    assert told.count("FAILURE") == 1
    assert "FAILURE: thing_1_stuck is present at the start" in told
    assert told.count("read here") == 1
    assert "BREACH" in told


def test_the_same_picture_gives_the_same_bytes() -> None:
    again = made((5, 30, 200, 15, 3_000, 200_000, 40, 120, 30, 60, 1_000, 25, 250, 2_000, 30, 75), 80, 20,
                 missed_ms=215_000)  # fmt: skip
    assert render_times(again) == render_times(EIGHTY)


def test_texts_that_look_like_markup_are_drawn_as_they_are() -> None:
    hostile = 'a "title" <b>&amp; ]]> \x1b[1m é'
    lane = replace(SMALL_ONE.lanes[0], thing=hostile)
    told = words(render_times(replace(SMALL_ONE, heading=hostile, breach=hostile, lanes=(lane, *SMALL_ONE.lanes[1:]))))
    assert 'a "title" <b>&amp; ]]> <U+001B>[1m é' in told


def test_texts_are_estimated_wider_than_they_are() -> None:
    letters = "".join(chr(code) for code in range(32, 127))
    for letter in letters:
        assert wide(letter) >= width(letter, SMALL, bold=False)
        assert wide(letter, bold=True) >= width(letter, SMALL, bold=True)


def test_lines_are_broken_between_words_after_underlines_or_anywhere_and_nothing_is_lost() -> None:
    assert in_lines("one two three", wide("one two")) == ["one two", "three"]
    assert in_lines("a_long_name", wide("a_long_")) == ["a_long_", "name"]
    assert "".join(in_lines("x" * 50, 30.0)) == "x" * 50
    assert in_lines("", 30.0) == [""]


def test_a_time_with_many_digits_is_rounded_and_says_so() -> None:
    assert short_time(Fraction(6343, 2100)) == "about 3.02048 s"
    assert short_time(Fraction(5, 4)) == "1.25 s"
    assert short_time(Fraction(1, 3000)) == "about 333.33333 us"


def test_as_text_each_moment_tells_its_events_and_what_things_go_through(tmp_path: Path) -> None:
    told = times_text(EIGHTY, colour=False, width=80)
    assert max(map(len, told.splitlines())) <= 80
    assert "\nAt 203.25 s, 200 s later\n" in told
    assert "thing_1: idle -> preparing" in told
    moments = [Fraction(found) for found in re.findall(r"\nAt ([\d.]+) s", told)]
    assert moments == sorted(moments)
    numbers = [int(found) for found in re.findall(r"\n  (\d+) ", told)]
    assert numbers == list(range(1, 81))
    assert "at the earliest just after 215 s after the start; in this run at about" in " ".join(told.split())


def test_a_latest_time_beyond_the_axis_is_an_arrow_and_no_dot() -> None:
    beyond = made((0, 100, 100), 3, 3)
    (first, second, third) = beyond.events
    endless = replace(beyond, events=(first, second, replace(third, latest=None)))
    dots = [render_times(picture).count("<circle") for picture in (beyond, endless)]
    assert dots == [2 + 2 + 2 + 1, 7]  # two a group and two in the legend, but for that of 400 ms on an axis to 200 ms


def test_the_bar_of_a_deadline_reaches_from_its_event_to_the_moment_at_which_it_is_over() -> None:
    svg = render_times(EIGHTY)
    (node,) = (one for one in ET.fromstring(svg).iter(f"{SVG}g") if "within 214.995 s" in "".join(one.itertext()))
    points = [float(one.split(",")[0]) for one in (node[0].get("points") or "").split()]
    over = next(one for one in ET.fromstring(svg).iter(f"{SVG}text") if one.text == "215 s")
    beside = 2.8  # an upright time stands so far to the right of its moment
    assert min(points) == pytest.approx(numbers(svg, EIGHTY)[0], abs=0.02)
    assert max(points) == pytest.approx(float(over.get("x", "")) - beside, abs=0.02)


def test_a_dotted_line_stands_where_the_plant_has_settled_and_no_time_passes_in_this_run() -> None:
    events = SMALL_ONE.events
    settled = replace(SMALL_ONE, events=(events[0], replace(events[1], from_settled=True), *events[2:]))
    lines = [render_times(picture).count('stroke-dasharray="1.5 1.5"') for picture in (SMALL_ONE, settled)]
    assert lines == [0, 2]  # that, and the one in the legend
    assert "the plant has settled" in " ".join(words(render_times(settled)))
