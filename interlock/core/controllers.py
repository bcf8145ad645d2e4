"""Logic: sequences of steps, their timers and step changes. See specs/MEANING.md, section 5."""

from __future__ import annotations

from enum import Enum

from interlock.core.draft import Draft, index_of, is_among
from interlock.core.failing import Faults
from interlock.core.phrases import Phrases
from interlock.core.system import ActionKind, Assignment, Origin, TickWindow, Tier, VariableKind
from interlock.diag.place import Span
from interlock.logic.expression import Expression, conjunction, disjunction, named, negate
from interlock.logic.formula import Ref, Sum
from interlock.spec.model import ChangeKind, Sequence, SetTo, Spec, StepChange, Window

TIMER = ("idle", "running", "done")
NOTHING = "-"


class Reacting(Enum):
    """How logic is taken to react: as the spec says, or every sequence by deciding and acting at its leisure."""

    DECLARED = "declared"
    SLOW = "slow"


class Controllers:
    """Makes the variables of all sequences first, then their actions."""

    def __init__(self, spec: Spec, draft: Draft, faults: Faults, phrases: Phrases, reacting: Reacting) -> None:
        self.spec = spec
        self.draft = draft
        self.faults = faults
        self.phrases = phrases
        self.reacting = reacting

    def slow(self, sequence: Sequence) -> bool:
        """Whether the sequence decides and acts in two events."""
        return sequence.reacts is not None or self.reacting is Reacting.SLOW

    def variables(self) -> None:
        """Steps, memories, decisions, timers."""
        for sequence in self.spec.sequences:
            place = sequence.span
            steps = tuple(step.name for step in sequence.steps)
            self.draft.variable(sequence.id, steps, VariableKind.STEP, sequence.start, sequence.words, place)
            for memory in sequence.memories:
                self.draft.variable(memory.id, memory.values, VariableKind.MEMORY, memory.start, "", memory.span)
            if self.slow(sequence):
                decisions = (NOTHING, *(change.name for change in sequence.changes))
                words = f"what {sequence.id} has decided and not yet done"
                name = f"{sequence.id} decided"
                self.draft.variable(name, decisions, VariableKind.DECISION, NOTHING, words, place)
            for timer, _, span in timers_of(sequence):
                self.draft.variable(timer, TIMER, VariableKind.TIMER, "idle", timer, span)

    def actions(self) -> None:
        """Timers and step changes of each sequence in the order written, then what a loss of power does."""
        for sequence in self.spec.sequences:
            wants = {change.name: self._want(sequence, change) for change in sequence.changes}
            for change in sequence.changes:
                for permissive in change.permissives:
                    if permissive.held_for is not None:
                        held = conjunction(
                            (self._condition(sequence, change, permissive.name), self.phrases.powered(sequence))
                        )
                        timer = f"{sequence.id} {change.name} {permissive.name} timer"
                        self._timer(timer, held, permissive.held_for, permissive.span)
                if change.after is not None:
                    step = change.from_steps[0]
                    held = conjunction((self.draft.has(sequence.id, step), self.phrases.powered(sequence)))
                    self._timer(f"{sequence.id} {step} timeout", held, change.after, change.span)
                before = [
                    wants[other.name]
                    for other in sequence.changes
                    if goes_before(sequence, other, change) and set(other.from_steps) & set(change.from_steps)
                ]
                may = conjunction((wants[change.name], *(negate(want) for want in before)))
                self._change(sequence, change, may)
            if sequence.powered_by is not None:
                self._power(sequence)

    # --- timers ---

    def _timer(self, timer: str, held: Expression, window: Window, place: Span) -> None:
        draft = self.draft
        draft.action(
            timer,
            "starts",
            ActionKind.CONSEQUENCE,
            Tier.CONSEQUENCE,
            conjunction((draft.has(timer, "idle"), held)),
            (draft.to(timer, "running"),),
            place,
            restarts=(f"{timer} elapses",),
        )
        draft.action(
            timer,
            "is cleared",
            ActionKind.CONSEQUENCE,
            Tier.CONSEQUENCE,
            conjunction((draft.has(timer, "running", "done"), negate(held))),
            (draft.to(timer, "idle"),),
            place,
        )
        draft.action(
            timer,
            "elapses",
            ActionKind.TIMER,
            Tier.OTHER,
            draft.has(timer, "running"),
            (draft.to(timer, "done"),),
            place,
            window=draft.window(window),
        )

    # --- step changes ---

    def _condition(self, sequence: Sequence, change: StepChange, permissive: str) -> Expression:
        found = next(p for p in change.permissives if p.name == permissive)
        id = f"{sequence.id}/{change.name}/{permissive}"
        if found.held_for is not None:
            id += "/condition"
        return self.phrases.tree(id, f"{change.name}: {permissive}", found.condition)

    def _want(self, sequence: Sequence, change: StepChange) -> Expression:
        draft = self.draft
        parts = [self.phrases.running(sequence), draft.has(sequence.id, *change.from_steps)]
        for permissive in change.permissives:
            condition = self._condition(sequence, change, permissive.name)
            if permissive.held_for is not None:
                id = f"{sequence.id}/{change.name}/{permissive.name}"
                done = draft.has(f"{sequence.id} {change.name} {permissive.name} timer", "done")
                condition = named(id, conjunction((done, condition)))
                draft.origin.setdefault(id, Origin(f"{change.name}: {permissive.name}", permissive.span))
            parts.append(condition)
        if change.after is not None:
            id = f"{sequence.id}/{change.name}/elapsed"
            done = draft.has(f"{sequence.id} {change.from_steps[0]} timeout", "done")
            draft.origin.setdefault(id, Origin(f"{change.name}: elapsed", change.span))
            parts.append(named(id, done))
        return conjunction(parts)

    def _change(self, sequence: Sequence, change: StepChange, may: Expression) -> None:
        draft = self.draft
        update = [draft.to(sequence.id, change.to)]
        update += [self._set(set_to) for set_to in change.sets]
        if not self.slow(sequence):
            draft.action(
                sequence.id,
                change.name,
                ActionKind.LOGIC,
                Tier.LOGIC,
                may,
                update,
                change.span,
                words=change.words,
            )
            return
        decided = f"{sequence.id} decided"
        window = draft.window(sequence.reacts) if sequence.reacts is not None else TickWindow()
        draft.action(
            sequence.id,
            f"decides {change.name}",
            ActionKind.LOGIC,
            Tier.OTHER,
            conjunction((may, draft.has(decided, NOTHING))),
            (draft.to(decided, change.name),),
            change.span,
            window=TickWindow(0, window.latest, False, window.latest_open),
            obliged=sequence.reacts is None or window.latest is not None,
            words=change.words,
            window_of=f"{sequence.id} reacts",
        )
        draft.action(
            sequence.id,
            change.name,
            ActionKind.LOGIC,
            Tier.OTHER,
            conjunction((draft.has(decided, change.name), self.phrases.running(sequence))),
            (*update, draft.to(decided, NOTHING)),
            change.span,
            window=window,
            obliged=sequence.reacts is None or window.latest is not None,
            words=change.words,
            window_of=f"{sequence.id} reacts",
        )

    def _set(self, set_to: SetTo) -> Assignment:
        domain = self.draft.variables[set_to.memory].values
        if isinstance(set_to.to, Sum):
            cases = tuple(
                (case, index_of(domain, number))
                for case, number in self.phrases.cases(set_to.to)
                if is_among(number, domain)
            )
            return Assignment(set_to.memory, cases)
        if isinstance(set_to.to, Ref):
            source = set_to.to
            values = [v for v in self.phrases.values(source) if is_among(v, domain)]
            return Assignment(
                set_to.memory, tuple((self.phrases.has(source, (v,)), index_of(domain, v)) for v in values)
            )
        return self.draft.to(set_to.memory, set_to.to)

    # --- power ---

    def resetting(self, sequence: Sequence) -> tuple[Assignment, ...]:
        """Back to the start step, memories that are not kept to their start values, no decision."""
        update = [self.draft.to(sequence.id, sequence.start)]
        update += [self.draft.to(memory.id, memory.start) for memory in sequence.memories if not memory.kept]
        if self.slow(sequence):
            update.append(self.draft.to(f"{sequence.id} decided", NOTHING))
        return tuple(update)

    def _power(self, sequence: Sequence) -> None:
        draft = self.draft
        away = [negate(draft.has(sequence.id, sequence.start))]
        away += [negate(draft.has(m.id, m.start)) for m in sequence.memories if not m.kept]
        if self.slow(sequence):
            away.append(negate(draft.has(f"{sequence.id} decided", NOTHING)))
        draft.action(
            sequence.id,
            "loses power",
            ActionKind.CONSEQUENCE,
            Tier.CONSEQUENCE,
            conjunction((negate(self.phrases.powered(sequence)), disjunction(away))),
            self.resetting(sequence),
            sequence.span,
        )


def goes_before(sequence: Sequence, first: StepChange, second: StepChange) -> bool:
    """Whether `first` goes before `second`: trips and timeouts before moves, then what `priority` says."""
    first_is_move, second_is_move = first.kind is ChangeKind.MOVE, second.kind is ChangeKind.MOVE
    if first_is_move != second_is_move:
        return second_is_move
    order = sequence.priority
    return first.name in order and second.name in order and order.index(first.name) < order.index(second.name)


def timers_of(sequence: Sequence) -> list[tuple[str, Window, Span]]:
    """The timers of a sequence: name of the variable, window, place."""
    found: list[tuple[str, Window, Span]] = []
    for change in sequence.changes:
        for permissive in change.permissives:
            if permissive.held_for is not None:
                name = f"{sequence.id} {change.name} {permissive.name} timer"
                found.append((name, permissive.held_for, permissive.span))
        if change.after is not None:
            found.append((f"{sequence.id} {change.from_steps[0]} timeout", change.after, change.span))
    return found
