"""What a draft is there to show: `expect`, read from its nodes and held against the spec that was built."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.diag.diagnostic import Bag, Mark
from interlock.diag.near import near
from interlock.diag.place import Span
from interlock.spec.fields import count_of, fields, first_line, text_of, texts_of, truth_of, wrong_type
from interlock.spec.model import Expectation, Spec
from interlock.spec.nodes import Listing, Mapping, Node, Scalar
from interlock.spec.rules import MAX_WITHSTANDS

ABOUT = ("rule", "hazard")

LISTED = 8
"""So many names are listed where none is near."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """An expectation as written, its names not yet looked up. `about`: `rule` or `hazard`."""

    about: str
    id: Scalar
    failures: int
    also: tuple[Scalar, ...]
    waits_for_timing: bool


def read_expect(bag: Bag, node: Node | None) -> list[Wanted]:
    """The expectations that a list holds; every slip in how they are written is told."""
    if node is None:
        return []
    if not isinstance(node, Listing):
        cure = "begin each with `- `, as in `- {rule: R1, failures: 0}`"
        wrong_type(bag, node, "`expect`", "a list", cure)
        return []
    if not node.items:
        bag.add("empty-list", "the draft expects nothing", first_line(node), "empty", "leave `expect` out, or say what")
    return [wanted for item in node.items if (wanted := _read_one(bag, item)) is not None]


def _read_one(bag: Bag, node: Node) -> Wanted | None:
    at = first_line(node)
    written = {key.text for key, _ in node.entries} if isinstance(node, Mapping) else set()
    about = next((word for word in ABOUT if word in written), None)
    if about is None and isinstance(node, Mapping) and not any(near(word, ABOUT) for word in written):
        cure = "say which: `rule: R1` or `hazard: H1`"
        bag.add("missing-key", "the expectation lacks `rule` or `hazard`", at, "what is broken?", cure)
        return None
    about = about or next((guess for word in sorted(written) if (guess := near(word, ABOUT))), "rule")
    found = fields(bag, node, "the expectation", at, (about, "failures"), ("also", "waits_for_timing"))
    if found is None:
        return None
    id = text_of(bag, found[about], f"`{about}` of the expectation")
    failures = count_of(bag, found["failures"], "`failures` of the expectation", 0, MAX_WITHSTANDS)
    if id is None or failures is None:
        return None
    also = texts_of(bag, found["also"], "`also` of the expectation", some=True)
    waits = truth_of(bag, found["waits_for_timing"], "`waits_for_timing` of the expectation", False)
    return Wanted(about, id, failures, tuple(also), waits)


def expectations(wanted: list[Wanted], spec: Spec, bag: Bag) -> tuple[Expectation, ...]:
    """The expectations with their names looked up among the rules and hazards of the spec."""
    hazards = {one.id: one.span for one in spec.hazards}
    rules = {one.id: one.span for one in spec.rules}
    found: dict[str, Span] = {}
    result = []
    for one in wanted:
        known = hazards if one.about == "hazard" else rules
        if _known(one.id, one.about, known, bag):
            for scalar in one.also:
                _known(scalar, "rule and no hazard", rules | hazards, bag)
        for scalar in (one.id, *one.also):
            if scalar.text in found:
                bag.add(
                    "expected-twice",
                    f"`{scalar.text}` is expected twice",
                    scalar.span,
                    "again",
                    "name each rule and hazard once",
                    also=(Mark(found[scalar.text], "already here"),),
                )
            found.setdefault(scalar.text, scalar.span)
        also = tuple(scalar.text for scalar in one.also)
        result.append(Expectation(one.id.text, one.failures, also, one.waits_for_timing, one.id.span))
    return tuple(result)


def _known(scalar: Scalar, what: str, known: dict[str, Span], bag: Bag) -> bool:
    """Whether a rule or hazard of that name exists; told if not."""
    if scalar.text in known:
        return True
    guess = near(scalar.text, known)
    more = f" and {len(known) - LISTED} more" if len(known) > LISTED else ""
    there = ", ".join(f"`{id}`" for id in list(known)[:LISTED]) or "none at all"
    cure = f"did you mean `{guess}`?" if guess else f"there is {there}{more}"
    bag.add(
        "unknown-hazard" if what == "hazard" else "unknown-rule",
        f"no {what} is called `{scalar.text}`",
        scalar.span,
        "not defined",
        cure,
    )
    return False
