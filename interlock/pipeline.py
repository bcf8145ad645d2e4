"""The stages in their order: read, build, elaborate, answer, analyse, report.

In: the bytes of a spec. Out: a report. Each stage is a function from value to value and does its imports on use, so
that a mistake in a spec is told before anything slow is loaded. Elaborating and answering happen inside the analyses,
which ask many questions of several cores; they stand here by themselves for those who want a core alone.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from interlock.spec.files import Reader, nothing_beside

if TYPE_CHECKING:
    from interlock.analysis.drawing_search import NoScenario
    from interlock.analysis.options import Options
    from interlock.analysis.result import CheckResult, FindResult
    from interlock.analysis.result_stop import TimingResult
    from interlock.analysis.timing import Between
    from interlock.core.dump import Json
    from interlock.core.question import Answer, Question
    from interlock.core.system import System
    from interlock.diag.diagnostic import Diagnostic
    from interlock.diag.place import Sources
    from interlock.engines.api import Limits
    from interlock.logic.formula import Formula
    from interlock.machine.exercise import Exercise
    from interlock.report.as_text import Look
    from interlock.spec.model import Spec


@dataclass(frozen=True, slots=True)
class Loaded:
    """A spec that was read and built; None after a mistake. `sought`: the formula of a condition that is looked for, or
    of the first of several; `also_sought`: those of the others."""

    spec: Spec | None
    mistakes: tuple[Diagnostic, ...]
    sources: Sources
    sought: Formula | None = None
    also_sought: tuple[Formula, ...] = ()


# --- read and build ---


def load(data: bytes, name: str, reader: Reader = nothing_beside) -> Loaded:
    """Read and build. `name`: the name under which places are told. `reader`: reads what a draft is based on."""
    from interlock.spec import load_text

    spec, bag, sources = load_text(data, name, reader)
    return Loaded(spec, bag.sorted(), sources)


def load_with_condition(data: bytes, name: str, condition: str, place: str, reader: Reader = nothing_beside) -> Loaded:
    """As `load`, with a condition read in the words of the spec; `place` is its name in mistakes."""
    from interlock.spec.sought import load_sought

    spec, formula, bag, sources = load_sought(data, name, condition, place, reader)
    return Loaded(spec, bag.sorted(), sources, formula)


def load_with_conditions(
    data: bytes, name: str, conditions: tuple[tuple[str, str], ...], reader: Reader = nothing_beside
) -> Loaded:
    """As `load_with_condition`, with several: each the name of its place in mistakes, and its text."""
    from interlock.spec.sought import load_conditions

    spec, formulas, bag, sources = load_conditions(data, name, conditions, reader)
    return Loaded(spec, bag.sorted(), sources, formulas[0] if formulas else None, formulas[1:])


# --- elaborate ---


def elaborate(spec: Spec) -> System:
    """The core of a spec as declared."""
    from interlock.core.elaborate import elaborate

    return elaborate(spec)


def system_text(system: System) -> str:
    """A core as `interlock.system/1`."""
    from interlock.core.dump import dump

    return json.dumps(dump(system), indent=1, ensure_ascii=False) + "\n"


# --- answer ---


def answer(system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
    """What the engine that is taken by itself says to questions about a core."""
    from interlock.engines.table import pick

    return pick(None).answer(system, questions, limits)


# --- analyse ---


def check(spec: Spec, options: Options) -> CheckResult:
    """Judge every rule and hazard, and the spec itself."""
    from interlock.analysis.check import check

    return check(spec, options)


def find(spec: Spec, sought: Formula, condition: str, options: Options) -> FindResult:
    """Look for a way to a condition; `condition` is its text."""
    from interlock.analysis.find import find

    return find(spec, sought, condition, options)


def timing(spec: Spec, between: Between | None, options: Options, *, only_stop: bool = False) -> TimingResult:
    """Measure times: from one condition to another, or (None) those that the time limits of the spec speak of, and its
    stop budget (`only_stop`: that alone)."""
    from interlock.analysis.timing import timing

    return timing(spec, between, options, only_stop=only_stop)


def exercise(spec: Spec, *, runs: int, length: int, seed: int, failures: int | None) -> Exercise:
    """Walk the executable machine at random."""
    from interlock.machine.exercise import exercise

    return exercise(spec, runs=runs, length=length, seed=seed, budget=failures)


# --- draw ---


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture as DOT text, or (`dot` empty) one that is no graph, as SVG and as plain text. `n_boxes`: as a drawing
    it would have had so many boxes, so it is a table (None: it is drawn). `limit`: which limit was hit, so that the
    picture is incomplete (None: it is complete)."""

    dot: str
    n_boxes: int | None = None
    limit: str | None = None
    svg: str = ""
    text: str = ""


def draw_sequences(spec: Spec, sources: Sources, only: tuple[str, ...]) -> Drawing:
    """The sequences, or those of some ids."""
    from interlock.analysis.drawing_sequences import sequences_picture
    from interlock.report.dot_table import sequences_or_table

    return Drawing(*sequences_or_table(sequences_picture(spec, sources, only)))


def draw_chain(spec: Spec, sources: Sources, through: tuple[str, str] | None) -> Drawing:
    """The permissive chain. NoCycle (of `interlock.analysis.drawing_cycle`) if there is none."""
    from interlock.analysis.drawing_chain import chain_picture
    from interlock.report.dot_chain import render_chain

    return Drawing(render_chain(chain_picture(spec, sources, through)))


def draw_scenario(spec: Spec, asked: str, sought: Formula | None, options: Options) -> Drawing | NoScenario:
    """How the rule or hazard `asked` is broken, or the way to the condition `sought`, of which `asked` is the text."""
    from interlock.analysis.drawing_scenario import rule_scenario, sought_scenario
    from interlock.analysis.drawing_search import NoScenario
    from interlock.report.dot_scenario import render_scenario

    found = rule_scenario(spec, asked, options) if sought is None else sought_scenario(spec, sought, asked, options)
    return found if isinstance(found, NoScenario) else Drawing(render_scenario(found))


def draw_times(
    spec: Spec, asked: str, sought: Formula | None, options: Options, look: Look, only: tuple[str, ...] = ()
) -> Drawing | NoScenario:
    """As `draw_scenario`, in the declared timing, against an axis of time. `only`: names of lanes (empty: all)."""
    from interlock.analysis.drawing_search import NoScenario
    from interlock.analysis.drawing_times import rule_times, sought_times
    from interlock.report.svg_times import render_times
    from interlock.report.times_text import times_text

    if sought is None:
        found = rule_times(spec, asked, only, options)
    else:
        found = sought_times(spec, sought, asked, only, options)
    if isinstance(found, NoScenario):
        return found
    return Drawing("", svg=render_times(found), text=times_text(found, colour=look.colour, width=look.width))


def draw_situations(spec: Spec, by: tuple[str, ...], options: Options) -> Drawing:
    """Situations merged by some things."""
    from interlock.analysis.drawing_situations import situations_picture
    from interlock.report.dot_table import situations_or_table

    picture = situations_picture(spec, by, options)
    return Drawing(*situations_or_table(picture), limit=picture.limit)


# --- report ---


def check_report(
    result: CheckResult, sources: Sources, format: str, look: Look, *, quiet: bool, statistics: dict[str, Json] | None
) -> str:
    """A check in a format: `text`, `json` or `junit`. `quiet`: of the text its first line alone."""
    if format == "json":
        from interlock.report.as_json import render_check

        return render_check(result, statistics)
    if format == "junit":
        from interlock.report.as_junit import render as render_junit

        return render_junit(result)
    from interlock.report.as_text import render, verdict_line

    return verdict_line(result, colour=look.colour) if quiet else render(result, sources, look, statistics)


def find_report(result: FindResult, format: str, look: Look, *, quiet: bool) -> str:
    """A search in a format: `text` or `json`."""
    if format == "json":
        from interlock.report.as_json import render_find as render_find_json

        return render_find_json(result)
    from interlock.report.find_text import render_find

    return render_find(result, look, quiet=quiet)


def timing_report(result: TimingResult, format: str, look: Look, *, quiet: bool) -> str:
    """Measured times in a format: `text` or `json`."""
    if format == "json":
        from interlock.report.timing_json import render_timing as render_timing_json

        return render_timing_json(result)
    from interlock.report.timing_text import render_timing

    return render_timing(result, look, quiet=quiet)


def exercise_report(done: Exercise, spec: Spec, look: Look, *, quiet: bool) -> str:
    """Random walks as text."""
    from interlock.report.exercise_text import render_exercise

    return render_exercise(done, spec, look, quiet=quiet)
