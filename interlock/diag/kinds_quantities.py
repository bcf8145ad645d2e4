"""Mistakes in computed quantities: functions, their arguments, divisions."""

from __future__ import annotations

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind

QUANTITY_KINDS = (
    Kind(
        "unknown-function",
        Severity.ERROR,
        "A quantity is computed by a function that does not exist.",
        "takes: 0 s .. decay_time(resistor, capacitance, 900 V, 60 V)",
        "takes: 0 s .. discharge_time(resistor, capacitance, 900 V, 60 V)",
    ),
    Kind(
        "wrong-arguments",
        Severity.ERROR,
        "A function is given fewer or more values than it takes.",
        "takes: 0 s .. fall_time(200 A, 200 A/s)",
        "takes: 0 s .. fall_time(200 A, 5 A, 200 A/s)",
    ),
    Kind(
        "impossible-argument",
        Severity.ERROR,
        "A function has no value for what it is given, or for some of what a tolerance allows: a capacitance never "
        "quite discharges to 0 V, a current whose rate is zero never falls, a resistance is not negative.",
        "takes: 0 s .. discharge_time(resistor, capacitance, 900 V, 0 V)",
        "takes: 0 s .. discharge_time(resistor, capacitance, 900 V, 60 V)",
    ),
    Kind(
        "comma-in-braces",
        Severity.ERROR,
        "A text that has commas stands between braces without quotes. There YAML takes each comma for the end of a "
        "value and what follows for keys.",
        "closes: {from: open, to: closed, takes: 0 s .. fall_time(200 A, 5 A, 200 A/s)}",
        'closes: {from: open, to: closed, takes: "0 s .. fall_time(200 A, 5 A, 200 A/s)"}',
    ),
    Kind(
        "division-by-zero",
        Severity.ERROR,
        "A quantity is divided by zero, or by something that its tolerance allows to be zero.",
        "ramp: 200 A / (rate +- 100 %)",
        "ramp: 200 A / (rate +- 10 %)",
    ),
)
