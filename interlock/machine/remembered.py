"""A machine that remembers what it was asked: walks come by the same situations again and again."""

from __future__ import annotations

from interlock.machine.machine import Machine
from interlock.machine.situation import Event, Snapshot

_MOST = 50_000


class Remembered:
    """What may happen in a situation and where it leads, asked of the machine once; forgotten when it is too much."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self._possible: dict[Snapshot, tuple[Event, ...]] = {}
        self._led_to: dict[tuple[Snapshot, str], Snapshot] = {}

    def events(self, snapshot: Snapshot) -> tuple[Event, ...]:
        """As `Machine.events`."""
        if snapshot not in self._possible:
            if len(self._possible) >= _MOST:
                self._possible.clear()
            self._possible[snapshot] = self.machine.events(snapshot)
        return self._possible[snapshot]

    def after(self, snapshot: Snapshot, event: Event) -> Snapshot:
        """As `Machine.after`."""
        key = (snapshot, event.id)
        if key not in self._led_to:
            if len(self._led_to) >= _MOST:
                self._led_to.clear()
            self._led_to[key] = self.machine.after(snapshot, event)
        return self._led_to[key]
