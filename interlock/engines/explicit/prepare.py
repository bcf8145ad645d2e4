"""What a group of questions needs: rows, probes, layout, tables. In: a system and questions. Out: a ground to explore.

Questions under one overlay, one set of allowed failures and one list of cutting rules share a ground, rules on events
too, unless a rule needs a flag of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.system import Property, PropertyKind, System, Variable
from interlock.engines.explicit.arrays import U64
from interlock.engines.explicit.codes import codes_for
from interlock.engines.explicit.layout import Layout, Packed
from interlock.engines.explicit.levels import Walker
from interlock.engines.explicit.rows import ALL_TIERS, SETTLED, Probe, Rows, marked, on_events
from interlock.engines.explicit.store import Ground
from interlock.engines.explicit.tables import tables_of
from interlock.logic.expression import TRUE, has

ON_RUNS = (PropertyKind.NEVER, PropertyKind.BEFORE, PropertyKind.POSSIBLE)


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers of the probes of one question; None: it has none. `by_event`: they are of situations before an event
    that is an end, `failing` where that event is a failure. For `always_possible`: of the condition, of all settled
    situations."""

    probe: int | None
    failing: int | None
    by_event: bool


@dataclass(frozen=True, slots=True)
class Pieces:
    """What a group of questions asks, in rows and probes: everything but where it stands in a key."""

    meaning: Meaning
    rows: Rows
    cuts: tuple[Property, ...]
    probes: list[Probe]
    cut_any: list[Probe]
    cut_settled: list[Probe]
    numbers: tuple[Numbers, ...]
    rules: tuple[Property, ...] = ()
    extra: tuple[Variable, ...] = ()

    @staticmethod
    def of(system: System, questions: list[Question]) -> Pieces:
        """The pieces for questions that share a ground; see `needs_flag`."""
        first = questions[0]
        budget = max(question.budget for question in questions)
        meaning = Meaning(system, Question(first.property, budget=budget, allowed=first.allowed, overlay=first.overlay))
        cuts = tuple(map(meaning.system.property, first.cut))
        rules = [meaning.system.property(question.property) for question in questions]
        own = rules[0] if needs_flag(rules[0], cuts) else None
        rows = Rows(meaning, codes_for(meaning), own, cuts)
        probes: list[Probe] = []
        numbers = tuple(_probes(rows, rule, i, cuts, probes) for i, rule in enumerate(rules))
        cutting = [
            [p for cut in cuts if not on_events(cut) and cut.passing is passing
             for p in rows.on_situations(0, ALL_TIERS, cut.condition)]
            for passing in (True, False)
        ]  # fmt: skip
        return Pieces(meaning, rows, cuts, probes, cutting[0], cutting[1], numbers, tuple(rules))

    def prepared(self, places: tuple[str, ...] = (), least_words: int = 1) -> Prepared:
        """The ground. `places`: the variables whose bits are the place in a block."""
        flags = (*(flag.variable for flag in self.rows.flags), *self.extra)
        layout = Layout(self.meaning.system.variables, self.rows.codes, flags, places, least_words)
        tables = tables_of(layout, self.rows.rows, self.probes, self.cut_any, self.cut_settled)
        return Prepared(self, Ground.of(layout, tables))


@dataclass(slots=True)
class Prepared:
    """A ground with the starts of some questions: each with the failures spent, and the rules on events (ids) that end
    a run at once."""

    pieces: Pieces
    ground: Ground
    starts: tuple[tuple[Packed, int, frozenset[str]], ...] = ()

    def __post_init__(self) -> None:
        walker = self.walker(None)
        asked = [self.walker(rule) for rule in dict.fromkeys(self.pieces.rules) if on_events(rule)]
        self.starts = tuple(
            (self.ground.layout.pack(state.valuation, state.spent, walker.start(state)), state.spent,
             frozenset(one.rule.id for one in asked if one.rule is not None and one.ends_at_start(state)))
            for state in self.meaning.starts()
            if not walker.cut_at_start(state)
        )  # fmt: skip

    @property
    def meaning(self) -> Meaning:
        """The meaning with the largest budget of the questions."""
        return self.pieces.meaning

    def start_log(self) -> U64:
        """The starts as a log."""
        return self.ground.log_of([packed for packed, _, _ in self.starts])

    def walker(self, rule: Property | None) -> Walker:
        """A walker of runs that a rule on events may end."""
        return Walker(self.meaning, self.ground, self.pieces.rows.flags, self.pieces.cuts, rule)


def needs_flag(rule: Property, cuts: tuple[Property, ...]) -> bool:
    """Whether the runs of a rule are told apart by a flag of its own."""
    return rule.kind is PropertyKind.BEFORE or (rule.kind in ON_RUNS and marked(rule, cuts))


def _probes(rows: Rows, rule: Property, i: int, cuts: tuple[Property, ...], probes: list[Probe]) -> Numbers:
    number = 2 * i
    if rule.kind is PropertyKind.ALWAYS_POSSIBLE:
        probes += rows.on_situations(number, ALL_TIERS if rule.passing else SETTLED, rule.condition)
        probes += rows.on_situations(number + 1, SETTLED, TRUE)
        return Numbers(number, number + 1, False)
    if marked(rule, cuts):
        flag = next(flag for flag in rows.flags if flag.marks)
        probes += rows.on_situations(number, ALL_TIERS, has(flag.variable.name, (1,), 2))
        return Numbers(number, None, False)
    if on_events(rule):
        probes += rows.on_event(number, rule)
        return Numbers(number, number + 1, True)
    probes += rows.on_situations(number, ALL_TIERS if rule.passing else SETTLED, rule.condition)
    return Numbers(number, None, False)
