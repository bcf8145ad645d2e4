"""Resolving: terms to formulas. Names are looked up, types checked, quantifiers written out over the instances.

A mistake is told and its place taken by a formula that is always true, so that everything else in the expression is
looked at too; a spec with a mistake in it is never built.
"""

from __future__ import annotations

from fractions import Fraction

from interlock.diag.diagnostic import Mark
from interlock.diag.place import Span
from interlock.logic.formula import (
    TRUE,
    And,
    AtMost,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    Not,
    Or,
    Ref,
    Same,
    Sum,
    Thing,
    Value,
    Was,
)
from interlock.logic.parse import Start
from interlock.logic.term import Apply, Name, Number, Quantified, Signed, Term, Truth
from interlock.spec.book import MAX_FORMULAS, Book, Enough, Footprint, SignalSource
from interlock.spec.domains import boolean, same_domain, show_value, value_in, whole
from interlock.spec.lookup import Lookup, values_of
from interlock.spec.nodes import Scalar
from interlock.spec.scopes import BOOLEAN, Declared, Scope, Sort
from interlock.spec.telling import command_id, tell_no_state
from interlock.spec.uses import CONDITION

_NO_VALUES = (Sort.CONDITION, Sort.STEP, Sort.COMMON_CAUSE)


class Resolver(Lookup):
    """Reads the expressions of one place: a scope, perhaps a sequence in it, and a use."""

    def _inside(self, child: Scope) -> Resolver:
        inner = Resolver(self.book, child, self.use)
        own = tuple(prefix for prefix in self.prefixes if prefix not in inner.prefixes)
        inner.prefixes = (*inner.prefixes, *own)
        inner.things = self.things
        return inner

    def _from(self, inner: Resolver) -> None:
        """Take over what was spoken of inside an instance."""
        self.event = self.event or inner.event
        self.depth = max(self.depth, inner.depth)

    # --- whole expressions ---

    def read(self, scalar: Scalar | None) -> Formula:
        """The formula that a scalar says, checked against the use."""
        term = None if scalar is None else self.book.term(scalar, Start.FORMULA)
        return TRUE if term is None else self.formula(term)

    def formula(self, term: Term) -> Formula:
        """The formula of a term."""
        self.book.n_formulas += 1
        if self.book.n_formulas > MAX_FORMULAS:
            self.book.bag.add(
                "too-large",
                f"written out over all instances, the expressions have more than {MAX_FORMULAS} pieces",
                term.span,
                "too many here",
                "do not put `all` or `any` inside one another over the same instances",
            )
            raise Enough
        if isinstance(term, Name):
            return self._bare(term)
        if isinstance(term, Truth):
            return Const(term.value, term.span)
        if isinstance(term, Quantified):
            return self._quantified(term)
        if isinstance(term, Apply):
            return self._apply(term)
        if isinstance(term, Number):
            return self._not_boolean(term.span, f"`{term.text}` is a number, not something that is true or false")
        raise AssertionError(term)

    def _apply(self, term: Apply) -> Formula:
        operator = term.operator
        if operator == "and":
            return And(tuple(map(self.formula, term.operands)), term.span)
        if operator == "or":
            return Or(tuple(map(self.formula, term.operands)), term.span)
        if operator == "not":
            return Not(self.formula(term.operands[0]), term.span)
        if operator in ("was", "becomes"):
            return self._event(term)
        if operator == "command":
            return self._command(term)
        if operator == "is":
            return self._is(term, False)
        if operator == "is not":
            return self._is(term, True)
        if operator == "in":
            return self._in(term)
        if operator in ("=", "<", "<="):
            return self._compare(term)
        return self._not_boolean(
            term.span, "a sum is a number, not something that is true or false", "compare it: `tries + 1 <= 3`"
        )

    def _event(self, term: Apply) -> Formula:
        if not self.use.events:
            self.book.bag.add(
                "event-not-here",
                f"{self.use.where} cannot speak of an event",
                term.at,
                "only in rules and hazards",
                "name what holds now, or keep the past in a memory or an item",
            )
        self.event = self.event or term.at
        inner = self.formula(term.operands[0])
        if term.operator == "was":
            return Was(inner, term.span)
        return And((inner, Not(Was(inner, term.span), term.span)), term.span)

    def _quantified(self, term: Quantified) -> Formula:
        name = str(term.group)
        children: list[Scope] | None = None
        known: dict[str, Span | None] = {}
        for scope in self.scope.chain():
            if children is None:
                children = scope.groups.get(name)
            known.update(dict.fromkeys(scope.groups))
        if children is None:
            self.book.unknown("unknown-group", name, f"no instances are called `{name}`", term.group.span, known)
            return TRUE
        operands = []
        for child in children:
            inner = self._inside(child)
            operands.append(inner.formula(term.body))
            self._from(inner)
        if term.operator == "at most":
            limit = self._limit(term.limit)
            return TRUE if limit is None else AtMost(limit, tuple(operands), term.span)
        if len(operands) == 1:
            return operands[0]
        return And(tuple(operands), term.span) if term.operator == "all" else Or(tuple(operands), term.span)

    def _limit(self, term: Term | None) -> int | None:
        assert term is not None
        found = self._sum(term)
        if found is None:
            return None
        if found.parts:
            self.book.bag.add(
                "not-a-number",
                f"how many at most must be a fixed number, and `{term}` changes",
                term.span,
                "not fixed",
                "write a number, or a parameter that is one",
            )
            return None
        return found.constant

    def _bare(self, name: Name) -> Formula:
        found = self._find(name, quiet=self._parameter(name, name.span, quiet=True) is not None)
        if found is None:
            if self._parameter(name, name.span, quiet=True) is not None:
                return self._not_boolean(name.span, f"`{name}` is a parameter, not something that is true or false")
            return TRUE
        if found.broken:
            return TRUE
        if found.sort is Sort.CONDITION:
            return Condition(found.id, name.span)
        if found.sort is Sort.STEP:
            return Is(found.ref, (found.step,), name.span)
        values = values_of(self.book, found)
        if values is None:
            return TRUE
        if found.sort is Sort.FAILURE or boolean(values):
            return Is(found.ref, (True,), name.span)
        example = show_value(values[-1])
        verb = "=" if whole(values) else "is"
        return self._not_boolean(
            name.span,
            f"{found.sort.value} `{name}` has states and is not itself true or false",
            f"say which, as in `{name} {verb} {example}`",
        )

    def _command(self, term: Apply) -> Formula:
        name = term.operands[0]
        assert isinstance(name, Name)
        id = self.command(str(name), name.span)
        if id is None:
            return TRUE
        self._touch(Thing.COMMAND, f"command {name}", term.span, None)
        return Is(Ref(Thing.COMMAND, id), (True,), term.span)

    def command(self, name: str, span: Span) -> str | None:
        """The id of the command called `name` here; told if no step drives it though there is logic."""
        return command_id(self.book, self.scope, name, span)

    # --- comparisons ---

    def _thing(self, term: Term, operator: str) -> tuple[Declared, tuple[Value, ...]] | None:
        """The thing on the left of `is` or `in`, with its values; None after a mistake or where nothing can be said."""
        if isinstance(term, Name):
            found = self._find(term, no_step=True)
            if found is None or found.broken:
                return None
            if found.sort in (Sort.CONDITION, Sort.FAILURE):
                return found, BOOLEAN
            if found.sort is Sort.STEP:
                self.book.bag.add(
                    "not-comparable",
                    f"step `{term}` has no states",
                    term.span,
                    "a step",
                    f"the step is true or false by itself; its sequence is `{found.ref.id}`",
                )
                return None
            values = values_of(self.book, found)
            return None if values is None else (found, values)
        self.book.bag.add(
            "not-comparable",
            f"`{operator}` needs the name of a thing on its left",
            term.span,
            "not a name",
            "put brackets round the part that belongs together" if isinstance(term, Apply) else "turn it round",
        )
        return None

    def _is(self, term: Apply, negated: bool) -> Formula:
        left, right = term.operands
        if isinstance(right, Truth):
            inner = self.formula(left)
            return inner if right.value != negated else Not(inner, term.span)
        thing = self._thing(left, term.operator)
        if thing is None:
            return TRUE
        declared, values = thing
        word = right.text if isinstance(right, Number) else str(right) if isinstance(right, Name) else None
        if word is None:
            self.book.bag.add(
                "not-comparable",
                f"`{term.operator}` needs a state or the name of a thing on its right",
                right.span,
                "not a name",
                "whole numbers are compared with `=`, `<` and `<=`" if isinstance(right, Apply) else "name a state",
            )
            return TRUE
        value = value_in(word, values)
        if value is not None and declared.sort is not Sort.CONDITION:
            found: Formula = Is(declared.ref, (value,), term.span)
        else:
            other = self._find(right, quiet=True) if isinstance(right, Name) else None
            if other is None or other.sort in (Sort.STEP, Sort.CONDITION, Sort.LINK):
                self._no_state(declared, values, word, right.span)
                return TRUE
            others = values_of(self.book, other)
            if others is None or other.broken:
                return TRUE
            if declared.sort is Sort.CONDITION or not same_domain(values, others):
                self.book.bag.add(
                    "not-comparable",
                    f"`{left}` and `{right}` do not have the same states",
                    term.span,
                    "cannot be compared",
                    f"name a state, as in `{left} is {show_value(values[0])}`",
                    also=(Mark(declared.span, f"`{declared.id}`"), Mark(other.span, f"`{other.id}`")),
                )
                return TRUE
            found = Same(declared.ref, other.ref, term.span)
        return Not(found, term.span) if negated else found

    def _no_state(self, declared: Declared, values: tuple[Value, ...], word: str, span: Span) -> None:
        tell_no_state(self.book, declared, values, word, span)

    def _in(self, term: Apply) -> Formula:
        thing = self._thing(term.operands[0], "in")
        if thing is None:
            return TRUE
        declared, values = thing
        chosen: list[Value] = []
        for operand in term.operands[1:]:
            if isinstance(operand, Truth):
                word = "true" if operand.value else "false"
            elif isinstance(operand, Number):
                word = operand.text
            elif isinstance(operand, Name):
                word = str(operand)
            else:
                self.book.bag.add(
                    "not-comparable",
                    "a list in braces holds states only",
                    operand.span,
                    "not a state",
                    "name states: `{open, closed}`",
                )
                continue
            value = value_in(word, values)
            if value is None:
                self._no_state(declared, values, word, operand.span)
            else:
                chosen.append(value)
        if declared.sort is Sort.CONDITION:
            return self._not_boolean(term.span, f"condition `{term.operands[0]}` is itself true or false")
        return Is(declared.ref, tuple(chosen), term.span)

    def _compare(self, term: Apply) -> Formula:
        if self._states_compared(term):
            return TRUE
        left, right = self._sum(term.operands[0]), self._sum(term.operands[1])
        return TRUE if left is None or right is None else Compare(term.operator, left, right, term.span)

    def _states_compared(self, term: Apply) -> bool:
        """Whether a thing is compared with one of its states as if they were numbers; told if so."""
        left, right = term.operands
        if not (isinstance(left, Name) and isinstance(right, Name | Truth)):
            return False
        declared = self._find(left, quiet=True)
        values = None if declared is None or declared.sort in _NO_VALUES else values_of(self.book, declared)
        word = str(right) if isinstance(right, Name) else show_value(right.value)
        if declared is None or values is None or whole(values) or value_in(word, values) is None:
            return False
        self.book.bag.add(
            "not-a-number",
            f"`{term.operator}` compares whole numbers, and `{left}` has states",
            term.at,
            "for numbers only",
            f"write `{left} is {word}`",
        )
        return True

    def _sum(self, term: Term) -> Sum | None:
        constant = Fraction(0)
        parts: list[tuple[int, Ref]] = []
        sound = True
        summands = (
            term.operands if isinstance(term, Apply) and term.operator == "+" else (Signed(False, term, term.span),)
        )
        for summand in summands:
            assert isinstance(summand, Signed)
            sign, inner = (-1 if summand.minus else 1), summand.term
            if isinstance(inner, Number):
                constant += sign * inner.value
                continue
            if isinstance(inner, Apply) and inner.operator == "+":
                below = self._sum(inner)
                if below is None:
                    sound = False
                else:
                    constant += sign * below.constant
                    parts += [(sign * one, ref) for one, ref in below.parts]
                continue
            found = self._whole(inner)
            if isinstance(found, int):
                constant += sign * found
            elif found is None:
                sound = False
            else:
                parts.append((sign, found))
        return Sum(int(constant), tuple(parts)) if sound else None

    def _whole(self, term: Term) -> Ref | int | None:
        """A thing of whole numbers, or a parameter's number."""
        if not isinstance(term, Name):
            self.book.bag.add(
                "not-a-number",
                "`=`, `<` and `<=` compare whole numbers",
                term.span,
                "not a number",
                "states are compared with `is`",
            )
            return None
        if not self.book.names.find(str(term), self.prefixes):
            number = self._parameter(term, term.span)
            if number is not None:
                return number
            if any(str(term) in scope.parameters for scope in self.scope.chain()):
                return None
        declared = self._find(term)
        if declared is None or declared.broken:
            return None
        values = BOOLEAN if declared.sort in (Sort.CONDITION, Sort.STEP) else values_of(self.book, declared)
        if values is None:
            return None
        if not whole(values):
            self.book.bag.add(
                "not-a-number",
                f"{declared.sort.value} `{term}` is not a whole number",
                term.span,
                "not a number",
                "states are compared with `is`",
                also=(Mark(declared.span, "defined here"),),
            )
            return None
        return declared.ref

    # --- values shown, carried and set ---

    def shown(self, scalar: Scalar) -> Formula | Ref | None:
        """What a signal shows: a thing with states of its own, or a formula."""
        term = self.book.term(scalar, Start.FORMULA)
        if term is None:
            return None
        if isinstance(term, Name):
            found = self.book.names.find(str(term), self.prefixes)
            if not found:
                self.formula(term)
                return None
            if len(found) == 1 and found[0].sort not in (Sort.CONDITION, Sort.STEP, Sort.FAILURE, Sort.LINK):
                declared = self._find(term)
                assert declared is not None
                values = values_of(self.book, declared)
                if values is None or declared.broken:
                    return None
                return Is(declared.ref, (True,), term.span) if boolean(values) else declared.ref
        return self.formula(term)

    def assigned(self, scalar: Scalar, memory: Declared) -> Value | Sum | Ref | None:
        """What a memory is set to: a value of its own, a sum, or a copy of another thing; None after a mistake."""
        values = memory.values
        if values is None:
            return None
        value = value_in(scalar.text, values)
        if value is not None:
            return value
        term = self.book.term(scalar, Start.FORMULA)
        if term is None:
            return None
        if isinstance(term, Name) and (declared := self._find(term, quiet=True)) is not None:
            if declared.sort not in _NO_VALUES and declared.ref.thing not in self.use.allowed:
                return None
            others = BOOLEAN if declared.sort is Sort.FAILURE else values_of(self.book, declared)
            if declared.sort in (Sort.CONDITION, Sort.STEP):
                others = None
            if others is not None and {show_value(v) for v in others} <= {show_value(v) for v in values}:
                return declared.ref
            if others is not None and not (whole(values) and whole(others)):
                self.book.bag.add(
                    "not-comparable",
                    f"`{term}` has states that memory `{memory.id}` does not have",
                    term.span,
                    "cannot be copied",
                    "give the memory all states of what it copies",
                    also=(Mark(declared.span, f"`{declared.id}`"), Mark(memory.span, f"`{memory.id}`")),
                )
                return None
        if whole(values) and not isinstance(term, Truth):
            return self._sum(term)
        if isinstance(term, Name | Number | Truth):
            self._no_state(memory, values, scalar.text, term.span)
        else:
            self.book.bag.add(
                "not-comparable",
                f"memory `{memory.id}` can be set to one of its states or to a copy of another thing",
                term.span,
                "not a state",
                "name one of its states: " + ", ".join(f"`{show_value(value)}`" for value in values),
            )
        return None


def show(book: Book, source: SignalSource) -> Formula | Ref | None:
    """What a signal shows, read where it was written."""
    return Resolver(book, source.scope, source.use).shown(source.scalar)


def read_condition(book: Book, scalar: Scalar, scope: Scope) -> tuple[Formula, Footprint]:
    """A condition, and what it speaks of."""
    resolver = Resolver(book, scope, CONDITION)
    formula = resolver.read(scalar)
    return formula, Footprint(dict(resolver.things), resolver.event, resolver.depth + 1)
