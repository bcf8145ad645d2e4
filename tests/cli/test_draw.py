"""`interlock draw`: what may be asked for, where pictures go, and what happens when they cannot be laid out."""

from __future__ import annotations

import os
import stat
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from interlock.cli.faults import Refusal
from interlock.cli.rendering import RENDERER, installed, render, size_pt, text_on_a3_pt
from tests.cli.conftest import Typed


@pytest.fixture
def teaching(repository: Path) -> Path:
    return repository / "specs" / "teaching.yaml"


def program(folder: Path, body: str) -> Path:
    """A renderer that does what `body` says."""
    file = folder / "renderer"
    file.write_text(f"#!{sys.executable}\n{body}\n", encoding="utf-8")
    file.chmod(file.stat().st_mode | stat.S_IXUSR)
    return file


def test_the_sequences_go_to_standard_output_as_svg_if_nothing_else_is_said(typed: Typed, teaching: Path) -> None:
    done = typed("draw", teaching)
    assert done.code == 0
    assert ET.fromstring(done.out.encode()).tag == "{http://www.w3.org/2000/svg}svg"
    assert done.err == ""


def test_the_ending_of_a_file_tells_the_format(typed: Typed, teaching: Path, tmp_path: Path) -> None:
    files = [tmp_path / "a.svg", tmp_path / "a.png", tmp_path / "a.dot", tmp_path / "b"]
    words = [word for file in files[:3] for word in ("--output", str(file))]
    done = typed("draw", teaching, "chain", *words, "--output", f"svg={files[3]}")
    assert (done.code, done.out) == (0, "")
    assert done.err == "".join(f"wrote {file}\n" for file in files)
    assert files[1].read_bytes()[:4] == b"\x89PNG"
    assert files[2].read_text(encoding="utf-8").startswith("digraph")
    assert files[0].read_bytes() == files[3].read_bytes()


def test_the_same_spec_gives_the_same_bytes_whatever_the_order_of_hashes(typed_apart: Typed, teaching: Path) -> None:
    for picture in (("sequences",), ("chain",), ("situations", "--by", "ground,train"), ("scenario", "--rule", "R5")):
        told = {
            typed_apart("draw", teaching, *picture, env={"PYTHONHASHSEED": seed}, cwd=teaching.parent).out
            for seed in ("1", "2")
        }
        assert len(told) == 1


def test_quiet_says_nothing(typed: Typed, teaching: Path, tmp_path: Path) -> None:
    done = typed("draw", teaching, "--output", tmp_path / "a.svg", "-q")
    assert (done.code, done.out, done.err) == (0, "", "")


def test_a_scenario_that_does_not_exist_gives_1_and_writes_nothing(
    typed: Typed, teaching: Path, tmp_path: Path
) -> None:
    file = tmp_path / "a.svg"
    done = typed("draw", teaching, "scenario", "--rule", "H2", "--output", file)
    assert (done.code, done.err) == (1, "no scenario to draw: H2 holds without failures\n")
    assert not file.exists()
    assert typed("draw", teaching, "scenario", "--rule", "H2", "--failures", "1", "--output", file).code == 0
    assert file.exists()


def test_a_way_to_a_condition_is_drawn_and_its_mistakes_are_told(typed: Typed, teaching: Path) -> None:
    assert "charging" in typed("draw", teaching, "scenario", "--to", "ground is charging").out
    done = typed("draw", teaching, "scenario", "--to", "ground is chargin")
    assert done.code == 2
    assert "CONDITION:1:11" in done.err


def test_an_incomplete_picture_gives_3_and_is_written_all_the_same(
    typed: Typed, teaching: Path, tmp_path: Path
) -> None:
    file = tmp_path / "a.svg"
    done = typed("draw", teaching, "situations", "--by", "ground", "--limit", "5", "--output", file)
    assert done.code == 3
    assert "incomplete: more than 5 situations" in done.err
    assert "INCOMPLETE" in file.read_text(encoding="utf-8")


def test_without_a_limit_a_scenario_is_looked_for_like_find_does_and_merging_stops_earlier(
    typed: Typed, teaching: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("interlock.cli.draw.STATES", 5)
    assert typed("draw", teaching, "scenario", "--rule", "R5").code == 0
    assert typed("draw", teaching, "situations", "--by", "ground").code == 3
    monkeypatch.setattr("interlock.engines.table.MANY", 5)
    done = typed("draw", teaching, "scenario", "--rule", "R5")
    assert (done.code, done.out) == (3, "")
    assert "no scenario to draw: more than 5 situations" in done.err


@pytest.mark.parametrize(
    ("words", "headline", "cure"),
    [
        (["chains"], "there is no picture `chains`", "did you mean `chain`?"),
        (["chain", "--through", "chargin"], "the spec has no step `chargin`", "did you mean `charging`?"),
        (["situations"], "by what are situations to be merged?", "`--by ground,train`"),
        (["situations", "--by", "ground,trian"], "`trian`", "did you mean `train`?"),
        (["situations", "--by", " , "], "`--by` names nothing", "commas between"),
        (["scenario"], "which scenario is to be drawn?", "`--rule H1`"),
        (["scenario", "--rule", "R55"], "no hazard `R55`", "R5"),
        (["scenario", "--rule", "R1", "--to", "rail is live"], "cannot both be drawn", "give one of them"),
        (["--sequence", "grund"], "the spec has no sequence `grund`", "did you mean `ground`?"),
        (["--by", "ground"], "`--by` says nothing about the picture `sequences`", "situations --by"),
        (["--output", "picture"], "which format is meant?", "svg=picture"),
        (["--format", "pdf"], "there is no format `pdf`", "svg, png, dot"),
        (["--output", "-", "--format", "dot"], "which format is meant?", "svg="),
        (["--output", "svg=-", "--format", "dot"], "two pictures cannot both go", "a file"),
        (["--dot", "no_such_program"], "there is no program `no_such_program`", "`dot`"),
    ],
)
def test_what_makes_no_sense_gives_2_with_a_cure(
    typed: Typed, teaching: Path, words: list[str], headline: str, cure: str
) -> None:
    done = typed("draw", teaching, *words)
    assert (done.code, done.out) == (2, "")
    told = " ".join(done.err.split())
    assert headline in told
    assert cure in told.partition("to cure: ")[2]


def test_a_spec_without_logic_or_cycle_is_told(typed: Typed, sound: Path) -> None:
    assert "the spec has no logic" in typed("draw", sound).err
    done = typed("draw", sound, "chain")
    assert done.code == 2
    assert "no permissive chain to draw" in done.err


def test_a_png_never_goes_to_a_terminal(typed: Typed, teaching: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.cli.draw.shown_on_terminal", lambda: True)
    done = typed("draw", teaching, "--format", "png")
    assert (done.code, done.out) == (2, "")
    assert "a PNG cannot be shown on a terminal" in done.err


# --- the renderer ---


def test_a_renderer_that_is_missing_is_one_clear_error(
    typed: Typed, teaching: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("interlock.cli.rendering.RENDERER", "no-such-renderer")
    done = typed("draw", teaching, "--output", tmp_path / "a.svg")
    assert done.code == 2
    assert done.err.startswith("error: the renderer `no-such-renderer` is not installed")
    assert "--dot PATH" in done.err
    assert not list(tmp_path.iterdir())
    assert typed("draw", teaching, "--format", "dot").code == 0


def test_a_renderer_that_takes_too_long_is_stopped(tmp_path: Path) -> None:
    slow = program(
        tmp_path,
        "import os, pathlib, time\npathlib.Path(__file__ + '.pid').write_text(str(os.getpid()))\ntime.sleep(60)",
    )
    with pytest.raises(Refusal, match=r"did not finish within 1 s and was stopped; nothing was written"):
        render("digraph {}", "svg", str(slow), limit_s=1)
    with pytest.raises(ProcessLookupError):
        os.kill(int(Path(f"{slow}.pid").read_text(encoding="utf-8")), 0)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("import sys; sys.exit('syntax error in line 1')", "failed: syntax error in line 1"),
        ("pass", "failed; nothing was written"),
    ],
)
def test_a_renderer_that_fails_leaves_no_file_behind(
    typed: Typed, teaching: Path, tmp_path: Path, body: str, said: str
) -> None:
    bad = program(tmp_path, body)
    out = tmp_path / "out"
    out.mkdir()
    (out / "old.svg").write_text("old", encoding="utf-8")
    done = typed("draw", teaching, "--dot", bad, "--output", out / "old.svg", "--output", out / "new.dot")
    assert done.code == 2
    assert said in " ".join(done.err.split())
    assert [path.name for path in out.iterdir()] == ["old.svg"]
    assert (out / "old.svg").read_text(encoding="utf-8") == "old"


def test_a_program_of_the_system_is_used_where_it_is_named(typed: Typed, teaching: Path, tmp_path: Path) -> None:
    own = program(tmp_path, 'import sys; print(\'<svg width="1pt" height="1pt">\', len(sys.stdin.read()) > 100)')
    assert typed("draw", teaching, "--dot", own).out == '<svg width="1pt" height="1pt"> True\n'


def test_the_renderer_is_the_one_that_was_installed_beside_this_program() -> None:
    assert installed().name.startswith(RENDERER)


def test_sizes_are_read_from_svg_and_png_and_a_picture_too_large_for_a3_is_told(
    typed: Typed, teaching: Path, tmp_path: Path
) -> None:
    svg = render("digraph { a [shape=box width=10 height=5 fixedsize=true] }", "svg", None)
    png = render("digraph { a [shape=box width=10 height=5 fixedsize=true] }", "png", None)
    (wide, high), (wide_png, high_png) = size_pt(svg) or (0, 0), size_pt(png) or (0, 0)
    assert (wide, high) == pytest.approx((728, 368), abs=1)
    assert (wide_png, high_png) == pytest.approx((wide, high), abs=2)
    assert text_on_a3_pt((728, 368)) == 8
    assert text_on_a3_pt((2324.4, 100)) == pytest.approx(4, abs=0.01)
    assert text_on_a3_pt((100, 2324.4)) == pytest.approx(4, abs=0.01)
    own = program(tmp_path, 'print(\'<svg width="3000pt" height="1000pt">\')')
    assert "too large to be read on one A3 sheet" in typed("draw", teaching, "--dot", own).err
