"""Slips beside those of `tests/mistakes`: which text is marked, and what the cure says.

Each case: what of the good file is replaced, by what, the kind, the text that is marked, words of the headline or cure.
"""

from __future__ import annotations

import pytest

from interlock.spec import load_text

GOOD = """format: interlock/1
title: Brackwater Quay
parameters: {stroke: 30 ms .. 120 ms, stop: 210 s, few: 2, share: 1.5}
equipment:
  train: {states: [away, there], start: away, moves: {comes: {from: away, to: there}, leaves: {from: there, to: away}}}
  feeder:
    states: [open, closed]
    start: open
    moves:
      closes: {from: open, to: closed, when: command close, takes: stroke}
      opens: {from: closed, to: open, when: not command close, takes: 30 ms .. 120 ms}
  rail: {states: [dead, live], follows: feeder is closed}
readings:
  in_place: {shows: train is there}
  feeder_seen: {shows: feeder}
links:
  radio: {carries: {ready: train is there}, late: 20 ms .. 200 ms, watchdog: 1 s, when_lost: {ready: false}}
logic:
  ground:
    memory: {tries: {states: 0 .. 3, start: 0}, cause: {states: [none, gone], start: none}}
    steps: {waiting: {start: true}, charging: {drives: [close], timeout: {after: 5 s, to: waiting}}}
    moves:
      begin: {from: waiting, to: charging, needs: {here: in_place, left: tries < 3}, sets: {tries: tries + 1}}
    trips:
      gone: {from: charging, to: waiting, when: not in_place, sets: {cause: gone}}
    priority: [gone]
conditions: {safe: rail is dead}
failures:
  welded: {of: feeder, effect: {stays: closed}, rate: 2e-7 /h, found: {by: test, within: 1 s}, repair: never}
  lies: {of: in_place, effect: {reads: true}}
  both: {common_cause: [welded, lies]}
assumptions: {A1: {strengthens: [train leaves], with: rail is dead}}
hazards: {H1: {happens: rail is live and train is away, severity: critical, kind: safety}}
rules:
  R1: {never: rail is live and train is away, guards_against: [H1], withstands: 1}
  R2: {after: train is away, within: 300 ms, must: rail is dead}
parts:
  shoe: {parameters: {travel: 1 s}, given: [clear], equipment: {shoe: {states: [up, down], start: up}}}
instances: {shoes: {part: shoe, named: [front, rear], with: {clear: train is away}}}
"""

CASES = [
    # expressions
    ("never: rail is live and", "never: 3 and", "not-true-or-false", "3", "a number"),
    ("never: rail is live and", "never: few and", "not-true-or-false", "few", "a parameter"),
    ("never: rail is live and", "never: ground tries + 1 and", "not-true-or-false", "ground tries + 1", "compare it"),
    ("never: rail is live and", "never: ground tries and", "not-true-or-false", "ground tries", "`ground tries = 3`"),
    ("never: rail is live and", "never: ground and", "not-true-or-false", "ground", "say which"),
    ("never: rail is live and", "never: radio and", "not-true-or-false", "radio", "`radio is lost`"),
    ("never: rail is live and", "never: both and", "not-true-or-false", "both", "name the failures"),
    ("never: rail is live and", "never: close and", "unknown-name", "close", "`command close`"),
    ("never: rail is live and", "never: live and", "unknown-name", "live", "`rail is live`"),
    ("never: rail is live and", "never: blub and", "unknown-name", "blub", "correct the name"),
    ("never: rail is live and", "never: rail is closed and", "unknown-state", "closed", "a state of `feeder`"),
    ("never: rail is live and", "never: ground is charged and", "unknown-step", "charged", "`charging`"),
    ("never: rail is live and", "never: ground tries is 7 and", "unknown-state", "7", "0 to 3"),
    ("never: rail is live and", "never: in_place is up and", "unknown-state", "up", "`true` or `false`"),
    ("never: rail is live and", 'never: "rail in {live, up} and', "unknown-state", "up", ""),
    ("never: rail is live and", "never: charging is live and", "not-comparable", "charging", "sequence is `ground`"),
    ("never: rail is live and", "never: (rail is live) is dead and", "not-comparable", "rail is live", "brackets"),
    ("never: rail is live and", "never: rail is (live) and rail is not (train is away) and", "not-comparable",
     "train is away", "compared with `=`"),
    ("never: rail is live and", "never: ground tries is few + 1 and", "not-comparable", "few + 1", "compared with `=`"),
    ("never: rail is live and", 'never: "safe in {true} and', "not-true-or-false", "safe in {true}", "itself"),
    ("never: rail is live and", 'never: "rail in {live, few + 1} and', "not-comparable", "few + 1", "states only"),
    ("never: rail is live and", "never: ground tries < share and", "not-a-number", "share", "whole number"),
    ("never: rail is live and", "never: ground tries < rail and", "not-a-number", "rail", "compared with `is`"),
    ("never: rail is live and", "never: ground tries < (train is away) and", "not-a-number", "train is away", ""),
    ("never: rail is live and", "never: at most ground of shoes shoe is up and", "not-a-number", "ground", ""),
    ("never: rail is live and", "never: all shues shoe is up and", "unknown-group", "shues", "`shoes`"),
    ("with: rail is dead", "with: becomes(rail is dead)", "event-not-here", "becomes", "what holds now"),
    ("with: rail is dead", "with: in_place", "not-seen-here", "in_place", "about the world"),
    ("sets: {cause: gone}", "sets: {cause: gome}", "unknown-state", "gome", "`gone`"),
    ("sets: {cause: gone}", "sets: {cause: feeder_seen}", "not-comparable", "feeder_seen", "all states"),
    ("sets: {cause: gone}", "sets: {cause: tries + 1}", "not-comparable", "tries + 1", "`none`, `gone`"),
    ("sets: {cause: gone}", "sets: {tries: rail}", "not-seen-here", "rail", "only through readings"),
    # times and numbers
    ("within: 300 ms", "within: nothing", "wrong-window", "nothing", "`takes`"),
    ("within: 300 ms", "within: stroke", "wrong-window", "stroke", "`120 ms`"),
    ("within: 300 ms", "within: 300 ms + few", "bare-number", "few", "no unit"),
    ("within: 300 ms", "within: 300 ms + 2 m", "wrong-dimension", "300 ms + 2 m", "a time and a length"),
    ("within: 300 ms", "within: stop * 2 s", "wrong-dimension", "stop * 2 s", "not a quantity in s^2"),
    ("within: 300 ms", "within: 300 foo", "unknown-unit", "foo", "the units"),
    ("within: 300 ms", "within: 1e99 s", "number-out-of-range", "1e99", "fewer digits"),
    ("takes: 30 ms .. 120 ms", "takes: 30 ms .. 2 m", "wrong-dimension", "30 ms .. 2 m", "two sides"),
    ("takes: 30 ms .. 120 ms", "takes: over 30 ms .. 30 ms", "impossible-window", "over 30 ms .. 30 ms", "`over`"),
    ("takes: 30 ms .. 120 ms", "takes: 30 ms - 1 s .. 1 s", "impossible-window", "30 ms - 1 s .. 1 s", "before zero"),
    ("takes: 30 ms .. 120 ms", "takes: 30 ms, 120 ms", "unknown-key", "120 ms", ""),
    ("takes: 30 ms .. 120 ms", "takes: 1;5 s", "expression-syntax", ";", ""),
    ("rate: 2e-7 /h", "rate: 2e-7", "bare-number", "2e-7", "`1e-9 /h`"),
    ("rate: 2e-7 /h", "probability: 1 s", "wrong-dimension", "1 s", "a plain number"),
    ("rate: 2e-7 /h", "probability: 1.5", "number-out-of-range", "1.5", "more than 1"),
    ("stop: 210 s", "stop: ", "wrong-type", ",", "a single text"),
    # equipment and readings
    ("tries: {states: 0 .. 3", "tries: {states: 0 .. 3.5", "bad-range", "0 .. 3.5", "whole numbers"),
    ("states: [dead, live]", "states: [dead, true]", "bad-name", "true", "just `[false, true]`"),
    ("states: [dead, live]", "states: [dead, {live: x}]", "wrong-type", "{live: x}", "a mapping"),
    ("    start: open\n", "", "missing-key", "feeder", "`start: open`"),
    ("closes: {from: open, to", "closes: {from: opne, to", "unknown-state", "opne", "`open`"),
    ("{shows: feeder}", "feeder", "wrong-type", "feeder", "`feeder_seen: {shows: feeder}`"),
    ("takes: 30 ms .. 120 ms", "takes: 1 s, also: {blub: x}", "unknown-item", "blub", "there is"),
    # links
    ("carries: {ready: train is there}", "carries: {}", "missing-key", "carries", "carries nothing"),
    ("when_lost: {ready: false}", "when_lost: {}", "missing-key", "when_lost", "`ready: false`"),
    ("watchdog: 1 s, ", "", "watchdog-and-when-lost", "when_lost", "`watchdog: 900 ms .. 1 s`"),
    ("late: 20 ms .. 200 ms", "in_flight: 3", "in-flight-without-late", "in_flight", ""),
    # logic
    ("steps: {waiting: {start: true}, charging: {drives: [close], timeout: {after: 5 s, to: waiting}}}", "steps: {}",
     "no-start", "steps", "no steps"),
    ("waiting: {start: true}", "waiting: {start: yes}", "wrong-type", "yes", "`true` or `false`"),
    ("timeout: {after: 5 s, to: waiting}", "timeout: {after: 5 s, to: charging}", "trip-to-itself", "charging", ""),
    ("cause: {states: [none, gone], start: none}", "cause: {states: [none, gone], start: [none, gone]}", "two-starts",
     "[none, gone]", "keep one"),
    ("      begin: {from", "      gone: {from", "duplicate-name", "gone", "name of the trip"),
    ("priority: [gone]", "priority: [gone, gone]", "duplicate-name", "gone", "twice"),
    ("from: waiting, to: charging", "from: waiting, to: blub", "unknown-step", "blub", "`waiting`, `charging`"),
    # failures
    ("common_cause: [welded, lies]", "common_cause: [welded, welded]", "duplicate-name", "welded", "twice"),
    ("of: feeder, ", "of: radio ready, ", "wrong-target", "radio ready", "`of: radio`"),
    ("of: feeder, ", "of: safe, ", "wrong-target", "safe", "a condition"),
    ("of: feeder, ", "of: blub, ", "unknown-target", "blub", "`command NAME`"),
    ("effect: {stays: closed}", "effect: closed", "wrong-type", "closed", "for an item"),
    ("effect: {stays: closed}", "effect: {stay: closed}", "unknown-key", "stay", "`stays`"),
    ("effect: {stays: closed}", "effect: {held: true}", "effect-does-not-fit", "held", "`goes`"),
    ("effect: {stays: closed}", "effect: {stays: closed, goes: open}", "effect-does-not-fit", "goes", "held: true"),
    ("effect: {stays: closed}", "effect: {stuck: false}", "effect-does-not-fit", "false", "stuck: true"),
    ("effect: {stays: closed}", "effect: {}", "missing-key", "effect", "no effect"),
    ("effect: {stays: closed}", "effect: {slow: {clses: 1 s}}", "unknown-move", "clses", "`closes`"),
    ("effect: {stays: closed}", "effect: {ignores: command clse}", "unknown-command", "command clse", "`close`"),
    ("of: feeder, effect: {stays: closed}", "of: train, effect: {slow: {comes: 1 s}}", "effect-does-not-fit", "comes",
     "no stated time"),
    ("of: feeder, effect: {stays: closed}", "of: command close, effect: {output: drivn}", "unknown-word", "drivn",
     "`driven`"),
    ("of: feeder, effect: {stays: closed}", "of: radio, effect: {messages: gone}", "unknown-word", "gone", "`lost`"),
    ("[train leaves]", "[leaves]", "unknown-move", "leaves", "`feeder opens`"),
    ("common_cause: [welded, lies]", "common_cause: [welded, blub]", "unknown-failure", "blub", "there is"),
    # rules
    ("withstands: 1", "withstands: one", "wrong-type", "one", "a whole number"),
    ("withstands: 1", "withstands: 11", "number-out-of-range", "11", "at most 10"),
    ("kind: safety", "kind: safty", "unknown-word", "safty", "`safety`"),
    ("strengthens: [train leaves]", "strengthens: [train levaes]", "unknown-move", "levaes", "`leaves`"),
    ("  R2:", "  welded:", "duplicate-name", "welded", "the failure"),
    ("within: 300 ms, must: rail is dead", "must: rail is dead", "missing-key", "R2", "`within: 300 ms`"),
    # parts
    ("named: [front, rear]", "named: [front, front]", "duplicate-name", "front", "twice"),
    ("named: [front, rear]", "named: [front, rear], count: 2", "count-or-named", "named", "both"),
    ("with: {clear: train is away}", "with: {claer: train is away}", "unknown-key", "claer", "`clear`"),
    ("with: {clear: train is away}", "with: {clear: [a]}", "wrong-type", "[a]", "a single text"),
    ("  rail: {states", "  front: {states: [a], start: a}\n  rail: {states", "duplicate-name", "front", "instance"),
    ("drives: [close]", "drives: [close, frnt shoe lower]", "unknown-instance", "frnt shoe", "`front shoe`"),
]  # fmt: skip


def test_the_good_file_is_good() -> None:
    assert load_text(GOOD, "f")[1].sorted() == ()


@pytest.mark.parametrize(("old", "new", "kind", "marked", "words"), CASES, ids=[f"{c[2]}: {c[1]}"[:60] for c in CASES])
def test_a_slip_is_marked_and_cured(old: str, new: str, kind: str, marked: str, words: str) -> None:
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    if new.startswith('never: "'):
        text = text.replace(" train is away, guards", ' train is away", guards')
    _, bag, _ = load_text(text, "f")
    (mistake,) = bag.sorted()
    assert mistake.kind == kind
    assert mistake.at is not None
    span = mistake.at.span
    assert text.split("\n")[span.line - 1][span.column - 1 : span.end_column - 1] == marked
    assert words in " ".join([mistake.headline, *mistake.helps])
