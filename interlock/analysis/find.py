"""Is there a way to a condition? The question a drafter asks most, for each number of failures, fewest first."""

from __future__ import annotations

from dataclasses import replace

from interlock.analysis.check import heading_of
from interlock.analysis.grid import NOT_EXPLORED
from interlock.analysis.inquiry import Inquiry
from interlock.analysis.options import Options
from interlock.analysis.result import Cell, EngineUse, FindResult
from interlock.core.elaborate import elaborate, expression_of
from interlock.core.question import Question, Timing, Verdict
from interlock.core.system import Property, PropertyKind
from interlock.engines.table import pick
from interlock.logic.expression import has_was
from interlock.logic.formula import Formula
from interlock.spec.model import Spec

ID = "what was asked for"


def find(spec: Spec, formula: Formula, text: str, options: Options) -> FindResult:
    """Look for a way to `formula` (its names resolved in the spec; `text` as the user wrote it) with 0 up to
    `options.failures` failures (None: 0), stopping at the first number with a way. Exit code 0: there is a way;
    1: there is none; 3: undecided, or found only for any timing while windows bear on it."""
    system = elaborate(spec)
    condition = expression_of(spec, formula)
    asked = Property(ID, PropertyKind.POSSIBLE, False, condition, every_event=has_was(condition))
    system = replace(system, properties=(*system.properties, asked))
    inquiry = Inquiry(system, pick(options.engine), options.limits)
    cells: list[Cell] = []
    windows = False
    for failures in range((options.failures or 0) + 1):
        answer = inquiry.ask(Question(ID, budget=failures))
        windows = answer.windows
        found = answer.verdict is Verdict.HOLDS
        limit = answer.limit or (NOT_EXPLORED if found and windows else None)
        cells.append(Cell(failures, False, Timing.ANY, True, answer.verdict, answer.told, limit, answer.engine))
        if found or answer.verdict is Verdict.UNDECIDED:
            break
    last = cells[-1]
    rests = windows and last.verdict is Verdict.HOLDS
    verdict = Verdict.UNDECIDED if rests else last.verdict
    use = EngineUse(last.engine, last.failures, (), None, None, None, last.limit)
    code = {Verdict.HOLDS: 0, Verdict.FAILS: 1, Verdict.UNDECIDED: 3}[verdict]
    return FindResult(heading_of(spec, system), text, verdict, code, tuple(cells), rests, use)
