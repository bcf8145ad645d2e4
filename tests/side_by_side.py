"""The two meanings of a spec side by side: the core's and the machine's, walked through in step.

In: a core, a machine, a limit. Out: what was compared, and the first difference as a small text. Both sides are asked
the same about every situation reached; as long as they agree, they reach the same situations.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeAlias

from interlock.core.elaborate import elaborate
from interlock.core.meaning import Meaning, State
from interlock.core.question import Question
from interlock.core.system import Action, System
from interlock.logic.formula import Value
from interlock.machine.machine import Machine
from interlock.machine.situation import Snapshot
from interlock.spec.model import Spec

Told: TypeAlias = tuple[tuple[str, Value], ...]
"""A situation as names with values, sorted by name."""

Outcome: TypeAlias = tuple[int, tuple[str, ...], Told]
"""What an event costs, the failures in it, and where it leads."""


@dataclass(slots=True)
class Compared:
    """What was compared: situations with spent failures, how often each event happened (`complete`: all there is); and
    the first difference, None if there is none."""

    known: set[tuple[Told, int]] = field(default_factory=set)
    events: Counter[str] = field(default_factory=Counter)
    complete: bool = True
    difference: str | None = None

    @property
    def situations(self) -> int:
        """How many situations both sides reach."""
        return len({told for told, _ in self.known})


def compare(
    spec: Spec,
    budget: int = 0,
    allowed: tuple[str, ...] | None = None,
    limit: int = 1_000_000,
    *,
    system: System | None = None,
    of_machine: Spec | None = None,
) -> Compared:
    """Compare both meanings of a spec; `limit` counts situations with spent failures.

    `system`: another core than that of the spec; `of_machine`: another spec for the machine.
    """
    system = elaborate(spec) if system is None else system
    core = _Core(system, Meaning(system, Question(property="", budget=budget, allowed=allowed)))
    machine = Machine(spec if of_machine is None else of_machine, budget, allowed)
    compared = Compared()
    domains = {n: sorted(map(repr, d)) for n, d in zip(machine.layout.names, machine.layout.domains, strict=True)}
    if core.domains() != domains:
        compared.difference = _names_differ(core.domains(), domains)
        return compared
    starts_of_core = core.starts()
    starts_of_machine = {(_told(s), s.spent, present): s for s, present in machine.starts()}
    for start in [*starts_of_core, *starts_of_machine]:
        if start not in starts_of_core or start not in starts_of_machine:
            side = "core" if start in starts_of_core else "machine"
            compared.difference = f"only the {side} starts so, with {start[2] or 'no failure'}:\n{_show(start[0])}"
            return compared
    queue: deque[tuple[Told, State, Snapshot]] = deque()
    for start, state in starts_of_core.items():
        if start[:2] not in compared.known:
            compared.known.add(start[:2])
            queue.append((start[0], state, starts_of_machine[start]))
    while queue and compared.difference is None:
        told, state, snapshot = queue.popleft()
        of_core = core.outcomes(state)
        of_machine_too = {e.id: (e.cost, e.modes, machine.after(snapshot, e)) for e in machine.events(snapshot)}
        outcomes = {id: (cost, modes, core.told(after)) for id, (cost, modes, after) in of_core.items()}
        others = {id: (cost, modes, _told(after)) for id, (cost, modes, after) in of_machine_too.items()}
        settled = (core.meaning.settled(state.valuation), machine.settled(snapshot))
        if outcomes != others:
            compared.difference = _events_differ(told, outcomes, others)
        elif settled[0] != settled[1]:
            compared.difference = f"settled only for the {'core' if settled[0] else 'machine'}:\n{_show(told)}"
        compared.events.update(outcomes.keys())
        for id, (_, _, after) in of_core.items():
            reached = (outcomes[id][2], after.spent)
            if reached in compared.known or compared.difference is not None:
                continue
            if len(compared.known) >= limit:
                compared.complete = False
                continue
            compared.known.add(reached)
            queue.append((reached[0], after, of_machine_too[id][2]))
    return compared


def fine_print(spec: Spec, *, of_machine: Spec | None = None) -> list[str]:
    """Where the two sides differ in what any timing does not show: kind, tier, window, duty, and what starts afresh."""
    system = elaborate(spec)
    found = []
    machine = {h.event.id: h for h in Machine(spec if of_machine is None else of_machine, 0).happenings}
    for action in system.actions:
        other = machine.get(action.id)
        if other is None:
            found.append(f"{action.id}: only the core has it")
            continue
        mine = (
            action.kind.value,
            action.tier.value,
            _seconds(action, system),
            action.obliged,
            sorted(action.restarts),
            action.cost,
            action.modes,
            action.ages_with,
        )
        window = other.window
        ends: tuple[Fraction, Fraction | None, bool, bool] | None = None
        if window is not None:
            ends = (window.earliest_s, window.latest_s, window.earliest_open, window.latest_open)
        elif other.tier == 2:
            ends = (Fraction(0), None, False, False)
        theirs = (
            other.kind.value,
            other.tier,
            ends,
            other.obliged,
            sorted(other.restarts),
            other.event.cost,
            other.event.modes,
            other.rides_on or "",
        )
        if mine != theirs:
            found.append(f"{action.id}: core {mine}, machine {theirs}")
    return found


def _seconds(action: Action, system: System) -> tuple[Fraction, Fraction | None, bool, bool] | None:
    window = action.window
    if window is None:
        return None
    latest = None if window.latest is None else window.latest * system.tick_s
    return window.earliest * system.tick_s, latest, window.earliest_open, window.latest_open


class _Core:
    """The core's side, told in names and values."""

    def __init__(self, system: System, meaning: Meaning) -> None:
        self.system = system
        self.meaning = meaning

    def domains(self) -> dict[str, list[str]]:
        return {variable.name: sorted(map(repr, variable.values)) for variable in self.system.variables}

    def told(self, state: State) -> Told:
        pairs = zip(self.system.variables, state.valuation, strict=True)
        return tuple(sorted(((v.name, v.values[i]) for v, i in pairs), key=lambda pair: pair[0]))

    def starts(self) -> dict[tuple[Told, int, tuple[str, ...]], State]:
        starts = self.meaning.starts_with_failures()
        return {(self.told(state), state.spent, present): state for state, present in starts}

    def outcomes(self, state: State) -> dict[str, tuple[int, tuple[str, ...], State]]:
        enabled = self.meaning.enabled(state)
        return {action.id: (action.cost, action.modes, self.meaning.after(action, state)) for action in enabled}


def _told(snapshot: Snapshot) -> Told:
    return tuple(sorted(snapshot.items(), key=lambda pair: pair[0]))


def _show(told: Told) -> str:
    return "\n".join(f"  {name}: {value!r}" for name, value in told)


def _names_differ(of_core: Mapping[str, list[str]], of_machine: Mapping[str, list[str]]) -> str:
    lines = ["the names or domains of a situation differ"]
    names = [name for name in sorted({*of_core, *of_machine}) if of_core.get(name) != of_machine.get(name)]
    lines.extend(f"  {name}: core {of_core.get(name)}, machine {of_machine.get(name)}" for name in names)
    return "\n".join(lines)


def _events_differ(told: Told, by_core: Mapping[str, Outcome], by_machine: Mapping[str, Outcome]) -> str:
    lines = ["in this situation the two sides differ:", _show(told)]
    for id in sorted({*by_core, *by_machine}):
        core, machine = by_core.get(id), by_machine.get(id)
        if core == machine:
            lines.append(f"both: {id}")
        elif core is not None and machine is not None:
            lines.append(f"differently: {id}\n  core{_leads(told, core)}\n  machine{_leads(told, machine)}")
        elif core is not None:
            lines.append(f"only the core: {id}{_leads(told, core)}")
        elif machine is not None:
            lines.append(f"only the machine: {id}{_leads(told, machine)}")
    return "\n".join(lines)


def _leads(told: Told, outcome: Outcome) -> str:
    before = dict(told)
    changes = [f"{name}: {before[name]!r} to {value!r}" for name, value in outcome[2] if before[name] != value]
    return f" (costs {outcome[0]}, failures {outcome[1]}): {', '.join(changes) or 'changes nothing'}"
