"""The functions of quantities: what each takes, what it gives, and how its worst ends are found.

In: arguments, each of the dimension that the function asks for. Out: a quantity that holds every value that the
arguments allow; `Impossible` if for some of them there is none. Each function rises or falls with each of its
arguments, so its ends lie at ends of theirs.

Discharge of a capacitance through a resistance, and its charging through one: v(t) = v(0) exp(-t/RC), hence
t = RC ln(v(0)/v(t)); a pre-charge starts with the whole supply across the resistance and ends with the difference.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from interlock.diag.place import Span
from interlock.spec.intervals import greatest, least
from interlock.spec.logarithm import logarithm
from interlock.spec.quantities import Quantity, show_quantity, to_step
from interlock.spec.touch_voltages import TOLD_SOURCE, time_limit, voltage_limit
from interlock.spec.units import (
    CAPACITANCE,
    CURRENT,
    CURRENT_RATE,
    RESISTANCE,
    TIME,
    VOLTAGE,
    Dimension,
)


class Impossible(Exception):
    """There is no value for an argument. Never leaves the evaluation of a call."""

    def __init__(self, argument: int, headline: str, cure: str) -> None:
        super().__init__(headline)
        self.argument = argument
        self.headline = headline
        self.cure = cure


@dataclass(frozen=True, slots=True)
class Function:
    """A function. `takes`: name and dimension of each argument, None for any dimension, but all of these the same.
    `more`: any number of arguments, at least as many as named. For a report: `formula`, in the names of the arguments,
    "" for what needs none; `rises`: for each argument whether the value rises with it, else it falls; `source`: where
    its figures come from."""

    name: str
    takes: tuple[tuple[str, Dimension | None], ...]
    compute: Callable[[Sequence[Quantity], Span], Quantity]
    meaning: str
    more: bool = False
    formula: str = ""
    rises: tuple[bool, ...] = ()
    source: str = ""

    @property
    def form(self) -> str:
        """How it is written."""
        return f"{self.name}({', '.join(name for name, _ in self.takes)}{', ...' if self.more else ''})"


def _not_negative(arguments: Sequence[Quantity], names: Sequence[str]) -> None:
    for i, (argument, name) in enumerate(zip(arguments, names, strict=True)):
        if argument.low < 0:
            raise Impossible(i, f"the {name} may be negative", "write one that is zero or more")


def _exponential(arguments: Sequence[Quantity], span: Span, names: Sequence[str], never: str, cure: str) -> Quantity:
    """RC ln(first / last), 0 where the last is more than the first."""
    _not_negative(arguments, names)
    resistance, capacitance, first, last = arguments
    if last.low <= 0:
        raise Impossible(3, never, cure)
    shortest = logarithm(max(first.low / last.high, Fraction(1)))[0]
    longest = logarithm(max(first.high / last.low, Fraction(1)))[1]
    low = resistance.low * capacitance.low * shortest
    return Quantity(low, resistance.high * capacitance.high * longest, TIME, span, computed=True)


def _discharge_time(arguments: Sequence[Quantity], span: Span) -> Quantity:
    return _exponential(
        arguments,
        span,
        ("resistance", "capacitance", "first voltage", "last voltage"),
        "a discharge never quite ends: the last voltage may be 0 V",
        "name the voltage below which it counts as ended, such as `60 V`",
    )


def _precharge_time(arguments: Sequence[Quantity], span: Span) -> Quantity:
    return _exponential(
        arguments,
        span,
        ("resistance", "capacitance", "supply", "difference"),
        "two voltages never quite match: the difference may be 0 V",
        "name the difference at which they count as matched, such as `20 V`",
    )


def _fall_time(arguments: Sequence[Quantity], span: Span) -> Quantity:
    _not_negative(arguments, ("first current", "last current", "rate"))
    first, last, rate = arguments
    if rate.low <= 0:
        raise Impossible(
            2, "the current never falls: its rate may be zero", "write a rate above zero, such as `200 A/s`"
        )
    low = max(first.low - last.high, Fraction(0)) / rate.high
    return Quantity(low, max(first.high - last.low, Fraction(0)) / rate.low, TIME, span, computed=True)


def _touch_voltage_limit(arguments: Sequence[Quantity], span: Span) -> Quantity:
    _not_negative(arguments, ("duration",))
    (duration,) = arguments
    return Quantity(voltage_limit(duration.high), voltage_limit(duration.low), VOLTAGE, span)


def _touch_time_limit(arguments: Sequence[Quantity], span: Span) -> Quantity:
    _not_negative(arguments, ("voltage",))
    (voltage,) = arguments
    return Quantity(time_limit(voltage.high), time_limit(voltage.low), TIME, span)


def _outward(arguments: Sequence[Quantity], span: Span) -> Quantity:
    value, step = arguments
    if step.low != step.high or step.low <= 0:
        told = f"steps of {show_quantity(step)} are none"
        raise Impossible(1, told, "write one step above zero, such as `10 ms`")
    return Quantity(
        to_step(value.low, step.low, up=False), to_step(value.high, step.low, up=True), value.measures, span
    )


FUNCTIONS: dict[str, Function] = {
    function.name: function
    for function in (
        Function(
            "min",
            (("A", None), ("B", None)),
            least,
            "the least of quantities of one kind",
            more=True,
        ),
        Function(
            "max",
            (("A", None), ("B", None)),
            greatest,
            "the greatest of quantities of one kind",
            more=True,
        ),
        Function(
            "outward",
            (("value", None), ("step", None)),
            _outward,
            "the value with its lower end rounded down and its upper end rounded up to a whole step",
        ),
        Function(
            "discharge_time",
            (("resistance", RESISTANCE), ("capacitance", CAPACITANCE), ("from", VOLTAGE), ("to", VOLTAGE)),
            _discharge_time,
            "how long a capacitance needs to discharge through a resistance from one voltage to a lower one",
            formula="resistance * capacitance * ln(from / to)",
            rises=(True, True, True, False),
        ),
        Function(
            "precharge_time",
            (("resistance", RESISTANCE), ("capacitance", CAPACITANCE), ("supply", VOLTAGE), ("difference", VOLTAGE)),
            _precharge_time,
            "how long an empty capacitance needs to charge through a resistance until only the difference is missing",
            formula="resistance * capacitance * ln(supply / difference)",
            rises=(True, True, True, False),
        ),
        Function(
            "fall_time",
            (("from", CURRENT), ("to", CURRENT), ("rate", CURRENT_RATE)),
            _fall_time,
            "how long a current needs to fall from one value to a lower one at a steady rate",
            formula="(from - to) / rate",
            rises=(True, False, False),
        ),
        Function(
            "touch_voltage_limit",
            (("duration", TIME),),
            _touch_voltage_limit,
            "the highest d.c. voltage that may be touched for so long (EN 50122-1:2011, Table 6)",
            formula="the row of that duration, else of the next longer one",
            rises=(False,),
            source=TOLD_SOURCE,
        ),
        Function(
            "touch_time_limit",
            (("voltage", VOLTAGE),),
            _touch_time_limit,
            "the longest duration of that table for which the voltage may be touched: from 0 s to 300 s",
            formula="the longest row that permits the voltage; 0 s if none does",
            rises=(False,),
            source=TOLD_SOURCE,
        ),
    )
}
