"""The stop budget: the phases of an ordinary stop, the energy that the train needs, the battery beside the line.

Every value is taken at its worse end: a stop that may be shorter, a need that may be larger.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from interlock.logic.formula import Formula
from interlock.spec.book import Book
from interlock.spec.fields import Fields, choice_of, fields, named_entries, peek, text_of, words_of
from interlock.spec.model import StopBattery, StopBudget, StopPhase
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.resolve import Resolver
from interlock.spec.scopes import Scope
from interlock.spec.units import COUNT, ENERGY, POWER, TIME, Dimension
from interlock.spec.uses import PHASE
from interlock.spec.windows import End, quantity_of, window_of

SECTION = "stop_budget"
_REQUIRED = ("stop", "phases", "charging", "needs", "power")
_OPTIONAL = ("words", "ramp_up", "ramp_down", "battery", "shorten_by")
_BATTERY = ("holds", "recharged_with", "next_train")
_SOMETHING = {POWER: "a power", ENERGY: "an energy", TIME: "a time", COUNT: "a number"}


def define_stop_budget(scope: Scope, book: Book) -> StopBudget | None:
    """The stop budget of the file; None if there is none, or after a mistake, which is told."""
    node = scope.sections.get(SECTION)
    if node is None:
        return None
    bag, what = book.bag, f"`{SECTION}`"
    at = node.entries[0][0].span if isinstance(node, Mapping) and node.entries else node.span
    found = fields(bag, node, what, at, required=_REQUIRED, optional=_OPTIONAL)
    if found is None:
        return None
    phases = tuple(_phases(found["phases"], scope, book))
    known = [phase.id for phase in phases]
    charging = choice_of(bag, found["charging"], f"`charging` of {what}", known, "") if known else ""
    for phase in phases if charging else ():
        _complete(phase, book, rest=phase.id == charging)

    def value(key: str, measures: Dimension, worse: End) -> Fraction | None:
        return _value(found, key, what, measures, worse, scope, book)

    stop, needs = value("stop", TIME, End.LOWER), value("needs", ENERGY, End.UPPER)
    power, most = value("power", POWER, End.LOWER), value("power", POWER, End.UPPER)
    ramps = [value(key, TIME, End.UPPER) or Fraction(0) for key in ("ramp_up", "ramp_down")]
    shorten_by = value("shorten_by", TIME, End.LOWER)
    battery = _battery(found, scope, book)
    if stop is None or needs is None or power is None or most is None or not charging:
        return None
    words = words_of(bag, found["words"], f"`words` of {what}")
    return StopBudget(
        words, stop, needs, power, most, ramps[0], ramps[1], phases, charging, battery, shorten_by, found.at
    )


def _value(
    found: Fields, key: str, what: str, measures: Dimension, worse: End, scope: Scope, book: Book
) -> Fraction | None:
    """A quantity above zero; None if it is not written or wrong (told)."""
    value = quantity_of(found[key], f"`{key}` of {what}", measures, scope, book, worse)
    if value is None:
        return None
    if value[0] == 0 and key not in ("ramp_up", "ramp_down"):
        told = f"`{key}` of {what} is zero"
        book.bag.add("number-out-of-range", told, value[1], "nothing", f"write {_SOMETHING[measures]} above zero")
        return None
    return value[0]


def _phases(node: Node | None, scope: Scope, book: Book) -> Iterator[StopPhase]:
    """The phases in their order. One without `from` begins where the one before ends."""
    before: Formula | None = None
    for key, entry in named_entries(book.bag, node, "`phases`", "a phase"):
        what = f"phase `{key.text}`"
        if peek(entry, "takes") is not None:
            found = fields(book.bag, entry, what, key.span, required=("takes",), optional=("words",))
            if found is not None:
                takes = window_of(found["takes"], f"`takes` of {what}", scope, book)
                words = words_of(book.bag, found["words"], f"`words` of {what}")
                yield StopPhase(key.text, words, None, None, None, takes, key.span)
            before = None
            continue
        found = fields(book.bag, entry, what, key.span, optional=("from", "until", "unless", "words"))
        if found is None:
            continue
        begins = _condition(found["from"], f"`from` of {what}", scope, book) or before
        before = ends = _condition(found["until"], f"`until` of {what}", scope, book)
        unless = _condition(found["unless"], f"`unless` of {what}", scope, book)
        words = words_of(book.bag, found["words"], f"`words` of {what}")
        if ends is None and "from" not in found:
            begins = None
        yield StopPhase(key.text, words, begins, ends, unless, None, key.span)


def _complete(phase: StopPhase, book: Book, *, rest: bool) -> None:
    """Tell what a phase lacks. `rest`: it may take what is left, if nothing is said of it."""
    nothing_said = phase.begins is None and phase.ends is None and phase.unless is None
    measured = phase.begins is not None and phase.ends is not None
    if phase.takes is not None or measured or (rest and nothing_said):
        return
    key = "until" if phase.ends is None else "from"
    cure = "as in `{from: ground is holding, until: ground is charging}`, or state a time: `{takes: 0 s .. 5 s}`"
    book.bag.add("missing-key", f"phase `{phase.id}` lacks `{key}`", phase.span, "not complete", cure)


def _condition(node: Node | None, what: str, scope: Scope, book: Book) -> Formula | None:
    scalar: Scalar | None = text_of(book.bag, node, what)
    return None if scalar is None else Resolver(book, scope, PHASE).read(scalar)


def _battery(found: Fields, scope: Scope, book: Book) -> StopBattery | None:
    node = found["battery"]
    if node is None:
        return None
    what = "the battery of the stop budget"
    entry = fields(book.bag, node, what, found.key("battery"), required=_BATTERY, optional=("efficiency",))
    if entry is None:
        return None
    holds = _value(entry, "holds", what, ENERGY, End.LOWER, scope, book)
    recharge = _value(entry, "recharged_with", what, POWER, End.LOWER, scope, book)
    interval = _value(entry, "next_train", what, TIME, End.LOWER, scope, book)
    efficiency = _value(entry, "efficiency", what, COUNT, End.LOWER, scope, book)
    if efficiency is not None and efficiency > 1:
        told = f"`efficiency` of {what} is more than 1"
        book.bag.add("number-out-of-range", told, entry.key("efficiency"), "out of range", "write `90 %`, or less")
        return None
    if holds is None or recharge is None or interval is None:
        return None
    return StopBattery(holds, recharge, interval, Fraction(1) if efficiency is None else efficiency)
