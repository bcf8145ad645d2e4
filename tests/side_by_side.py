"""The two meanings of a spec side by side: the core's and the machine's, walked through in step.

In: a spec, a budget of failures, the allowed ones, a limit. Out: what was compared, and the first difference as a small
text. Both sides are asked the same about every situation reached; as long as they agree, they reach the same situations.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TypeAlias

from interlock.core.elaborate import elaborate
from interlock.core.meaning import Meaning, State
from interlock.core.question import Question
from interlock.logic.formula import Value
from interlock.machine.machine import Machine
from interlock.machine.situation import Snapshot
from interlock.spec.model import Spec

Told: TypeAlias = tuple[tuple[str, Value], ...]
"""A situation as names with values, sorted by name."""

Outcome: TypeAlias = tuple[int, tuple[str, ...], Told]
"""What an event costs, the failures in it, and where it leads."""


@dataclass(frozen=True, slots=True)
class Compared:
    """How much was compared (`complete`: everything), and the first difference, None if there is none."""

    situations: int
    settled: int
    events: int
    complete: bool
    difference: str | None


def compare(
    spec: Spec, budget: int = 0, allowed: tuple[str, ...] | None = None, limit: int = 1_000_000
) -> Compared:
    """Compare both meanings; `limit` counts situations with spent failures."""
    system = elaborate(spec)
    meaning = Meaning(system, Question(property="", budget=budget, allowed=allowed))
    machine = Machine(spec, budget, allowed)
    names = tuple(variable.name for variable in system.variables)
    of_core = {v.name: sorted(map(repr, v.values)) for v in system.variables}
    of_machine = {
        name: sorted(map(repr, domain))
        for name, domain in zip(machine.layout.names, machine.layout.domains, strict=True)
    }
    if of_core != of_machine or len(of_core) != len(names):
        return Compared(0, 0, 0, False, _names_differ(of_core, of_machine))

    def told_by_core(state: State) -> Told:
        pairs = zip(system.variables, state.valuation, strict=True)
        return tuple(sorted(((v.name, v.values[i]) for v, i in pairs), key=lambda pair: pair[0]))

    def told_by_machine(snapshot: Snapshot) -> Told:
        return tuple(sorted(snapshot.items(), key=lambda pair: pair[0]))

    starts_of_core = {
        (told_by_core(state), state.spent, present): state for state, present in meaning.starts_with_failures()
    }
    starts_of_machine = {
        (told_by_machine(snapshot), snapshot.spent, present): snapshot for snapshot, present in machine.starts()
    }
    for start in [*starts_of_core, *starts_of_machine]:
        if start not in starts_of_core or start not in starts_of_machine:
            side = "the core" if start in starts_of_core else "the machine"
            return Compared(0, 0, 0, False, f"only {side} starts so, with {start[2] or 'no failure'}:\n{_show(start[0])}")
    known: set[tuple[Told, int]] = set()
    queue: deque[tuple[Told, State, Snapshot]] = deque()
    for start, state in starts_of_core.items():
        if start[:2] not in known:
            known.add(start[:2])
            queue.append((start[0], state, starts_of_machine[start]))
    n_events = 0
    settled: set[Told] = set()
    complete = True
    while queue:
        told, state, snapshot = queue.popleft()
        is_settled = meaning.settled(state.valuation)
        if is_settled != machine.settled(snapshot):
            side = "the core" if is_settled else "the machine"
            return Compared(len(known), len(settled), n_events, False, f"settled only for {side}:\n{_show(told)}")
        if is_settled:
            settled.add(told)
        by_core = {action.id: (action.cost, action.modes, meaning.after(action, state)) for action in meaning.enabled(state)}
        by_machine = {e.id: (e.cost, e.modes, machine.after(snapshot, e)) for e in machine.events(snapshot)}
        outcomes_of_core = {id: (cost, modes, told_by_core(after)) for id, (cost, modes, after) in by_core.items()}
        outcomes_of_machine = {
            id: (cost, modes, told_by_machine(after)) for id, (cost, modes, after) in by_machine.items()
        }
        if outcomes_of_core != outcomes_of_machine:
            report = _events_differ(told, outcomes_of_core, outcomes_of_machine)
            return Compared(len(known), len(settled), n_events, False, report)
        n_events += len(by_core)
        for id, (_, _, after) in by_core.items():
            told_after = outcomes_of_core[id][2]
            if (told_after, after.spent) in known:
                continue
            if len(known) >= limit:
                complete = False
                continue
            known.add((told_after, after.spent))
            queue.append((told_after, after, by_machine[id][2]))
    return Compared(len({told for told, _ in known}), len(settled), n_events, complete, None)


def _show(told: Told) -> str:
    return "\n".join(f"  {name}: {value!r}" for name, value in told)


def _names_differ(of_core: dict[str, list[str]], of_machine: dict[str, list[str]]) -> str:
    lines = ["the names or domains of a situation differ"]
    for name in sorted({*of_core, *of_machine}):
        if of_core.get(name) != of_machine.get(name):
            lines.append(f"  {name}: core {of_core.get(name)}, machine {of_machine.get(name)}")
    return "\n".join(lines)


def _events_differ(told: Told, by_core: dict[str, Outcome], by_machine: dict[str, Outcome]) -> str:
    lines = ["in this situation the two sides differ:", _show(told)]
    for id in sorted({*by_core, *by_machine}):
        core, machine = by_core.get(id), by_machine.get(id)
        if core == machine:
            lines.append(f"both: {id}")
        elif core is None or machine is None:
            lines.append(f"only the {'machine' if core is None else 'core'}: {id}{_leads(told, machine or core)}")
        else:
            lines.append(f"differently: {id}\n  core{_leads(told, core)}\n  machine{_leads(told, machine)}")
    return "\n".join(lines)


def _leads(told: Told, outcome: Outcome | None) -> str:
    assert outcome is not None
    before = dict(told)
    changes = [f"{name}: {before[name]!r} to {value!r}" for name, value in outcome[2] if before[name] != value]
    return f" (costs {outcome[0]}, failures {outcome[1]}): {', '.join(changes) or 'changes nothing'}"
