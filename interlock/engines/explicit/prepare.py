"""What a group of questions needs: rows, probes, layout, tables. In: a system and questions. Out: a ground to explore.

Questions under one overlay, one set of allowed failures and one list of cutting rules share a ground, unless a rule
needs a flag of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.system import Property, PropertyKind, System
from interlock.engines.explicit.codes import codes_for
from interlock.engines.explicit.layout import Layout, Packed
from interlock.engines.explicit.levels import Walker
from interlock.engines.explicit.rows import ALL_TIERS, SETTLED, Probe, Rows, marked, on_events
from interlock.engines.explicit.store import Ground
from interlock.engines.explicit.tables import tables_of
from interlock.logic.expression import has

ON_RUNS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE)


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers of the probes of one question; None: it has none. `by_event`: they are of situations before an event
    that is an end."""

    probe: int | None
    failing: int | None
    by_event: bool


@dataclass(frozen=True, slots=True)
class Prepared:
    """A ground with the starts and probes of some questions."""

    meaning: Meaning
    rows: Rows
    ground: Ground
    cuts: tuple[Property, ...]
    numbers: tuple[Numbers, ...]
    starts: tuple[tuple[Packed, int, bool], ...]

    def walker(self, rule: Property | None) -> Walker:
        """A walker of runs that a rule on events may end."""
        return Walker(self.meaning, self.ground, self.rows.flags, self.cuts, rule)


def needs_flag(rule: Property, cuts: tuple[Property, ...]) -> bool:
    """Whether the runs of a rule are told apart by a flag of its own."""
    return rule.kind is PropertyKind.BEFORE or (rule.kind in ON_RUNS and marked(rule, cuts))


def prepare(system: System, questions: list[Question], low: tuple[str, ...] = (), least_words: int = 1) -> Prepared:
    """The ground for questions that share one; see `needs_flag`. `low`: the variables whose bits are the place in a
    block."""
    first = questions[0]
    budget = max(question.budget for question in questions)
    meaning = Meaning(system, Question(first.property, budget=budget, allowed=first.allowed, overlay=first.overlay))
    cuts = tuple(map(meaning.system.property, first.cut))
    rules = [meaning.system.property(question.property) for question in questions]
    own = rules[0] if needs_flag(rules[0], cuts) else None
    codes = codes_for(meaning)
    rows = Rows(meaning, codes, own, cuts)
    probes: list[Probe] = []
    numbers = tuple(_probes(rows, rule, i, cuts, probes) for i, rule in enumerate(rules))
    cut_any, cut_settled = _cutting(rows, cuts)
    layout = Layout(meaning.system.variables, codes, tuple(flag.variable for flag in rows.flags), low, least_words)
    ground = Ground.of(layout, tables_of(layout, rows.rows, probes, cut_any, cut_settled))
    made = Prepared(meaning, rows, ground, cuts, numbers, ())
    return Prepared(meaning, rows, ground, cuts, numbers, _starts(made, rules[0], layout))


def _probes(rows: Rows, rule: Property, i: int, cuts: tuple[Property, ...], probes: list[Probe]) -> Numbers:
    number = 2 * i
    if rule.kind not in ON_RUNS:
        return Numbers(None, None, False)
    if marked(rule, cuts):
        flag = next(flag for flag in rows.flags if flag.marks)
        probes += rows.on_situations(number, ALL_TIERS, has(flag.variable.name, (1,), 2))
        return Numbers(number, None, False)
    if on_events(rule):
        probes += rows.on_event(number, rule)
        return Numbers(number, number + 1, True)
    probes += rows.on_situations(number, ALL_TIERS if rule.passing else SETTLED, rule.condition)
    return Numbers(number, None, False)


def _cutting(rows: Rows, cuts: tuple[Property, ...]) -> tuple[list[Probe], list[Probe]]:
    plain = [cut for cut in cuts if not on_events(cut)]
    return tuple(
        [probe for cut in plain if cut.passing is passing for probe in rows.on_situations(0, ALL_TIERS, cut.condition)]
        for passing in (True, False)
    )  # type: ignore[return-value]


def _starts(made: Prepared, rule: Property, layout: Layout) -> tuple[tuple[Packed, int, bool], ...]:
    """Starts with the failures spent, and whether a rule on events ends the run at once."""
    walker = made.walker(rule)
    return tuple(
        (layout.pack(state.valuation, state.spent, walker.start(state)), state.spent, walker.ends_at_start(state))
        for state in made.meaning.starts()
        if not walker.cut_at_start(state)
    )
