"""Assumptions, hazards and rules."""

from __future__ import annotations

from fractions import Fraction

from interlock.diag.diagnostic import Mark
from interlock.diag.place import Span
from interlock.logic.formula import TRUE, Formula
from interlock.spec.book import Book
from interlock.spec.equipment import same
from interlock.spec.fields import (
    Fields,
    choice_of,
    count_of,
    fields,
    named_entries,
    peek,
    text_of,
    texts_of,
    truth_of,
    words_of,
)
from interlock.spec.model import Assumption, Hazard, Rule, RuleKind, Window
from interlock.spec.moves import move_named
from interlock.spec.nodes import Mapping, Node, Scalar
from interlock.spec.resolve import Resolver
from interlock.spec.scopes import Scope, Sort
from interlock.spec.units import RATE, TIME
from interlock.spec.uses import ASSUMING, HAZARD, RULE, Use
from interlock.spec.windows import PER_H, End, quantity_of, window_of

MAX_WITHSTANDS = 10


def declare_rules(scope: Scope, book: Book) -> None:
    """Make the assumptions, hazards and rules of a scope known; each id must be its own."""
    for section, sort in (("assumptions", "assumption"), ("hazards", "hazard"), ("rules", "rule")):
        for key, _ in named_entries(book.bag, scope.sections.get(section), f"`{section}`", f"a {sort}"):
            id = scope.id(key.text)
            others = [one for one in book.names.declared.get(id, ()) if one.sort is not Sort.STEP]
            if id in book.claims:
                same(sort, id, key.span, *book.claims[id], book)
            elif others:
                same(sort, id, key.span, others[0].sort.value, others[0].span, book)
            else:
                book.claims[id] = (sort, key.span)


def define_assumptions(scope: Scope, book: Book) -> list[Assumption]:
    """The assumptions of a scope."""
    bag = book.bag
    assumptions: list[Assumption] = []
    for key, node in named_entries(bag, scope.sections.get("assumptions"), "`assumptions`", "an assumption"):
        what = f"assumption `{key.text}`"
        found = fields(
            bag, node, what, key.span, required=("strengthens", "with"), optional=("words", "owner", "reason")
        )
        if found is None:
            continue
        names = texts_of(bag, found["strengthens"], f"`strengthens` of {what}", some=True)
        ids = [id for scalar in names if (id := _strengthened(scalar, what, scope, book)) is not None]
        condition = Resolver(book, scope, ASSUMING).read(text_of(bag, found["with"], f"`with` of {what}"))
        words = words_of(bag, found["words"], f"`words` of {what}")
        reason = words_of(bag, found["reason"], f"`reason` of {what}")
        owner = words_of(bag, found["owner"], f"`owner` of {what}")
        told = f"{words} ({reason})" if words and reason else words or reason
        assumptions.append(Assumption(scope.id(key.text), tuple(ids), condition, told, owner, key.span))
    return assumptions


def _strengthened(scalar: Scalar, what: str, scope: Scope, book: Book) -> str | None:
    """The id of a free move or failure; None if it is neither (told)."""
    name = " ".join(scalar.text.split())
    failure = book.names.one(name, scope.prefixes(), (Sort.FAILURE, Sort.COMMON_CAUSE))
    if failure is not None:
        return failure.id
    return _free_move(scalar, what, scope, book, "an assumption strengthens only what the world does by itself")


def _free_move(scalar: Scalar, what: str, scope: Scope, book: Book, because: str) -> str | None:
    found = move_named(scalar, scope, book)
    if found is None:
        return None
    item, move, node, span = found
    if peek(node, "takes") is not None:
        book.bag.add(
            "not-a-free-move",
            f"{what} names `{item} {move}`, which is not a free move",
            scalar.span,
            "it has `takes`",
            because,
            also=(Mark(span, "the move"),),
        )
        return None
    return f"{item} {move}"


def _formula(node: Node | None, what: str, use: Use, scope: Scope, book: Book) -> Formula:
    return Resolver(book, scope, use).read(text_of(book.bag, node, what))


_HAZARD_KEYS = ("words", "severity", "tolerable", "withstands", "kind", "passing")


def define_hazards(scope: Scope, book: Book) -> list[Hazard]:
    """The hazards of a scope."""
    bag = book.bag
    hazards: list[Hazard] = []
    for key, node in named_entries(bag, scope.sections.get("hazards"), "`hazards`", "a hazard"):
        what = f"hazard `{key.text}`"
        found = fields(bag, node, what, key.span, required=("happens",), optional=_HAZARD_KEYS)
        if found is None:
            continue
        happens, longer_than_s = _happens(found, what, scope, book)
        tolerable = quantity_of(found["tolerable"], f"`tolerable` of {what}", RATE, scope, book, End.LOWER)
        hazards.append(
            Hazard(
                scope.id(key.text),
                words_of(bag, found["words"], f"`words` of {what}"),
                happens,
                longer_than_s,
                words_of(bag, found["severity"], f"`severity` of {what}"),
                choice_of(bag, found["kind"], f"`kind` of {what}", ("safety", "service"), "safety") == "safety",
                None if tolerable is None else tolerable[0] * PER_H,
                count_of(bag, found["withstands"], f"`withstands` of {what}", 0, MAX_WITHSTANDS),
                truth_of(bag, found["passing"], f"`passing` of {what}", False),
                key.span,
            )
        )
    return hazards


def _happens(found: Fields, what: str, scope: Scope, book: Book) -> tuple[Formula, Fraction | None]:
    node = found["happens"]
    if not isinstance(node, Mapping):
        return _formula(node, f"`happens` of {what}", HAZARD, scope, book), None
    entry = fields(
        book.bag,
        node,
        f"`happens` of {what}",
        found.key("happens"),
        required=("condition",),
        optional=("longer_than",),
    )
    if entry is None:
        return TRUE, None
    formula = _formula(entry["condition"], f"`condition` of {what}", HAZARD, scope, book)
    longer = quantity_of(entry["longer_than"], f"`longer_than` of {what}", TIME, scope, book, End.LOWER)
    return formula, None if longer is None else longer[0]


_KINDS: dict[str, tuple[RuleKind, tuple[str, ...], tuple[str, ...]]] = {
    "never": (RuleKind.NEVER, (), ()),
    "while": (RuleKind.WHILE, ("must",), ()),
    "before": (RuleKind.BEFORE, ("first",), ("since",)),
    "after": (RuleKind.AFTER, ("within", "must"), ("unless",)),
    "condition": (RuleKind.LASTS, ("lasts",), ()),
    "possible": (RuleKind.POSSIBLE, (), ()),
    "always_possible": (RuleKind.ALWAYS_POSSIBLE, (), ()),
    "always_ends": (RuleKind.ALWAYS_ENDS, ("from",), ("helped_by",)),
}
"""The key that tells the kind of a rule, with the keys that must and may stand beside it."""

_RULE_KEYS = ("words", "guards_against", "withstands", "even_common_cause", "passing")


def define_rules(scope: Scope, book: Book) -> list[Rule]:
    """The rules of a scope."""
    rules: list[Rule] = []
    for key, node in named_entries(book.bag, scope.sections.get("rules"), "`rules`", "a rule"):
        rule = _rule(key, node, scope, book)
        if rule is not None:
            rules.append(rule)
    return rules


def _rule(key: Scalar, node: Node, scope: Scope, book: Book) -> Rule | None:
    bag, what = book.bag, f"rule `{key.text}`"
    if not isinstance(node, Mapping):
        fields(bag, node, what, key.span, required=tuple(_KINDS))
        return None
    written = {name.text: name.span for name, _ in node.entries}
    heads = [name for name in _KINDS if name in written]
    if not heads:
        listed = ", ".join(f"`{name}`" for name in _KINDS)
        found = fields(bag, node, what, key.span, optional=(*_KINDS, *_all_keys(), *_RULE_KEYS))
        if found is None or not any(name in found for name in _KINDS):
            bag.add(
                "rule-without-kind",
                f"{what} does not say what must be true",
                key.span,
                "no kind of rule",
                f"a rule begins with one of {listed}",
            )
            return None
        heads = [name for name in _KINDS if name in found]
    if len(heads) > 1:
        bag.add(
            "rule-of-two-kinds",
            f"{what} is of two kinds: it has `{heads[0]}` and `{heads[1]}`",
            written[heads[1]],
            "another kind",
            "make two rules of it",
            also=(Mark(written[heads[0]], "one kind"),),
        )
        return None
    kind, required, optional = _KINDS[heads[0]]
    found = fields(bag, node, what, key.span, required=(heads[0], *required), optional=(*optional, *_RULE_KEYS))
    if found is None:
        return None

    def formula(name: str) -> Formula | None:
        return _formula(found[name], f"`{name}` of {what}", RULE, scope, book) if name in found else None

    start = formula("from")
    condition = formula(heads[0])
    return Rule(
        scope.id(key.text),
        kind,
        words_of(bag, found["words"], f"`words` of {what}"),
        TRUE if condition is None else condition,
        formula("must"),
        formula("first"),
        formula("since"),
        formula("unless"),
        start,
        _within(kind, found, what, scope, book),
        tuple(
            id
            for scalar in texts_of(bag, found["helped_by"], f"`helped_by` of {what}")
            if (id := _free_move(scalar, what, scope, book, "only free moves may fail to come, so only they can help"))
        ),
        _guards(found, what, scope, book),
        count_of(bag, found["withstands"], f"`withstands` of {what}", 0, MAX_WITHSTANDS) or 0,
        truth_of(bag, found["even_common_cause"], f"`even_common_cause` of {what}", False),
        truth_of(bag, found["passing"], f"`passing` of {what}", False),
        key.span,
    )


def _all_keys() -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for _, required, optional in _KINDS.values() for name in (*required, *optional)))


def _within(kind: RuleKind, found: Fields, what: str, scope: Scope, book: Book) -> Window | None:
    """The time of a deadline: `within: T` is `0 s .. T`; `lasts` is a window."""
    if kind is RuleKind.LASTS:
        return window_of(found["lasts"], f"`lasts` of {what}", scope, book, inward=True)
    if kind is RuleKind.AFTER:
        time = quantity_of(found["within"], f"`within` of {what}", TIME, scope, book, End.LOWER)
        return None if time is None else Window(Fraction(0), time[0], span=time[1])
    return None


def _guards(found: Fields, what: str, scope: Scope, book: Book) -> tuple[str, ...]:
    hazards: dict[str, None] = {}
    for scalar in texts_of(book.bag, found["guards_against"], f"`guards_against` of {what}"):
        for prefix in scope.prefixes():
            id = f"{prefix} {scalar.text}" if prefix else scalar.text
            if book.claims.get(id, ("",))[0] == "hazard":
                hazards[id] = None
                break
        else:
            known: dict[str, Span | None] = {id: span for id, (sort, span) in book.claims.items() if sort == "hazard"}
            book.unknown("unknown-hazard", scalar.text, f"no hazard is called `{scalar.text}`", scalar.span, known)
    return tuple(hazards)
