"""Mistakes in a spec: every kind that reading and building can tell, with what it means and how it is cured."""

from __future__ import annotations

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind
from interlock.diag.kinds_drafts import DRAFT_KINDS
from interlock.diag.kinds_file import FILE_KINDS
from interlock.diag.kinds_quantities import QUANTITY_KINDS

ERROR = Severity.ERROR

KINDS = (
    *FILE_KINDS,
    *QUANTITY_KINDS,
    *DRAFT_KINDS,
    Kind(
        "no-states",
        ERROR,
        "Something that must have states has none.",
        "train: {states: []}",
        "train: {states: [away, in_position]}",
    ),
    Kind(
        "duplicate-state",
        ERROR,
        "A state is named twice.",
        "states: [open, closing, open]",
        "states: [open, closing, closed]",
    ),
    Kind(
        "bad-range",
        ERROR,
        "`states: A .. B` is not a range of whole numbers, or ends before it begins.",
        "tries: {states: 3 .. 0}",
        "tries: {states: 0 .. 3}",
    ),
    Kind(
        "move-to-itself",
        ERROR,
        "A move leads to a state that it also comes from. A move changes something; if nothing changes there is "
        "no event.",
        "opens: {from: [open, closed], to: open}",
        "opens: {from: closed, to: open}",
    ),
    Kind(
        "also-itself",
        ERROR,
        "A move changes its own item under `also`, beside `to`.",
        "leaves: {from: there, to: away, also: {train: away}}",
        "leaves: {from: there, to: away}",
    ),
    Kind(
        "set-follower",
        ERROR,
        "A move sets an item that follows an expression. It follows by itself, at once and always.",
        "rail: {states: [dead, live], follows: feeder is closed}\n"
        "feeder: {moves: {opens: {from: closed, to: open, also: {rail: dead}}}}",
        "feeder: {moves: {opens: {from: closed, to: open}}}",
    ),
    Kind(
        "follows-and-moves",
        ERROR,
        "An item follows an expression and has moves too. It is in its second state exactly while the expression "
        "holds, so nothing is left for moves to do.",
        "rail: {states: [dead, live], follows: feeder is closed, moves: {...}}",
        "rail: {states: [dead, live], follows: feeder is closed}",
    ),
    Kind(
        "follows-two-states",
        ERROR,
        "An item that follows an expression needs exactly two states: the first while the expression is false, "
        "the second while it is true.",
        "rail: {states: [dead, decaying, live], follows: feeder is closed}",
        "rail: {states: [dead, live], follows: feeder is closed}",
    ),
    Kind(
        "withdrawn-without-when",
        ERROR,
        "`withdrawn` says what becomes of a move when its condition is withdrawn midway, so it needs a condition "
        "(`when`) and a way of some length (`takes`).",
        "closes: {from: open, to: closed, takes: 1 s .. 2 s, withdrawn: completes}",
        "closes: {from: open, to: closed, when: command close, takes: 1 s .. 2 s, withdrawn: completes}",
    ),
    Kind(
        "in-flight-without-late",
        ERROR,
        "`in_flight` says how many changes can be on their way at once; a reading that is not late has none.",
        "seen: {shows: rail is live, in_flight: 3}",
        "seen: {shows: rail is live, late: 10 ms .. 50 ms, in_flight: 3}",
    ),
    Kind(
        "watchdog-and-when-lost",
        ERROR,
        "A link has a watchdog but does not say what its values are taken for once it is lost, or the other way round.",
        "from_train: {carries: {ready: ...}, watchdog: 1 s}",
        "from_train: {carries: {ready: ...}, watchdog: 1 s, when_lost: {ready: false}}",
    ),
    Kind(
        "unknown-link-value",
        ERROR,
        "A link is said to carry, or to lose, a value that it does not carry.",
        "carries: {ready: ...}\nwhen_lost: {redy: false}",
        "carries: {ready: ...}\nwhen_lost: {ready: false}",
    ),
    Kind(
        "link-never-lost",
        ERROR,
        "An expression asks whether a link is lost, but the link has no watchdog: nothing would ever notice.",
        "train_gone: {when: from_train is lost}",
        "from_train: {watchdog: 900 ms .. 1 s, when_lost: {ready: false}}",
    ),
    Kind(
        "no-start",
        ERROR,
        "A sequence has no start step (or no steps at all), so it is not told where it begins, nor where it goes "
        "when its power returns.",
        "steps: {earthed: {}, charging: {}}",
        "steps: {earthed: {start: true}, charging: {}}",
    ),
    Kind(
        "two-starts",
        ERROR,
        "A sequence has two start steps, or a memory two start values. Logic starts in one way.",
        "steps: {earthed: {start: true}, waiting: {start: true}}",
        "steps: {earthed: {start: true}, waiting: {}}",
    ),
    Kind(
        "trip-to-itself",
        ERROR,
        "A trip or timeout leads to a step that it also leaves. It would stay enabled and happen again at once, "
        "for ever.",
        "lost: {from: [charging, shutting_down], to: shutting_down, when: ...}",
        "lost: {from: [charging], to: shutting_down, when: ...}",
    ),
    Kind(
        "domain-overrun",
        ERROR,
        "A memory can be set to a number outside its states: the change is not held back by a permissive at the "
        "end of the range.",
        "retry: {needs: {}, sets: {tries: tries + 1}}   # tries: 0 .. 3",
        "retry: {needs: {tries_left: tries < 3}, sets: {tries: tries + 1}}",
    ),
    Kind(
        "unknown-step",
        ERROR,
        "A sequence has no step of that name.",
        "to: chargin",
        "to: charging",
    ),
    Kind(
        "unknown-memory",
        ERROR,
        "A change sets a memory that its sequence does not have.",
        "sets: {trys: 0}",
        "sets: {tries: 0}",
    ),
    Kind(
        "unknown-change",
        ERROR,
        "`priority` names something that is no move, trip or timeout of the sequence. A timeout is written with "
        "its step: `charging timeout`.",
        "priority: [contact_los]",
        "priority: [contact_lost]",
    ),
    Kind(
        "expression-syntax",
        ERROR,
        "An expression, quantity or window cannot be understood as written.",
        "never: rail is live && train is away",
        "never: rail is live and train is away",
    ),
    Kind(
        "unknown-name",
        ERROR,
        "An expression names something that the file does not define.",
        "when: not contact_sen",
        "when: not contact_seen",
    ),
    Kind(
        "unknown-state",
        ERROR,
        "A thing has no state of that name.",
        "never: feeder is close",
        "never: feeder is closed",
    ),
    Kind(
        "unknown-command",
        ERROR,
        "An expression or a failure names a command that no step of any sequence drives, so it would never be given.",
        "when: command close_feder",
        "when: command close_feeder",
    ),
    Kind(
        "unknown-group",
        ERROR,
        "`all`, `any` or `at most` names a group of instances that does not exist.",
        "never: any shoe shoe is down",
        "never: any shoes shoe is down",
    ),
    Kind(
        "ambiguous-name",
        ERROR,
        "A name can mean two things here, and the order of the file shall not decide which.",
        "never: waiting and rail is live   # two sequences have a step `waiting`",
        "never: ground is waiting and rail is live",
    ),
    Kind(
        "not-true-or-false",
        ERROR,
        "Something that has states, or is a number, stands where an expression must be true or false.",
        "never: train and rail is live",
        "never: train is in_position and rail is live",
    ),
    Kind(
        "not-a-number",
        ERROR,
        "`=`, `<` and `<=` compare whole numbers, and this is not one.",
        "never: train = away",
        "never: train is away",
    ),
    Kind(
        "not-comparable",
        ERROR,
        "Two things are compared, or one copied into the other, that do not have the same states; or `is` stands "
        "between things that are no names.",
        "never: feeder is train",
        "never: feeder is closed and train is away",
    ),
    Kind(
        "not-seen-here",
        ERROR,
        "An expression speaks of something that cannot be known where it stands: logic sees equipment only "
        "through readings, readings show equipment only, hazards are about equipment whatever the logic believes.",
        "needs: {train_there: train is in_position}",
        "readings: {in_place: {shows: train is in_position}}\nneeds: {train_there: in_place}",
    ),
    Kind(
        "event-not-here",
        ERROR,
        "`was` and `becomes` speak of an event, so they belong in rules, hazards, and conditions used only by those.",
        "when: becomes(in_place)",
        "when: in_place",
    ),
    Kind(
        "circular-condition",
        ERROR,
        "A condition is defined through itself, directly or through others.",
        "safe: not live\nlive: not safe",
        "safe: not live\nlive: rail is live",
    ),
    Kind(
        "unknown-target",
        ERROR,
        "A failure is of something that does not exist.",
        "welded: {of: feder, effect: {stays: closed}}",
        "welded: {of: feeder, effect: {stays: closed}}",
    ),
    Kind(
        "wrong-target",
        ERROR,
        "A failure is of something that does not fail by itself, such as a step, a condition or a single value of"
        " a link; or a command is named without the word `command`.",
        "stuck: {of: close_feeder, effect: {output: driven}}",
        "stuck: {of: command close_feeder, effect: {output: driven}}",
    ),
    Kind(
        "effect-does-not-fit",
        ERROR,
        "The effect is not something that can happen to the target of the failure: items stay, are stuck, go, "
        "ignore or are slow; readings read; messages of links are lost or late; outputs of commands are driven or"
        " silent; controllers stop or restart.",
        "blind: {of: in_place, effect: {stays: false}}",
        "blind: {of: in_place, effect: {reads: false}}",
    ),
    Kind(
        "triggered-member",
        ERROR,
        "A common cause names a failure that happens only upon a move, so the common cause could not make it happen.",
        "both: {common_cause: [welded, stuck]}   # welded has `upon`",
        "both: {common_cause: [stuck_1, stuck_2]}",
    ),
    Kind(
        "unknown-failure",
        ERROR,
        "A common cause names a failure that does not exist.",
        "both: {common_cause: [weld_1, weld_3]}",
        "both: {common_cause: [weld_1, weld_2]}",
    ),
    Kind(
        "unknown-item",
        ERROR,
        "A move, trigger or assumption names an item that does not exist.",
        "also: {flim: absent}",
        "also: {film: absent}",
    ),
    Kind(
        "unknown-move",
        ERROR,
        "A trigger, assumption, helper or `slow` names a move that the item does not have, or does not name an "
        "item and a move.",
        "upon: {move: feeder open}",
        "upon: {move: feeder opens}",
    ),
    Kind(
        "unknown-sequence",
        ERROR,
        "A link names a sequence that does not exist.",
        "from: train_logc",
        "from: train_logic",
    ),
    Kind(
        "rule-without-kind",
        ERROR,
        "A rule does not say what must be true: it has none of the keys that make a kind of rule.",
        "R1: {must: rail is dead}",
        "R1: {while: train is away, must: rail is dead}",
    ),
    Kind(
        "rule-of-two-kinds",
        ERROR,
        "A rule has the keys of two kinds.",
        "R1: {never: a, possible: b}",
        "R1: {never: a}\nR2: {possible: b}",
    ),
    Kind(
        "unknown-hazard",
        ERROR,
        "A rule guards against a hazard that does not exist.",
        "R1: {never: ..., guards_against: [H7]}",
        "hazards: {H7: ...}\nrules: {R1: {never: ..., guards_against: [H7]}}",
    ),
    Kind(
        "not-a-free-move",
        ERROR,
        "An assumption or a helper names a move that has a time. Assumptions may only restrain what the world "
        "does by itself, and only what the world may leave undone can help.",
        "A1: {strengthens: [feeder opens], with: ...}",
        "A1: {strengthens: [train leaves], with: ...}",
    ),
    Kind(
        "unknown-part",
        ERROR,
        "Instances are made of a part that does not exist.",
        "shoes: {part: sheo, count: 2}",
        "shoes: {part: shoe, count: 2}",
    ),
    Kind(
        "unused-part",
        ERROR,
        "No instance is made of a part, so nothing in it is looked at and nothing in it says anything.",
        "parts: {shoe: ...}",
        "parts: {shoe: ...}\ninstances: {shoes: {part: shoe, count: 2}}",
    ),
    Kind(
        "circular-part",
        ERROR,
        "A part contains instances of itself, directly or through others.",
        "parts: {berth: {instances: {berths: {part: berth, count: 2}}}}",
        "parts: {berth: {instances: {shoes: {part: shoe, count: 2}}}}",
    ),
    Kind(
        "count-or-named",
        ERROR,
        "Instances need either a number (`count`) or names (`named`), and not both.",
        "shoes: {part: shoe}",
        "shoes: {part: shoe, named: [front, rear]}",
    ),
    Kind(
        "missing-given",
        ERROR,
        "A part is to be given an expression, and the instances do not say which.",
        "shoes: {part: shoe, count: 2}   # given: [in_place]",
        "shoes: {part: shoe, count: 2, with: {in_place: train is in_position}}",
    ),
    Kind(
        "unknown-instance",
        ERROR,
        "A step drives a command of an instance that does not exist.",
        "drives: [frnt shoe lower]",
        "drives: [front shoe lower]",
    ),
)
