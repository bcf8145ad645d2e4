"""Mistakes in the file as such: its YAML, its keys and names, its quantities."""

from __future__ import annotations

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind

ERROR = Severity.ERROR

FILE_KINDS = (
    Kind(
        "yaml-syntax",
        ERROR,
        "The file is not valid YAML: a bracket or quotation mark is open, a colon or comma is missing, or a line "
        "is indented otherwise than its neighbours. An expression with braces in it must be quoted when it stands"
        " inside brackets.",
        "R1: {never: train in {away, leaving} and rail is live}",
        'R1: {never: "train in {away, leaving} and rail is live"}',
    ),
    Kind(
        "yaml-feature",
        ERROR,
        "Anchors, aliases, merge keys, tags and directives of YAML are not read: a reviewer should see what is "
        "meant where it is meant. What comes more than once is written as a part with instances.",
        "closes: &closing {from: open, to: closed}\nopens: *closing",
        "closes: {from: open, to: closed}\nopens: {from: closed, to: open}",
    ),
    Kind(
        "second-document",
        ERROR,
        "The file has a second YAML document, begun by a line `---`. A file holds one spec.",
        "rules: {...}\n---\ntitle: another one",
        "rules: {...}",
    ),
    Kind(
        "empty-file",
        ERROR,
        "The file holds nothing but comments or white space.",
        "# to be written",
        "format: interlock/1\ntitle: Brackwater Quay",
    ),
    Kind(
        "not-unicode",
        ERROR,
        "The file is not UTF-8 text, so it cannot be told which characters are meant. Editors save as UTF-8 when "
        "asked.",
        "title: Stra\\xdfe",
        "title: Straße",
    ),
    Kind(
        "strange-character",
        ERROR,
        "There is a character that cannot be seen, such as a no-break space or a mark of direction, mostly from "
        "copying out of a document. Two names could look alike and differ, so it is refused.",
        "never: feeder is\u00a0closed   # a no-break space",
        "never: feeder is closed",
    ),
    Kind(
        "tab-indent",
        ERROR,
        "A line is indented with a tab. YAML allows only spaces there, because a tab is as wide as each editor likes.",
        "equipment:\n	train: ...",
        "equipment:\n  train: ...",
    ),
    Kind(
        "too-large",
        ERROR,
        "The file, a text in it, a number of states or a number of instances is larger than this program takes. "
        "Such sizes come from a slip, or from modelling more than the question needs.",
        "tries: {states: 0 .. 3000}",
        "tries: {states: 0 .. 3}",
    ),
    Kind(
        "too-deep",
        ERROR,
        "Brackets, an expression, or definitions through other definitions are nested deeper than anybody can "
        "read; mostly a bracket is not closed.",
        "never: not not not ... (fifty times) rail is live",
        "never: rail is live",
    ),
    Kind(
        "unknown-format",
        ERROR,
        "The file says that it is of a format that this program does not read.",
        "format: interlock/2",
        "format: interlock/1",
    ),
    Kind(
        "nothing-to-check",
        ERROR,
        "The file has neither a rule nor a hazard. Nothing checked is never a success, so this is a mistake of "
        "`check`; `find` and `draw` do not mind.",
        "equipment: {...}\nlogic: {...}",
        "equipment: {...}\nlogic: {...}\nrules: {R1: {never: rail is live and earth is earthed}}",
    ),
    Kind(
        "unknown-key",
        ERROR,
        "A key is not known at its place. Keys that are not read would be silently without effect, so they are "
        "refused.",
        "feeder: {states: [open, closed], strat: open}",
        "feeder: {states: [open, closed], start: open}",
    ),
    Kind(
        "missing-key",
        ERROR,
        "A key that must be there is not.",
        "begin: {from: waiting, to: charging}",
        "begin: {from: waiting, to: charging, needs: {train_there: in_place}}",
    ),
    Kind(
        "duplicate-key",
        ERROR,
        "The same key stands twice in one mapping. YAML readers mostly take the last one without a word; here "
        "neither is taken.",
        "train: {states: [away, there], start: away}\ntrain: {states: [short, long], start: short}",
        "train: {states: [away, there], start: away}",
    ),
    Kind(
        "key-not-text",
        ERROR,
        "A key is a list or a mapping; keys are single words.",
        "[front, rear]: {part: shoe}",
        "shoes: {part: shoe, named: [front, rear]}",
    ),
    Kind(
        "wrong-type",
        ERROR,
        "Something is written as a list, a mapping or a text where another of the three belongs.",
        "needs: in_place",
        "needs: {train_there: in_place}",
    ),
    Kind(
        "unknown-word",
        ERROR,
        "Only a few words can stand at this place, and this is none of them.",
        "withdrawn: complete",
        "withdrawn: completes",
    ),
    Kind(
        "bad-name",
        ERROR,
        "This cannot be a name: names are made of letters, digits and `_`, begin with a letter, and are not words"
        " of the language.",
        "moves: {in: {from: away, to: there}}",
        "moves: {comes_in: {from: away, to: there}}",
    ),
    Kind(
        "duplicate-name",
        ERROR,
        "Two things have one name. Expressions, messages and scenarios speak of things by name, so each needs its own.",
        "equipment: {contact: ...}\nreadings: {contact: ...}",
        "equipment: {contact: ...}\nreadings: {contact_seen: ...}",
    ),
    Kind(
        "empty-list",
        ERROR,
        "A list that must name at least one thing is empty.",
        "leaves: {from: [], to: away}",
        "leaves: {from: [in_position, short], to: away}",
    ),
    Kind(
        "number-out-of-range",
        ERROR,
        "A whole number is smaller or larger than makes sense at its place.",
        "R1: {never: ..., withstands: -1}",
        "R1: {never: ..., withstands: 1}",
    ),
    Kind(
        "bare-number",
        ERROR,
        "A number stands where a quantity belongs. 210 could be seconds or milliseconds; the unit must be written.",
        "stop: 210 s\nlasts: 0 .. 210",
        "stop: 210 s\nlasts: 0 s .. 210 s",
    ),
    Kind(
        "unknown-unit",
        ERROR,
        "The unit is not of the list: ns us ms s min h d a, /h /a, mV V kV, mA A kA, ohm kohm Mohm, uF mF F, C Ah, "
        "W kW MW, J kJ MJ Wh kWh MWh, m km, %, or one of these over another, as in `200 A/s`.",
        "takes: 2 sec .. 4 sec",
        "takes: 2 s .. 4 s",
    ),
    Kind(
        "wrong-dimension",
        ERROR,
        "A quantity measures something else than belongs here, or two that do not go together are added or compared.",
        "takes: 2 m .. 4 m",
        "takes: 2 s .. 4 s",
    ),
    Kind(
        "impossible-window",
        ERROR,
        "There is no time in the window: it ends before it begins, lies before zero, or is open where its sides "
        "meet. A move with such a window could never happen.",
        "takes: 4 s .. 2 s",
        "takes: 2 s .. 4 s",
    ),
    Kind(
        "wrong-window",
        ERROR,
        "A window stands where one quantity belongs, or `nothing` where time must pass.",
        "found: {by: test, within: 1 s .. 2 s}",
        "found: {by: test, within: 2 s}",
    ),
    Kind(
        "negative-quantity",
        ERROR,
        "A quantity that cannot be negative is, after computing.",
        "within: travel - 5 s   # travel: 2 s",
        "within: travel + 5 s",
    ),
    Kind(
        "unknown-parameter",
        ERROR,
        "A quantity is computed from a parameter that does not exist.",
        "takes: travle",
        "takes: travel",
    ),
    Kind(
        "circular-parameter",
        ERROR,
        "A parameter is computed from itself, directly or through others.",
        "a: 2 * b\nb: a + 1 s",
        "a: 2 * b\nb: 1 s",
    ),
    Kind(
        "rate-and-probability",
        ERROR,
        "A failure has both a rate and a probability. A rate is for what happens in time, a probability for what "
        "happens each time something is asked to work.",
        "welded: {of: feeder, effect: {stays: closed}, rate: 2e-7 /h, probability: 1e-4}",
        "welded: {of: feeder, effect: {stays: closed}, rate: 2e-7 /h}",
    ),
)
