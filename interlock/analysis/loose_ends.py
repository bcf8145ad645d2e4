"""Findings from the text of a spec alone: what is written down and used nowhere, and what real equipment does
otherwise."""

from __future__ import annotations

from collections.abc import Iterator

from interlock.analysis.findings import finding
from interlock.analysis.result import Finding
from interlock.diag.place import Span
from interlock.logic.formula import TRUE, Condition, Formula, Ref, Sum, Thing, operands_of, refs_of
from interlock.spec.model import Item, Move, Signal, Spec


def loose_ends(spec: Spec) -> Iterator[Finding]:
    """Commands nothing drives or nothing reads, readings nothing uses, hazards without a rule, reversals too exact."""
    used = set(_used(spec))
    driven: set[str] = set()
    for sequence in spec.sequences:
        for step in sequence.steps:
            for command in step.drives:
                if Ref(Thing.COMMAND, command) not in used and command not in driven:
                    yield finding("command-unread", f"command `{command}` is given, but nothing acts on it", step.span)
                driven.add(command)
    for ref, place in _commands_read(spec):
        if ref.id not in driven:
            yield finding("command-undriven", f"command `{ref.id}` is never given by any step", place)
    for reading in spec.readings:
        if Ref(Thing.READING, reading.id) not in used:
            yield finding("reading-unused", f"reading `{reading.id}` is used nowhere", reading.span)
    for link in spec.links:
        for value in link.carries:
            if Ref(Thing.CARRIED, value.id) not in used:
                yield finding("reading-unused", f"`{value.id}` is carried, but used nowhere", value.span)
    guarded = {hazard for rule in spec.rules for hazard in rule.guards_against}
    for hazard in spec.hazards:
        if hazard.id not in guarded:
            yield finding("hazard-without-rule", f"no rule guards against hazard `{hazard.id}`", hazard.span)
    for item in spec.items:
        yield from _reversals(item)


# --- what is used ---


def _formulas(spec: Spec) -> Iterator[Formula]:
    for item in spec.items:
        if item.follows is not None:
            yield item.follows
        yield from (move.when for move in item.moves)
    signals: list[Signal] = [*spec.readings, *(value for link in spec.links for value in link.carries)]
    for signal in signals:
        if not isinstance(signal.shows, Ref):
            yield signal.shows
    for sequence in spec.sequences:
        if sequence.powered_by is not None:
            yield sequence.powered_by
        yield from (p.condition for change in sequence.changes for p in change.permissives)
    yield from (failure.only_while for failure in spec.failures)
    yield from (failure.trigger.condition for failure in spec.failures if failure.trigger is not None)
    yield from (assumption.condition for assumption in spec.assumptions)
    yield from (hazard.happens for hazard in spec.hazards)
    for rule in spec.rules:
        for formula in (rule.condition, rule.must, rule.first, rule.since, rule.unless, rule.start):
            if formula is not None:
                yield formula


def _nodes(spec: Spec, formula: Formula) -> Iterator[Formula]:
    conditions = {name: inner for name, inner, _ in spec.conditions}
    stack = [formula]
    while stack:
        node = stack.pop()
        yield node
        if isinstance(node, Condition):
            stack.append(conditions[node.id])
        stack.extend(operands_of(node))


def _used(spec: Spec) -> Iterator[Ref]:
    for formula in _formulas(spec):
        for node in _nodes(spec, formula):
            yield from refs_of(node)
    for link in spec.links:
        yield from (value.shows for value in link.carries if isinstance(value.shows, Ref))
    for sequence in spec.sequences:
        for change in sequence.changes:
            for one in change.sets:
                if isinstance(one.to, Ref):
                    yield one.to
                elif isinstance(one.to, Sum):
                    yield from (ref for _, ref in one.to.parts)


def _commands_read(spec: Spec) -> Iterator[tuple[Ref, Span | None]]:
    seen: set[Ref] = set()
    for formula in _formulas(spec):
        for node in _nodes(spec, formula):
            for ref in refs_of(node):
                if ref.thing is Thing.COMMAND and ref not in seen:
                    seen.add(ref)
                    yield ref, getattr(node, "span", None)


# --- reversal too exact ---


def _reversals(item: Item) -> Iterator[Finding]:
    """Moves that real equipment can be stopped or turned round in, but the spec's cannot, or not early enough."""
    timed = [move for move in item.moves if move.takes is not None]
    for move in timed:
        if move.completes and _has_condition(move):
            yield finding(
                "reversal-too-exact",
                f"`{move.name}` of `{item.id}` always completes once started, though its condition is withdrawn midway",
                move.span,
                "leave out `withdrawn: completes`, or model the position and its way back",
            )
    for move in timed:
        if _has_condition(move):
            continue
        for position in move.from_states:
            into = [other for other in item.moves if other.to == position and other.instant and _has_condition(other)]
            out = [other for other in item.moves if position in other.from_states and other is not move]
            moving = {state for other in timed if other is not move for state in other.from_states}
            if into and not out:
                yield finding(
                    "reversal-too-exact",
                    f"`{item.id}` cannot be called back from `{position}`: `{move.name}` always completes",
                    move.span,
                    f"add a move from `{position}` for when the command is withdrawn",
                )
            turned = [other for other in into if set(other.from_states) & moving]
            if turned and move.takes is not None and move.takes.earliest_s > 0:
                halfway = sorted(str(s) for s in set(turned[0].from_states) & moving)[0]
                yield finding(
                    "reversal-too-exact",
                    f"`{move.name}` of `{item.id}` takes its full time even when `{position}` is entered half-way, "
                    f"from `{halfway}`",
                    move.span,
                    "let it take `0 s ..` as much, or give the way back from half-way a position of its own",
                )


def _has_condition(move: Move) -> bool:
    return move.when != TRUE
