"""Conditions, times and changes as the author wrote them, for pictures.

In: pieces of a spec and the texts they were read from. Out: one line of text each. Where the text is not at hand the
time is told in its best unit, and a condition by its name only.
"""

from __future__ import annotations

from collections.abc import Iterable

from interlock.core.show import value_text
from interlock.diag.place import Sources, Span
from interlock.logic.formula import Condition, Const, Formula, Is, Ref, Sum, operands_of
from interlock.spec.model import SetTo, Spec, Window
from interlock.spec.quantities import exact, show_time


def written(span: Span | None, sources: Sources) -> str | None:
    """The text of a span, brought on one line; None if its file is not at hand."""
    if span is None or span.file not in sources.texts:
        return None
    lines = sources.texts[span.file].split("\n")[span.line - 1 : span.end_line]
    if not lines:
        return None
    lines[-1] = lines[-1][: span.end_column - 1]
    lines[0] = lines[0][span.column - 1 :]
    text = " ".join(" ".join(lines).split())
    if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1]
    return text


def condition_text(formula: Formula, sources: Sources) -> str:
    """A condition in the author's words."""
    text = written(getattr(formula, "span", None), sources)
    if text:
        return _closed(text)
    match formula:
        case Condition(id):
            return id
        case Const(value):
            return value_text(value)
        case Is(ref, values):
            return f"{ref.id} is {' or '.join(map(value_text, values))}"
        case _:
            return "(see the spec)"


def _closed(text: str) -> str:
    """A text with the brackets at its ends that belong to its parts, which a place does not take in."""
    left, depth = 0, 0
    for character in text:
        depth += {"(": 1, ")": -1}.get(character, 0)
        if depth < 0:
            left, depth = left + 1, 0
    return "(" * left + text + ")" * depth


def named_in(formulas: Iterable[Formula], spec: Spec, sources: Sources) -> tuple[tuple[str, str], ...]:
    """The named conditions that formulas speak of, and those that these speak of, with what they stand for, in the
    order in which they are met. Conditions of like instances that stand for the same are told once, by the last word
    of their names. Cost: formulas and conditions once."""
    meaning = {id: formula for id, formula, _ in spec.conditions}
    met: dict[str, str] = {}
    waiting = list(formulas)
    while waiting:
        formula = waiting.pop(0)
        waiting = [*operands_of(formula), *waiting]
        if isinstance(formula, Condition) and formula.id not in met:
            met[formula.id] = condition_text(meaning[formula.id], sources)
            waiting.append(meaning[formula.id])
    told: dict[str, str] = {}
    for id, text in met.items():
        last = id.rpartition(" ")[2]
        told[last if told.get(last, text) == text else id] = text
    return tuple(told.items())


def window_text(window: Window | None, sources: Sources) -> str:
    """A time in the author's words; a parameter with its value beside it. Empty for None."""
    if window is None:
        return ""
    text = written(window.span, sources)
    if text and any(character.isdigit() for character in text.split("..")[0]):
        return text
    value = _valued(window)
    return f"{text} ({value})" if text and text != value else value


def _valued(window: Window) -> str:
    """A window in its best unit; one that ends within minutes in seconds throughout."""
    times = [window.earliest_s] if window.latest_s is None else [window.earliest_s, window.latest_s]
    told = [show_time(time) for time in times]
    if any(" s" in one for one in told):
        told = [f"{exact(time)} s" if time >= 1 else one for time, one in zip(times, told, strict=True)]
    earliest = ("over " if window.earliest_open else "") + told[0]
    if window.latest_s is None:
        return f"{earliest} .. never"
    latest = ("under " if window.latest_open else "") + told[1]
    return latest if window.latest_s == window.earliest_s else f"{earliest} .. {latest}"


def set_text(change: SetTo, sequence: str) -> str:
    """What a memory is set to: `cause := fault`."""
    name = change.memory.removeprefix(f"{sequence} ")
    match change.to:
        case Sum(constant, parts):
            told = [f"{'+' if sign > 0 else '-'} {ref.id.removeprefix(f'{sequence} ')}" for sign, ref in parts]
            if constant or not told:
                told.append(f"{'-' if constant < 0 else '+'} {abs(constant)}")
            return f"{name} := {' '.join(told).removeprefix('+ ')}"
        case Ref(_, id):
            return f"{name} := {id.removeprefix(f'{sequence} ')}"
        case value:
            return f"{name} := {value_text(value)}"
