"""The whole spec as one executable machine: sequences in a simulated plant, any timing.

In: a `Spec`, how many failures may happen, and which. Out: its start situations, what may happen in a situation, and
the situation after it. Everything is built once; a situation is handed in and handed back: going back costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product

from interlock.logic.formula import Value
from interlock.machine.controllers import Controller
from interlock.machine.equipment import Equipment
from interlock.machine.failures import Failures, with_slow_twins
from interlock.machine.senses import Senses
from interlock.machine.signals import Signals
from interlock.machine.situation import Event, Happening, Snapshot, Values, lay_out
from interlock.spec.model import Spec


class Machine:
    """An executable spec. `allowed`: the failures that may happen (None: all but common causes)."""

    def __init__(self, spec: Spec, budget: int, allowed: tuple[str, ...] | None = None) -> None:
        self.spec = spec
        self.budget = budget
        usual = tuple(failure.id for failure in spec.failures if not failure.common_cause)
        self.allowed = frozenset(usual if allowed is None else allowed)
        self.layout = lay_out(spec)
        self.senses = Senses(spec, self.layout)
        self._signals = Signals(spec, self.layout, self.senses)
        equipment = Equipment(spec, self.layout, self.senses)
        controllers = {sequence.id: Controller(sequence, self.layout, self.senses) for sequence in spec.sequences}
        self._controllers = tuple(controllers.values())
        self._failures = Failures(spec, self.layout, self.senses, equipment, controllers)
        everything: list[Happening] = [
            *equipment.happenings(),
            *self._signals.happenings_of_readings(),
            *self._signals.happenings_of_links(),
        ]
        for controller in controllers.values():
            everything += controller.happenings()
        everything += self._failures.happenings()
        everything = list(self._failures.with_twins(everything))
        everything = [replace(h, restarts=with_slow_twins(h.restarts, everything)) for h in everything]
        self.happenings = tuple(everything)
        self._by_id = {happening.event.id: happening for happening in everything}
        if len(self._by_id) != len(everything):
            raise ValueError("two events have the same id")
        # Failures that ride on another event need that event, so they never decide which tier has its turn.
        self._tiers = tuple(tuple(h for h in everything if h.tier == tier) for tier in (0, 1, 2))

    @property
    def event_ids(self) -> tuple[str, ...]:
        """The ids of everything that could ever happen, whether allowed or not."""
        return tuple(self._by_id)

    def progress(self, snapshot: Snapshot) -> tuple[tuple[str | int, ...], ...]:
        """How far each sequence has come: its step, and how much of what its next moves need is there."""
        return tuple(controller.progress(snapshot.situation) for controller in self._controllers)

    # --- starts ---

    def plain_starts(self) -> Iterator[Snapshot]:
        """The starts without failures: every combination of what the items may start in."""
        places = [self.layout.places[item.id] for item in self.spec.items]
        for chosen in product(*(item.start for item in self.spec.items)):
            values: list[Value] = list(self.layout.first)
            for place, value in zip(places, chosen, strict=True):
                values[place] = value
            self._signals.begin(values)
            yield Snapshot(self.layout, tuple(values), 0)

    def failures_for_start(self) -> tuple[str, ...]:
        """Allowed failures that can be there at the start, in the order of the file."""
        return tuple(name for name, _, _ in self._failures.at_start() if name in self.allowed)

    def with_failures(self, start: Snapshot, present: tuple[str, ...]) -> Snapshot | None:
        """A start with these failures there already, one after the other; None if one of them cannot be."""
        known = {name: (can, changes) for name, can, changes in self._failures.at_start()}
        values = start.situation
        for name in present:
            can, changes = known[name]
            if not can(values):
                return None
            values = _changed(values, changes(values))
        return Snapshot(self.layout, values, start.spent + len(present))

    def starts(self) -> Iterator[tuple[Snapshot, tuple[str, ...]]]:
        """Every start with the failures present in it, fewest first, within the budget."""
        names = self.failures_for_start()
        for count in range(self.budget + 1):
            for start in self.plain_starts():
                for present in combinations(names, count):
                    snapshot = self.with_failures(start, present)
                    if snapshot is not None:
                        yield snapshot, present

    # --- running ---

    def settled(self, snapshot: Snapshot) -> bool:
        """Whether no consequence is pending and no immediate logic wants anything."""
        return not any(h.can(snapshot.situation) for tier in self._tiers[:2] for h in tier if not h.event.cost)

    def events(self, snapshot: Snapshot) -> tuple[Event, ...]:
        """What may happen: lower tiers first, failures only if allowed and within the budget."""
        now = snapshot.situation
        for tier in self._tiers:
            possible = [h.event for h in tier if h.can(now)]
            if any(not event.cost for event in possible) or tier is self._tiers[-1]:
                left = self.budget - snapshot.spent
                return tuple(event for event in possible if event.cost <= left and self.allowed.issuperset(event.modes))
        raise AssertionError("there is always a last tier")

    def after(self, snapshot: Snapshot, event: Event) -> Snapshot:
        """The situation after an event that may happen."""
        changes = self._by_id[event.id].changes(snapshot.situation)
        return Snapshot(self.layout, _changed(snapshot.situation, changes), snapshot.spent + event.cost)


def _changed(values: Values, changes: dict[int, Value]) -> Values:
    after = list(values)
    for place, value in changes.items():
        after[place] = value
    return tuple(after)
