"""A system in the making: variables, actions and origins in their order, and expressions by value instead of index."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd, lcm

from interlock.core.system import Action, ActionKind, Assignment, Mode, Origin, TickWindow, Tier, Variable, VariableKind
from interlock.diag.place import Span
from interlock.logic.expression import TRUE, Expression, has
from interlock.logic.formula import Value
from interlock.spec.model import Spec, Window


@dataclass(slots=True)
class Draft:
    """What elaboration has put together so far. `default` is each variable's value index at the start."""

    tick_s: Fraction
    variables: dict[str, Variable] = field(default_factory=dict)
    default: dict[str, int] = field(default_factory=dict)
    actions: list[Action] = field(default_factory=list)
    modes: list[Mode] = field(default_factory=list)
    origin: dict[str, Origin] = field(default_factory=dict)

    def variable(
        self, name: str, values: Iterable[Value], kind: VariableKind, start: Value, words: str, place: Span | None
    ) -> str:
        """Add a variable; gives back its name."""
        made = Variable(name, tuple(values), kind)
        assert name not in self.variables, name
        self.variables[name] = made
        self.default[name] = index_of(made.values, start)
        self.origin.setdefault(name, Origin(words, place))
        return name

    def has(self, name: str, *values: Value) -> Expression:
        """The variable has one of these values; values outside its domain never hold."""
        domain = self.variables[name].values
        return has(name, (i for i, v in enumerate(domain) if is_among(v, values)), len(domain))

    def to(self, name: str, value: Value, condition: Expression = TRUE) -> Assignment:
        """The assignment of a value, where `condition` holds."""
        return Assignment(name, ((condition, index_of(self.variables[name].values, value)),))

    def window(self, window: Window) -> TickWindow:
        """The window in ticks."""
        return TickWindow(
            self.ticks(window.earliest_s),
            None if window.latest_s is None else self.ticks(window.latest_s),
            window.earliest_open,
            window.latest_open,
        )

    def ticks(self, seconds: Fraction) -> int:
        """A time in ticks; exact, since the tick divides every time of the spec."""
        ticks = seconds / self.tick_s
        assert ticks.denominator == 1, seconds
        return ticks.numerator

    def action(
        self,
        owner: str,
        name: str,
        kind: ActionKind,
        tier: Tier,
        guard: Expression,
        update: Iterable[Assignment],
        place: Span | None,
        *,
        window: TickWindow | None = None,
        obliged: bool | None = None,
        restarts: tuple[str, ...] = (),
        words: str = "",
        window_of: str = "",
    ) -> Action:
        """Add an action with id "OWNER NAME". Tier 2 without a window may happen at any age. `obliged` None: tier 0 and
        1 are, tier 2 is if its latest is finite. `window_of`: as `Origin.window`."""
        if tier is Tier.OTHER and window is None:
            window = TickWindow()
        if obliged is None:
            obliged = window is None or window.latest is not None
        made = Action(f"{owner} {name}", owner, name, kind, tier, guard, merged(update), window, obliged, restarts)
        self.actions.append(made)
        self.origin[made.id] = Origin(words, place, window_of)
        return made


def merged(update: Iterable[Assignment]) -> tuple[Assignment, ...]:
    """Assignments with one entry a variable: cases of an earlier one come first."""
    cases: dict[str, tuple[tuple[Expression, int], ...]] = {}
    for assignment in update:
        cases[assignment.variable] = cases.get(assignment.variable, ()) + assignment.cases
    return tuple(Assignment(variable, all_cases) for variable, all_cases in cases.items())


def is_among(value: Value, values: Iterable[Value]) -> bool:
    """Membership that keeps truth values and integers apart (in Python, 1 equals True)."""
    return any(value == other and isinstance(value, bool) == isinstance(other, bool) for other in values)


def index_of(domain: tuple[Value, ...], value: Value) -> int:
    """The index of a value in its domain; ValueError if it is not there."""
    for i, candidate in enumerate(domain):
        if is_among(candidate, (value,)):
            return i
    raise ValueError(f"{value!r} is not among {domain!r}")


def tick_of(spec: Spec) -> Fraction:
    """The greatest time that divides every time of the spec, in seconds; one second if the spec has none."""
    times = [time for time in _times(spec) if time]
    if not times:
        return Fraction(1)
    return Fraction(gcd(*(t.numerator for t in times)), lcm(*(t.denominator for t in times)))


def _times(spec: Spec) -> Iterable[Fraction]:
    windows: list[Window | None] = [move.takes for item in spec.items for move in item.moves]
    windows += [w for reading in spec.readings for w in (reading.steady, reading.late)]
    windows += [w for link in spec.links for value in link.carries for w in (value.steady, value.late)]
    windows += [link.watchdog for link in spec.links]
    for sequence in spec.sequences:
        windows.append(sequence.reacts)
        windows += [w for c in sequence.changes for w in (c.after, *(p.held_for for p in c.permissives))]
    windows += [rule.within for rule in spec.rules]
    for window in windows:
        if window is not None:
            yield window.earliest_s
            if window.latest_s is not None:
                yield window.latest_s
    for failure in spec.failures:
        yield from (effect.latest_s for effect in failure.effects if effect.latest_s is not None)
    if spec.stop_budget is not None and spec.stop_budget.shorten_by_s is not None:
        yield spec.stop_budget.shorten_by_s
    yield from (hazard.longer_than_s for hazard in spec.hazards if hazard.longer_than_s is not None)
