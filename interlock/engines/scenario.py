"""What every engine needs to put a scenario or a limit into an answer."""

from __future__ import annotations

from interlock.core.meaning import Meaning
from interlock.core.question import Scenario
from interlock.core.system import System, Valuation
from interlock.engines.api import EngineFault, Limits
from interlock.engines.shortest import Way


def at_start_of(meaning: Meaning, valuation: Valuation, spent: int) -> tuple[str, ...]:
    """The failures present in a start state: the first set in the order of `Meaning.starts` that gives it."""
    for state, present in meaning.starts_with_failures():
        if state.valuation == valuation and state.spent == spent:
            return present
    raise EngineFault("a scenario begins where no run can start")


def with_loop(system: System, scenario: Scenario, loop: Way[Valuation]) -> Scenario:
    """The scenario with a loop joined to its last situation."""
    return Scenario(
        scenario.at_start,
        scenario.situations + loop.states[1:],
        scenario.events + tuple(system.actions[event].id for event in loop.events),
        scenario.ends,
        loop_from=len(scenario.situations) - 1,
    )


def limit_words(limits: Limits) -> str:
    """The limit that was hit, in words."""
    return f"more than {limits.states:,} situations (told apart by the failures spent) can be reached"
