"""A berth with six clocks and times from 0.1 s to 210 s, as measurement material for the declared timing; or several of
them side by side. One tick is 0.1 s.

Clocks: how long the train stands (30 s to 210 s), the controller's timers (0.1 s to 180 s), the shoe (3 s to 8 s), the
contactor (0.1 s to 0.3 s), the handshake (0.1 s to 2 s), the emergency stop (5 s). Fourteen windows stand on them. All
ends are closed, so that whole ticks are exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from interlock.core.system import Assignment, System, TickWindow
from interlock.logic.expression import TRUE, conjunction, disjunction
from tests.engines.plan import Plan, Value, never

STEPS = ("idle", "shaking", "lowering", "closing", "charging", "ending", "opening", "raising", "over", "failed")
WINDOWS = {
    "leaves": TickWindow(300, 2100),
    "ready": TickWindow(1, 20),
    "gives_up": TickWindow(50, 50),
    "deployed": TickWindow(40, 80),
    "retracts": TickWindow(100, 100),
    "closed": TickWindow(1, 3),
    "opens_again": TickWindow(5, 5),
    "ends": TickWindow(100, 1800),
    "opens_at_once": TickWindow(0, 1),
    "opened": TickWindow(1, 3),
    "does_not_open": TickWindow(5, 5),
    "retracted": TickWindow(30, 70),
    "does_not_retract": TickWindow(90, 90),
    "stop_is_reset": TickWindow(50, None),
}
OBLIGED_NOT = {"ready", "stop_is_reset"}


class _Berth:
    """One berth being written into a plan; `b` ends every name."""

    def __init__(self, plan: Plan, b: int, failures: bool) -> None:
        self.plan = plan
        self.b = b
        for name, values in {
            "train": ("away", "there", "to leave"),
            "logic": STEPS,
            "shoe": ("up", "lowering", "down", "raising", "stuck"),
            "contactor": ("open", "closing", "closed", "opening", "welded"),
            "hand": ("still", "shaking"),
            "stop": ("off", "on"),
            "device": ("sound", "failed"),
        }.items():
            plan.item(f"{name} {b}", *values)
        self.events()
        if failures:
            self.failures()

    def at(self, **values: object) -> dict[str, object]:
        return {f"{name} {self.b}": value for name, value in values.items()}

    def event(
        self, name: str, when: Mapping[str, object], then: Mapping[str, object], **turns: tuple[Value, Value]
    ) -> None:
        """`then`: what is changed in any case; `turns`: what is changed where it has the first of two values."""
        update = list(self.plan.to(self.at(**then)))
        for item, (before, after) in turns.items():
            here = f"{item} {self.b}"
            update.append(Assignment(here, ((self.plan.has(here, before), self.plan.domain(here).index(after)),)))
        self.plan.event(f"{name} {self.b}", self.at(**when), tuple(update))
        window = WINDOWS.get(name)
        if window is not None:
            obliged = name not in OBLIGED_NOT
            self.plan.actions[-1] = replace(self.plan.actions[-1], window=window, obliged=obliged)

    def events(self) -> None:
        """All but failures."""
        arrived = {"train": "there", "logic": "shaking", "hand": "shaking"}
        self.event("arrives", {"train": "away", "logic": "idle"}, arrived)
        self.event("leaves", {"train": "there"}, {"train": "to leave"}, logic=("charging", "ending"))
        self.event("departs", {"train": "to leave", "logic": "over"}, {"train": "away", "logic": "idle"})
        ready = {"logic": "shaking", "shoe": "up", "hand": "shaking"}
        self.event("ready", ready, {"logic": "lowering", "shoe": "lowering", "hand": "still"})
        self.event("gives_up", {"logic": "shaking"}, {"logic": "over", "hand": "still"})
        lowering = {"logic": "lowering", "shoe": "lowering"}
        self.event("deployed", lowering, {"logic": "closing", "shoe": "down", "contactor": "closing"})
        self.event("retracts", {"logic": "lowering"}, {"logic": "raising"}, shoe=("lowering", "raising"))
        closing = {"logic": "closing", "contactor": "closing"}
        self.event("closed", closing, {"logic": "charging", "contactor": "closed"})
        self.event("opens_again", closing, {"logic": "opening", "contactor": "opening"})
        opens = {"contactor": ("closed", "opening")}
        self.event("ends", {"logic": "charging"}, {"logic": "opening"}, contactor=opens["contactor"])
        self.event("opens_at_once", {"logic": "ending"}, {"logic": "opening"}, contactor=opens["contactor"])
        opening = {"logic": "opening", "contactor": "opening"}
        self.event("opened", opening, {"logic": "raising", "shoe": "raising", "contactor": "open"})
        self.event("does_not_open", {"logic": "opening"}, {"logic": "failed"})
        self.event("retracted", {"logic": "raising", "shoe": "raising"}, {"logic": "over", "shoe": "up"})
        self.event("does_not_retract", {"logic": "raising"}, {"logic": "failed"})
        self.event("stop_is_pressed", {"stop": "off"}, {"stop": "on"}, logic=("charging", "ending"))
        self.event("stop_is_reset", {"stop": "on"}, {"stop": "off"})

    def failures(self) -> None:
        """The shoe sticks or the contactor welds, whichever is first."""
        sound = {"device": "sound"}
        failed = {"device": "failed"}
        self.event("shoe_sticks", {**sound, "shoe": ("lowering", "raising")}, {**failed, "shoe": "stuck"})
        self.event("contactor_welds", {**sound, "contactor": "closed"}, {**failed, "contactor": "welded"})


def berths(n: int, failures: bool) -> System:
    """`n` berths. Asked: `away`, that no train is away with anything of its berth in use (any timing tells so);
    `fails`, that the controller never finds a failure (without failures the windows tell so); `together`, that not all
    are in step `failed`."""
    plan = Plan()
    for b in range(n):
        _Berth(plan, b, failures)
    in_use = [
        conjunction([plan.has(f"train {b}", "away"), disjunction([
            plan.has(f"contactor {b}", "closing", "closed", "welded"), plan.has(f"shoe {b}", "lowering", "down")])])
        for b in range(n)
    ]  # fmt: skip
    failed = [plan.has(f"logic {b}", "failed") for b in range(n)]
    return plan.system(
        never("away", disjunction(in_use)),
        never("fails", disjunction(failed)),
        never("together", conjunction([TRUE, *failed])),
    )
