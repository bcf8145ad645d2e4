"""Small specs for the tests of the machine, written as a user would."""

from __future__ import annotations

from interlock.machine.machine import Machine
from interlock.machine.situation import Snapshot
from interlock.spec.loading import load_text
from interlock.spec.model import Spec

HEADING = "format: interlock/1\ntitle: a small spec\nrevision: A\n"


def spec_of(text: str) -> Spec:
    """The spec of a text without heading."""
    spec, bag, _ = load_text(HEADING + text, "small.yaml")
    assert spec is not None, bag.sorted()
    return spec


def start_of(machine: Machine) -> Snapshot:
    """The only start without failures."""
    (start,) = machine.plain_starts()
    return start


def possible(machine: Machine, snapshot: Snapshot) -> set[str]:
    """The ids of what may happen."""
    return {event.id for event in machine.events(snapshot)}


def run(machine: Machine, snapshot: Snapshot, *ids: str) -> Snapshot:
    """The situation after these events, each of which must be possible."""
    for id in ids:
        events = {event.id: event for event in machine.events(snapshot)}
        assert id in events, f"{id} cannot happen, only {sorted(events)}"
        snapshot = machine.after(snapshot, events[id])
    return snapshot


def settle(machine: Machine, snapshot: Snapshot) -> Snapshot:
    """A settled situation after this one, taking the first of what is possible."""
    while not machine.settled(snapshot):
        snapshot = machine.after(snapshot, machine.events(snapshot)[0])
    return snapshot
