"""Drafts: a file that says what differs from another one, put together to one tree before anything is built.

In: the text of a spec or draft, and a reader for the files beside it. Out: the tree of the whole, every node still in
its own file; what the draft expects; the names, texts and digests of all files that were read. A draft may be based on
a draft: the files are read from the outermost inwards, the changes made from the innermost outwards.
"""

from __future__ import annotations

import posixpath
from dataclasses import dataclass, field, replace
from hashlib import sha256

from interlock.diag.diagnostic import Bag, Mark
from interlock.diag.place import Sources, Span
from interlock.spec.build import right_format
from interlock.spec.changes import Change, changed, read_changes
from interlock.spec.expect import Wanted, expectations, read_expect
from interlock.spec.fields import fields, first_line, peek, text_of, wrong_type
from interlock.spec.files import Reader, Unread
from interlock.spec.instances import HEADING, ROOT_KEYS
from interlock.spec.model import Base, Spec
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.read import read

DRAFT_KEYS = ("based_on", "changes", "expect")

MAX_DRAFTS = 5
"""How many drafts may be based on one another, and so how many files must be read to know what a draft says."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft as written: its heading, its changes, and where `changes` stands."""

    heading: tuple[tuple[Scalar, Node], ...]
    changes: tuple[Change, ...]
    expect: tuple[Wanted, ...]
    at: Span


@dataclass(slots=True)
class Whole:
    """Everything that was read. `root`: the tree with all changes made, None after a mistake; `files`: names and
    digests, the outermost first; `drafts`: likewise, without the spec beneath them all."""

    texts: dict[str, str] = field(default_factory=dict)
    files: list[Base] = field(default_factory=list)
    drafts: list[Draft] = field(default_factory=list)
    root: Node | None = None

    @property
    def sources(self) -> Sources:
        """The texts by name."""
        return Sources(self.texts)

    @property
    def digest(self) -> str:
        """SHA-256 of the file; of a draft, of the digests of its files, one a line, the draft first."""
        if len(self.files) == 1:
            return self.files[0].digest
        return sha256("".join(f"{one.digest}\n" for one in self.files).encode()).hexdigest()


def read_whole(source: str | bytes, file: str, beside: Reader, bag: Bag) -> Whole:
    """Read a file and all that it is based on, and make the changes. Mistakes are in the bag."""
    whole = Whole()
    path = ""  # of the file being read, from the folder of the outermost one
    while True:
        root, whole.texts[file] = read(source, file, bag)
        data = source if isinstance(source, bytes) else source.encode("utf-8", "surrogatepass")
        whole.files.append(Base(file, sha256(data).hexdigest()))
        if root is None:
            return whole
        based_on = peek(root, "based_on")
        if based_on is None or not isinstance(root, Mapping):
            break
        draft = _draft(root, bag)
        scalar = text_of(bag, based_on, "`based_on`", "name one file, as in `based_on: ../station.yaml`")
        if draft is None or scalar is None:
            return whole
        whole.drafts.append(draft)
        path = posixpath.join(posixpath.dirname(path), scalar.text)
        file = posixpath.normpath(posixpath.join(posixpath.dirname(file), scalar.text))
        found = _base(scalar, path, file, whole, beside, bag)
        if found is None:
            return whole
        source = found
    whole.root = _all_changed(root, whole.drafts, bag)
    return whole


def with_expectations(spec: Spec, whole: Whole, bag: Bag) -> Spec | None:
    """The spec with what it is based on and what it expects; None after a mistake in an expectation."""
    if not whole.drafts:
        return spec
    expect = expectations(list(whole.drafts[0].expect), spec, bag)
    return replace(spec, based_on=tuple(whole.files[1:]), expect=expect) if bag.empty else None


def tell_the_changes(whole: Whole, bag: Bag) -> None:
    """Let every mistake found in a file beneath a draft also show the draft: the text there may well be sound by
    itself, and wrong only with what was changed elsewhere."""
    if not whole.drafts:
        return
    draft = whole.drafts[0]
    one = len(draft.changes) == 1
    mark = Mark(draft.changes[0].at, "after this change") if one else Mark(draft.at, "after these changes")
    beneath = {one.file for one in whole.files[1:]}
    for i, told in enumerate(bag.found):
        if told.at is not None and told.at.span.file in beneath:
            bag.found[i] = replace(told, also=(*told.also, mark))


def _draft(root: Mapping, bag: Bag) -> Draft | None:
    """A draft taken apart; None if it has no changes that could be made."""
    if not right_format(root, bag):
        return None
    for key, _ in root.entries:
        if key.text in ROOT_KEYS and key.text not in HEADING:
            bag.add(
                "unknown-key",
                f"a draft has no `{key.text}` of its own",
                key.span,
                "not known here",
                f"write it as a change: `- add: {key.text} NAME`, `with: ...`",
            )
    at = root.entries[0][0].span
    found = fields(bag, root, "the draft", at, ("format", "based_on", "changes"), (*HEADING[1:], "expect"))
    if found is None or found["changes"] is None:
        return None
    changes = read_changes(bag, found["changes"], found.key("changes"))
    return Draft(
        tuple(found.entries[word] for word in HEADING if word in found),
        tuple(changes),
        tuple(read_expect(bag, found["expect"])),
        found.key("changes"),
    )


def _base(scalar: Scalar, path: str, file: str, whole: Whole, beside: Reader, bag: Bag) -> bytes | None:
    """The bytes of the file that a draft is based on; None and told if there are none to be had."""
    at = first_line(scalar)
    known = [one.file for one in whole.files]
    if file in known:
        circle = " -> ".join(f"`{one}`" for one in [*known[known.index(file) :], file])
        bag.add(
            "circular-base", f"the draft is based on itself: {circle}", at, "a circle", "base one of them on a spec"
        )
        return None
    if len(whole.drafts) > MAX_DRAFTS:
        headline = f"more than {MAX_DRAFTS} drafts are based on one another"
        bag.add("too-deep", headline, at, "too deep", "base the draft on the spec itself, with all its changes")
        return None
    cure = "name the file from the folder of this one, as in `based_on: ../station.yaml`"
    if posixpath.isabs(scalar.text):
        headline = "the file that this draft is based on is named from the root of one machine"
        bag.add("base-not-read", headline, at, "an absolute path", cure)
        return None
    found = beside(path, scalar.text)
    if isinstance(found, Unread):
        headline = f"the file that this draft is based on cannot be read: {found.reason}"
        bag.add("base-not-read", headline, at, "not read", *(found.cures or (cure,)))
        return None
    return found


def _all_changed(root: Node, drafts: list[Draft], bag: Bag) -> Node | None:
    """The tree of a spec with the changes of all drafts made, the innermost first; None after a mistake in them."""
    if not isinstance(root, Mapping):
        if drafts:
            wrong_type(bag, root, "the file", "a mapping of keys", "begin with `format: interlock/1`")
            return None
        return root
    tree = _without_stray_keys(root, bag)
    if not drafts:
        return tree
    if not right_format(tree, bag):
        return None
    if not any(key.text == "format" for key, _ in tree.entries):
        bag.add("missing-key", "the file lacks `format`", first_line(tree), "not complete", "add `format: interlock/1`")
    for draft in reversed(drafts):
        heading = [entry for entry in tree.entries if entry[0].text in HEADING]
        body = replace(tree, entries=tuple(entry for entry in tree.entries if entry[0].text not in HEADING))
        made = changed(body, draft.changes, bag)
        if made is None:
            return None
        own = {key.text for key, _ in draft.heading}
        kept = (entry for entry in heading if entry[0].text not in own)
        tree = replace(made, entries=(*draft.heading, *kept, *made.entries))
    return tree


def _without_stray_keys(root: Mapping, bag: Bag) -> Mapping:
    """A spec without the keys that only drafts have; they are told."""
    for key, _ in root.entries:
        if key.text in DRAFT_KEYS:
            bag.add(
                "missing-key",
                f"the file has `{key.text}` but not `based_on`",
                key.span,
                "only in drafts",
                "add `based_on: FILE`, the spec that this draft changes",
            )
    return replace(root, entries=tuple(entry for entry in root.entries if entry[0].text not in DRAFT_KEYS))
