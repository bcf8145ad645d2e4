"""Which bound to ask next while an extreme is closed in on: those that runs give, and now and then one that is guessed.

Towards the greatest a guess doubles what is known until something lies below it, then halves; towards the least it
halves from the beginning. Whole ticks only: all extremes are.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from interlock.analysis.result_timing import Length

ROUNDS = 60
"""Bounds that are tried before an extreme is left undecided."""

CREEPS = 2
"""So many bounds are taken from runs before others are guessed."""

AFTER_GUESSES = 6
"""So many bounds are still taken from runs once a limit was hit at a guess."""


class Undecided(Exception):
    """A limit was hit; its words."""


@dataclass(slots=True)
class _Turns:
    """`known`: the extreme of a run that was found. `bound`: what is asked now; `guessed`: it was not taken from a run.
    `proved`: nothing lies beyond it."""

    known: Length = field(default_factory=lambda: Length(0))
    bound: Length = field(default_factory=lambda: Length(0))
    proved: Length | None = None
    guessed: bool = False
    turn: int = 0
    guesses: bool = True

    def give_up_guessing(self) -> None:
        """A limit was hit at a bound that was only guessed."""
        self.guesses = False
        self.turn = max(self.turn, ROUNDS - AFTER_GUESSES)

    def _next(self, guess: int | None) -> None:
        self.turn += 1
        if self.turn > ROUNDS:
            raise Undecided(f"more than {ROUNDS} bounds were tried")
        self.guessed = self.guesses and self.turn > CREEPS and self.turn % 2 == 1 and guess is not None
        self.bound = Length(guess) if self.guessed and guess is not None else self.known


@dataclass(slots=True)
class Climb(_Turns):
    """Towards the greatest. `far`: if a run takes longer than so many ticks, no end to it is looked for any more."""

    far: int = 1 << 24

    def step(self) -> None:
        """The greatest length of a run that is known, or a guess beyond it. Undecided: there is no end to it."""
        guess: int | None = 2 * self.known.ticks + 1
        if self.known.ticks > self.far:
            raise Undecided("it can take many times as long as all windows together, and no end to it was found")
        if self.proved is not None:
            guess = (self.known.ticks + self.proved.ticks) // 2
            if not self.known.ticks < guess < self.proved.ticks:
                guess = None
        self._next(guess)


@dataclass(slots=True)
class Descent(_Turns):
    """Towards the least."""

    def step(self) -> None:
        """The least length of a run that is known, or a guess below it."""
        low = 0 if self.proved is None else self.proved.ticks
        guess = (low + self.known.ticks) // 2
        self._next(guess if low < guess < self.known.ticks else None)
