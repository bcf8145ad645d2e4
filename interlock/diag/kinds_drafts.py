"""Mistakes in a draft: in what it is based on, in its changes, in what it expects."""

from __future__ import annotations

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind

ERROR = Severity.ERROR

DRAFT_KINDS = (
    Kind(
        "base-not-read",
        ERROR,
        "The file that a draft is based on cannot be read. It is named by its path from the folder of the draft, or, "
        "for a draft on standard input, from the folder of its `--stdin-name`, the current one if not given.",
        "based_on: brackwater_quay.yaml   # which lies in the folder above",
        "based_on: ../brackwater_quay.yaml",
    ),
    Kind(
        "circular-base",
        ERROR,
        "A draft is based on itself, directly or through other drafts. In the end there must be a spec that is whole.",
        "based_on: draft_b.yaml   # in draft_a.yaml\nbased_on: draft_a.yaml   # in draft_b.yaml",
        "based_on: draft_b.yaml   # in draft_a.yaml\nbased_on: station.yaml   # in draft_b.yaml",
    ),
    Kind(
        "no-such-place",
        ERROR,
        "A change names a place that does not exist in the file beneath, after the changes before it. A place is named "
        "by the keys on the way to it, with blanks between; an element of a list by its text.",
        "- remove: logic ground lift needs contact_proved",
        "- remove: logic ground moves lift needs contact_proved",
    ),
    Kind(
        "already-there",
        ERROR,
        "A change adds something at a place where something is already. What is there would be lost without a word.",
        "- add: rules R1\n  with: {never: rail is live}",
        "- replace: rules R1\n  with: {never: rail is live}",
    ),
    Kind(
        "change-without-effect",
        ERROR,
        "A change puts in what is there already, or is undone by a later one. Whoever reads the draft would take it "
        "for a difference that is not there.",
        "- replace: rules R1 withstands\n  with: 2\n- remove: rules R1",
        "- remove: rules R1",
    ),
    Kind(
        "unknown-rule",
        ERROR,
        "A draft expects a rule to be broken that does not exist.",
        "expect: [{rule: R11, failures: 0}]   # the rules are R1 to R9",
        "expect: [{rule: R1, failures: 0}]",
    ),
    Kind(
        "expected-twice",
        ERROR,
        "A draft expects the same rule or hazard twice. Each is broken first at one number of failures.",
        "expect:\n- {rule: R1, failures: 0, also: [H1]}\n- {hazard: H1, failures: 1}",
        "expect:\n- {rule: R1, failures: 0, also: [H1]}",
    ),
)
