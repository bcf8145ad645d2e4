"""What an engine is: the protocol, the limits, a survey of everything reachable, and the table of engines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from interlock.core.question import Answer, Counts, Question, Scenario
from interlock.core.system import System
from interlock.logic.expression import Expression


class EngineFault(Exception):
    """A fault of ours: engines disagree, or a scenario does not replay. Never a user's mistake."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits in things counted, never in seconds. `states`: explored pairs of valuation and spent budget (with the flag
    of a `before` rule where there is one). `zones`: zones of ages a search for the declared timing may reach, and
    situations where it goes on in plain Python (None: as many as `states`). `progress` is called now and then with
    states known and depth (None where an exploration goes in no order)."""

    states: int = 2_000_000
    progress: Callable[[int, int | None], None] | None = None
    zones: int | None = None

    @property
    def most_zones(self) -> int:
        """Zones, or situations in plain Python."""
        return self.states if self.zones is None else min(self.zones, self.states)


class Where(Enum):
    """In which situations a probe looks."""

    EVERY = "every situation"
    DECIDING = "no consequence pending"  # no action of tier 0 enabled: what logic sees when it decides
    SETTLED = "settled situations"


@dataclass(frozen=True, slots=True)
class Probe:
    """Asks whether an expression (without `was`) is ever true in some kind of reachable situation."""

    id: str
    expression: Expression
    where: Where


@dataclass(frozen=True, slots=True)
class Survey:
    """What one exploration of everything saw. Scenarios are canonical shortest ones; None: there is none.

    `happened`: actions that happened. `seen`: ids of probes that were true somewhere. `stuck`: to a settled situation
    in which nothing is enabled but failures and repairs (all modes allowed or not). `unsettling`: to a loop of tier 0
    and 1 events. `orders`: to an unsettled situation from which different orders of different owners' events settle in
    different places, with failures left out. `limit`: which limit was hit, in words; then nothing that is absent is
    proved absent. `engine`: the name of the engine that saw it. `not_compared`: why orders were not all compared though
    everything was explored, in words; None: they were.
    """

    counts: Counts
    happened: frozenset[str]
    seen: frozenset[str]
    stuck: Scenario | None
    unsettling: Scenario | None
    orders: Scenario | None
    limit: str | None
    engine: str
    not_compared: str | None = None


class Engine(Protocol):
    """An engine. `answer`: one answer a question, in their order; a question outside `decides` is an EngineFault."""

    @property
    def name(self) -> str:
        """The name people see."""
        ...

    def decides(self, system: System, question: Question) -> bool:
        """Whether the engine can decide such a question completely, limits aside."""
        ...

    def answer(self, system: System, questions: tuple[Question, ...], limits: Limits) -> tuple[Answer, ...]:
        """Answer each question by itself."""
        ...

    def survey(self, system: System, question: Question, probes: tuple[Probe, ...], limits: Limits) -> Survey:
        """Explore everything reachable under the question's budget, allowed modes, overlay (its property unused)."""
        ...
