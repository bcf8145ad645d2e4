"""The pictures in diagrams/ are those of the specs that ship, and can be read.

To renew them all: `python -m tests.repo.test_diagrams` (a minute or two, as one of them explores the large spec).
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from interlock import pipeline
from interlock.analysis.inquiry import TIMED_STATES
from interlock.analysis.options import Options
from interlock.cli.rendering import READABLE_PT, render, size_pt, text_on_a3_pt
from interlock.engines.api import Limits
from interlock.report.as_text import PLAIN
from interlock.spec.files import beside
from interlock.spec.model import Spec
from tests.repo import architecture
from tests.repo.test_layers import LAYERS
from tests.svg_boxes import clashes, spilled

REPOSITORY = Path(__file__).resolve().parents[2]
FOLDER = REPOSITORY / "diagrams"


@cache
def loaded(name: str) -> pipeline.Loaded:
    """A spec or draft that ships."""
    file = REPOSITORY / "specs" / name
    return pipeline.load(file.read_bytes(), f"specs/{name}", beside(str(file.parent)))


def spec_of(name: str) -> Spec:
    spec = loaded(name).spec
    assert spec is not None
    return spec


@dataclass(frozen=True)
class Picture:
    """A picture that ships. `slow`: too slow for every run of the tests; then only the digest on it is looked at.
    `beside`: the ending of the text that stands beside it."""

    spec: str
    make: Callable[[], pipeline.Drawing | object]
    slow: bool = False
    beside: str = "dot"

    def files(self) -> dict[str, bytes]:
        """Its files by their endings."""
        drawing = self.make()
        assert isinstance(drawing, pipeline.Drawing)
        assert drawing.limit is None
        if self.beside == "dot":
            return {"dot": drawing.dot.encode("utf-8"), "svg": render(drawing.dot, "svg", None)}
        return {"txt": drawing.text.encode("utf-8"), "svg": drawing.svg.encode("utf-8")}


def sequences(name: str, *only: str) -> Picture:
    return Picture(name, lambda: pipeline.draw_sequences(spec_of(name), loaded(name).sources, only))


def chain(name: str) -> Picture:
    return Picture(name, lambda: pipeline.draw_chain(spec_of(name), loaded(name).sources, None))


def scenario(name: str, rule: str, failures: int) -> Picture:
    options = Options(failures=failures, declared_timing=False)
    return Picture(name, lambda: pipeline.draw_scenario(spec_of(name), rule, None, options))


def situations(name: str, *by: str, slow: bool = False) -> Picture:
    return Picture(name, lambda: pipeline.draw_situations(spec_of(name), by, Options()), slow)


def times(name: str, rule: str) -> Picture:
    options = Options(failures=0, limits=Limits(TIMED_STATES))
    return Picture(name, lambda: pipeline.draw_times(spec_of(name), rule, None, options, PLAIN), beside="txt")


TEACHING, QUAY, THROUGH = "teaching.yaml", "brackwater_quay.yaml", "through_platform.yaml"

PICTURES: Mapping[str, Picture] = {
    "teaching_sequences": sequences(TEACHING),
    "teaching_chain": chain(TEACHING),
    "teaching_scenario_H2": scenario(TEACHING, "H2", 1),
    "teaching_situations": situations(TEACHING, "ground", "train"),
    "brackwater_quay_ground": sequences(QUAY, "ground"),
    "brackwater_quay_unit": sequences(QUAY, "unit"),
    "brackwater_quay_others": sequences(QUAY, "sign", "cab", "meter", "control_room"),
    "brackwater_quay_chain": chain(QUAY),
    "brackwater_quay_ordinary_cycle": scenario(QUAY, "ordinary_cycle", 0),
    "brackwater_quay_situations": situations(QUAY, "rail", "train", slow=True),
    "through_platform_west": sequences(THROUGH, "west section control"),
    "through_platform_chain": chain(THROUGH),
    "through_platform_situations": situations(THROUGH, "train", "west section rail"),
    "draft_charges_past_the_stop": times("drafts/charges_past_the_stop.yaml", "live_within_a_stop"),
    "draft_poles_slower_than_the_stop": times("drafts/poles_slower_than_the_stop.yaml", "stop_cuts"),
    "architecture": Picture("", lambda: pipeline.Drawing(architecture.render(LAYERS))),
}


def svg(name: str) -> bytes:
    return (FOLDER / f"{name}.svg").read_bytes()


@pytest.mark.no_cover
@pytest.mark.parametrize("name", [name for name, picture in PICTURES.items() if not picture.slow])
def test_a_picture_is_what_is_drawn_today(name: str) -> None:
    for ending, drawn in PICTURES[name].files().items():
        assert drawn == (FOLDER / f"{name}.{ending}").read_bytes()


@pytest.mark.parametrize("name", [name for name, picture in PICTURES.items() if picture.slow])
def test_a_picture_that_takes_long_is_at_least_of_the_spec_that_ships(name: str) -> None:
    spec = spec_of(PICTURES[name].spec)
    text = (FOLDER / f"{name}.{PICTURES[name].beside}").read_text(encoding="utf-8")
    assert f"digest {spec.digest[:12]}" in text
    assert f"digest {spec.digest[:12]}" in svg(name).decode("utf-8")


@pytest.mark.parametrize(
    "name", [name for name, picture in PICTURES.items() if picture.slow and picture.beside == "dot"]
)
def test_what_is_laid_out_is_the_text_beside_it(name: str) -> None:
    assert render((FOLDER / f"{name}.dot").read_text(encoding="utf-8"), "svg", None) == svg(name)


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_can_be_read_on_an_a3_sheet(name: str) -> None:
    size = size_pt(svg(name))
    assert size is not None
    assert text_on_a3_pt(size) >= READABLE_PT


@pytest.mark.parametrize("name", PICTURES)
def test_no_text_of_a_picture_lies_on_another_or_beyond_its_box(name: str) -> None:
    assert not clashes(svg(name))
    assert not spilled(svg(name))


@pytest.mark.parametrize("name", PICTURES)
def test_title_and_revision_stand_on_a_picture(name: str) -> None:
    told = svg(name).decode("utf-8")
    if PICTURES[name].spec:
        spec = spec_of(PICTURES[name].spec)
        assert spec.title in told
        assert f"revision {spec.revision}, from specs/{PICTURES[name].spec}" in told
    assert "<text" in told


def test_the_guide_names_every_picture_and_there_are_no_others() -> None:
    guide = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert re.findall(r"\(([\w-]+)\.svg\)", guide) == list(PICTURES)
    files = {path.name for path in FOLDER.iterdir()}
    named = {f"{name}.{ending}" for name, picture in PICTURES.items() for ending in (picture.beside, "svg")}
    assert files == {"README.md", *named}


def test_the_architecture_names_every_layer() -> None:
    told = svg("architecture").decode("utf-8")
    assert set(architecture.HOLDS) == {layer for layer in LAYERS if not layer.startswith("_")}
    assert not [layer for layer in architecture.HOLDS if f">{layer}<" not in told]


def renew(names: list[str]) -> None:
    """Draw the pictures of those names, or all, anew."""
    for name, picture in PICTURES.items():
        if names and name not in names:
            continue
        for ending, drawn in picture.files().items():
            (FOLDER / f"{name}.{ending}").write_bytes(drawn)


if __name__ == "__main__":
    renew(sys.argv[1:])
