"""Drafts put together: what changes do to a tree, whose place a node keeps, chains of drafts and their limits."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

import pytest

from interlock.core.elaborate import elaborate
from interlock.spec import load_text
from interlock.spec.changes import MAX_CHANGES
from interlock.spec.drafts import MAX_DRAFTS
from interlock.spec.files import Reader, Unread
from interlock.spec.model import Spec

STATION = """\
format: interlock/1
title: A lamp and its key
revision: A
notes: of the station
equipment:
  key: {states: [rest, turned], start: rest, moves: {turns: {from: rest, to: turned}}}
  lamp: {states: [dark, lit], follows: command light or command flash}
  bell: {states: [still, ringing], follows: command ring}
readings: {seen: {shows: key is turned}}
logic:
  ground:
    steps:
      idle: {start: true}
      busy: {drives: [light, flash]}
      spare:
      last: {drives: [flash, ring]}
    moves:
      go: {from: idle, to: busy, needs: {turned: seen}}
      stop: {from: busy, to: idle, needs: {back: not seen}}
      park: {from: idle, to: spare, needs: {never: false}}
rules:
  R1: {never: lamp is lit and key is rest}
"""


def files(texts: Mapping[str, str]) -> Reader:
    """A reader of files that are not there."""

    def read(path: str, shown: str) -> bytes | Unread:
        return texts[path].encode() if path in texts else Unread(f"there is no {path}")

    return read


def draft(*changes: str, heading: str = "", based_on: str = "station.yaml") -> str:
    listed = "".join(f"- {change}\n" for change in changes)
    return f"format: interlock/1\n{heading}based_on: {based_on}\nchanges:\n{listed}"


def spec_of(text: str, **others: str) -> Spec:
    beside = {f"{name}.yaml": other for name, other in others.items()}
    spec, bag, _ = load_text(text, "draft.yaml", files({"station.yaml": STATION, **beside}))
    assert spec is not None, bag.sorted()
    return spec


def kinds(text: str, **others: str) -> list[str]:
    beside = {f"{name}.yaml": other for name, other in others.items()}
    spec, bag, _ = load_text(text, "draft.yaml", files({"station.yaml": STATION, **beside}))
    assert spec is None
    return [one.kind for one in bag.sorted()]


def written_out(old: str, new: str) -> str:
    """The digest of the core of the station with the change made by hand."""
    assert STATION.count(old) == 1
    spec, _, _ = load_text(STATION.replace(old, new), "station.yaml")
    assert spec is not None
    return elaborate(spec).digest


LIT = "{possible: lamp is lit}"
STOP = "      stop: {from: busy, to: idle, needs: {back: not seen}}\n"
PARK = "      park: {from: idle, to: spare, needs: {never: false}}\n"


@pytest.mark.parametrize(
    ("changes", "old", "new"),
    [
        (("remove: logic ground moves go needs turned",), "needs: {turned: seen}", "needs: {}"),
        (("remove: logic ground steps busy drives flash",), "[light, flash]", "[light]"),
        (("replace: rules R1 never\n  with: lamp is lit",), "lamp is lit and key is rest", "lamp is lit"),
        (("replace: logic ground steps busy drives flash\n  with: ring",), "[light, flash]", "[light, ring]"),
        (("add: logic ground steps busy drives ring",), "[light, flash]", "[light, flash, ring]"),
        (("add: logic ground steps spare drives\n  with: ring",), "spare:\n", "spare: {drives: ring}\n"),
        ((f"add: rules R2\n  with: {LIT}",), "key is rest}\n", f"key is rest}}\n  R2: {LIT}\n"),
        (
            (f"add: rules R2\n  with: {LIT}", "add: rules R2 withstands\n  with: 1"),
            "key is rest}\n",
            "key is rest}\n  R2: {possible: lamp is lit, withstands: 1}\n",
        ),
        (
            (
                "remove: logic ground moves stop",
                "add: logic ground moves stop\n  with: {from: busy, to: idle, needs: {}}",
            ),
            STOP + PARK,
            PARK + STOP.replace("{back: not seen}", "{}"),
        ),
    ],
)
def test_a_draft_means_what_the_spec_means_with_the_change_made_by_hand(
    changes: tuple[str, ...], old: str, new: str
) -> None:
    assert elaborate(spec_of(draft(*changes))).digest == written_out(old, new)


def test_every_place_is_in_the_file_that_holds_the_text() -> None:
    spec = spec_of(draft("add: rules R2\n  with: {possible: lamp is lit}"))
    first, second = spec.rules
    assert (first.span.file, first.span.line) == ("station.yaml", 22)
    assert (second.span.file, second.span.line, second.span.column) == ("draft.yaml", 4, 14)


def test_a_heading_is_that_of_the_draft_and_else_of_the_file_beneath() -> None:
    spec = spec_of(draft("remove: logic ground moves park", heading="title: Without a park\n"))
    assert (spec.title, spec.revision, spec.notes) == ("Without a park", "A", "of the station")


def test_the_digest_is_made_of_those_of_all_files_the_draft_first() -> None:
    inner = draft("remove: logic ground moves park")
    outer = draft("remove: logic ground moves stop", based_on="inner.yaml")
    spec = spec_of(outer, inner=inner)
    digests = [sha256(text.encode()).hexdigest() for text in (outer, inner, STATION)]
    assert [(one.file, one.digest) for one in spec.based_on] == list(
        zip(("inner.yaml", "station.yaml"), digests[1:], strict=True)
    )
    assert spec.digest == sha256("".join(f"{digest}\n" for digest in digests).encode()).hexdigest()


def test_changes_of_a_draft_beneath_come_first_and_what_it_expects_is_not_inherited() -> None:
    inner = draft("add: rules R2\n  with: {possible: lamp is lit}") + "expect: [{rule: R1, failures: 0}]\n"
    spec = spec_of(draft("remove: rules R1", based_on="inner.yaml"), inner=inner)
    assert [rule.id for rule in spec.rules] == ["R2"]
    assert spec.expect == ()


def test_files_are_found_from_the_folder_of_the_draft_that_names_them() -> None:
    inner = draft("remove: logic ground moves park", based_on="../station.yaml")
    outer = draft("remove: logic ground moves stop", based_on="below/inner.yaml")
    reader = files({"below/inner.yaml": inner, "below/../station.yaml": STATION})
    spec, bag, _ = load_text(outer, "folder/draft.yaml", reader)
    assert spec is not None, bag.sorted()
    assert [one.file for one in spec.based_on] == ["folder/below/inner.yaml", "folder/station.yaml"]


def chain(n: int) -> dict[str, str]:
    """So many drafts, `d1` on the station, each further one on the one before."""
    found = {"d1": draft("remove: rules R1")}
    for i in range(2, n + 1):
        found[f"d{i}"] = draft(f"add: rules S{i}\n  with: {{possible: lamp is lit}}", based_on=f"d{i - 1}.yaml")
    return found


def test_a_chain_of_drafts_may_be_so_long_and_no_longer() -> None:
    drafts = chain(MAX_DRAFTS + 1)
    spec = spec_of(drafts[f"d{MAX_DRAFTS}"], **drafts)
    assert len(spec.based_on) == MAX_DRAFTS
    assert len(spec.rules) == MAX_DRAFTS - 1
    assert kinds(drafts[f"d{MAX_DRAFTS + 1}"], **drafts) == ["too-deep"]


def test_a_circle_is_seen_whichever_draft_it_closes_on() -> None:
    one = draft("remove: rules R1", based_on="two.yaml")
    two = draft("remove: rules R1", based_on="one.yaml")
    assert kinds(draft("remove: rules R1", based_on="one.yaml"), one=one, two=two) == ["circular-base"]


def test_each_file_is_held_to_the_limits_by_itself() -> None:
    assert kinds(draft("remove: rules R1", based_on="large.yaml"), large="x" * (1 << 21)) == ["too-large"]
    many = [f"add: rules S{i}\n  with: {{possible: lamp is lit}}" for i in range(MAX_CHANGES + 1)]
    assert spec_of(draft(*many[:-1])).rules
    assert kinds(draft(*many)) == ["too-large"]


PARKED = draft("remove: logic ground moves park")
UNDONE = draft("remove: rules R1 never", f"replace: rules R1\n  with: {LIT}")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (draft("remove: rules R1", based_on="/station.yaml"), "base-not-read"),
        (draft("remove: rules R1", based_on="gone.yaml"), "base-not-read"),
        (draft("remove: title"), "no-such-place"),
        (draft("remove: changes"), "no-such-place"),
        (draft("remove: logic ground moves go from idle"), "no-such-place"),
        (draft("add: logic ground moves go needs\n  with: {}"), "already-there"),
        (draft("add: rules R2"), "missing-key"),
        (draft("replace: rules R1"), "missing-key"),
        (draft("add: logic ground steps busy drives ring\n  with: 1"), "unknown-key"),
        (draft("remove: rules R1\n  with: 1"), "unknown-key"),
        (draft("{remove: rules R1, add: rules R2}"), "unknown-key"),
        (draft("[remove, rules, R1]"), "wrong-type"),
        (draft("remove: [rules, R1]"), "wrong-type"),
        (draft("remove: ' '"), "wrong-type"),
        (UNDONE, "change-without-effect"),
        (draft("remove: rules R1") + "rules: {}\n", "unknown-key"),
        (draft("remove: rules R1").replace("interlock/1", "interlock/2"), "unknown-format"),
        ("format: interlock/1\nbased_on: station.yaml\n", "missing-key"),
        ("format: interlock/1\nbased_on: station.yaml\nchanges: []\n", "empty-list"),
        ("format: interlock/1\nbased_on: [station.yaml]\nchanges: [{remove: rules R1}]\n", "wrong-type"),
        (STATION + "expect: [{rule: R1, failures: 0}]\n", "missing-key"),
        (STATION + "changes: [{remove: rules R1}]\n", "missing-key"),
        (PARKED + "expect: [{failures: 0}]\n", "missing-key"),
        (PARKED + "expect: [{rule: R1, hazard: H1, failures: 0}]\n", "unknown-key"),
        (PARKED + "expect: [{rule: R1, failures: some}]\n", "wrong-type"),
        (PARKED + "expect: [{hazard: R1, failures: 0}]\n", "unknown-hazard"),
        (PARKED + "expect: [{rule: R1, failures: 0, also: [R1]}]\n", "expected-twice"),
    ],
)
def test_a_slip_in_a_draft_is_one_mistake(text: str, kind: str) -> None:
    assert kinds(text) == [kind]


def test_a_spec_that_is_known_as_text_alone_cannot_be_based_on_a_file() -> None:
    spec, bag, _ = load_text(draft("remove: rules R1"), "draft.yaml")
    assert spec is None
    assert [one.kind for one in bag.sorted()] == ["base-not-read"]


def test_a_mistake_that_a_change_leaves_elsewhere_shows_the_change() -> None:
    spec, bag, _ = load_text(draft("remove: readings seen"), "draft.yaml", files({"station.yaml": STATION}))
    assert spec is None
    (told,) = bag.sorted()
    assert told.at is not None
    assert told.at.span.file == "station.yaml"
    assert [mark.span.file for mark in told.also if mark.words == "after this change"] == ["draft.yaml"]
