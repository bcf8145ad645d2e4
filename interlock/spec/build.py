"""Building: the node tree of a file, to a `Spec`.

First the parts are written out as a tree of scopes, then every name is declared, then everything is defined in the
order of the meaning: equipment, readings, links, logic, conditions, failures, assumptions, hazards, rules; within each
first what stands at the top of the file, then the instances in their order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from interlock.diag.diagnostic import Bag, Mark
from interlock.spec.book import MAX_MISTAKES, Book, Enough, LimitedBag
from interlock.spec.conditions import declare_conditions, define_conditions
from interlock.spec.equipment import declare_items, define_items, followers
from interlock.spec.failures import declare_failures, define_failures
from interlock.spec.fields import first_line, text_of, texts_of, words_of, wrong_type
from interlock.spec.instances import expand
from interlock.spec.model import Spec
from interlock.spec.nodes import Mapping, Node
from interlock.spec.resolve import read_condition, show
from interlock.spec.rules import declare_rules, define_assumptions, define_hazards, define_rules
from interlock.spec.scopes import Scope, Sort
from interlock.spec.sequences import declare_logic, define_logic
from interlock.spec.signals import declare_signals, define_links, define_readings
from interlock.spec.stop_budget import define_stop_budget
from interlock.spec.worked_out import parameters_worked_out

FORMAT = "interlock/1"

T = TypeVar("T")


def build(root: Node, bag: Bag, file: str = "", digest: str = "") -> Spec | None:
    """The spec that a tree says; None if the bag holds a mistake in the end.

    Cost: linear in the file with its parts written out.
    """
    if not isinstance(root, Mapping):
        wrong_type(bag, root, "the file", "a mapping of keys", "begin with `format: interlock/1`")
        return None
    if not right_format(root, bag):
        return None
    book = Book(LimitedBag(bag.found), Scope("", None, {}, first_line(root)), show, read_condition)
    spec: Spec | None = None
    try:
        spec = _build(root, book, file, digest)
    except Enough:
        if len(bag.found) + len(book.unknowns) >= MAX_MISTAKES:
            bag.add(
                "too-large",
                f"the file has {MAX_MISTAKES} mistakes or more; the rest of it was not looked at",
                first_line(root),
                "in this file",
                "begin with the first ones: many others may follow from them",
            )
    book.flush(root)
    return spec if bag.empty else None


def _build(root: Mapping, book: Book, file: str, digest: str) -> Spec | None:
    if expand(root, book) is None:
        return None
    for declare in _DECLARING:
        for scope in book.root.all():
            declare(scope, book)
    _instance_names(book)
    worked_out = parameters_worked_out(book)
    spec = _define(book, file, digest)
    budget = define_stop_budget(book.root, book)
    return replace(spec, worked_out=worked_out, taken=tuple(dict.fromkeys(book.taken)), stop_budget=budget)


_DECLARING = (
    declare_items,
    followers,
    declare_signals,
    declare_logic,
    declare_conditions,
    declare_failures,
    declare_rules,
)


def right_format(root: Mapping, bag: Bag) -> bool:
    """Whether the file says that it is of this format; only a missing format lets the rest be read."""
    for key, node in root.entries:
        if key.text != "format":
            continue
        scalar = text_of(bag, node, "`format`")
        if scalar is None:
            return False
        if scalar.text == FORMAT:
            return True
        bag.add(
            "unknown-format",
            f"the format `{scalar.text}` is not known",
            scalar.span,
            "not known",
            f"this program reads `{FORMAT}`",
        )
        return False
    return True


def _instance_names(book: Book) -> None:
    """No thing may be called like the beginning of an instance's name, or ids could mean two things."""
    for scope in book.root.all():
        if scope.parent is None:
            continue
        own = scope.prefix[len(scope.parent.prefix) :].split()
        for word in (own[0], " ".join(own)):
            for one in book.names.declared.get(scope.parent.id(word), ()):
                if one.sort is not Sort.STEP:
                    book.bag.add(
                        "duplicate-name",
                        f"the {one.sort.value} `{one.id}` has the name of an instance",
                        one.span,
                        "the name again",
                        "every thing needs a name of its own: give one of them another",
                        also=(Mark(scope.at, f"the instance `{scope.prefix}`"),),
                    )


def _define(book: Book, file: str, digest: str) -> Spec:
    scopes = list(book.root.all())

    def everywhere(define: Callable[[Scope, Book], list[T]]) -> tuple[T, ...]:
        return tuple(one for scope in scopes for one in define(scope, book))

    items = everywhere(define_items)
    readings = everywhere(define_readings)
    links = everywhere(define_links)
    sequences = everywhere(define_logic)
    conditions = everywhere(define_conditions)
    failures = everywhere(define_failures)
    assumptions = everywhere(define_assumptions)
    hazards = everywhere(define_hazards)
    rules = everywhere(define_rules)
    sections, bag = book.root.sections, book.bag
    return Spec(
        words_of(bag, sections.get("title"), "`title`"),
        words_of(bag, sections.get("revision"), "`revision`"),
        words_of(bag, sections.get("prepared_by"), "`prepared_by`"),
        tuple(scalar.text for scalar in texts_of(bag, sections.get("standards"), "`standards`")),
        words_of(bag, sections.get("notes"), "`notes`"),
        items,
        readings,
        links,
        sequences,
        tuple(book.commands),
        conditions,
        failures,
        assumptions,
        hazards,
        rules,
        file,
        digest,
    )
