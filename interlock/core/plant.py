"""Equipment: items, their moves, what follows. See specs/MEANING.md, section 2."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.core.draft import Draft, is_among
from interlock.core.failing import Faults
from interlock.core.phrases import Phrases
from interlock.core.system import Action, ActionKind, Assignment, TickWindow, Tier, VariableKind
from interlock.logic.expression import TRUE, Expression, conjunction, disjunction, negate
from interlock.logic.formula import TRUE as ALWAYS
from interlock.logic.formula import Value
from interlock.spec.model import Item, Move, Spec

PHASES = ("idle", "running", "withdrawn", "resumed")


@dataclass(frozen=True, slots=True)
class Making:
    """An action by which a move happens, kept so that failures can ride on it."""

    item: str
    move: str
    action: Action


class Plant:
    """Makes the variables of all items first, then their actions."""

    def __init__(self, spec: Spec, draft: Draft, faults: Faults, phrases: Phrases) -> None:
        self.spec = spec
        self.draft = draft
        self.faults = faults
        self.phrases = phrases
        self.items = {item.id: item for item in spec.items}
        self.makings: list[Making] = []

    def variables(self) -> None:
        """The states of items and the phases of bound moves with a condition."""
        for item in self.spec.items:
            self.draft.variable(item.id, item.states, VariableKind.ITEM, item.start[0], item.words, item.span)
            for move in item.moves:
                if has_phase(move):
                    phases = PHASES[:2] if move.completes else PHASES
                    words = f"how far `{move.name}` of {item.id} is"
                    self.draft.variable(f"{item.id} {move.name}", phases, VariableKind.PHASE, "idle", words, move.span)

    def actions(self) -> None:
        """The events of all items, in file order."""
        for item in self.spec.items:
            for move in item.moves:
                self._move(item, move)
            if item.follows is not None:
                self._follow(item)

    # --- changing an item ---

    def hindered(self, item: str, value: Value) -> Expression:
        """A present failure keeps the item from taking the state."""
        return disjunction(
            self.phrases.present(failure)
            for failure, kept in self.faults.holding(item)
            if kept is None or not is_among(kept, (value,))
        )

    def setting(self, item: str, value: Value, condition: Expression = TRUE) -> tuple[Assignment, ...]:
        """The item takes the state (where `condition` holds), and bound moves that start elsewhere are idle again."""
        idle = (
            self.draft.to(f"{item} {move.name}", "idle", condition)
            for move in self.items[item].moves
            if has_phase(move) and not is_among(value, move.from_states)
        )
        return (self.draft.to(item, value, condition), *idle)

    def idling(self, item: str) -> tuple[Assignment, ...]:
        """All phases of the item's bound moves become idle."""
        return tuple(self.draft.to(f"{item} {move.name}", "idle") for move in self.items[item].moves if has_phase(move))

    # --- events ---

    def _move(self, item: Item, move: Move) -> None:
        here = self.draft.has(item.id, *move.from_states)
        when = self.phrases.expression(move.when, self.faults.ignored(item.id))
        free_to_go = conjunction((here, negate(self.hindered(item.id, move.to))))
        changes = [*self.setting(item.id, move.to)]
        for other, value in move.also:
            changes += self.setting(other, value, negate(self.hindered(other, value)))
        if move.free or move.instant:
            kind, tier = (ActionKind.FREE, Tier.OTHER) if move.free else (ActionKind.CONSEQUENCE, Tier.CONSEQUENCE)
            made = self.draft.action(
                item.id, move.name, kind, tier, conjunction((free_to_go, when)), changes, move.span, words=move.words
            )
            self.makings.append(Making(item.id, move.name, made))
            return
        assert move.takes is not None
        window = self.draft.window(move.takes)
        if not has_phase(move):
            self._bound(item, move, move.name, free_to_go, changes, window)
            return
        phase = f"{item.id} {move.name}"

        def turn(name: str, guard: Expression, to: str) -> None:
            self.draft.action(
                item.id,
                f"{move.name} {name}",
                ActionKind.CONSEQUENCE,
                Tier.CONSEQUENCE,
                conjunction((here, guard)),
                (self.draft.to(phase, to),),
                move.span,
            )

        def now(*phases: str) -> Expression:
            return self.draft.has(phase, *phases)

        late = TickWindow(0, window.latest, False, window.latest_open)
        turn("starts", conjunction((now("idle"), when)), "running")
        if not move.completes:
            turn("is withdrawn", conjunction((now("running", "resumed"), negate(when))), "withdrawn")
            turn("resumes", conjunction((now("withdrawn"), when)), "resumed")
        self._bound(item, move, move.name, conjunction((now("running"), free_to_go)), changes, window)
        if not move.completes:
            withdrawn = conjunction((now("withdrawn"), free_to_go))
            resumed = conjunction((now("resumed"), free_to_go))
            self._bound(item, move, f"{move.name} though withdrawn", withdrawn, changes, late)
            dropped = conjunction((now("withdrawn"), here))
            idle = [self.draft.to(phase, "idle")]
            self._bound(item, move, f"{move.name} is dropped", dropped, idle, late, makes=False)
            self._bound(item, move, f"{move.name} after resuming", resumed, changes, late)

    def _bound(
        self,
        item: Item,
        move: Move,
        name: str,
        guard: Expression,
        changes: list[Assignment],
        window: TickWindow,
        makes: bool = True,
    ) -> None:
        """An event of a bound move and its slow twins; `makes`: it completes the move, so failures may ride on it."""
        for slow_name, slow_guard, slow_window in slowed(
            name, guard, window, self.faults.slowing(item.id, move.name), self.phrases
        ):
            made = self.draft.action(
                item.id,
                slow_name,
                ActionKind.BOUND,
                Tier.OTHER,
                slow_guard,
                changes,
                move.span,
                window=slow_window,
                words=move.words if makes else "",
                window_of=f"{item.id} {move.name}{slow_name.removeprefix(name)}",
            )
            if makes:
                self.makings.append(Making(item.id, move.name, made))

    def _follow(self, item: Item) -> None:
        assert item.follows is not None
        first, second = item.states
        follows = self.phrases.expression(item.follows, self.faults.ignored(item.id))
        for source, target, guard in ((first, second, follows), (second, first, negate(follows))):
            here = self.draft.has(item.id, source)
            free_to_go = negate(self.hindered(item.id, target))
            self.draft.action(
                item.id,
                f"becomes {shown(target)}",
                ActionKind.CONSEQUENCE,
                Tier.CONSEQUENCE,
                conjunction((here, guard, free_to_go)),
                self.setting(item.id, target),
                item.span,
            )


def has_phase(move: Move) -> bool:
    """Whether the move is bound and has a condition that can be withdrawn."""
    return move.takes is not None and not move.instant and move.when is not ALWAYS and move.when != ALWAYS


def slowed(
    name: str,
    guard: Expression,
    window: TickWindow,
    slowing: tuple[tuple[str, Fraction | None], ...],
    phrases: Phrases,
) -> list[tuple[str, Expression, TickWindow]]:
    """An event and its slow twins: name, guard, window. Without failures that slow it, the event alone."""
    presents = [(failure, phrases.present(failure), latest) for failure, latest in slowing]
    usual = conjunction((guard, *(negate(present) for _, present, _ in presents)))
    twins = [(name, usual, window)]
    for failure, present, latest in presents:
        ticks = None if latest is None else phrases.draft.ticks(latest)
        twins.append((f"{name}, slowly by {failure}", conjunction((guard, present)), TickWindow(0, ticks)))
    return twins


def shown(value: Value) -> str:
    """A value as people write it."""
    return str(value).lower() if isinstance(value, bool) else str(value)
