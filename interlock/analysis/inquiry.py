"""Asking engines about one system: each question on its slice, answers lifted back, told, and cross-checked.

A small part is answered by the reference engine as well; if the two disagree, that is a fault of ours and is raised.

For the declared timing a slice that keeps all that restarts a kept age allows every run of the whole at the same times,
since what is kept looks at kept variables alone: what no run of the slice breaks, no run of the whole does. The other
way round, a run of the slice can be led through the whole where what is dropped always settles and never stops time.
An obliged event whose guard is true may always happen by its latest, so what is dropped can stop time only by endless
events in a bounded time; and that it need not do where none of its obliged events has a latest of 0: let each happen at
its latest (or as near to it as one likes), then in less than the smallest latest none happens twice. Where one has a
latest of 0, what a slice finds is asked of the whole. Scenarios are told on the slice: what is left out happens beside
them.

`always_possible` needs both ways, and only so is asked of a slice: from every place of the whole a way of the slice can
be led through it, and to every place of the slice a run of the whole leads. `always_ends` that holds on a slice holds
in the whole, for any and for the declared timing, if what is dropped settles and restarts nothing that is kept: a run
of the whole that never ends is one of the slice as well, which leaves out nothing but obligations.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from interlock.analysis.result import ToldScenario
from interlock.analysis.telling import Observed, tell
from interlock.core.overlay import with_overlay
from interlock.core.question import NO_OVERLAY, Answer, Bound, Margin, Question, Verdict
from interlock.core.settling import settles_by_itself
from interlock.core.slice import Slice, lift, slice_for
from interlock.core.system import ON_GRAPHS, Action, ActionKind, Property, PropertyKind, System, Tier
from interlock.engines.api import Engine, EngineFault, Limits
from interlock.engines.ends import in_order
from interlock.engines.replay import replay
from interlock.engines.table import ENGINES, MANY, SOME, in_time, in_time_on_graphs, regions, ways, zones

SAFE_TO_SLICE = (PropertyKind.NEVER, PropertyKind.BEFORE)
CROSS_CHECKED_STATES = 300
NOT_IN_TIME = "undecided until declared timing is explored for rules of this kind"
TIMED_STATES = 5_000_000
"""For the declared timing: zones of ages, and situations in plain Python, where nobody gives a limit."""

TIMED_IN_ARRAYS = 120_000_000
"""The same for situations in arrays, which take up to 12 GB then."""

SURE_WAYS = 100_000_000
"""For the proof over arrays that a way leads on whatever the ages are: situations with no failure, or with one, at a
time. Some 6 GB."""

STEPS_OF_TIME = 6_000_000
"""For `always_ends` in the declared timing, where nobody gives a limit: situations with their ages times events."""

GRAPH_STATES = 10_000_000
"""What needs the ways between situations as well, and what cannot be asked of a slice but of the whole alone, which can
be very much larger: so far and no further, where nobody gives a limit."""


@dataclass(frozen=True, slots=True)
class Asked:
    """An answer on the whole system. `windows`: some window bears on the question, so that declared timing may say
    otherwise. `told`: the scenario in words. `rests_on`: for the declared timing, the ends of windows that the verdict
    rests on (None: not known), `clocks`: how many were needed."""

    question: Question
    verdict: Verdict
    windows: bool
    told: ToldScenario | None
    limit: str | None
    engine: str
    rests_on: tuple[Bound, ...] | None = None
    clocks: int | None = None


@dataclass(slots=True)
class Inquiry:
    """Asks about one system.

    `settles`: it is known that tiers 0 and 1 always settle, so that slices are exact for "possible" and "always
    possible" too; until then that is looked for in what a slice drops, and only "never" and "before" do without.
    "Always ends" is asked of the whole where a slice does not show that it holds: a run may stop only where nothing
    obliged is left in the whole.
    `observed`: conditions whose values scenarios tell.
    """

    system: System
    engine: Engine
    limits: Limits
    settles: bool = False
    _parts: dict[tuple[str, ...], Slice] = field(default_factory=dict)
    _settling: dict[tuple[str, ...], bool] = field(default_factory=dict)
    observed: Observed = field(default=(), kw_only=True)

    def part(self, question: Question) -> Slice:
        """The slice for a question (with its overlay laid over the whole)."""
        if question.overlay != NO_OVERLAY:
            return slice_for(with_overlay(self.system, question.overlay), (question.property, *question.cut))
        key = (question.property, *question.cut)
        if key not in self._parts:
            self._parts[key] = slice_for(self.system, key)
        return self._parts[key]

    def part_in_time(self, question: Question) -> Slice:
        """The slice for a question if, for the declared timing, what it says is true of the whole both ways; else the
        whole."""
        part = self.part(question)
        exact = _keeps_ages(part) and _lets_time_pass(part) and self._rest_settles(part)
        return part if exact else self._whole(question)

    def windows_bear(self, question: Question) -> bool:
        """Whether any window bears on the question; if not, any timing and declared timing are one."""
        return self.part(question).bears_windows()

    def ask(self, question: Question) -> Asked:
        """The answer for any timing. EngineFault if engines disagree or a scenario does not replay."""
        (asked,) = self.ask_all((question,))
        return asked

    def ask_all(self, questions: tuple[Question, ...]) -> tuple[Asked, ...]:
        """The answers for any timing, in order. Questions with the same slice are put to the engine together, so that
        they can share an exploration."""
        groups: dict[tuple[object, ...], list[int]] = {}
        answers: dict[int, Asked] = {}
        for i, question in enumerate(questions):
            ended = self._ends_on_slice(question)
            if ended is not None:
                answers[i] = ended
                continue
            on_graphs = self.system.property(question.property).kind in ON_GRAPHS
            key = (question.overlay, self._asked_on(question).dropped, on_graphs)
            groups.setdefault(key, []).append(i)
        for members in groups.values():
            group = [questions[i] for i in members]
            part = self._asked_on(group[0])
            ids = tuple(dict.fromkeys(id for question in group for id in (question.property, *question.cut)))
            if part.dropped:
                part = slice_for(with_overlay(self.system, group[0].overlay), ids)
            plain = tuple(replace(question, overlay=NO_OVERLAY) for question in group)
            found = self.engine.answer(part.system, plain, self._limits_on(part, group))
            for i, question, answer in zip(members, group, found, strict=True):
                answers[i] = self._told(part, question, answer)
        return tuple(answers[i] for i in range(len(questions)))

    def _ends_on_slice(self, question: Question) -> Asked | None:
        """The answer to `always_ends` where a slice shows that it holds; else None."""
        if self.system.property(question.property).kind is not PropertyKind.ALWAYS_ENDS:
            return None
        part = self.part(question)
        if not part.dropped or not _keeps_ages(part) or not self._rest_settles(part):
            return None
        plain = replace(question, overlay=NO_OVERLAY)
        (answer,) = self.engine.answer(part.system, (plain,), self._limits_on(part, [question]))
        return self._told(part, question, answer) if answer.verdict is Verdict.HOLDS else None

    def ask_in_time(self, questions: tuple[Question, ...]) -> tuple[Asked, ...]:
        """The answers for the declared timing, in order; kinds that no engine decides so are undecided. Questions on
        the same slice with the same failures come one after the other, so that they can share what was explored."""

        def shares(i: int) -> tuple[object, ...]:
            question = questions[i]
            flagged = self.system.property(question.property).kind is PropertyKind.BEFORE
            return question.budget, self.part(question).dropped, question.allowed or (), flagged, i

        found = {i: self._in_time(questions[i]) for i in sorted(range(len(questions)), key=shares)}
        return tuple(found[i] for i in range(len(questions)))

    def _in_time(self, question: Question) -> Asked:
        part = self.part(question)
        on_graphs = self.system.property(question.property).kind in ON_GRAPHS
        if not _keeps_ages(part) or (on_graphs and not self._as_the_whole(part, question)):
            part = self._whole(question)
        asked = self._in_time_on(part, question)
        if asked.told is not None and not _lets_time_pass(part):
            return self._in_time_on(self._whole(question), question)
        return asked

    def _as_the_whole(self, part: Slice, question: Question) -> bool:
        """Whether a rule that is judged on graphs has the same verdict on a slice that keeps ages as in the whole."""
        kept = {action.id for action in part.system.actions}
        helped_by = self.system.property(question.property).helped_by
        # What must happen beside a way may be no repair: a way takes none.
        repairs = any(a.obliged and a.kind in (ActionKind.FAILURE, ActionKind.REPAIR) for a in _dropped_actions(part))
        return self._rest_settles(part) and _lets_time_pass(part) and kept.issuperset(helped_by) and not repairs

    def _in_time_on(self, part: Slice, question: Question) -> Asked:
        plain = replace(question, overlay=NO_OVERLAY)
        on_graphs = self.system.property(question.property).kind in ON_GRAPHS
        engines = in_time_on_graphs() if on_graphs else (in_time(),)
        engine = next((one for one in engines if one.decides(part.system, plain)), None)
        if engine is None:
            return Asked(question, Verdict.UNDECIDED, True, None, NOT_IN_TIME, "")
        (answer,) = engine.answer(part.system, (plain,), self._limits_in_time(part, plain))
        if answer.scenario is None:
            return Asked(
                question, answer.verdict, True, None, answer.limit, answer.engine, answer.rests_on, answer.clocks
            )
        if not self._rest_settles(part):
            limit = "the way found cannot be followed in the whole system, which may not settle"
            return Asked(question, Verdict.UNDECIDED, True, None, limit, answer.engine)
        told = tell(part.system, plain, answer.scenario, part.system.property(question.property), self.observed)
        return Asked(question, answer.verdict, True, told, answer.limit, answer.engine, answer.rests_on, answer.clocks)

    def margins(
        self,
        question: Question,
        asked: tuple[frozenset[Bound], ...],
        kept: frozenset[Bound],
    ) -> tuple[tuple[tuple[Margin, Margin], ...], ...]:
        """How far ends may move before a rule breaks that holds for the declared timing, each set of them together: for
        each way in which that may break it, relying on the ends `kept` alone, and on all.

        Asked of the slice where runs of it can be led through the whole, else of the whole, where much less may change.
        """
        part = self.part(question)
        kind = self.system.property(question.property).kind
        exact = _keeps_ages(part) and (
            self._as_the_whole(part, question)
            if kind in ON_GRAPHS
            else _lets_time_pass(part) and self._rest_settles(part)
        )
        if not exact:
            part = self._whole(question)
        there = {action.id for action in part.system.actions}
        inside = tuple(frozenset(end for end in ends if end.of in there) for ends in asked)
        limits = self._limits_in_time(part, question)
        if kind is PropertyKind.ALWAYS_POSSIBLE:
            both_ways = ways().margins(part.system, question, inside, limits, kept)
            found = tuple(tuple((one, one) for one in each) for each in both_ways)
        else:
            engine = regions() if kind is PropertyKind.ALWAYS_ENDS else zones()
            one_way = engine.margins(part.system, question, inside, limits, (kept, None))
            found = tuple(((relying, declared),) for relying, declared in one_way)
        return tuple(
            tuple(
                (replace(relying, ends=in_order(ends)), replace(declared, ends=in_order(ends)))
                for relying, declared in each
            )
            for each, ends in zip(found, asked, strict=True)
        )

    def _limits_in_time(self, part: Slice, question: Question) -> Limits:
        if self.limits.states not in (SOME, MANY):
            return self.limits
        kind = self.system.property(question.property).kind
        if kind not in ON_GRAPHS:
            return replace(self.limits, states=min(self.limits.states, TIMED_IN_ARRAYS), zones=TIMED_STATES)
        asked = self.system.property(question.property)
        states = TIMED_STATES if asked.passing or question.cut else SURE_WAYS
        if kind is PropertyKind.ALWAYS_ENDS:
            states = max(1, STEPS_OF_TIME // len(part.system.actions))
        return replace(self.limits, states=min(self.limits.states, states))

    def _whole(self, question: Question) -> Slice:
        whole = with_overlay(self.system, question.overlay)
        return Slice(whole, whole, ())

    def _asked_on(self, question: Question) -> Slice:
        kind = self.system.property(question.property).kind
        part = None if kind is PropertyKind.ALWAYS_ENDS else self.part(question)
        if part is not None and not (kind in SAFE_TO_SLICE or self._rest_settles(part)):
            part = None
        if part is None or not part.dropped:
            return self._whole(question)
        return part

    def _limits_on(self, part: Slice, group: list[Question]) -> Limits:
        on_graphs = any(self.system.property(q.property).kind in ON_GRAPHS for q in group)
        beyond_slices = not part.dropped and bool(self.part(group[0]).dropped)
        if self.limits.states == MANY and (on_graphs or beyond_slices):
            return replace(self.limits, states=GRAPH_STATES)
        return self.limits

    def _rest_settles(self, part: Slice) -> bool:
        if self.settles or not part.dropped:
            return True
        if part.dropped not in self._settling:
            self._settling[part.dropped] = settles_by_itself(part)
        return self._settling[part.dropped]

    def _told(self, part: Slice, question: Question, answer: Answer) -> Asked:
        """What an answer comes to: held against the reference, its scenario lifted, replayed and told."""
        asked = self.system.property(question.property)
        windows = self.windows_bear(question)
        plain = replace(question, overlay=NO_OVERLAY)
        self._cross_check(part, plain, answer)
        if answer.scenario is None:
            return Asked(question, answer.verdict, windows, None, answer.limit, answer.engine)
        whole_scenario = lift(part, plain, answer.scenario) if part.dropped else answer.scenario
        if whole_scenario is None:
            if not self.settles:
                limit = "the way found cannot be followed in the whole system, which may not settle"
                return Asked(question, Verdict.UNDECIDED, windows, None, limit, answer.engine)
            raise EngineFault(f"the scenario for {question.property} cannot be followed in the whole system")
        if part.dropped:
            complaint = replay(part.whole, plain, whole_scenario)
            if complaint is not None:
                raise EngineFault(f"the scenario for {question.property} does not replay: {complaint}")
        told = tell(part.whole, plain, whole_scenario, asked, self.observed)
        return Asked(question, answer.verdict, windows, told, answer.limit, answer.engine)

    def ask_about(self, asked: Property, question: Question) -> Asked:
        """Ask about a property that is not in the system, by its id in `question`."""
        other = Inquiry(
            replace(self.system, properties=(*self.system.properties, asked)), self.engine, self.limits, self.settles
        )
        return other.ask(question)

    def _cross_check(self, part: Slice, question: Question, answer: Answer) -> None:
        """Hold small answers against the reference engine."""
        counts = answer.counts
        if counts is None or counts.settled + counts.passing > CROSS_CHECKED_STATES or answer.engine == "reference":
            return
        reference = ENGINES["reference"]
        if not reference.decides(part.system, question):
            return
        (second,) = reference.answer(part.system, (question,), self.limits)
        same = (answer.verdict, answer.scenario) == (second.verdict, second.scenario)
        if Verdict.UNDECIDED not in (answer.verdict, second.verdict) and not same:
            raise EngineFault(
                f"engines disagree on {question.property} with {question.budget} failures: "
                f"{answer.engine} says {answer.verdict.value}, {second.engine} says {second.verdict.value}"
            )


def _dropped_actions(part: Slice) -> tuple[Action, ...]:
    kept = {action.id for action in part.system.actions}
    return tuple(action for action in part.whole.actions if action.id not in kept)


def _keeps_ages(part: Slice) -> bool:
    """Whether nothing dropped restarts, or owns, the age of something kept."""
    kept = {action.id for action in part.system.actions}
    owners = {action.ages_with for action in part.system.actions if action.ages_with}
    return not any(action.id in owners or kept.intersection(action.restarts) for action in _dropped_actions(part))


def _lets_time_pass(part: Slice) -> bool:
    """Whether what was dropped surely never stops time, if it settles: no obliged event of it has a latest of 0."""
    return not any(
        action.tier is Tier.OTHER and action.obliged and action.window is not None and action.window.latest == 0
        for action in _dropped_actions(part)
    )
