"""Is there a way to a condition? The question a drafter asks most, for each number of failures, fewest first."""

from __future__ import annotations

from dataclasses import replace

from interlock.analysis.check import heading_of
from interlock.analysis.grid import in_time
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
    unless_timing = False
    for failures in range((options.failures or 0) + 1):
        question = Question(ID, budget=failures)
        answer = inquiry.ask(question)
        timing = Timing.ANY
        if answer.verdict is Verdict.HOLDS and answer.windows:
            (declared,) = inquiry.ask_in_time((in_time(question),))
            unless_timing = declared.verdict is Verdict.UNDECIDED
            if not unless_timing:
                answer, timing = declared, Timing.DECLARED
            else:
                answer = replace(answer, limit=declared.limit)
        cells.append(Cell(failures, False, timing, True, answer.verdict, answer.told, answer.limit, answer.engine))
        if answer.verdict is not Verdict.FAILS:
            break
    last = cells[-1]
    verdict = Verdict.UNDECIDED if unless_timing else last.verdict
    use = EngineUse(last.engine, last.failures, (), None, None, None, last.limit, timing=last.timing)
    code = {Verdict.HOLDS: 0, Verdict.FAILS: 1, Verdict.UNDECIDED: 3}[verdict]
    return FindResult(heading_of(spec, system), text, verdict, code, tuple(cells), unless_timing, use)
