"""Two berths side by side without failures, as measurement material: 331,776 situations, 3,672,576 events (the counts
were measured before by independent programs).

Each berth: a train that comes and goes, an identity, a shoe, a contact, readiness, a stop button, brakes, a controller
with eight steps and a rail. Nothing couples the berths, so that the counts of one berth multiply: 576 situations each.
"""

from __future__ import annotations

from interlock.core.system import System
from interlock.logic.expression import conjunction
from tests.small_systems import Event, Table, avoid

SITUATIONS, EVENTS = 331_776, 3_672_576

SIZES = {"train": 4, "id": 2, "shoe": 4, "contact": 2, "ready": 2, "rail": 3, "step": 8, "stop": 2, "brake": 2}

ONE_BERTH: list[tuple[str, dict[str, int], dict[str, int]]] = [
    ("train comes", {"train": 0}, {"train": 1}),
    ("train stops", {"train": 1}, {"train": 2}),
    ("train moves off", {"train": 2, "brake": 0, "shoe": 0}, {"train": 3}),
    ("train is gone", {"train": 3}, {"train": 0, "id": 0, "ready": 0}),
    ("identity read", {"train": 2, "id": 0}, {"id": 1}),
    ("identity lost", {"id": 1, "train": 2}, {"id": 0}),
    ("brake on", {"train": 2, "brake": 0}, {"brake": 1}),
    ("brake off", {"brake": 1}, {"brake": 0}),
    ("shoe down", {"shoe": 1}, {"shoe": 2}),
    ("shoe up", {"shoe": 3}, {"shoe": 0}),
    ("contact made", {"shoe": 2, "contact": 0}, {"contact": 1}),
    ("contact lost", {"contact": 1}, {"contact": 0}),
    ("ready", {"train": 2, "ready": 0}, {"ready": 1}),
    ("not ready", {"ready": 1}, {"ready": 0}),
    ("stop pressed", {"stop": 0}, {"stop": 1}),
    ("stop released", {"stop": 1}, {"stop": 0}),
    ("identified", {"step": 0, "id": 1, "train": 2}, {"step": 1}),
    ("held", {"step": 1, "brake": 1}, {"step": 2, "shoe": 1}),
    ("proved", {"step": 2, "shoe": 2, "contact": 1}, {"step": 3}),
    ("energise", {"step": 3, "ready": 1, "stop": 0}, {"step": 4, "rail": 1}),
    ("charge", {"step": 4, "contact": 1}, {"step": 5, "rail": 2}),
    ("trip on contact", {"step": 5, "contact": 0}, {"step": 6, "rail": 1}),
    ("trip on stop", {"step": 5, "stop": 1}, {"step": 6, "rail": 1}),
    ("trip on readiness", {"step": 5, "ready": 0}, {"step": 6, "rail": 1}),
    ("open", {"step": 6}, {"step": 7, "rail": 0}),
    ("raise", {"step": 7, "shoe": 2}, {"shoe": 3}),
    ("release", {"step": 7, "shoe": 0}, {"step": 0}),
    *((f"abort from {step}", {"step": step, "stop": 1}, {"step": 6}) for step in (1, 2, 3, 4)),
]


def berths(n: int) -> System:
    """`n` berths side by side; asked: never both live with the train moving off (which holds)."""
    table = Table({f"{name} {b}": range(size) for b in range(n) for name, size in SIZES.items()})
    events: list[Event] = []
    for b in range(n):
        for name, before, after in ONE_BERTH:
            needs = {f"{variable} {b}": [value] for variable, value in before.items()}
            events.append(
                (f"berth {b}: {name}", needs, {f"{variable} {b}": value for variable, value in after.items()})
            )
    unsafe = conjunction([table.among("rail 0", [2]), table.among("step 0", [0])])
    return table.system({f"{name} {b}": 0 for b in range(n) for name in SIZES}, events, (avoid(unsafe),))
