"""The program's architecture as a picture: what flows from stage to stage, and which layer may import from which.

In: the table of layers that `test_layers.py` enforces. Out: DOT text, in the look of the program's own pictures.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

from interlock.analysis.drawing import Caption
from interlock.report.dot_style import DEEP, INK, LINE, QUIET, WASH, cell, html, row, sheet, stacked, table, text

HOLDS = {
    "diag": "places, mistakes, near names",
    "logic": "the expression language",
    "spec": "read and build: text to Spec",
    "core": "elaborate: Spec to System; the plain meaning of one event",
    "machine": "the spec interpreted directly, apart from the core",
    "engines": "explore a System, answer questions, replay scenarios",
    "analysis": "verdict grid, findings, what a picture shows",
    "report": "one module a format: text, JSON, JUnit, DOT",
    "pipeline": "the stages in their order",
    "cli": "arguments, files, streams, exit codes; runs the renderer",
}

FLOWS = (
    ("file", "spec", "YAML"),
    ("spec", "core", "Spec"),
    ("spec", "machine", "Spec"),
    ("core", "engines", "System, Question"),
    ("engines", "analysis", "Answer"),
    ("machine", "report", "Exercise (runs at random)"),
    ("analysis", "report", "CheckResult, pictures"),
    ("report", "cli", "text"),
)
"""What flows from where to where. `diag` and `logic` serve all; `pipeline` calls the stages."""


def render(layers: Mapping[str, tuple[str, ...]]) -> str:
    """The picture of a table of layers."""
    shown = [layer for layer in layers if not layer.startswith("_")]
    digest = sha256(repr([(layer, layers[layer]) for layer in shown]).encode()).hexdigest()[:12]
    caption = Caption("interlock", "", "tests/repo/test_layers.py", digest, "architecture")
    graph = sheet(
        caption,
        [
            (
                table([row([cell(text("layer", bold=True), border=1, color=INK, bgcolor=WASH, cellpadding=4)])]),
                "a stage, and a layer",
            ),
            (text("value", DEEP), "beside an arrow: what flows, one way only"),
        ],
    )
    graph.attr("graph", ranksep="0.3")
    graph.node(
        "file", html(table([row([cell(text("spec file"), border=1, style="dashed", color=QUIET, cellpadding=5)])]))
    )
    for layer in shown:
        if any(layer in flow for flow in FLOWS):
            graph.node(layer, html(_box(layer)))
    for before, after, value in FLOWS:
        graph.edge(before, after, label=html(text(f" {value}", DEEP)))
    graph.node("matrix", html(_matrix(layers, shown)))
    graph.edge("cli", "matrix", style="invis")
    return str(graph.source)


def _box(layer: str) -> str:
    told = [text(layer, bold=True, size=10), text(HOLDS[layer], QUIET, room=38)]
    return table([row([cell(stacked(told), border=1, color=INK, bgcolor=WASH, cellpadding=5, align="left")])])


def _matrix(layers: Mapping[str, tuple[str, ...]], shown: list[str]) -> str:
    head = [cell(text("may import from", QUIET, italic=True), align="left", cellpadding=3)]
    head += [cell(text(layer, QUIET), cellpadding=3) for layer in shown]
    rows = [row(head)]
    for layer in shown:
        line: dict[str, object] = {"border": 1, "sides": "T", "color": LINE}
        cells = [cell(text(layer, bold=True) + text(f"  {HOLDS[layer]}", QUIET), align="left", cellpadding=3, **line)]
        for other in shown:
            mark = "itself" if other == layer else "yes" if other in layers[layer] else ""
            cells.append(cell(text(mark, QUIET if other == layer else INK) if mark else "", cellpadding=3, **line))
        rows.append(row(cells))
    return table(rows)
