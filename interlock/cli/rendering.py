"""From DOT text to a picture: a renderer is run as a program of its own, with a limit of time.

In: DOT text and a format. Out: the bytes of an SVG or PNG. The renderer is the one that is installed beside this
program (`graphviz-pure`, pinned so that the same text gives the same bytes), or a `dot` of the system where that is
asked for. It reads from a pipe and writes to one, so nothing is left behind when it fails; it is killed when it takes
too long.
"""

from __future__ import annotations

import re
import shutil
import struct
import subprocess
import sysconfig
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from interlock.cli.faults import Refusal

RENDERER = "graphviz-pure"
LIMIT_S = 20.0
PNG_DPI = 150
LONG_PT, SHORT_PT = 1190.6, 841.9
"""The sides of an A3 sheet."""
MARGIN_PT = 14.2
"""A margin of 5 mm."""
READABLE_PT = 7.0
SMALLEST_PT = 8.0
"""The smallest text in a picture as it is laid out."""

_SIDE_STEPS = ("otherwise: `--format dot` writes the text that a renderer of your own can lay out",)


def render(dot: str, format: str, program: str | None, limit_s: float = LIMIT_S) -> bytes:
    """The picture. `program`: a `dot` of the system (None: the renderer that is installed beside). Refusal, with what
    can be done, if there is none, if it takes longer than `limit_s`, or if it fails."""
    path = _asked_for(program) if program is not None else installed()
    command = [str(path), f"-T{format}", "-q"]
    if format == "png":
        command.append(f"-Gdpi={PNG_DPI}")
    try:
        done = subprocess.run(command, input=dot.encode("utf-8"), capture_output=True, timeout=limit_s, check=False)
    except subprocess.TimeoutExpired:
        raise Refusal(
            f"the renderer did not finish within {limit_s:g} s and was stopped; nothing was written",
            "draw less at a time, for instance one `--sequence`, or merge by fewer things",
            *_SIDE_STEPS,
        ) from None
    except OSError as found:
        why = (found.strerror or type(found).__name__).lower()
        raise Refusal(f"the renderer `{path}` cannot be run: {why}; nothing was written", *_SIDE_STEPS) from None
    if done.returncode or not done.stdout:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        last = f": {said[-1][:200]}" if said else ""
        raise Refusal(f"the renderer `{path.name}` failed{last}; nothing was written", *_SIDE_STEPS)
    return done.stdout


def installed() -> Path:
    """The program that the renderer's distribution brought. Refusal if it is not there."""
    name = RENDERER + (".exe" if sysconfig.get_platform().startswith("win") else "")
    places = [Path(sysconfig.get_path("scripts")) / name]
    try:
        brought = distribution(RENDERER)
        places = [Path(str(brought.locate_file(one))) for one in brought.files or () if one.name == name] + places
    except PackageNotFoundError:
        pass
    for place in places:
        if place.is_file():
            return place
    raise Refusal(
        f"the renderer `{RENDERER}` is not installed, so nothing can be laid out",
        f"install it: `pip install {RENDERER}`",
        "or name a Graphviz program of the system: `--dot PATH`",
        *_SIDE_STEPS,
    )


def _asked_for(program: str) -> Path:
    found = shutil.which(program)
    if found is None:
        raise Refusal(f"`--dot`: there is no program `{program}`", "name the `dot` of a Graphviz that is installed")
    return Path(found)


def size_pt(picture: bytes) -> tuple[float, float] | None:
    """Width and height of an SVG or PNG in points; None if that cannot be told."""
    if picture[:8] == b"\x89PNG\r\n\x1a\n":
        width, height = struct.unpack(">II", picture[16:24])
        return width * 72 / PNG_DPI, height * 72 / PNG_DPI
    found = re.search(rb'<svg width="([\d.]+)pt" height="([\d.]+)pt"', picture)
    return None if found is None else (float(found[1]), float(found[2]))


def text_on_a3_pt(size: tuple[float, float]) -> float:
    """How large the smallest text is when the picture is printed on A3, turned as fits best."""
    long, short = LONG_PT - 2 * MARGIN_PT, SHORT_PT - 2 * MARGIN_PT
    width, height = size
    scale = max(min(long / width, short / height), min(short / width, long / height), 0.0)
    return SMALLEST_PT * min(scale, 1.0)
