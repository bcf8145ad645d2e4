"""Findings: what is asked about a spec without being asked, from surveys and from the text alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from interlock.analysis.inquiry import Inquiry
from interlock.analysis.result import Finding, Judged, ToldScenario
from interlock.analysis.survey import REACHED, Surveys, unordered
from interlock.analysis.telling import tell
from interlock.core.question import Ends, Question, Scenario, Verdict
from interlock.core.show import value_text
from interlock.core.system import Property, PropertyKind, System, VariableKind
from interlock.diag.diagnostic import Diagnostic, Mark
from interlock.diag.place import Span
from interlock.diag.registry import kind as kind_of
from interlock.logic.expression import TRUE, conjunction, has_was, negate, variables_of, was
from interlock.spec.model import StepChange

CURES = {
    "assumption-stops-time": "narrow the assumption, or give the events that it leaves some time",
    "assumption-empties-rule": "narrow the assumption, or drop it",
    "command-undriven": "let a step drive it, or take it out of the condition",
    "command-unread": "check how it is written, or take it out of the step",
    "failure-never-happens": "look at `only_while`, and at the state that the failure needs",
    "failure-without-effect": "let something look at what the failure falsifies, or leave the failure out",
    "hazard-without-rule": "write the rule that keeps it away, with `guards_against`",
    "never-false": "leave it out; or keep it as a second barrier, and say so in `words`",
    "never-happens": "look for what should lead to it; leave it out if nothing should",
    "never-reached": "look for what should lead to it; leave it out if nothing should",
    "never-settles": "let one event of the loop wait for something that the loop itself does not change",
    "nothing-can-happen": "give the world, or the logic, a way on from there",
    "order-matters": "if it matters, let one wait for a reading of what the other has done",
    "reading-unused": "ask for it in a permissive, or leave it out",
    "rule-says-nothing": "look at the trigger: should it not be able to occur?",
    "time-cannot-pass": "give one of the events that follow each other at once some time: `takes: 0 s .. 1 s`",
}
"""What helps against a finding where nothing more particular can be said."""


def finding(
    kind: str, headline: str, place: Span | None, *helps: str, scenario: ToldScenario | None = None, words: str = ""
) -> Finding:
    """A finding of a registered kind."""
    at = None if place is None else Mark(place, words)
    cures = helps or ((CURES[kind],) if kind in CURES else ())
    return Finding(Diagnostic(kind, kind_of(kind).severity, headline, at, (), cures), scenario)


def findings_of(surveys: Surveys, inquiry: Inquiry, judged: tuple[Judged, ...]) -> Iterator[Finding]:
    """All findings that surveys give. What is absent is told only where a survey saw everything."""
    yield from _runs(surveys)
    yield from _two_at_once(surveys)
    if surveys.last.limit is None:
        yield from _never_reached(surveys)
        yield from _permissives(surveys)
        yield from _rules(surveys, inquiry)
    yield from _passing(surveys, judged)
    yield from _stale_proof(inquiry, judged)


def told_as(system: System, failures: int, scenario: Scenario, words: str) -> ToldScenario:
    """A scenario that no rule is about, told; `words`: what is said at its end."""
    asked = Property(words, PropertyKind.NEVER, False, TRUE)
    told = tell(system, Question("", budget=failures), scenario, asked)
    return replace(told, breach=words, values=())


def _runs(surveys: Surveys) -> Iterator[Finding]:
    """Stuck situations, logic that never settles, orders that matter: each at the fewest failures at which it
    occurs."""
    wanted = {
        "nothing-can-happen": "a situation can be reached in which nothing can happen any more, failures aside",
        "never-settles": "consequences and logic can follow each other for ever without settling",
        "order-matters": "two pieces of logic can act at once, and where things settle depends on which goes first",
    }
    for kind, words in wanted.items():
        for failures, survey in enumerate(surveys.by_failures):
            place_of = {
                "nothing-can-happen": survey.stuck,
                "never-settles": survey.unsettling,
                "order-matters": survey.orders,
            }[kind]
            if place_of is not None:
                system, scenario = place_of
                told = told_as(system, failures, scenario, words)
                last = scenario.events[-1] if scenario.events else ""
                origin = surveys.system.origin.get(last)
                place = None if origin is None else origin.place
                after = f", after {failures} failure{'s' if failures != 1 else ''}" if failures else ""
                yield finding(kind, words + after, place, scenario=told, words="the last event on the way")
                break


def _two_at_once(surveys: Surveys) -> Iterator[Finding]:
    for sequence in surveys.spec.sequences:
        for first, second in unordered(sequence):
            probe = f"both/{sequence.id}/{first.name}/{second.name}"
            if not any(probe in survey.seen for survey in surveys.by_failures):
                continue
            same = _same_effect(first, second)
            kind = "two-at-once-alike" if same else "two-at-once"
            headline = (
                f"`{first.name}` and `{second.name}` of `{sequence.id}` can both happen at once, with no priority"
            )
            yield finding(kind, headline, second.span, f"say which goes first: priority: [{first.name}, {second.name}]")


def _same_effect(first: StepChange, second: StepChange) -> bool:
    def sets(change: StepChange) -> list[tuple[str, object]]:
        return [(one.memory, one.to) for one in change.sets]

    return first.to == second.to and sets(first) == sets(second)


def _never_reached(surveys: Surveys) -> Iterator[Finding]:
    seen, happened = surveys.last.seen, surveys.last.happened
    most = _up_to(len(surveys.by_failures) - 1)
    for variable in surveys.system.variables:
        if variable.kind not in REACHED:
            continue
        origin = surveys.system.origin.get(variable.name)
        place = None if origin is None else origin.place
        if variable.kind is VariableKind.STEP:
            sequence = next(s for s in surveys.spec.sequences if s.id == variable.name)
            for i, step in enumerate(sequence.steps):
                if f"value/{variable.name}/{i}" not in seen:
                    yield finding(
                        "never-reached", f"step `{step.name}` of `{sequence.id}` is never reached{most}", step.span
                    )
            continue
        for i, value in enumerate(variable.values):
            if f"value/{variable.name}/{i}" not in seen:
                yield finding("never-reached", f"`{variable.name}` is never `{value_text(value)}`{most}", place)
    for item in surveys.spec.items:
        for move in item.moves:
            ids = (
                f"{item.id} {move.name}",
                f"{item.id} {move.name} after resuming",
                f"{item.id} {move.name} though withdrawn",
            )
            if not any(id in happened for id in ids):
                yield finding("never-happens", f"move `{move.name}` of `{item.id}` never happens{most}", move.span)
    for sequence in surveys.spec.sequences:
        for change in sequence.changes:
            if f"{sequence.id} {change.name}" not in happened:
                headline = f"{change.kind.value} `{change.name}` of `{sequence.id}` never happens{most}"
                yield finding("never-happens", headline, change.span)
            for permissive in change.permissives:
                timer = f"{sequence.id} {change.name} {permissive.name} timer elapses"
                if permissive.held_for is not None and timer not in happened:
                    headline = f"`{permissive.name}` of `{change.name}` never lasts long enough{most}"
                    yield finding("never-happens", headline, permissive.span)
    if len(surveys.by_failures) > 1:
        for failure in surveys.spec.failures:
            modes = [action for action in surveys.system.actions if failure.id in action.modes]
            if not failure.common_cause and not any(action.id in happened for action in modes):
                yield finding("failure-never-happens", f"failure `{failure.id}` never happens{most}", failure.span)


def _up_to(failures: int) -> str:
    return f", with up to {failures} failure{'s' if failures != 1 else ''}" if failures else ""


def _permissives(surveys: Surveys) -> Iterator[Finding]:
    seen = surveys.last.seen
    most = _up_to(len(surveys.by_failures) - 1)
    for sequence in surveys.spec.sequences:
        for change in sequence.changes:
            if len(change.permissives) == 1 and change.permissives[0].name == "when":
                continue
            for permissive in change.permissives:
                name = f"{sequence.id}/{change.name}/{permissive.name}"
                if f"consulted/{name}" in seen and f"false/{name}" not in seen:
                    headline = (
                        f"permissive `{permissive.name}` of `{change.name}` is never false when it is consulted{most}"
                    )
                    yield finding("never-false", headline, permissive.span)


def _rules(surveys: Surveys, inquiry: Inquiry) -> Iterator[Finding]:
    most = len(surveys.by_failures) - 1
    for rule in surveys.spec.rules:
        asked = surveys.system.property(rule.id)
        if asked.trigger is not None and _never_occurs(surveys, inquiry, asked, most):
            headline = f"rule `{rule.id}` says nothing: its trigger never occurs{_up_to(most)}"
            yield finding("rule-says-nothing", headline, rule.span)


def _never_occurs(surveys: Surveys, inquiry: Inquiry, asked: Property, failures: int) -> bool:
    """Whether the trigger of a rule is known never to occur; for `before`, never to become true."""
    assert asked.trigger is not None
    if asked.kind is not PropertyKind.BEFORE and not has_was(asked.trigger):
        return f"trigger/{asked.id}" not in surveys.last.seen
    rises = conjunction((asked.trigger, negate(was(asked.trigger))))
    condition = rises if asked.kind is PropertyKind.BEFORE else asked.trigger
    occurs = Property(f"{asked.id} is triggered", PropertyKind.NEVER, False, condition, every_event=True)
    return all(
        inquiry.ask_about(occurs, Question(occurs.id, budget=budget)).verdict is Verdict.HOLDS
        for budget in dict.fromkeys((0, failures))
    )


def _passing(surveys: Surveys, judged: tuple[Judged, ...]) -> Iterator[Finding]:
    for one in judged:
        asked = surveys.system.property(one.id)
        if asked.kind is not PropertyKind.NEVER or asked.every_event or asked.passing:
            continue
        for failures in range(min(one.withstands + 1, len(surveys.by_failures))):
            survey = surveys.by_failures[failures]
            if (
                f"passing/{one.id}" in survey.seen
                and f"never/{one.id}" not in survey.seen
                and surveys.complete(failures)
            ):
                what = "hazard" if one.hazard else "rule"
                headline = f"{what} `{one.id}` holds only because passing situations are not looked at"
                yield finding(
                    "holds-when-settled", headline, one.place, "write `passing: true` to judge passing situations too"
                )
                break


def _stale_proof(inquiry: Inquiry, judged: tuple[Judged, ...]) -> Iterator[Finding]:
    for one in judged:
        asked = inquiry.system.property(one.id)
        if asked.kind is not PropertyKind.BEFORE or one.verdict is Verdict.FAILS:
            continue
        assert asked.first is not None
        rises = conjunction((asked.condition, negate(was(asked.condition))))
        fresh = Property(
            f"{one.id} afresh",
            PropertyKind.NEVER,
            False,
            conjunction((rises, negate(was(asked.first)))),
            every_event=True,
        )
        answer = inquiry.ask_about(fresh, Question(fresh.id))
        if answer.verdict is Verdict.FAILS and answer.told is not None and answer.told.ends is Ends.BREACH:
            headline = f"rule `{one.id}` lets an old proof count: it may no longer hold when the event comes"
            help_ = "`never: becomes(X) and not was(Y)` speaks of the moment itself"
            yield finding("stale-proof", headline, one.place, help_, scenario=answer.told)


def failures_without_effect(surveys: Surveys) -> Iterator[Finding]:
    """Failures that no other event looks at and that change nothing themselves."""
    system = surveys.system
    for failure in surveys.spec.failures:
        if failure.common_cause:
            continue
        own = [a for a in system.actions if failure.id in a.modes or a.id == f"{failure.id} is repaired"]
        others = [a for a in system.actions if a not in own]
        acts = any(assignment.variable != failure.id for action in own for assignment in action.update)
        read = any(
            failure.id in variables_of(a.guard, *(case for u in a.update for case, _ in u.cases)) for a in others
        )
        if not acts and not read:
            yield finding("failure-without-effect", f"failure `{failure.id}` changes nothing", failure.span)
