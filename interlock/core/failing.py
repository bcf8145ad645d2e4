"""What the failures of a spec do, looked up by the thing they act on; the order is that of the file."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from interlock.logic.formula import Value
from interlock.spec.model import Effect, EffectKind, Spec

HOLDS = (EffectKind.STAYS, EffectKind.STUCK)
GARBLES = (EffectKind.READS, EffectKind.FROZEN, EffectKind.ANYTHING)


@dataclass(frozen=True, slots=True)
class Fault:
    """One effect with the failure it belongs to."""

    failure: str
    effect: Effect


class Faults:
    """All effects of a spec by kind and target."""

    def __init__(self, spec: Spec) -> None:
        self.all = tuple(Fault(failure.id, effect) for failure in spec.failures for effect in failure.effects)

    def on(self, target: str, *kinds: EffectKind) -> tuple[Fault, ...]:
        """The effects of these kinds on a target, in file order."""
        return tuple(f for f in self.all if f.effect.target == target and f.effect.kind in kinds)

    def holding(self, item: str) -> tuple[tuple[str, Value | None], ...]:
        """The failures that keep an item in a state (None: in whatever state it has)."""
        held = self.on(item, *HOLDS, EffectKind.GOES)
        return tuple((f.failure, f.effect.value) for f in held if f.effect.kind in HOLDS or f.effect.held)

    def slowing(self, item: str, move: str) -> tuple[tuple[str, Fraction | None], ...]:
        """The failures that make a bound move slow, with the new latest (None: never)."""
        return tuple((f.failure, f.effect.latest_s) for f in self.on(item, EffectKind.SLOW) if f.effect.move == move)

    def ignored(self, item: str) -> tuple[tuple[str, str], ...]:
        """The failures by which an item ignores a command, with the command."""
        return tuple((f.failure, f.effect.command or "") for f in self.on(item, EffectKind.IGNORES))

    def stopping(self, link: str) -> tuple[str, ...]:
        """The failures by which a link carries nothing new."""
        return tuple(f.failure for f in self.on(link, EffectKind.LOST, EffectKind.FROZEN))
