"""The permissive chain as DOT: a ladder read from top to bottom, one rung a change of the ordinary cycle.

In: a picture of a chain. Out: DOT text, one table. Between two rungs stands the step with the commands that begin and
end with it; below each rung its permissives, what each of them stands for, and the hazards it is there for. How these
were found out is written on the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from interlock.analysis.drawing import ChainPicture, Proof, Rung
from interlock.report.dot_sequences import step_box
from interlock.report.dot_style import (
    ALARM,
    DEEP,
    HEAD,
    INK,
    LINE,
    PALE,
    PAPER,
    QUIET,
    cell,
    html,
    row,
    sheet,
    stacked,
    table,
    text,
)
from interlock.report.words import listed

WIDTHS = (104, 132, 250, 220)
WORDS_WIDTH = 290
HOW = (
    "`keeps off H1`: while what this permissive shows is true, H1 cannot be, or a rule that guards against H1 cannot "
    "be broken. `with the others`: the same, together with the other permissives of its rung. `same equipment as H1`: "
    "it keeps off no hazard, but speaks of equipment that H1 speaks of.",
    "This is worked out on paper from the conditions alone: readings and messages are taken as true and in time, "
    "nothing is explored, failures and what happens afterwards are left out. No proof: `interlock check` judges rules.",
)


def render_chain(picture: ChainPicture) -> str:
    """The picture as DOT text."""
    graph = sheet(
        picture.caption,
        [
            (
                table([row([cell(width=60, height=4, fixedsize="true", bgcolor=INK)])]),
                "rung: what leads from step to step",
            ),
            (text("+ command", DEEP), "given from this step on"),
            (text("- command", ALARM), "no longer given"),
            (text("otherwise", QUIET, italic=True), "trips and timeouts that leave the step, and where to"),
        ],
        (f"Sequence {picture.sequence}. {picture.chosen}",),
    )
    graph.node("ladder", html(_ladder(picture)))
    graph.node("hazards", html(_hazards(picture)))
    graph.edge("ladder", "hazards", style="invis")
    return str(graph.source)


def _ladder(picture: ChainPicture) -> str:
    rows = [_headings()]
    for i, rung in enumerate(picture.rungs, 1):
        rows.append(_step(rung, picture.through))
        rows.append(_railed([cell(width=sum(WIDTHS), height=4, fixedsize="true", bgcolor=INK, colspan=4)]))
        rows += _proofs(i, rung)
    first = picture.rungs[0].step.name
    rows.append(
        _railed(
            [
                cell(_bare(picture.rungs[0]), align="left", cellpadding=5),
                cell(text(f"{first} again: the way begins anew", QUIET, italic=True), align="left", colspan=3),
            ]
        )
    )
    return table(rows)


def _railed(cells: list[str], ink: str = PAPER) -> str:
    """A row between the two rails of the ladder."""
    rail = cell(width=4, bgcolor=INK)
    return row(
        [rail, *(one.replace("<td", f'<td bgcolor="{ink}"', 1) if "bgcolor" not in one else one for one in cells), rail]
    )


def _headings() -> str:
    titles = ("rung", "permissive", "stands for (as written)", "there for")
    cells = [
        cell(text(title, QUIET, bold=True), align="left", width=width, cellpadding=3)
        for title, width in zip(titles, WIDTHS, strict=True)
    ]
    return row([cell(), *cells, cell()])


def _step(rung: Rung, through: str) -> str:
    flows = rung.step.name == through
    told = []
    if flows:
        told.append(text("turning point: the cycle is taken through this step", ALARM, bold=True))
    if rung.step.words:
        told.append(text(rung.step.words, QUIET, italic=True, room=80))
    if rung.gives:
        told.append(text("+ " + ", ".join(rung.gives), DEEP, room=80))
    if rung.withdraws:
        told.append(text("- " + ", ".join(rung.withdraws), ALARM, room=80))
    if not told:
        told.append(text("no command begins or ends", QUIET, italic=True))
    ways = [text(f"otherwise to {to}: {', '.join(names)}", QUIET, room=48) for names, to in rung.trips]
    return _railed(
        [
            cell(_bare(rung), align="left", cellpadding=5),
            cell(stacked(told), align="left", colspan=2, cellpadding=4),
            cell(stacked(ways) if ways else "", align="left", cellpadding=4),
        ],
        PALE if flows else PAPER,
    )


def _bare(rung: Rung) -> str:
    return step_box(replace(rung.step, drives=(), words=""))


def _proofs(number: int, rung: Rung) -> list[str]:
    change = rung.change
    kind = "" if change.kind == "move" else f" ({change.kind})"
    after = [text(f"after {change.after}", QUIET)] if change.after else []
    sets = [text(f"sets {one}", QUIET, room=24) for one in change.sets]
    name = stacked([text(f"{number}  {change.name}{kind}", DEEP, bold=True, size=9, room=22), *after, *sets])
    n = max(len(rung.proofs), 1)
    head = cell(name, align="left", valign="top", cellpadding=4, rowspan=n)
    if not rung.proofs:
        told = "the time alone" if change.after else "nothing is needed"
        return [_railed([head, cell(text(told, QUIET, italic=True), align="left", colspan=3, cellpadding=4)])]
    rows = []
    for i, proof in enumerate(rung.proofs):
        held = f" for {proof.need.held_for}" if proof.need.held_for else ""
        line = {"border": 1, "sides": "T", "color": LINE} if i else {}
        cells = [
            cell(text(proof.need.name + held, bold=True), align="left", cellpadding=3, **line),
            cell(text(proof.need.condition, room=56), align="left", balign="left", cellpadding=3, **line),
            cell(_purpose(proof, change.kind), align="left", cellpadding=3, **line),
        ]
        rows.append(_railed([head, *cells] if i == 0 else cells))
    return rows


def _purpose(proof: Proof, kind: str) -> str:
    if kind != "move":
        return text("taken when this holds", QUIET, italic=True)
    if not proof.checked:
        return text("too many combinations to work out", QUIET, italic=True)
    told = []
    if proof.excludes:
        told.append(text(f"keeps off {listed(proof.excludes)}", bold=True))
    if proof.joins:
        told.append(text(f"with the others keeps off {listed(proof.joins)}", bold=True))
    if proof.concerns:
        told.append(text(f"same equipment as {listed(proof.concerns)}", QUIET))
    return stacked(told or [text("-", QUIET)])


def _hazards(picture: ChainPicture) -> str:
    rows = []
    if picture.named:
        rows += _listing("Conditions named above", picture.named)
    rows += _listing("Hazards", picture.hazards)
    if picture.unheld and len(picture.unheld) < len(picture.hazards):
        rest = f"No permissive of this chain keeps off {listed(picture.unheld)}: by this reading, other things must."
        rows.append(row([cell(text(rest, bold=True, room=150), align="left", balign="left", colspan=4, cellpadding=3)]))
    rows += [
        row([cell(text(one, QUIET, room=165), align="left", balign="left", colspan=4, cellpadding=2)]) for one in HOW
    ]
    return table(rows)


def _listing(heading: str, entries: Sequence[tuple[str, str]]) -> list[str]:
    """Names with what they stand for, in two columns of the table below the ladder."""
    half = (len(entries) + 1) // 2
    rows = [row([cell(text(heading, size=HEAD, bold=True), align="left", colspan=4, cellpadding=2)])]
    for i in range(half):
        cells = []
        for name, words in (*entries[i : i + 1], *entries[half + i : half + i + 1]):
            cells += [
                cell(text(name, bold=True), align="left", valign="top", cellpadding=2),
                cell(text(words, QUIET, room=76), align="left", balign="left", cellpadding=2, width=WORDS_WIDTH),
            ]
        rows.append(row(cells))
    return rows
