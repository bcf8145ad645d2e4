"""Random specs for the declared timing in ticks: those of `random_specs.py` with closed, short and more windows.

In: a seed and a `Size`. Out: a `Spec`, the same one for the same seed and size.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random

from interlock.logic.formula import Formula
from interlock.spec.model import Permissive, Signal, Spec, Window
from tests.random_specs import PLACE, USUAL, Author, Size


def random_closed_spec(seed: int, size: Size = USUAL) -> Spec:
    """The random spec of this seed; all ends are closed, times are at most half a second in steps of a tenth."""
    return _InTicks(Random(seed), size).write(seed)


class _InTicks(Author):
    """Writes specs with many windows, few ticks long."""

    def window(self, may_last: bool = True) -> Window:
        earliest = self.draw.choice([0, 0, 1, 1, 2])
        if may_last and self.chance(0.1):
            return Window(Fraction(earliest, 10), None)
        latest = earliest + self.draw.choice([0, 1, 1, 2])
        return Window(Fraction(earliest, 10), Fraction(latest, 10))

    def latest(self) -> Fraction | None:
        return None if self.chance(0.3) else Fraction(self.draw.randint(1, 5), 10)

    def permissive(self, name: str, condition: Formula) -> Permissive:
        return Permissive(name, condition, self.window() if self.chance(0.4) else None, PLACE)

    def reading(self, name: str) -> Signal:
        made = super().reading(name)
        if made.steady is not None or made.late is not None or self.chance(0.5):
            return made
        steady, late = self.draw.choice([(self.window(), None), (None, self.window()), (self.window(), self.window())])
        return Signal(made.id, made.values, made.shows, steady, late, made.in_flight, made.words, made.span)
