"""DOT text of pictures: every name is in the picture as text, texts do not lie on each other, big ones are tables."""

from __future__ import annotations

import re
import time
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from interlock.analysis.options import Options
from interlock.cli.rendering import LIMIT_S, READABLE_PT, render
from interlock.pipeline import (
    Drawing,
    draw_chain,
    draw_scenario,
    draw_sequences,
    draw_situations,
    load,
)
from interlock.report.dot_style import MOST_BOXES, SMALL, text
from interlock.spec.model import Spec
from tests.svg_boxes import SVG, clashes, spilled, texts

REPOSITORY = Path(__file__).resolve().parents[3]
SHIPPED = ("teaching.yaml", "brackwater_quay.yaml", "through_platform.yaml")


def words(svg: bytes) -> str:
    """All texts of a picture, one after the other."""
    return " ".join(" ".join("".join(one.itertext()) for one in ET.fromstring(svg).iter(f"{SVG}text")).split())


def drawn(name: str) -> tuple[Spec, bytes]:
    loaded = load((REPOSITORY / "specs" / name).read_bytes(), name)
    assert loaded.spec is not None
    drawing = draw_sequences(loaded.spec, loaded.sources, ())
    assert drawing.n_boxes is None
    return loaded.spec, render(drawing.dot, "svg", None)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_step_move_permissive_and_trip_is_in_the_picture_as_text(name: str) -> None:
    spec, svg = drawn(name)
    told = set(re.split(r"[^\w]+", words(svg)))
    for sequence in spec.sequences:
        assert told >= {step.name for step in sequence.steps}
        for change in sequence.changes:
            if change.kind.value != "timeout":
                assert change.name in told
            if change.kind.value == "move":
                assert told >= {permissive.name for permissive in change.permissives}
    assert not clashes(svg)
    assert not spilled(svg)


def long_chain(n: int) -> str:
    """A sequence of n steps in a row, each with a trip into one sink."""
    names = [f"step_{i}" for i in range(n)]
    steps = [f"      {name}: {{{'start: true' if i == 0 else ''}}}" for i, name in enumerate(names)]
    moves = [f"      go_{i}: {{from: step_{i}, to: step_{i + 1}, needs: {{seen: on_seen}}}}" for i in range(n - 1)]
    return "\n".join(
        [
            "format: interlock/1",
            "equipment: {key: {states: [off, on_], start: off, moves: {turns: {from: off, to: on_}}}}",
            "readings: {on_seen: {shows: key is on_}}",
            "logic:",
            "  ground:",
            "    steps:",
            *steps,
            "      safe: {}",
            "    trips:",
            f"      stop: {{from: [{', '.join(names)}], to: safe, when: not on_seen}}",
            "    moves:",
            *moves,
            f"      round: {{from: step_{n - 1}, to: step_0, needs: {{seen: on_seen}}}}",
            "rules: {R1: {possible: ground is step_1}}",
            "",
        ]
    )


def test_a_chain_of_300_steps_with_trips_into_one_sink_is_a_table_that_is_laid_out_in_time() -> None:
    loaded = load(long_chain(300).encode(), "long.yaml")
    assert loaded.spec is not None
    drawing = draw_sequences(loaded.spec, loaded.sources, ())
    assert drawing.n_boxes is not None
    assert drawing.n_boxes > MOST_BOXES
    begun_s = time.monotonic()
    svg = render(drawing.dot, "svg", None)
    assert time.monotonic() - begun_s < LIMIT_S
    told = words(svg)
    assert f"A table instead of a drawing: it would have {drawing.n_boxes:,} boxes" in told
    assert all(re.search(rf"\bstep_{i}\b", told) for i in range(300))
    assert not clashes(svg)


def test_even_drawn_such_a_chain_is_laid_out_in_time_as_the_sink_is_drawn_once_for_each_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("interlock.report.dot_table.MOST_BOXES", 10_000)
    loaded = load(long_chain(300).encode(), "long.yaml")
    assert loaded.spec is not None
    drawing = draw_sequences(loaded.spec, loaded.sources, ())
    assert drawing.n_boxes is None
    svg = render(drawing.dot, "svg", None)
    assert words(svg).count("safe") >= 300


def test_the_chain_of_300_steps_is_laid_out_in_time_as_a_ladder() -> None:
    loaded = load(long_chain(300).encode(), "long.yaml")
    assert loaded.spec is not None
    told = words(render(draw_chain(loaded.spec, loaded.sources, None).dot, "svg", None))
    assert "300 round" in told


@pytest.mark.parametrize("name", ["teaching.yaml", "through_platform.yaml"])
def test_the_chain_tells_every_permissive_with_its_condition(name: str) -> None:
    loaded = load((REPOSITORY / "specs" / name).read_bytes(), name)
    assert loaded.spec is not None
    svg = render(draw_chain(loaded.spec, loaded.sources, None).dot, "svg", None)
    told = words(svg)
    assert "It is no proof" in told or "No proof" in told
    assert all(hazard.id in told for hazard in loaded.spec.hazards)
    assert not clashes(svg)


HOSTILE = """\
format: interlock/1
title: 'A "title" <b>&amp; with \\N and {braces} | bars'
revision: '<>&"'
equipment:
  lamp: {states: [dark, lit], start: dark, moves: {burns: {from: dark, to: lit, words: "<i>x</i> & \\"y\\" \\\\l é"}}}
readings: {seen: {shows: lamp is lit}}
logic:
  ground:
    words: 'a & b < c > d'
    steps: {rest: {start: true, words: "]]> <table>"}, on_step: {}}
    moves:
      go: {from: rest, to: on_step, needs: {lit: seen}}
      back: {from: on_step, to: rest, needs: {lit: not seen}}
hazards: {H1: {words: '<td>&', happens: lamp is lit, severity: marginal}}
rules: {R1: {possible: ground is on_step}}
"""


def test_texts_that_look_like_markup_are_drawn_as_they_are() -> None:
    loaded = load(HOSTILE.encode(), "hostile.yaml")
    assert loaded.spec is not None, loaded.mistakes
    for drawing in (
        draw_sequences(loaded.spec, loaded.sources, ()),
        draw_chain(loaded.spec, loaded.sources, None),
        draw_scenario(loaded.spec, "H1", None, Options()),
        draw_situations(loaded.spec, ("lamp", "ground"), Options()),
    ):
        assert isinstance(drawing, Drawing)
        told = words(render(drawing.dot, "svg", None))
        assert 'A "title" <b>&amp; with \\N and {braces} | bars'.replace(" ", "") in told.replace(" ", "")


def test_a_breach_is_told_in_words_and_so_is_each_value_that_it_reads_at_the_end() -> None:
    loaded = load((REPOSITORY / "specs" / "teaching.yaml").read_bytes(), "teaching.yaml")
    assert loaded.spec is not None
    drawing = draw_scenario(loaded.spec, "H2", None, Options(failures=1))
    assert isinstance(drawing, Drawing)
    told = words(render(drawing.dot, "svg", None))
    assert "BREACH train is away and shoe is down" in told
    assert told.count("read here") == 3  # of the train and of the shoe, and once in the legend
    assert "a value that what is broken reads at the end" in told
    assert "FAILURE: hold_fails is present" in told


def test_situations_tell_every_combination_and_that_times_are_left_out() -> None:
    loaded = load((REPOSITORY / "specs" / "teaching.yaml").read_bytes(), "teaching.yaml")
    assert loaded.spec is not None
    svg = render(draw_situations(loaded.spec, ("ground", "train"), Options()).dot, "svg", None)
    told = words(svg)
    assert "Merged by ground and train, without failures, for any timing" in told
    assert "6 combinations: 12 settled situations, 14 passing." in told  # two more with `rail` on its way
    assert "what cannot is left out (1 value)" in told  # rail
    assert "ground make_safe x 4" in told
    assert not clashes(svg)


def test_more_combinations_than_can_be_read_are_a_table(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.report.dot_table.MOST_BOXES", 5)
    loaded = load((REPOSITORY / "specs" / "teaching.yaml").read_bytes(), "teaching.yaml")
    assert loaded.spec is not None
    drawing = draw_situations(loaded.spec, ("ground", "train"), Options())
    assert drawing.n_boxes == 6
    told = words(render(drawing.dot, "svg", None))
    assert "A table instead of a drawing" in told
    assert "ground make_safe x 4" in told


def test_an_incomplete_picture_says_so() -> None:
    from interlock.engines.api import Limits

    loaded = load((REPOSITORY / "specs" / "teaching.yaml").read_bytes(), "teaching.yaml")
    assert loaded.spec is not None
    drawing = draw_situations(loaded.spec, ("ground", "train"), Options(limits=Limits(5)))
    assert drawing.limit is not None
    assert "INCOMPLETE: more than 5 situations" in words(render(drawing.dot, "svg", None))


def test_nothing_is_smaller_than_can_be_read_and_long_names_are_broken() -> None:
    assert SMALL >= READABLE_PT
    assert text("a_very_long_name of", room=8).count("<br/>") == 3


def test_overlapping_and_spilling_texts_are_noticed() -> None:
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg"><g class="node"><polygon points="0,0 30,0 30,20 0,20"/>'
        b'<text x="2" y="10" font-size="8">wwwwwwwwww</text><text x="9" y="12" font-size="8">x</text></g></svg>'
    )
    assert clashes(svg) == [("wwwwwwwwww", "x")]
    assert spilled(svg) == ["wwwwwwwwww"]
    assert [round(box.right - box.left, 1) for box in texts(svg)] == [57.8, 4.0]
