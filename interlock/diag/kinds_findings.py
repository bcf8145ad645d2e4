"""Findings about a spec that was read and found sound: what exploring it, or looking at it as a whole, shows."""

from __future__ import annotations

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind

ERROR, NOTE = Severity.ERROR, Severity.NOTE

KINDS = (
    Kind(
        "nothing-can-happen",
        ERROR,
        "A settled situation can be reached in which no event is possible any more, except that something "
        "fails or is repaired. Real installations do not stop like that: a move of the world or a way out of "
        "a step is missing.",
        "train:\n  moves:\n    arrives: {from: away, to: in_position}",
        "train:\n  moves:\n    arrives: {from: away, to: in_position}\n    leaves: {from: in_position, to: away}",
    ),
    Kind(
        "never-settles",
        ERROR,
        "Consequences and immediate logic can follow each other for ever without time passing. A controller "
        "would cycle through its steps as fast as it can.",
        "moves:\n  there: {from: a, to: b, needs: {}}\n  back: {from: b, to: a, needs: {}}",
        "moves:\n"
        "  there: {from: a, to: b, needs: {asked: request_seen}}\n"
        "  back: {from: b, to: a, needs: {gone: not request_seen}}",
    ),
    Kind(
        "time-cannot-pass",
        ERROR,
        "A situation can be reached from which no time can pass in the declared timing, whatever happens: "
        "events that must come at once (`takes: 0 s .. 0 s`) follow each other for ever. Events with a latest "
        "above 0 never stop time, and never press it into ever shorter steps: each can be put off to its latest.",
        "moves:\n  flashes: {from: dark, to: lit, takes: 0 s .. 0 s}\n  ends: {from: lit, to: dark, takes: 0 s .. 0 s}",
        "moves:\n  flashes: {from: dark, to: lit, takes: 1 s .. 1 s}\n  ends: {from: lit, to: dark, takes: 0 s .. 0 s}",
    ),
    Kind(
        "assumption-stops-time",
        ERROR,
        "A situation can be reached from which no time can pass, and without the assumption there is none: it "
        "takes away the only event by which time could go on. What holds with it holds in a world that stands still.",
        "A1: {strengthens: [lamp switches_off], with: guard is away}   # and the lamp flashes without a pause",
        "give the events that follow each other at once some time, or narrow the assumption",
    ),
    Kind(
        "order-matters",
        NOTE,
        "Two pieces of logic (or two instant consequences) can act at the same moment, and where the "
        "installation settles depends on which goes first. All orders are explored; the designer should know "
        "that both happen.",
        "ground: {trips: {t: {from: a, to: b, when: link_lost}}}   # and train logic acts on the same loss",
        "let one of the two wait for a reading of what the other has done",
    ),
    Kind(
        "two-at-once",
        ERROR,
        "Two moves, or two trips, of one sequence can be possible at once and lead to different places, and "
        "no priority says which goes first. What a controller does then depends on how it happens to be "
        "programmed.",
        "trips:\n"
        "  contact_lost: {from: [charging], to: shutting_down, when: not contact_seen}\n"
        "  stopped: {from: [charging], to: emergency, when: stop_seen}",
        "trips: ...   # as before\npriority: [stopped, contact_lost]",
    ),
    Kind(
        "two-at-once-alike",
        NOTE,
        "Two moves, or two trips, of one sequence can be possible at once without a priority; both lead to "
        "the same step and set the same memory, so it makes no difference here.",
        "two trips from `charging` to `shutting_down`, no priority",
        "priority: [stopped, contact_lost]",
    ),
    Kind(
        "never-reached",
        NOTE,
        "A state, a step or a value of a memory is never reached, with all the failures that were explored.",
        "steps: {waiting: {}, proving: {}}   # and no move leads to proving",
        "moves: {prove: {from: waiting, to: proving, needs: {down: shoe_down}}}",
    ),
    Kind(
        "never-happens",
        NOTE,
        "A move, trip, timeout or timer never happens, with all the failures that were explored. Either it is"
        " not needed or something that should lead to it is missing.",
        "trips: {lost: {from: [idle], to: fault, when: not contact_seen}}   # idle is left before contact can be lost",
        "trips: {lost: {from: [charging], to: fault, when: not contact_seen}}",
    ),
    Kind(
        "never-false",
        NOTE,
        "A permissive is true whenever it is consulted: in the step it is asked in, it never keeps the move "
        "from happening. Perhaps another permissive implies it, or the reading cannot be false there.",
        "needs: {proved: shoe_down, position: at_stop}   # the step is only entered at the stop and trips "
        "when it is left",
        "keep it as a second barrier, and say so in `words`; or leave it out",
    ),
    Kind(
        "rule-says-nothing",
        ERROR,
        "The trigger of a rule (the A of `while A must B`, the X of `before X`, ...) never occurs, so the "
        "rule is kept whatever the logic does. Nothing checked is never success.",
        "R3: {while: rail is alive_and_well, must: contact is made}   # a state that is never reached",
        "R3: {while: rail is live, must: contact is made}",
    ),
    Kind(
        "holds-when-settled",
        NOTE,
        "A rule or hazard holds in all settled situations, but not in passing ones, between two events at the"
        " same moment.",
        "R1: {never: valve_a is open and valve_b is open}",
        "R1: {never: valve_a is open and valve_b is open, passing: true}",
    ),
    Kind(
        "stale-proof",
        NOTE,
        "A rule `before: X, first: Y` is satisfied by a Y that held earlier; when X comes, Y may be false again.",
        "R5: {before: becomes(earth is earthed), first: proved_dead}",
        "R5: {never: becomes(earth is earthed) and not was(proved_dead)}",
    ),
    Kind(
        "failure-never-happens",
        NOTE,
        "A failure is declared but can never happen, so no claim of surviving it has been tested.",
        "welded: {of: feeder, effect: {stays: closed}, only_while: feeder is open}",
        "welded: {of: feeder, effect: {stays: closed}}",
    ),
    Kind(
        "failure-without-effect",
        NOTE,
        "A failure changes nothing that anything looks at: being present makes no difference.",
        "reads_dead: {of: live_seen_2, effect: {reads: false}}   # and nothing uses live_seen_2",
        "use the reading, or leave the failure out",
    ),
    Kind(
        "command-undriven",
        NOTE,
        "Equipment or logic reads a command that no step ever gives.",
        "opens: {from: shut, to: open, when: command open_valve, takes: 1 s}   # no step drives open_valve",
        "steps: {opening: {drives: [open_valve]}}",
    ),
    Kind(
        "command-unread",
        NOTE,
        "A step gives a command on which nothing acts.",
        "steps: {opening: {drives: [opne_valve]}}",
        "steps: {opening: {drives: [open_valve]}}",
    ),
    Kind(
        "reading-unused",
        NOTE,
        "A reading, or a value carried by a link, is declared and used nowhere.",
        "readings: {live_seen_2: {shows: rail is live}}   # and no permissive asks for it",
        "needs: {dead: not live_seen_1 and not live_seen_2}",
    ),
    Kind(
        "hazard-without-rule",
        NOTE,
        "No rule names this hazard under `guards_against`. It is explored all the same, but nobody has "
        "written down what keeps it away.",
        "hazards: {H4: {words: ..., happens: ...}}   # no rule guards against H4",
        "rules: {R9: {never: ..., guards_against: [H4]}}",
    ),
    Kind(
        "hazard-wider-than-rules",
        NOTE,
        "With the logic replaced by arbitrary commands, the hazard can happen although every rule that guards"
        " against it is kept. The rules do not cover the hazard: it is held by something nobody has written "
        "down.",
        "H1: rail is live and train is not in_position; the only rule: never rail is live and earth is earthed",
        "add a rule: {while: rail is live, must: train is in_position, guards_against: [H1]}",
    ),
    Kind(
        "held-by-the-plant",
        NOTE,
        "The hazard cannot happen even when the logic is replaced by arbitrary commands. Either the equipment"
        " really cannot do it, or the plant model leaves out something real.",
        "feeder can only close while the earth is free, written into the move of the feeder",
        "let the feeder close whenever it is commanded, and let the logic see to the order",
    ),
    Kind(
        "rests-on-an-assumption",
        NOTE,
        "A result holds only because of an assumption: dropped, it falls. The assumption must be confirmed on"
        " site and owned.",
        "A1: {words: nobody moves a held train, strengthens: [train leaves], with: not held}",
        "keep it with its owner, or give the logic something that does not need it",
    ),
    Kind(
        "assumption-empties-rule",
        ERROR,
        "A rule says nothing because an assumption keeps its trigger from ever occurring: the assumption "
        "assumes away what the rule is about.",
        "A1: {strengthens: [contact breaks], with: not command close_feeder}   # and R3 speaks of contact "
        "broken under power",
        "drop the assumption, or narrow it",
    ),
    Kind(
        "reversal-too-exact",
        NOTE,
        "A bound move of the model cannot be stopped or turned round midway as real equipment can, or takes "
        "its full time from half-way. Windows that forbid real behaviour are the unsafe side.",
        "lowers: {from: lowering, to: down, takes: 2 s .. 4 s}   # no way back from lowering",
        "called_back: {from: lowering, to: raising, when: command raise, takes: nothing}",
    ),
)
