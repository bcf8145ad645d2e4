"""Random cores with random questions about them: the same seed gives the same case.

They look like what elaboration makes, in small: items with free and bound moves, items that follow, sequences that
react at once or decide slowly, priorities compiled into guards, timers that are restarted, readings, failures with
budget, repair, triggers and common causes. Expressions are wild, so that nothing rests on how specs are usually
written.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import prod
from random import Random

from interlock.core.question import Overlay, Question
from interlock.core.system import (
    ANY_AGE,
    Action,
    ActionKind,
    Assignment,
    Mode,
    Origin,
    Property,
    PropertyKind,
    System,
    TickWindow,
    Tier,
    Valuation,
    Variable,
    VariableKind,
)
from interlock.engines.api import Limits, Probe, Where
from interlock.logic.expression import (
    FALSE,
    TRUE,
    Expression,
    at_most,
    conjunction,
    disjunction,
    has,
    named,
    negate,
    was,
)

SOON = TickWindow(1, 3)

USUAL_LIMIT = 2_500
"""Under this limit everything else is asked."""

ENOUGH = 800
"""Combinations of the items of a large system; sequences, timers and failures multiply them."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and the limits under which it is asked."""

    question: Question
    limits: Limits


@dataclass(frozen=True, slots=True)
class Case:
    """A system, what is asked about it, and a probe that is seen where a priority really decides (None: there is
    none)."""

    seed: int
    system: System
    asked: tuple[Asked, ...]
    conflict: Probe | None
    survey: Question


def random_case(seed: int, large: bool) -> Case:
    """A random case; a large one has more items, mostly with over a thousand situations."""
    return _Making(seed, large).case()


@dataclass(slots=True)
class _Making:
    seed: int
    large: bool
    rng: Random = field(init=False)
    variables: list[Variable] = field(default_factory=list)
    actions: list[Action] = field(default_factory=list)
    modes: list[Mode] = field(default_factory=list)
    wants: list[tuple[Expression, Expression]] = field(default_factory=list)
    n_names: int = 0

    def __post_init__(self) -> None:
        self.rng = Random(self.seed)

    def case(self) -> Case:
        rng = self.rng
        n_items = rng.randint(1, 3)
        while len(self.variables) < n_items or (self.large and prod(len(v.values) for v in self.variables) < ENOUGH):
            self._item(f"item{len(self.variables)}")
        if rng.random() < 0.5:
            self._timer("timer")
        n_sequences = rng.choice([0, 1, 1, 2, 2])
        steps = [self.variable(f"logic{i}", rng.choice([2, 3, 3, 4]), VariableKind.STEP) for i in range(n_sequences)]
        for i, step in enumerate(steps):
            self._sequence(step, steps[1 - i] if n_sequences == 2 and rng.random() < 0.6 else None)
        for i in range(rng.choice([0, 1, 1, 2])):
            self._follower(f"led{i}")
        n_failures = rng.choice([1, 2] if self.large else [0, 1, 1, 2])
        for i in range(n_failures):
            self._failure(f"fault{i}")
        if n_failures == 2 and rng.random() < 0.3:
            self._common_cause("both", ("fault0", "fault1"))
        if rng.random() < 0.4:
            self._twin()
        start = self._start()
        properties = self._properties()
        names = [f"n{i}" for i in range(self.n_names)]
        system = System(
            title=f"random {self.seed}",
            variables=tuple(self.variables),
            start=start,
            actions=tuple(self.actions),
            modes=tuple(self.modes),
            properties=properties,
            conditions=(),
            origin={name: Origin(name, None) for name in names},
            tick_s=Fraction(1),
        )
        conflict = disjunction(conjunction(pair) for pair in self.wants) if self.wants else None
        return Case(
            self.seed,
            system,
            tuple(self._asked(system) for _ in range(rng.randint(3, 4) if self.large else rng.randint(4, 6))),
            None if conflict is None else Probe("conflict", conflict, Where.DECIDING),
            Question(properties[0].id, budget=rng.choice([0, 1, 1, 2]) if not self.large else rng.choice([0, 0, 1])),
        )

    # --- expressions ---

    def literal(self, among: list[Variable] | None = None) -> Expression:
        variable = self.rng.choice(among or self.variables)
        size = len(variable.values)
        return has(variable.name, self.rng.sample(range(size), self.rng.randint(1, max(1, size - 1))), size)

    def expression(self, depth: int = 2, among: list[Variable] | None = None) -> Expression:
        rng = self.rng
        if depth == 0 or rng.random() < 0.35:
            return self.literal(among)
        below = [self.expression(depth - 1, among) for _ in range(rng.randint(2, 3))]
        kind = rng.random()
        if kind < 0.35:
            made = conjunction(below)
        elif kind < 0.7:
            made = disjunction(below)
        elif kind < 0.85:
            made = at_most(rng.randint(0, 2), below)
        else:
            made = negate(below[0])
        return self.named(made) if rng.random() < 0.15 else made

    def named(self, inner: Expression) -> Expression:
        self.n_names += 1
        return named(f"n{self.n_names - 1}", inner)

    def on_event(self) -> Expression:
        """An expression that speaks of events."""
        now, then = self.expression(1), self.expression(1)
        kind = self.rng.random()
        if kind < 0.5:
            return conjunction([now, negate(was(now)), then])
        if kind < 0.8:
            return conjunction([now, negate(was(now)), was(then)])
        return conjunction([now, was(then)])

    # --- parts of a system ---

    def variable(self, name: str, size: int, kind: VariableKind) -> Variable:
        made = Variable(name, tuple(range(size)), kind)
        self.variables.append(made)
        return made

    def action(
        self,
        owner: str,
        name: str,
        kind: ActionKind,
        tier: Tier,
        guard: Expression,
        update: tuple[Assignment, ...],
        *,
        obliged: bool = False,
        restarts: tuple[str, ...] = (),
        modes: tuple[str, ...] = (),
        cost: int = 0,
    ) -> Action:
        window = (SOON if obliged else ANY_AGE) if tier is Tier.OTHER else None
        bound = obliged or (tier is not Tier.OTHER and cost == 0)
        made = Action(f"{owner} {name}", owner, name, kind, tier, guard, update, window, bound, restarts, modes, cost)
        self.actions.append(made)
        return made

    def _item(self, name: str) -> None:
        """An item that goes round its states, by free moves and bound ones, sometimes back."""
        rng = self.rng
        size = rng.choice([2, 3, 3, 4])
        item = self.variable(name, size, VariableKind.ITEM)
        for value in range(size):
            if rng.random() < (0.97 if self.large else 0.9):
                to = (value + 1) % size if rng.random() < (0.95 if self.large else 0.8) else rng.randrange(size)
                bound = rng.random() < 0.4
                extra = [] if rng.random() < (0.9 if self.large else 0.5) else [self.expression(1)]
                update = [_to(item, to)]
                if rng.random() < 0.15:
                    update.append(self._wild_assignment())
                self.action(
                    name,
                    f"move{value}",
                    ActionKind.BOUND if bound else ActionKind.FREE,
                    Tier.OTHER,
                    conjunction([has(name, [value], size), *extra]),
                    tuple(update),
                    obliged=bound,
                )

    def _wild_assignment(self) -> Assignment:
        """An assignment with cases, some of which may leave the variable as it is."""
        variable = self.rng.choice(self.variables)
        size = len(variable.values)
        cases = [(self.expression(1), self.rng.randrange(size)) for _ in range(self.rng.randint(1, 2))]
        return Assignment(variable.name, tuple(cases))

    def _timer(self, name: str) -> None:
        """Idle, running, done: started at once, elapsing, cleared; starting restarts its age."""
        runs = self.expression(1)
        timer = self.variable(name, 3, VariableKind.TIMER)
        self.action(
            name,
            "starts",
            ActionKind.CONSEQUENCE,
            Tier.CONSEQUENCE,
            conjunction([has(name, [0], 3), runs]),
            (_to(timer, 1),),
            restarts=(f"{name} elapses",),
        )
        self.action(
            name,
            "is cleared",
            ActionKind.CONSEQUENCE,
            Tier.CONSEQUENCE,
            conjunction([has(name, [1, 2], 3), negate(runs)]),
            (_to(timer, 0),),
        )
        self.action(name, "elapses", ActionKind.TIMER, Tier.OTHER, has(name, [1], 3), (_to(timer, 2),), obliged=True)

    def _sequence(self, step: Variable, other: Variable | None) -> None:
        """Steps with moves and a trip that goes before them; at once, or deciding slowly. Sometimes no priority.

        It begins and ends its round on opposite conditions, mostly, so that it settles. It may wait for `other`.
        """
        rng = self.rng
        name, size = step.name, len(step.values)
        others = [variable for variable in self.variables if variable is not step]
        at_once = rng.random() < 0.75
        tier = Tier.LOGIC if at_once else Tier.OTHER
        asked_for = self.literal(others)
        with_trip = rng.random() < 0.9
        tripped_from = rng.sample(range(1, size), rng.randint((size + 1) // 2, size - 1) if size > 2 else 1)
        tripping = self.named(self.literal(others) if rng.random() < 0.6 else self.expression(1, others))
        trip = conjunction([has(name, tripped_from, size), tripping])
        settles = self.large or rng.random() < 0.8
        for value in range(size):
            for j in range(rng.choice([1, 1, 2])):
                to = (value + 1 + j) % size
                needs = [self.named(self.expression(1, others)) for _ in range(rng.randint(0, 1))]
                if settles and to == 0:
                    needs.append(self.named(negate(asked_for)))
                elif settles and value == 0:
                    needs.append(self.named(asked_for))
                    needs.append(negate(tripping))
                if other is not None and value == 0:
                    needs.append(has(other.name, [0], len(other.values)))
                want = conjunction([has(name, [value], size), *needs])
                guard = want
                if with_trip and rng.random() < 0.95:
                    guard = conjunction([want, negate(trip)])
                    if value in tripped_from:
                        self.wants.append((want, trip))
                update = [_to(step, to)]
                if rng.random() < 0.2:
                    update.append(self._wild_assignment())
                if to != value:
                    self.action(name, f"move{value}{j}", ActionKind.LOGIC, tier, guard, tuple(update), obliged=True)
        if with_trip:
            self.action(name, "trip", ActionKind.LOGIC, tier, trip, (_to(step, 0),), obliged=True)

    def _follower(self, name: str) -> None:
        """An item that is on exactly while something holds, as an instant consequence."""
        holds = self.expression(1)
        item = self.variable(name, 2, VariableKind.ITEM)
        for value, guard in ((1, holds), (0, negate(holds))):
            self.action(
                name,
                f"becomes{value}",
                ActionKind.CONSEQUENCE,
                Tier.CONSEQUENCE,
                conjunction([has(name, [1 - value], 2), guard]),
                (_to(item, value),),
            )

    def _failure(self, name: str) -> None:
        """A failure that opens or shuts the guard of another action while it is there; perhaps repaired."""
        rng = self.rng
        fault = self.variable(name, 2, VariableKind.FAILURE)
        present = has(name, [1], 2)
        changes = [_to(fault, 1)]
        if rng.random() < 0.4:
            changes.append(self._wild_assignment())
        if self.actions and rng.random() < 0.9:
            i = rng.randrange(len(self.actions))
            old = self.actions[i]
            self.actions[i] = _with_guard(
                old,
                disjunction([old.guard, present])
                if rng.random() < 0.3 and old.tier is Tier.OTHER
                else conjunction([old.guard, negate(present)]),
            )
        guard = TRUE if rng.random() < 0.6 else self.expression(1)
        at_start = tuple(changes) if rng.random() < 0.6 else None
        self.modes.append(Mode(name, False, (), conjunction([negate(present), guard]), at_start))
        self.action(
            name,
            "happens",
            ActionKind.FAILURE,
            Tier.OTHER,
            conjunction([negate(present), guard]),
            tuple(changes),
            modes=(name,),
            cost=1,
        )
        if rng.random() < 0.55:
            self.action(name, "is repaired", ActionKind.REPAIR, Tier.OTHER, present, (_to(fault, 0),))

    def _common_cause(self, name: str, members: tuple[str, ...]) -> None:
        update = tuple(Assignment(member, ((TRUE, 1),)) for member in members)
        guard = disjunction(has(member, [0], 2) for member in members)
        self.modes.append(Mode(name, True, members, guard, update))
        self.action(name, "happens", ActionKind.FAILURE, Tier.OTHER, guard, update, modes=(name,), cost=1)

    def _twin(self) -> None:
        """A failure that rides on another event, of any tier."""
        rng = self.rng
        ridden = rng.choice([a for a in self.actions if a.kind not in (ActionKind.FAILURE, ActionKind.REPAIR)])
        name = "weld"
        fault = self.variable(name, 2, VariableKind.FAILURE)
        self.modes.append(Mode(name, False, (), has(name, [0], 2), None))
        written = {assignment.variable for assignment in ridden.update}
        kept = tuple(a for a in ridden.update if rng.random() < 0.5)
        assert name not in written
        guard = conjunction([ridden.guard, has(name, [0], 2), self.expression(1)])
        self.actions.append(
            Action(
                f"{ridden.id} and {name}",
                ridden.owner,
                f"{ridden.name} and {name}",
                ActionKind.FAILURE,
                ridden.tier,
                guard,
                (*kept, _to(fault, 1)),
                ridden.window,
                False,
                (),
                (name,),
                1,
            )
        )

    def _start(self) -> tuple[Valuation, ...]:
        rng = self.rng
        starts = [
            tuple(
                0
                if v.kind in (VariableKind.FAILURE, VariableKind.TIMER, VariableKind.STEP)
                else rng.randrange(len(v.values))
                for v in self.variables
            )
            for _ in range(rng.choice([1, 1, 1, 2, 3]))
        ]
        return tuple(dict.fromkeys(starts))

    # --- what is asked ---

    def _properties(self) -> tuple[Property, ...]:
        rng = self.rng
        never, possible = PropertyKind.NEVER, PropertyKind.POSSIBLE

        def rare() -> Expression:
            return conjunction([self.expression(1) for _ in range(rng.randint(1, 4))])

        free = [a.id for a in self.actions if a.kind is ActionKind.FREE]
        return (
            Property("never", never, False, rare()),
            Property("hazard", never, True, rare()),
            Property("passing", never, False, rare(), passing=True),
            Property("event", never, False, self.on_event(), every_event=True),
            Property("event2", never, False, self.on_event(), every_event=True),
            Property(
                "before",
                PropertyKind.BEFORE,
                False,
                self.on_event() if rng.random() < 0.3 else self.expression(1),
                first=self.on_event() if rng.random() < 0.3 else self.expression(1),
                since=None if rng.random() < 0.3 else self.expression(1),
            ),
            Property("before2", PropertyKind.BEFORE, False, rare(), first=rare(), since=self.expression(1)),
            Property("possible", possible, False, rare()),
            Property("possible event", possible, False, self.on_event(), every_event=True),
            Property("always possible", PropertyKind.ALWAYS_POSSIBLE, False, self.expression(2)),
            Property("always possible passing", PropertyKind.ALWAYS_POSSIBLE, False, rare(), passing=True),
            *(
                Property(
                    id,
                    PropertyKind.ALWAYS_ENDS,
                    False,
                    self.expression(1),
                    start=None if rng.random() < 0.2 else self.expression(1),
                    helped_by=tuple(rng.sample(free, min(len(free), rng.randint(0, 3)))),
                )
                for id in ("always ends", "always ends too")
            ),
            Property("nothing", never, False, FALSE),
        )

    def _asked(self, system: System) -> Asked:
        rng = self.rng
        rule = rng.choice(system.properties)
        allowed: tuple[str, ...] | None = None
        if system.modes and rng.random() < 0.4:
            allowed = tuple(m.id for m in system.modes if rng.random() < 0.7)
        pins = tuple((name, rng.random() < 0.5) for name in system.origin if rng.random() < 0.15)
        windows: tuple[tuple[str, TickWindow], ...] = ()
        if rng.random() < 0.1:
            other = [a.id for a in system.actions if a.tier is Tier.OTHER and a.cost == 0]
            windows = ((rng.choice(other), rng.choice([SOON, ANY_AGE])),) if other else ()
        can_cut = rule.kind not in (PropertyKind.ALWAYS_POSSIBLE, PropertyKind.ALWAYS_ENDS)
        cuts = [
            p.id for p in system.properties if p.kind in (PropertyKind.NEVER, PropertyKind.BEFORE) and p is not rule
        ]
        few = rng.random() < 0.25
        limit = rng.randint(50, 600) if self.large else rng.choice([1, 3, 5, 10, 20])
        budgets = [0, 0, 0, 1] if self.large else [0, 0, 1, 1, 2]
        return Asked(
            Question(
                rule.id,
                budget=rng.choice(budgets),
                allowed=allowed,
                overlay=Overlay(pins, windows) if rng.random() < 0.4 else Overlay(),
                cut=tuple(rng.sample(cuts, rng.randint(1, 2))) if can_cut and rng.random() < 0.25 else (),
            ),
            Limits(states=limit) if few else Limits(states=USUAL_LIMIT),
        )


def _to(variable: Variable, value: int) -> Assignment:
    return Assignment(variable.name, ((TRUE, value),))


def _with_guard(old: Action, guard: Expression) -> Action:
    return Action(
        old.id, old.owner, old.name, old.kind, old.tier, guard, old.update, old.window, old.obliged, old.restarts,
        old.modes, old.cost,
    )  # fmt: skip
