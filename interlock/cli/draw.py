"""`interlock draw`: pictures of a spec."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from interlock.cli.arguments import (
    Command,
    EngineName,
    Failures,
    Limit,
    Quiet,
    SpecFile,
    StdinName,
    WhenColour,
    meant,
    one_of,
)
from interlock.cli.faults import Codes, Refusal
from interlock.cli.source import read_source
from interlock.cli.streams import Colour, complain, shown_on_terminal
from interlock.cli.targets import Target, format_named, refuse_beneath, refuse_files
from interlock.cli.work import beneath, read_spec

if TYPE_CHECKING:
    from interlock.analysis.drawing_search import NoScenario
    from interlock.analysis.options import Options
    from interlock.cli.progress import Progress
    from interlock.pipeline import Drawing, Loaded
    from interlock.report.as_text import Look
    from interlock.spec.model import Spec

PICTURES = ("sequences", "chain", "scenario", "times", "situations")
FORMATS = ("svg", "png", "dot")
FORMATS_OF_TIMES = ("svg", "text")
SUFFIXES = {".svg": "svg", ".png": "png", ".dot": "dot", ".gv": "dot", ".txt": "text"}
STATES = 1_000_000

HELP = """\
Usage: interlock draw SPEC [PICTURE] [OPTIONS]

Draw a picture of a spec: the steps of its logic, the permissive chain, a
scenario, or everything that can be reached, merged. What fits is laid out to
be read on an A3 sheet; beyond about 150 boxes a table is written instead.

SPEC is the file of a spec or draft; - is standard input.

Pictures:
  sequences             the steps, moves with their permissives, trips and
                        timeouts of the logic (this is drawn if none is named)
    --sequence NAME     only this one; repeatable
  chain                 the ordinary cycle as a ladder: each rung with what
                        proves it and which hazards that keeps off
    --through STEP      the cycle through this step; not written: the step
                        that a `possible` rule asks for
  scenario              a way to a breach, one lane for each thing that changes
    --rule ID           how this rule or hazard is broken (`possible`: met);
                        not written: what a draft expects to be broken
    --to CONDITION      the shortest way to this condition
    --timing any|both   any: windows are left out of account; both: they are
                        not, and events have times where they bear (both)
  times                 the same against an axis of time: a lane for each thing
                        that changes, in one run whose times fit together, and
                        when each event can happen; what the declared timing
                        allows, deadlines too
    --rule ID           as for scenario
    --to CONDITION      as for scenario
    --lanes NAMES       only these, with commas between: items, sequences,
                        memories, readings, `command NAME`
  situations            what can be reached, merged, with the events between
    --by NAMES          merged by these items, sequences, memories, links or
                        failures, with commas between: ground,train

How to search, for scenario, times and situations:
  --failures N          allow up to N failures (as many as the rule claims to
                        withstand; else none)
  --limit N             stop after N situations; not written: for a scenario
                        as many as fit into memory (quick, reference:
                        2,000,000; declared timing: 5,000,000), for situations
                        1,000,000
  --engine NAME         quick, explicit or reference (chosen by size)

Where to:
  --output FILE         to FILE.svg, FILE.png or FILE.dot, or as FORMAT=FILE;
                        of times to FILE.svg or FILE.txt; repeatable
  --format FORMAT       svg, png or dot, of times svg or text, on standard
                        output (svg)
  --dot PATH            lay out with this Graphviz program, not with the one
                        that is installed beside
  -q, --quiet           say nothing about what was written
  --colour auto|always|never
                        of messages; NO_COLOR and FORCE_COLOR are heeded (auto)
  --stdin-name NAME     the name of standard input in places (stdin)
  -h, --help            print this text

Exit code 0: drawn; 1: there is no such scenario; 3: not decided, or what is
drawn is incomplete, which stands on it.

Examples:
  interlock draw station.yaml --output station.svg
  interlock draw station.yaml chain --output chain.svg --output chain.png
  interlock draw station.yaml scenario --rule H2 --failures 1 --output h2.svg
  interlock draw station.yaml times --rule R4 --output r4.svg
  interlock draw station.yaml situations --by ground,train --output merged.svg
"""


def work(
    spec: SpecFile,
    picture: Annotated[str, typer.Argument(metavar="PICTURE")] = "sequences",
    sequence: Annotated[list[str] | None, typer.Option("--sequence")] = None,
    through: Annotated[str | None, typer.Option("--through")] = None,
    rule: Annotated[str | None, typer.Option("--rule")] = None,
    to: Annotated[str | None, typer.Option("--to")] = None,
    timing: Annotated[str | None, typer.Option("--timing", parser=one_of("any", "both"))] = None,
    lanes: Annotated[str | None, typer.Option("--lanes")] = None,
    by: Annotated[str | None, typer.Option("--by")] = None,
    failures: Failures = None,
    limit: Limit = None,
    engine: EngineName = None,
    format: Annotated[str | None, typer.Option("--format")] = None,
    output: Annotated[list[str] | None, typer.Option("--output")] = None,
    dot: Annotated[str | None, typer.Option("--dot")] = None,
    quiet: Quiet = False,
    colour: WhenColour = Colour.AUTO,
    stdin_name: StdinName = "stdin",
) -> int:
    """Draw."""
    options: dict[str, dict[str, object]] = {
        "sequences": {"--sequence": sequence},
        "chain": {"--through": through},
        "scenario": {
            "--rule": rule,
            "--to": to,
            "--timing": timing,
            "--failures": failures,
            "--limit": limit,
            "--engine": engine,
        },
        "times": {
            "--rule": rule,
            "--to": to,
            "--lanes": lanes,
            "--failures": failures,
            "--limit": limit,
            "--engine": engine,
        },
        "situations": {"--by": by, "--failures": failures, "--limit": limit},
    }
    _refuse_strangers(picture, options)
    places = _targets(format, output or [], spec, picture)
    source = read_source(spec, stdin_name)
    read, loaded = read_spec(source, colour, to)
    refuse_beneath([place.path for place in places if place.path is not None], beneath(source, read))

    from interlock import pipeline
    from interlock.cli.progress import Progress
    from interlock.cli.searching import refusing_too_many_starts

    with refusing_too_many_starts(), Progress(wanted=not quiet) as progress:
        if picture == "sequences":
            drawing: Drawing | NoScenario = pipeline.draw_sequences(read, loaded.sources, _sequences(read, sequence))
        elif picture == "chain":
            drawing = _chain(read, loaded, through)
        elif picture == "scenario":
            asked = _asked(read, rule, to)
            how = _options(failures, limit, engine, progress, merging=False)
            how = replace(how, declared_timing=timing != "any")
            drawing = pipeline.draw_scenario(read, asked, loaded.sought, how)
        elif picture == "times":
            asked = _asked(read, rule, to)
            how = _options(failures, limit, engine, progress, merging=False)
            only = () if lanes is None else _lanes(read, lanes)
            drawing = pipeline.draw_times(read, asked, loaded.sought, how, _look(places, colour), only)
        else:
            things = _things(read, by)
            how = _options(failures, limit, None, progress, merging=True)
            drawing = pipeline.draw_situations(read, things, how)
    if not isinstance(drawing, pipeline.Drawing):
        complain(f"no scenario to draw: {drawing.why}\n")
        return Codes.UNDECIDED if drawing.limit else Codes.FAILS
    _write(drawing, places, dot, quiet=quiet)
    return Codes.HOLDS if drawing.limit is None else Codes.UNDECIDED


def _write(drawing: Drawing, places: list[Target], program: str | None, *, quiet: bool) -> None:
    """Everything is laid out before anything is written."""
    from interlock.cli.rendering import READABLE_PT, size_pt, text_on_a3_pt

    made = {place.format: b"" for place in places}
    for name in made:
        made[name] = _made(drawing, name, program)
    for place in places:
        place.write(made[place.format])
    if quiet:
        return
    for place in places:
        if place.path is not None:
            complain(f"wrote {place.path}\n")
    if drawing.n_boxes is not None:
        complain(f"a table instead of a drawing: it would have {drawing.n_boxes:,} boxes\n")
    if drawing.limit is not None:
        complain(f"incomplete: {drawing.limit}\n")
    sizes = [size for name, one in made.items() if name in ("svg", "png") and (size := size_pt(one)) is not None]
    if sizes and text_on_a3_pt(sizes[0]) < READABLE_PT:
        width, height = sizes[0]
        complain(
            f"too large to be read on one A3 sheet ({width:.0f} pt by {height:.0f} pt): the smallest text would have "
            f"{text_on_a3_pt(sizes[0]):.1f} pt; draw less at a time, for instance one `--sequence` or a few `--lanes`, "
            "or merge by fewer things\n"
        )


def _made(drawing: Drawing, name: str, program: str | None) -> bytes:
    """A drawing in a format."""
    from interlock.cli.rendering import render

    if not drawing.dot:
        return {"svg": drawing.svg, "text": drawing.text}[name].encode("utf-8")
    return drawing.dot.encode("utf-8") if name == "dot" else render(drawing.dot, name, program)


def _look(places: list[Target], colour: Colour) -> Look:
    """How a text is to look: a file is plain and 80 cells wide."""
    from interlock.cli.work import look_of
    from interlock.report.as_text import PLAIN

    return look_of(colour) if any(place.path is None for place in places) else PLAIN


def _targets(format: str | None, outputs: list[str], spec: str, picture: str) -> list[Target]:
    """Where to, and in which format: told by the ending of a file, or before a `=`."""
    found = []
    known = FORMATS_OF_TIMES if picture == "times" else FORMATS
    for typed in outputs:
        name, equals, file = typed.partition("=")
        if not equals or name not in known:
            name, file = SUFFIXES.get(Path(typed).suffix.lower(), ""), typed
        if name and name not in known:
            raise Refusal(
                f"`--output {typed}`: the picture `{picture}` is not written as {name}",
                f"it is written as {' or '.join(known)}",
            )
        if not name or not file:
            endings = [suffix for suffix, one in SUFFIXES.items() if one in known]
            raise Refusal(
                f"`--output {typed}`: which format is meant?",
                f"let the file end in {', '.join(endings)}, or write `--output svg={file or 'FILE'}`",
            )
        found.append(Target(name, None if file == "-" else Path(file)))
    if format is not None:
        found.append(Target(format_named(format, known, "--format"), None))
    elif not found:
        found.append(Target(FORMATS[0], None))
    shown = [target for target in found if target.path is None]
    if len(shown) > 1:
        raise Refusal("two pictures cannot both go to standard output", "send one of them to a file")
    if shown and shown[0].format == "png" and shown_on_terminal():
        raise Refusal("a PNG cannot be shown on a terminal", "write it to a file: `--output picture.png`")
    refuse_files([target.path for target in found if target.path is not None], spec)
    return found


def _refuse_strangers(picture: str, options: dict[str, dict[str, object]]) -> None:
    """Refuse a picture that does not exist, and options that another one would need."""
    if picture not in PICTURES:
        raise Refusal(
            f"there is no picture `{picture}`",
            meant(picture, PICTURES) or f"the pictures are {', '.join(PICTURES)}",
        )
    for other, named in options.items():
        for option, value in named.items():
            if value is not None and option not in options[picture]:
                raise Refusal(
                    f"`{option}` says nothing about the picture `{picture}`",
                    f"name the picture: `interlock draw SPEC {other} {option} ...`",
                )


def _options(
    failures: int | None, states: int | None, engine: str | None, progress: Progress, *, merging: bool
) -> Options:
    """How to search: for a scenario with the limits of `find`, to merge within what can be gone through one by one."""
    from interlock.analysis.options import Options
    from interlock.cli.searching import engine_named, limits
    from interlock.engines.api import Limits

    within = Limits(states or STATES, progress) if merging else limits(states, engine, progress)
    return Options(failures=failures, engine=engine_named(engine), limits=within)


def _sequences(spec: Spec, names: list[str] | None) -> tuple[str, ...]:
    known = [one.id for one in spec.sequences]
    if not known:
        raise Refusal("the spec has no logic, so there are no sequences to draw")
    for name in names or ():
        _refuse_unknown("--sequence", "sequence", name, known)
    return tuple(names or ())


def _chain(spec: Spec, loaded: Loaded, through: str | None) -> Drawing:
    from interlock import pipeline
    from interlock.analysis.drawing_cycle import NoCycle

    try:
        return pipeline.draw_chain(spec, loaded.sources, None if through is None else _step(spec, through))
    except NoCycle as found:
        raise Refusal(f"no permissive chain to draw: {found.headline}", found.cure) from None


def _step(spec: Spec, typed: str) -> tuple[str, str]:
    """The step that was named, alone or behind its sequence."""
    steps = [(sequence.id, step.name) for sequence in spec.sequences for step in sequence.steps]
    found = [one for one in steps if typed in (one[1], f"{one[0]} {one[1]}", f"{one[0]} is {one[1]}")]
    if len(found) > 1:
        cure = " or ".join(f'`--through "{sequence} {step}"`' for sequence, step in found)
        raise Refusal(f"`--through`: several sequences have a step `{typed}`", f"write {cure}")
    if not found:
        _refuse_unknown("--through", "step", typed, [step for _, step in steps])
    return found[0]


def _asked(spec: Spec, rule: str | None, to: str | None) -> str:
    if rule is not None and to is not None:
        raise Refusal("`--rule` and `--to` cannot both be drawn", "give one of them")
    if to is not None:
        return to
    known = [*(one.id for one in spec.hazards), *(one.id for one in spec.rules)]
    if rule is None and spec.expect:
        return spec.expect[0].id
    if rule is None:
        example = f"`--rule {known[0]}`" if known else "`--rule ID`"
        raise Refusal("which scenario is to be drawn?", f"name a rule or hazard: {example}, or a condition: `--to`")
    _refuse_unknown("--rule", "rule and no hazard", rule, known)
    return rule


def _things(spec: Spec, by: str | None) -> tuple[str, ...]:
    from interlock.analysis.drawing_situations import things_of

    known = things_of(spec)
    if by is None:
        example = ",".join([*(one.id for one in spec.sequences[:1]), *(one.id for one in spec.items[:1])])
        raise Refusal("by what are situations to be merged?", f"name items or sequences: `--by {example}`")
    return _named(by, "--by", "item, sequence, memory, link or failure", known)


def _lanes(spec: Spec, typed: str) -> tuple[str, ...]:
    from interlock.analysis.drawing_times import lanes_of

    return _named(typed, "--lanes", "item, sequence, memory, reading or command", lanes_of(spec))


def _named(typed: str, option: str, sorts: str, known: tuple[str, ...]) -> tuple[str, ...]:
    """The names of a list with commas between."""
    names = list(dict.fromkeys(" ".join(part.split()) for part in typed.split(",") if part.strip()))
    if not names:
        raise Refusal(f"`{option}` names nothing", "name items or sequences, with commas between")
    for name in names:
        _refuse_unknown(option, sorts, name, list(known))
    return tuple(names)


def _refuse_unknown(option: str, sort: str, name: str, known: list[str]) -> None:
    if name not in known:
        few = ", ".join(known[:12]) + (" and more" if len(known) > 12 else "")
        raise Refusal(
            f"`{option}`: the spec has no {sort} `{name}`",
            meant(name, known) or f"the spec has {few or 'none at all'}",
        )


COMMAND = Command("draw", HELP, work)
