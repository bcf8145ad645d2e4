"""The sequences of a spec as DOT: drawn in the style of the sequence charts of IEC 60848, without claim to conform.

In: a picture of sequences. Out: DOT text. Steps are squares, the start step a double one, what a step drives stands
to its right; a move is a bar across the line with its permissives beside it. Trips and timeouts stand quietly beside
their step. A way that leads to a step drawn elsewhere ends in a dashed reference to it.
"""

from __future__ import annotations

from dataclasses import replace

from graphviz import Digraph

from interlock.analysis.drawing import DrawnChange, DrawnNeed, DrawnSequence, DrawnStep, SequencesPicture
from interlock.report.dot_style import (
    ALARM,
    DEEP,
    HEAD,
    INK,
    LINE,
    QUIET,
    WASH,
    cell,
    html,
    row,
    sheet,
    stacked,
    table,
    text,
)

COLUMN_LINES = 75
"""About how many lines of text a column may have to be read on an A3 sheet."""

HEADING_LINES = 8
"""About how many lines the heading of a sequence and the space around it take."""

STACK_LINES = 48
"""Short sequences are stacked until a column has about this many lines."""

STYLE_NOTE = "Drawn in the style of the sequence charts of IEC 60848; no conformity is claimed."


def n_boxes(picture: SequencesPicture) -> int:
    """How many boxes the drawing has."""
    return render_sequences(picture).count(" [label=<")


def render_sequences(picture: SequencesPicture) -> str:
    """The picture as DOT text."""
    return str(_drawing(picture).source)


def _drawing(picture: SequencesPicture) -> Digraph:
    graph = sheet(picture.caption, _legend(), (STYLE_NOTE,))
    nodes: list[list[str]] = []
    for i, sequence in enumerate(picture.sequences):
        with graph.subgraph(name=f"cluster_{i}") as part:
            nodes.append(_sequence(part, in_columns(sequence)))
    for above, below in stacks(picture.sequences):
        for node in nodes[above]:
            graph.edge(node, nodes[below][0], style="invis", weight="0")
    return graph


def stacks(sequences: tuple[DrawnSequence, ...]) -> list[tuple[int, int]]:
    """Which sequences stand below which: the next one goes below the last while the column is no longer than the
    longest sequence or `STACK_LINES`, so that a sheet is filled from top to bottom and then to the right."""
    lines = [HEADING_LINES + max(_depths(in_columns(one)).values()) for one in sequences]
    most = max(STACK_LINES, *lines)
    found = []
    column = 0
    for i, n in enumerate(lines):
        if i and column + n <= most:
            found.append((i - 1, i))
            column += n
        else:
            column = n
    return found


def in_columns(sequence: DrawnSequence) -> DrawnSequence:
    """A sequence too long for one column of a sheet, cut half way down its longest way: what follows is a column of
    its own."""
    depths = _depths(sequence)
    most = max(depths.values())
    if most <= COLUMN_LINES:
        return sequence
    above = {to: (before, name, to) for before, name, to in sequence.tree}
    here = max(depths, key=lambda name: depths[name])
    while here in above and 2 * depths[above[here][0]] > most:
        here = above[here][0]
    return replace(sequence, tree=tuple(one for one in sequence.tree if one[2] != here))


def _depths(sequence: DrawnSequence) -> dict[str, int]:
    """About how many lines of text there are from the top to the bottom of each step."""
    above = {to: (before, name) for before, name, to in sequence.tree}
    moves = {change.name: change for change in sequence.changes if change.kind == "move"}
    depths: dict[str, int] = {}
    for name in [step.name for step in sequence.steps if step.name not in above] + [to for _, _, to in sequence.tree]:
        aside = len({one.to for one in sequence.changes if one.kind != "move" and name in one.from_steps})
        lines = max(5, 2 * aside, 2 + len(", ".join(sequence.step(name).drives)) // 40)
        before, by = above.get(name, ("", ""))
        depths[name] = lines + (depths[before] + max(2, len(moves[by].needs)) if before else 0)
    return depths


def _sequence(part: Digraph, sequence: DrawnSequence) -> list[str]:
    """Draw a sequence. The names of its nodes, the first step first; those that only stand beside a step left out."""
    nodes = []
    part.attr(label=html(_heading(sequence)), labeljust="l", color=LINE, style="solid", margin="8")
    onward = {(before, name) for before, name, _ in sequence.tree}
    branching = {before for before, _, _ in sequence.tree}
    for step in sequence.steps:
        node = f"{sequence.id} {step.name}"
        part.node(node, html(step_box(step)))
        nodes.append(node)
        moves = [one for one in sequence.changes if one.kind == "move" and step.name in one.from_steps]
        drawn = [one for one in moves if (step.name, one.name) in onward or step.name not in branching]
        for move in drawn:
            bar = f"{node} > {move.name}"
            part.node(bar, html(_bar(move)))
            nodes.append(bar)
            straight = "100" if move is drawn[0] else "1"
            part.edge(f"{node}:step:s", f"{bar}:bar:n", arrowhead="none", weight=straight)
            target = f"{sequence.id} {move.to}"
            if (step.name, move.name) not in onward:
                target = f"{bar} > {move.to}"
                part.node(target, html(_reference(move.to)))
                nodes.append(target)
            part.edge(f"{bar}:bar:s", f"{target}:step:n", weight="100")
        _ways_aside(part, sequence, step, [one for one in moves if one not in drawn])
    return nodes


def _heading(sequence: DrawnSequence) -> str:
    facts = [f"reacts {sequence.reacts}"]
    if sequence.powered_by:
        facts.append(f"powered while {sequence.powered_by}")
    told = [text(sequence.id, size=HEAD, bold=True)]
    if sequence.words:
        told.append(text(sequence.words, QUIET))
    told.append(text("; ".join(facts), QUIET, room=70))
    if sequence.priority:
        told.append(text(f"priority: {', '.join(sequence.priority)}", QUIET, room=110))
    return stacked(told, cellpadding=1)


def step_box(step: DrawnStep) -> str:
    """A step with what it drives. The port of its square is `step`."""
    square = cell(
        text(step.name, bold=True, size=9), port="step", cellpadding=4, border=1, color=INK, bgcolor=WASH, width=60
    )
    if step.start:
        square = cell(table([row([square])]), cellpadding=2, border=1, color=INK)
    aside = []
    if step.words:
        aside.append(text(step.words, QUIET, italic=True, room=44))
    if step.drives:
        aside.append(text(listed_commands("drives", step.drives), room=44))
    cells = [square]
    if aside:
        cells.append(cell(stacked(aside), align="left", cellpadding=3, border=1, sides="TRB", color=LINE))
    return table([row(cells)])


def listed_commands(verb: str, commands: tuple[str, ...]) -> str:
    """Commands in a row."""
    return f"{verb} {', '.join(commands)}"


def _bar(change: DrawnChange) -> str:
    told = [_need(need) for need in change.needs] or [text("nothing needed", QUIET, italic=True)]
    told += [text(f"sets {one}", QUIET, room=44) for one in change.sets]
    return table(
        [
            row(
                [
                    cell(table([row([bar_glyph("bar")])]), width=42),
                    cell(text(change.name, DEEP, bold=True), align="left", cellpadding=2),
                    *(cell(stacked(part), align="left", valign="top", cellpadding=2) for part in _columns(told)),
                ]
            )
        ]
    )


def _columns(told: list[str]) -> list[list[str]]:
    """Many permissives in two columns."""
    if len(told) <= 5:
        return [told]
    half = (len(told) + 1) // 2
    return [told[:half], told[half:]]


def bar_glyph(port: str = "", width: int = 40) -> str:
    """The bar of a move."""
    named = {"port": port} if port else {}
    return cell(width=width, height=4, fixedsize="true", bgcolor=INK, **named)


def _need(need: DrawnNeed) -> str:
    return text(need.name + (f" for {need.held_for}" if need.held_for else ""))


def _reference(name: str) -> str:
    inner = cell(
        text(name, QUIET, bold=True), port="step", border=1, color=QUIET, style="dashed", cellpadding=2, width=46
    )
    return table([row([inner])])


def _ways_aside(part: Digraph, sequence: DrawnSequence, step: DrawnStep, moves: list[DrawnChange]) -> None:
    """Other ways out of a step, in one quiet box beside it: moves to steps drawn elsewhere, timeouts, trips."""
    rows = [_way(table([row([bar_glyph(width=14)])]), _move_aside(move), move.to) for move in moves]
    leaving = [one for one in sequence.changes if step.name in one.from_steps]
    timeouts = [one for one in leaving if one.kind == "timeout"]
    rows += [_way(text("after", QUIET, italic=True), one.after, one.to) for one in timeouts]
    trips = [one for one in leaving if one.kind == "trip"]
    for target in dict.fromkeys(one.to for one in trips):
        names = ", ".join(one.name for one in trips if one.to == target)
        rows.append(_way(text("trip", ALARM, italic=True), names, target))
    if not rows:
        return
    node, box = f"{sequence.id} {step.name}", f"{sequence.id} {step.name} otherwise"
    part.node(box, html(table(rows, cellpadding=2, cellspacing=0)))
    with part.subgraph() as same:
        same.attr(rank="same")
        same.node(node)
        same.node(box)
    part.edge(f"{node}:e", f"{box}:w", style="dashed", color=QUIET, arrowhead="none", weight="2")


def _move_aside(move: DrawnChange) -> str:
    needs = ", ".join(need.name for need in move.needs)
    return f"{move.name}: {needs}" if needs else move.name


def _way(sort: str, names: str, target: str) -> str:
    return row(
        [
            cell(sort, align="left"),
            cell(text(names, QUIET, room=34), align="left", balign="left"),
            cell(text("to", QUIET)),
            cell(_reference(target)),
        ]
    )


def _legend() -> list[tuple[str, str]]:
    step = DrawnStep("step", False, (), "")
    start = DrawnStep("step", True, (), "")
    return [
        (step_box(start), "start step"),
        (step_box(step), "step; to its right, what it drives"),
        (table([row([bar_glyph()])]), "move; beside it the permissives, all of which must hold"),
        (_reference("step"), "dashed: stands for a step drawn elsewhere"),
        (
            text("after, trip", QUIET, italic=True),
            "other ways out, beside a step: a timeout after its time, a trip when its condition holds; both go before "
            "every move",
        ),
    ]
