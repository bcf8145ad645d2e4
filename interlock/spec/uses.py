"""What an expression may speak of, by where it stands: logic sees readings only, hazards are about equipment only."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.logic.formula import Thing

_WORDS = {
    Thing.ITEM: "equipment",
    Thing.STEP: "steps",
    Thing.MEMORY: "memory",
    Thing.READING: "readings",
    Thing.CARRIED: "link values",
    Thing.LINK: "links",
    Thing.FAILURE: "failures",
    Thing.COMMAND: "commands",
}

ALL = frozenset(Thing)


@dataclass(frozen=True, slots=True)
class Use:
    """A place for expressions. `where`: in words. `allowed`: what it may name. `events`: may it speak of events (`was`,
    `becomes`)? `because`: the reason, for the cure of a breach."""

    where: str
    allowed: frozenset[Thing]
    events: bool = False
    because: str = ""

    def listed(self) -> str:
        """What it may name, in words."""
        words = [_WORDS[thing] for thing in Thing if thing in self.allowed]
        return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def plural(thing: Thing) -> str:
    """Things of this sort, in words."""
    return _WORDS[thing]


_WORLD = frozenset({Thing.ITEM, Thing.FAILURE, Thing.COMMAND})

MOVE = Use("a condition of equipment", _WORLD, because="equipment feels commands, not readings or steps")
POWER = Use("`powered_by`", _WORLD, because="power is a matter of equipment")
FAILING = Use("a condition of a failure", _WORLD, because="failures come from the world, not from what logic believes")
ASSUMING = Use("an assumption", _WORLD, because="an assumption is about the world")
SHOWN = Use("a reading", frozenset({Thing.ITEM, Thing.FAILURE}), because="a reading shows what is true of equipment")
CARRYING = Use(
    "a value carried by a link", ALL - {Thing.LINK, Thing.CARRIED}, because="a link does not pass on another link"
)
PERMISSIVE = Use(
    "a permissive",
    frozenset({Thing.READING, Thing.CARRIED, Thing.LINK, Thing.MEMORY, Thing.STEP, Thing.COMMAND}),
    because="logic sees equipment only through readings",
)
SETTING = Use("a value set in memory", PERMISSIVE.allowed, because="logic sees equipment only through readings")
HAZARD = Use("a hazard", frozenset({Thing.ITEM}), True, "a hazard is about the world, whatever the logic believes")
RULE = Use("a rule", ALL, True)
PHASE = Use("a phase of the stop", ALL, because="times are measured between situations, not events")
CONDITION = Use("a condition", ALL, True)
