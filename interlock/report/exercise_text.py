"""What random walks over the executable machines came to, as text.

In: an `Exercise` and the spec it walked. Out: text for a terminal. Walks prove nothing, and the text says so.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from interlock.analysis.result import Change, ToldEvent, ToldScenario
from interlock.core.question import Ends, Verdict
from interlock.report.as_text import INKS, Look
from interlock.report.page import Page
from interlock.report.scenario import tell_scenario
from interlock.report.words import counted, listed, natural, with_failures

if TYPE_CHECKING:
    from interlock.logic.formula import Value
    from interlock.machine.exercise import Breach, Exercise
    from interlock.spec.model import Spec

ROOM = 15
NEVER_SHOWN = 12
"""So many events that never happened are named; the others are counted."""


def render_exercise(done: Exercise, spec: Spec, look: Look, *, quiet: bool = False) -> str:
    """The whole text; `quiet`: its first line alone."""
    page = Page(colour=look.colour, width=look.width)
    verdict = Verdict.FAILS if done.breaches else Verdict.UNDECIDED
    page.line(f"{verdict.value}: {_headline(done)}", INKS[verdict])
    if quiet:
        return page.text()
    page.gap()
    revision = f", revision {spec.revision}" if spec.revision else ""
    page.labelled("Walked", f"{spec.title}{revision}", ROOM)
    for base in spec.based_on:
        page.labelled("", f"based on {base.file}", ROOM)
    walked = (
        f"{counted(done.walks, 'walk')}, {counted(done.events, 'event')}, {counted(done.situations, 'situation')} seen"
    )
    page.labelled("", f"{walked}; at most {counted(done.budget, 'failure')} in a walk; seed {done.seed}", ROOM)
    if done.judged:
        page.labelled("Judged", ", ".join(sorted(done.judged, key=natural)), ROOM)
    if done.reached:
        page.labelled("Reached", f"{listed(sorted(done.reached, key=natural))}, without a failure", ROOM)
    said = {one.id: one.words for one in spec.hazards} | {one.id: one.words for one in spec.rules}
    for breach in done.breaches:
        page.heading(f"{breach.id} is broken {with_failures(breach.failures)}")
        tell_scenario(page, _scenario(breach, said.get(breach.id, "")), Fraction(1))
    if done.not_judged:
        page.heading("Not judged by walks")
        for id, reason in sorted(done.not_judged, key=lambda one: natural(one[0])):
            page.paragraph(f"{id}: {reason}", indent=2, hang=4)
    if done.never_happened:
        page.heading("Never happened in these walks")
        more = len(done.never_happened) - NEVER_SHOWN
        rest = f" and {more:,} more" if more > 0 else ""
        page.paragraph(f"{', '.join(done.never_happened[:NEVER_SHOWN])}{rest}", indent=2)
    page.gap()
    page.paragraph(
        "Walks are a sample: they can find a breach, they cannot show that there is none. `interlock check` can."
    )
    return page.text()


def _headline(done: Exercise) -> str:
    if not done.judged:
        return "nothing was judged; there is no rule or hazard that a walk could break"
    if done.breaches:
        ids = listed(sorted((breach.id for breach in done.breaches), key=natural))
        return f"{ids} {'is' if len(done.breaches) == 1 else 'are'} broken in {counted(done.walks, 'walk')}"
    return f"no breach was found in {counted(done.walks, 'walk')}, which proves nothing"


def _scenario(breach: Breach, words: str) -> ToldScenario:
    """The run in the form that every scenario is told in; who makes an event is known for failures only."""
    moved = {name for event in breach.events for name, _, _ in event.changes}
    events = tuple(
        ToldEvent(
            action=event.event,
            owner="",
            kind="failure" if event.failures else "",
            says=event.event,
            changes=tuple(Change(name, _written(before), _written(after)) for name, before, after in event.changes),
            settled=True,
            place=None,
        )
        for event in breach.events
    )
    start = tuple(Change(name, _written(value), _written(value)) for name, value in breach.start if name in moved)
    told = f"{breach.id}, {words}" if words else breach.id
    return ToldScenario(breach.at_start, start, events, Ends.BREACH, None, told, (), breach.failures)


def _written(value: Value) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)
