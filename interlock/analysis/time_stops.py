"""Whether time can always pass, and whether an assumption is what stops it.

In: a spec, its system, limits. Out: findings, and what could not be checked. Only where obliged events leave no time
and can follow each other for ever is anything explored (`engines/ways/stopping.py` says why): all that influences them,
with as many failures as rules claim. Scenarios are told on that part.
"""

from __future__ import annotations

from dataclasses import replace

from interlock.analysis.findings import finding, told_as
from interlock.analysis.result import Finding, NotChecked
from interlock.core.elaborate import elaborate
from interlock.core.meaning import Meaning
from interlock.core.question import Question, Scenario, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.ways.stopping import at_once, bearing_on_time, time_passes
from interlock.spec.model import Spec

WHETHER = "whether time can always pass"
STOPS = "a situation can be reached from which no time can pass, whatever happens"


def time_stops(
    spec: Spec, system: System, limits: Limits, failures: int, *, settles: bool
) -> tuple[tuple[Finding, ...], tuple[NotChecked, ...]]:
    """What is found with the fewest failures, up to so many; and what was not checked. `settles`: it is known that
    tiers 0 and 1 always settle."""
    system = bearing_on_time(system, settles=settles)
    if not at_once(system):
        return (), ()
    for budget in range(failures + 1):
        answer = time_passes(system, budget, limits)
        if answer.verdict is Verdict.UNDECIDED:
            return (), (NotChecked(f"{WHETHER}, with {budget} failures", answer.limit or ""),)
        if answer.scenario is not None:
            return _found(spec, system, limits, budget, answer.scenario)
    return (), ()


def _found(
    spec: Spec, system: System, limits: Limits, budget: int, scenario: Scenario
) -> tuple[tuple[Finding, ...], tuple[NotChecked, ...]]:
    told = told_as(system, budget, scenario, "no time can pass from here on")
    after = f", after {budget} failure{'s' if budget != 1 else ''}" if budget else ""
    meaning = Meaning(system, Question("", budget=budget))
    there = [one.id for one in at_once(system) if meaning.true(one.guard, scenario.situations[-1])]
    origin = next((system.origin[id] for id in there if id in system.origin), None)
    found = [
        finding(
            "time-cannot-pass",
            STOPS + after,
            None if origin is None else origin.place,
            scenario=told,
            words="this may take no time",
        )
    ]
    unknown = []
    for assumption in spec.assumptions:
        dropped = replace(spec, assumptions=tuple(a for a in spec.assumptions if a.id != assumption.id))
        without = time_passes(bearing_on_time(elaborate(dropped), settles=False), budget, limits)
        if without.verdict is Verdict.HOLDS:
            headline = f"assumption `{assumption.id}` stops time: without it, time can always pass"
            found.append(finding("assumption-stops-time", headline, assumption.span))
        elif without.verdict is Verdict.UNDECIDED:
            unknown.append(NotChecked(f"whether assumption {assumption.id} stops time", without.limit or ""))
    return tuple(found), tuple(unknown)
