"""Random specs with small domains, for holding the two meanings of a spec against each other.

In: a seed and a `Size`. Out: a `Spec`, the same one for the same seed and size; every construct of specs/MEANING.md
comes up. The specs are sound as a reader of the file would have found them, but mean nothing: that is their use.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from interlock.diag.place import Span
from interlock.logic.formula import (
    TRUE,
    And,
    AtMost,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    Not,
    Or,
    Ref,
    Same,
    Sum,
    Thing,
    Value,
    Was,
)
from interlock.spec.model import (
    Assumption,
    ChangeKind,
    Effect,
    EffectKind,
    Failure,
    Hazard,
    Item,
    Link,
    Memory,
    Move,
    Permissive,
    Rule,
    RuleKind,
    Sequence,
    SetTo,
    Signal,
    Spec,
    Step,
    StepChange,
    Trigger,
    Window,
)

PLACE = Span("random.yaml", 1, 1, 1, 2)

_STATES: tuple[tuple[Value, ...], ...] = (
    ("open", "closed"),
    ("none", "made"),
    ("up", "moving", "down"),
    ("away", "near", "here"),
    (0, 1, 2),
)
_ITEMS = ("train", "front shoe", "feeder", "earth", "rail", "brake")
_READINGS = ("at stop", "live seen", "front shoe down seen")
_SEQUENCES = ("ground", "vehicle")
_STEPS = ("rest", "prove", "charge", "trip")
_COMMANDS = ("lift", "close", "front shoe lower")
_MOVES = ("goes", "turns", "drifts")
_PERMISSIVES = ("proved", "ready", "clear")


@dataclass(frozen=True, slots=True)
class Size:
    """Least and largest numbers of things; each spec draws its own between them."""

    items: tuple[int, int] = (3, 5)
    moves: tuple[int, int] = (2, 3)
    readings: tuple[int, int] = (0, 2)
    links: tuple[int, int] = (0, 1)
    sequences: tuple[int, int] = (0, 2)
    failures: tuple[int, int] = (0, 4)
    rules: tuple[int, int] = (1, 4)


SMALL = Size(items=(1, 3), moves=(1, 2), readings=(0, 1), sequences=(0, 1), failures=(0, 3), rules=(1, 2))
USUAL = Size()
LARGE = Size(items=(4, 6), moves=(2, 3), readings=(1, 3), links=(0, 2), sequences=(1, 2), failures=(2, 6))


def random_spec(seed: int, size: Size = USUAL) -> Spec:
    """The random spec of this seed."""
    return Author(Random(seed), size).write(seed)


def some_allowed(spec: Spec, seed: int) -> tuple[str, ...] | None:
    """Failures to allow in a comparison: all but common causes, all, or a random part of them."""
    draw = Random(seed)
    chosen = draw.randrange(3)
    if chosen == 0:
        return None
    every = tuple(failure.id for failure in spec.failures)
    return every if chosen == 1 else tuple(name for name in every if draw.random() < 0.6)


class Author:
    """Writes one spec; what was written is what later parts can refer to."""

    def __init__(self, draw: Random, size: Size) -> None:
        self.draw = draw
        self.size = size
        self.domains: dict[Ref, tuple[Value, ...]] = {}
        self.conditions: list[tuple[str, Formula, Span]] = []
        self.commands: tuple[str, ...] = _COMMANDS[: draw.randint(1, len(_COMMANDS))]
        # Failures are referred to before they are written: their names and which of them stand for several are fixed.
        self.modes = tuple(f"fault {number}" for number in range(1, draw.randint(*size.failures) + 1))
        for name in self.modes:
            self.domains[Ref(Thing.FAILURE, name)] = (False, True)
        for name in self.commands:
            self.domains[Ref(Thing.COMMAND, name)] = (False, True)

    # --- small choices ---

    def chance(self, p: float) -> bool:
        return self.draw.random() < p

    def some(self, values: Iterable[str], p: float) -> tuple[str, ...]:
        return tuple(value for value in values if self.chance(p))

    def window(self, may_last: bool = True) -> Window:
        """Any window; `may_last`: it may have no latest."""
        earliest = Fraction(self.draw.randint(0, 3), 10)
        if may_last and self.chance(0.15):
            return Window(earliest, None, earliest_open=self.chance(0.2))
        open_ends = self.chance(0.2)
        latest = earliest + Fraction(self.draw.randint(1 if open_ends else 0, 3), 10)
        return Window(earliest, latest, open_ends and self.chance(0.7), open_ends and self.chance(0.7))

    # --- formulas ---

    def refs(self, *things: Thing) -> list[Ref]:
        return [ref for ref in self.domains if ref.thing in things]

    def formula(self, refs: list[Ref], depth: int = 2, was: bool = False) -> Formula:
        """A formula over these things."""
        if not refs or self.chance(0.03):
            return Const(self.chance(0.5))
        kind = self.draw.randrange(10) if depth else 0
        if kind == 6:
            return Not(self.formula(refs, depth - 1, was))
        if kind in (7, 8):
            made: Callable[[tuple[Formula, ...]], Formula] = And if kind == 7 else Or
            return made(tuple(self.formula(refs, depth - 1, was) for _ in range(self.draw.randint(1, 3))))
        if kind == 9:
            parts = tuple(self.formula(refs, depth - 1, was) for _ in range(self.draw.randint(1, 3)))
            return AtMost(self.draw.randint(0, 2), parts)
        if was and self.chance(0.25):
            return Was(self.formula(refs, 0))
        return self.atom(refs)

    def atom(self, refs: list[Ref]) -> Formula:
        ref = self.draw.choice(refs)
        domain = self.domains[ref]
        numbers = [other for other in refs if is_number(self.domains[other])]
        if is_number(domain) and self.chance(0.6):
            return Compare(self.draw.choice(["=", "<", "<="]), self.total(numbers), self.total(numbers))
        alike = [other for other in refs if other != ref and self.domains[other] == domain]
        if alike and self.chance(0.15):
            return Same(ref, self.draw.choice(alike))
        if domain == (False, True):
            return Is(ref, (True,)) if self.chance(0.7) else Not(Is(ref, (True,)))
        return Is(ref, tuple(self.draw.sample(domain, self.draw.randint(1, len(domain) - 1))))

    def total(self, numbers: list[Ref]) -> Sum:
        parts = tuple((self.draw.choice([1, 1, -1]), self.draw.choice(numbers)) for _ in range(self.draw.randint(0, 2)))
        return Sum(self.draw.randint(0, 2), parts)

    def named(self, refs: list[Ref], depth: int = 2) -> Formula:
        """A formula, sometimes behind the name of a condition."""
        formula = self.formula(refs, depth)
        if not self.chance(0.2):
            return formula
        name = f"condition {len(self.conditions) + 1}"
        self.conditions.append((name, formula, PLACE))
        return Condition(name) if self.chance(0.7) else Not(Condition(name))

    # --- equipment ---

    def lay_items(self) -> None:
        self.item_states = {name: self.draw.choice(_STATES) for name in _ITEMS[: self.draw.randint(*self.size.items)]}
        for name, states in self.item_states.items():
            self.domains[Ref(Thing.ITEM, name)] = states

    def items(self) -> tuple[Item, ...]:
        return tuple(self.item(name, states) for name, states in self.item_states.items())

    def item(self, name: str, states: tuple[Value, ...]) -> Item:
        over = self.refs(Thing.ITEM, Thing.FAILURE, Thing.COMMAND)
        if len(states) == 2 and self.chance(0.3):
            others = [ref for ref in over if ref != Ref(Thing.ITEM, name)]
            return Item(name, states, self.start(states, 0.1), (), self.named(others), "", PLACE)
        # Moves lead round the states, so that most items come back to where they were.
        round_trip = self.draw.sample(states, len(states))
        names = _MOVES[: self.draw.randint(*self.size.moves)]
        moves = tuple(self.move(name, move, states, round_trip[i % len(states)]) for i, move in enumerate(names))
        return Item(name, states, self.start(states, 0.25), moves, None, "", PLACE)

    def start(self, states: tuple[Value, ...], p_several: float) -> tuple[Value, ...]:
        if self.chance(p_several):
            chosen = self.draw.sample(states, 2)
            return tuple(state for state in states if state in chosen)
        return (states[0] if self.chance(0.7) else self.draw.choice(states),)

    def move(self, item: str, name: str, states: tuple[Value, ...], to: Value) -> Move:
        others = [state for state in states if state != to]
        origin = tuple(self.draw.sample(others, self.draw.randint(1, len(others))))
        over = self.refs(Thing.ITEM, Thing.FAILURE, Thing.COMMAND)
        commanded = Is(Ref(Thing.COMMAND, self.draw.choice(self.commands)), (True,))
        when: Formula = TRUE
        kind = self.draw.choice(["free", "free", "free", "instant", "bound", "bound", "bound"])
        if self.chance(0.4 if kind == "free" else 0.85):
            when = commanded if self.chance(0.4) else self.named(over)
        if kind == "instant" and when == TRUE:
            when = commanded  # an instant move without a condition would leave its item nothing to rest in
        also: list[tuple[str, Value]] = []
        for other, values in self.item_states.items():
            if other != item and self.chance(0.1):
                also.append((other, self.draw.choice(values)))
        takes = self.window() if kind == "bound" else None
        completes = kind == "bound" and self.chance(0.3)
        return Move(name, origin, to, when, takes, kind == "instant", tuple(also), completes, "", PLACE)

    # --- readings and links ---

    def lay_readings(self) -> None:
        self.readings = [self.reading(name) for name in _READINGS[: self.draw.randint(*self.size.readings)]]
        for reading in self.readings:
            self.domains[Ref(Thing.READING, reading.id)] = reading.values

    def reading(self, name: str) -> Signal:
        over = self.refs(Thing.ITEM, Thing.FAILURE)
        shows, values = self.shows(over, self.refs(Thing.ITEM))
        steady = self.window() if self.chance(0.3) else None
        late = self.window() if self.chance(0.35) else None
        return Signal(name, values, shows, steady, late, self.draw.randint(1, 2), "", PLACE)

    def shows(self, over: list[Ref], whole: list[Ref]) -> tuple[Formula | Ref, tuple[Value, ...]]:
        if whole and self.chance(0.4):
            ref = self.draw.choice(whole)
            return ref, self.domains[ref]
        return self.formula(over), (False, True)

    def n_sequences(self) -> int:
        """Rather many than few."""
        return max(self.draw.randint(*self.size.sequences), self.draw.randint(*self.size.sequences))

    def lay_sequences(self) -> None:
        """Steps and memories, so that links can carry and logic can read them."""
        self.sequence_names = _SEQUENCES[: self.n_sequences()]
        self.step_names: dict[str, tuple[str, ...]] = {}
        self.memories: dict[str, tuple[Memory, ...]] = {}
        self.steps: dict[str, tuple[Step, ...]] = {}
        for name in self.sequence_names:
            steps = _STEPS[: self.draw.randint(2, len(_STEPS))]
            self.step_names[name] = steps
            self.steps[name] = tuple(Step(step, self.some(self.commands, 0.4), "", PLACE) for step in steps)
            self.domains[Ref(Thing.STEP, name)] = steps
            memories = []
            if self.chance(0.3):
                memories.append(Memory(f"{name} tries", (0, 1, 2), 0, self.chance(0.5), PLACE))
            if self.chance(0.25):
                memories.append(Memory(f"{name} cause", ("none", "made"), "none", self.chance(0.5), PLACE))
            for memory in memories:
                self.domains[Ref(Thing.MEMORY, memory.id)] = memory.values
            self.memories[name] = tuple(memories)

    def links(self) -> tuple[Link, ...]:
        made = []
        for number in range(1, self.draw.randint(*self.size.links) + 1):
            name = f"link {number}"
            carried = [self.carried(name, value) for value in ("ready", "speed")[: self.draw.randint(1, 2)]]
            watchdog = self.window() if self.chance(0.6) else None
            when_lost = tuple((s.id, self.draw.choice(s.values)) for s in carried) if watchdog else ()
            made.append(Link(name, None, None, tuple(carried), watchdog, when_lost, "", PLACE))
        for link in made:
            for signal in link.carries:
                self.domains[Ref(Thing.CARRIED, signal.id)] = signal.values
            if link.watchdog is not None:
                self.domains[Ref(Thing.LINK, link.id)] = ("up", "lost")
        return tuple(made)

    def carried(self, link: str, value: str) -> Signal:
        whole = self.refs(Thing.ITEM, Thing.READING, Thing.MEMORY, Thing.STEP)
        over = [*whole, *self.refs(Thing.FAILURE, Thing.COMMAND)]
        shows, values = self.shows(over, whole)
        late = self.window() if self.chance(0.4) else None
        return Signal(f"{link} {value}", values, shows, None, late, self.draw.randint(1, 2), "", PLACE)

    # --- logic ---

    def sequences(self) -> tuple[Sequence, ...]:
        made: list[Sequence] = []
        for name in self.sequence_names:
            made.append(self.sequence(name, made))
        return tuple(made)

    def sequence(self, name: str, earlier: list[Sequence]) -> Sequence:
        over = self.refs(
            Thing.READING, Thing.READING, Thing.CARRIED, Thing.LINK, Thing.MEMORY, Thing.STEP, Thing.COMMAND
        )
        names = self.step_names[name]
        trips = [
            self.change(name, f"trip_{number}", ChangeKind.TRIP, over)
            for number in range(1, self.draw.randint(0, 2) + 1)
        ]
        timeouts = [self.timeout(name, step) for step in (self.some(names, 0.2) if self.chance(0.5) else ())]
        moves = [
            self.change(name, f"move_{number}", ChangeKind.MOVE, over)
            for number in range(1, self.draw.randint(1, 3) + 1)
        ]
        changes = (*trips, *timeouts, *moves)
        priority = [change.name for change in changes if self.chance(0.5)]
        self.draw.shuffle(priority)
        reacts = self.window(may_last=False) if self.chance(0.35) else None
        powered_by = self.supply(name, earlier) if self.chance(0.35) else None
        memories = self.memories[name]
        start = self.draw.choice(names)
        return Sequence(
            name, reacts, powered_by, self.steps[name], start, memories, changes, tuple(priority), "", PLACE
        )

    def supply(self, name: str, earlier: list[Sequence]) -> Formula:
        """Over equipment and failures; over commands only where no circle can come of it."""
        over = self.refs(Thing.ITEM, Thing.FAILURE)
        fed = {sequence.id for sequence in earlier if sequence.powered_by is None}
        others = {
            command for other in self.steps if other not in fed for s in self.steps[other] for command in s.drives
        }
        if self.chance(0.5):
            over += [Ref(Thing.COMMAND, command) for command in self.commands if command not in others]
        return self.named(over)

    def change(self, sequence: str, name: str, kind: ChangeKind, over: list[Ref]) -> StepChange:
        to, origin = self.route(sequence, keep=kind is ChangeKind.MOVE)
        sets, guards = self.sets(sequence)
        if kind is ChangeKind.TRIP:
            condition = self.named(over)
            if guards:
                condition = And((condition, *guards))
            permissives = [self.permissive("when", condition)]
        else:
            chosen = _PERMISSIVES[: self.draw.randint(0 if self.chance(0.2) else 1, 2)]
            permissives = [self.permissive(p, self.named(over)) for p in chosen]
            permissives += [Permissive(f"within {i}", guard, None, PLACE) for i, guard in enumerate(guards)]
        return StepChange(name, kind, origin, to, tuple(permissives), None, sets, "", PLACE)

    def permissive(self, name: str, condition: Formula) -> Permissive:
        return Permissive(name, condition, self.window() if self.chance(0.15) else None, PLACE)

    def route(self, sequence: str, keep: bool) -> tuple[str, tuple[str, ...]]:
        """Where a change leads and whence; `keep`: it may lead back to where it starts."""
        steps = self.step_names[sequence]
        to = self.draw.choice(steps)
        others = [step for step in steps if step != to or (keep and self.chance(0.05))]
        return to, tuple(self.draw.sample(others, self.draw.randint(1, len(others))))

    def timeout(self, sequence: str, step: str) -> StepChange:
        to = self.draw.choice([other for other in self.step_names[sequence] if other != step])
        sets = tuple(setting for setting in self.sets(sequence)[0] if not isinstance(setting.to, Sum))
        return StepChange(f"{step} timeout", ChangeKind.TIMEOUT, (step,), to, (), self.window(), sets, "", PLACE)

    def sets(self, sequence: str) -> tuple[tuple[SetTo, ...], list[Formula]]:
        """What a change sets, and the conditions that keep its sums within their domains."""
        settings, guards = [], []
        for memory in self.memories[sequence]:
            ref = Ref(Thing.MEMORY, memory.id)
            alike = [
                other
                for other in self.refs(Thing.MEMORY, Thing.READING, Thing.STEP, Thing.CARRIED)
                if other != ref and self.domains[other] == memory.values
            ]
            if self.chance(0.4):
                continue
            if alike and self.chance(0.3):
                settings.append(SetTo(memory.id, self.draw.choice(alike), PLACE))
            elif is_number(memory.values) and self.chance(0.6):
                step = self.draw.choice([1, -1])
                limit = (Sum(0, ((1, ref),)), Sum(2, ())) if step == 1 else (Sum(0, ()), Sum(0, ((1, ref),)))
                settings.append(SetTo(memory.id, Sum(step, ((1, ref),)), PLACE))
                guards.append(Compare("<", *limit))
            else:
                settings.append(SetTo(memory.id, self.draw.choice(memory.values), PLACE))
        return tuple(settings), list(guards)

    # --- failures and assumptions ---

    def failures(self, items: tuple[Item, ...], links: tuple[Link, ...]) -> tuple[Failure, ...]:
        made = [self.mode(name, items, links) for name in self.modes]
        single = [failure.id for failure in made if failure.trigger is None]
        if len(single) >= 2 and self.chance(0.5):
            members = tuple(self.draw.sample(single, self.draw.randint(2, len(single))))
            common = self.failure("common cause", (), members, None, self.only_while())
            made.insert(self.draw.randint(0, len(made)), common)
        return tuple(made)

    def failure(
        self,
        name: str,
        effects: tuple[Effect, ...],
        members: tuple[str, ...],
        trigger: Trigger | None,
        only_while: Formula,
    ) -> Failure:
        repaired = not members and self.chance(0.5)
        return Failure(
            name, effects, members, trigger, only_while, None, None, "invented", "", None, repaired, "", PLACE
        )

    def only_while(self) -> Formula:
        if self.chance(0.75):
            return TRUE
        return self.named(self.refs(Thing.ITEM, Thing.FAILURE, Thing.COMMAND), 1)

    def mode(self, name: str, items: tuple[Item, ...], links: tuple[Link, ...]) -> Failure:
        effects: list[Effect] = []
        for _ in range(2 if self.chance(0.2) else 1):
            effect = self.effect(items, links)
            taken = {e.target for e in effects}
            if effect.target not in taken:
                effects.append(effect)
        trigger = None
        if self.chance(0.25):
            moving = [(item, move) for item in items for move in item.moves]
            if moving:
                item, move = self.draw.choice(moving)
                targets = [i for i in items if i.id == effects[0].target]
                if targets and targets[0].moves and self.chance(0.7):  # most ride on a move of their own item
                    item = targets[0]
                    move = self.draw.choice(item.moves)
                over = self.refs(Thing.ITEM, Thing.FAILURE, Thing.COMMAND)
                condition: Formula = TRUE if self.chance(0.4) else self.formula(over, 1)
                trigger = Trigger(item.id, move.name, condition)
        return self.failure(name, tuple(effects), (), trigger, self.only_while())

    def effect(self, items: tuple[Item, ...], links: tuple[Link, ...]) -> Effect:
        """An effect on something that is there: each kind of thing as likely as the next."""
        kinds = [self.effect_on_item, self.effect_on_item, self.effect_on_command]
        kinds += [self.effect_on_reading] if self.readings else []
        kinds += [self.effect_on_sequence] if self.sequence_names else []
        if links and self.chance(0.35):
            return self.effect_on_link(links)
        return self.draw.choice(kinds)(items)

    def latest(self) -> Fraction | None:
        return None if self.chance(0.3) else Fraction(self.draw.randint(4, 9), 10)

    def effect_on_item(self, items: tuple[Item, ...]) -> Effect:
        item = self.draw.choice(items)
        bound = [(i, move) for i in items for move in i.moves if move.takes is not None]
        kind = self.draw.choice(["stays", "stuck", "goes", "ignores", "slow", "slow"])
        if kind == "slow" and bound:
            withdrawable = [(i, move) for i, move in bound if move.when != TRUE and not move.completes]
            slow, move = self.draw.choice(withdrawable or bound)
            return Effect(EffectKind.SLOW, slow.id, move=move.name, latest_s=self.latest())
        if kind == "stays":
            return Effect(EffectKind.STAYS, item.id, value=self.draw.choice(item.states))
        if kind == "goes":
            return Effect(EffectKind.GOES, item.id, value=self.draw.choice(item.states), held=self.chance(0.5))
        if kind == "ignores":
            return Effect(EffectKind.IGNORES, item.id, command=self.draw.choice(self.commands))
        return Effect(EffectKind.STUCK, item.id)

    def effect_on_command(self, items: tuple[Item, ...]) -> Effect:
        return Effect(self.draw.choice([EffectKind.DRIVEN, EffectKind.SILENT]), self.draw.choice(self.commands))

    def effect_on_reading(self, items: tuple[Item, ...]) -> Effect:
        reading = self.draw.choice(self.readings)
        kind = self.draw.choice([EffectKind.READS, EffectKind.FROZEN, EffectKind.ANYTHING])
        return Effect(kind, reading.id, value=self.draw.choice(reading.values) if kind is EffectKind.READS else None)

    def effect_on_sequence(self, items: tuple[Item, ...]) -> Effect:
        kinds = [EffectKind.STOPS_HOLDING, EffectKind.STOPS_DROPPING, EffectKind.RESTARTS]
        return Effect(self.draw.choice(kinds), self.draw.choice(self.sequence_names))

    def effect_on_link(self, links: tuple[Link, ...]) -> Effect:
        kinds = [EffectKind.LOST, EffectKind.LOST, EffectKind.FROZEN, EffectKind.ANYTHING, EffectKind.LATE]
        kind = self.draw.choice(kinds)
        return Effect(kind, self.draw.choice(links).id, latest_s=self.latest() if kind is EffectKind.LATE else None)

    def assumptions(self, items: tuple[Item, ...], failures: tuple[Failure, ...]) -> tuple[Assumption, ...]:
        names = [f"{item.id} {move.name}" for item in items for move in item.moves if move.free]
        names += [failure.id for failure in failures]
        if not names or self.chance(0.6):
            return ()
        chosen = tuple(self.draw.sample(names, self.draw.randint(1, min(2, len(names)))))
        over = self.refs(Thing.ITEM, Thing.FAILURE, Thing.COMMAND)
        return (Assumption("A1", chosen, self.named(over, 1), "", "operator", PLACE),)

    # --- what is asked ---

    def hazards(self) -> tuple[Hazard, ...]:
        over = self.refs(Thing.ITEM)
        return tuple(
            Hazard(
                f"H{number}",
                "",
                self.formula(over),
                Fraction(1, 2) if self.chance(0.1) else None,
                "critical",
                self.chance(0.8),
                None,
                self.draw.randint(0, 1) if self.chance(0.5) else None,
                self.chance(0.3),
                PLACE,
            )
            for number in range(1, self.draw.randint(0, 2) + 1)
        )

    def rules(self, items: tuple[Item, ...], hazards: tuple[Hazard, ...]) -> tuple[Rule, ...]:
        return tuple(
            self.rule(f"R{number}", items, hazards) for number in range(1, self.draw.randint(*self.size.rules) + 1)
        )

    def rule(self, name: str, items: tuple[Item, ...], hazards: tuple[Hazard, ...]) -> Rule:
        kind = self.draw.choice(tuple(RuleKind))
        over = list(self.domains)
        # An eventful formula is one about what an event changes.
        eventful = kind in (RuleKind.NEVER, RuleKind.WHILE, RuleKind.BEFORE, RuleKind.POSSIBLE) and self.chance(0.4)
        condition = self.formula(over, 2, eventful)
        second = self.formula(over, 1, eventful)
        free = [f"{item.id} {move.name}" for item in items for move in item.moves if move.free]
        timed = kind in (RuleKind.AFTER, RuleKind.LASTS)
        return Rule(
            id=name,
            kind=kind,
            words="",
            condition=condition,
            must=second if kind in (RuleKind.WHILE, RuleKind.AFTER) else None,
            first=second if kind is RuleKind.BEFORE else None,
            since=self.formula(over, 1) if kind is RuleKind.BEFORE and self.chance(0.5) else None,
            unless=self.formula(over, 1) if kind is RuleKind.AFTER and self.chance(0.3) else None,
            start=second if kind is RuleKind.ALWAYS_ENDS else None,
            within=self.window(may_last=False) if timed else None,
            helped_by=self.some(free, 0.3) if kind is RuleKind.ALWAYS_ENDS else (),
            guards_against=self.some([hazard.id for hazard in hazards], 0.5),
            withstands=self.draw.choice([0, 0, 1, 2]),
            even_common_cause=self.chance(0.2),
            passing=kind in (RuleKind.NEVER, RuleKind.WHILE) and self.chance(0.3),
            span=PLACE,
        )

    def write(self, seed: int) -> Spec:
        """Everything, in an order in which each part finds what it refers to."""
        self.lay_items()
        self.lay_readings()
        self.lay_sequences()
        items = self.items()
        links = self.links()
        sequences = self.sequences()
        failures = self.failures(items, links)
        assumptions = self.assumptions(items, failures)
        hazards = self.hazards()
        rules = self.rules(items, hazards)
        return Spec(
            title=f"random spec {seed}",
            revision="",
            prepared_by="",
            standards=(),
            notes="",
            items=items,
            readings=tuple(self.readings),
            links=links,
            sequences=sequences,
            commands=self.commands,
            conditions=tuple(self.conditions),
            failures=failures,
            assumptions=assumptions,
            hazards=hazards,
            rules=rules,
            file="random.yaml",
            digest=f"random {seed} {self.size}",
        )


def is_number(domain: tuple[Value, ...]) -> bool:
    """Whether values can be added and compared."""
    return isinstance(domain[0], int) and not isinstance(domain[0], bool)
