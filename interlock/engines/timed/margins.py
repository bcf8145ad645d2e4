"""By how much an end of a window may change before a rule that holds is broken: exact, in dense time.

In: a settled graph whose rule holds, and an end (or several that are one time on site and move together). Out: the
value from which on the rule breaks, and whether it breaks at that value or only beyond it.

The idea: leave the end out, all others counting (as in `refine.py`). If no run breaks the rule then, no change of that
end does. Else the least change that lets this run happen is worked out from its differences: on a circle of differences
the end occurs so and so often, so its weight is a line over the value, and the value must rise until no circle is
negative (Karp and Orlin 1981; Newton's method on lines). Strict ends count as an amount as small as one likes, and what
they add to the value says whether it is reached. Another run may need less: so the end is put just inside of the value
and a run is looked for again, until there is none. A larger window allows more runs, so the rule breaks from there on.

Asked so, all other ends are as declared. It can also be asked what happens if nothing is relied on but some ends, those
that a verdict rests on: then all others are left out from the beginning. That is asked first: the margin with all
others as declared is no smaller, and often the same run shows that it is no larger.

Values are told for a window that is closed at that end: `at most v`, `at least v`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from fractions import Fraction

from interlock.core.question import Bound, Ends, Margin, Moment, Question
from interlock.engines.api import EngineFault
from interlock.engines.ends import as_declared, in_order, with_ends_at, with_only
from interlock.engines.replay_timed import replay_timed
from interlock.engines.timed.constraints import (
    Difference,
    Run,
    Weighted,
    conflict,
    differences,
    moments_of,
    negative_circle,
    times,
)
from interlock.engines.timed.graph import AnyGraph, TooMany, TooWide, Unsettling, with_windows_of
from interlock.engines.timed.refine import Decided, Refinement, Searching
from interlock.engines.timed.scenario import scenario_of
from interlock.engines.timed.search import Counting, TooManyZones

MOST_ROUNDS = 24
"""So many runs are looked at, each of which needs less than the one before. There may be endlessly many: two clocks
that drift apart break a rule sooner or later, however little they drift."""

ROUNDS = f"more than {MOST_ROUNDS} ways to break it were found, each with less"


def margins(
    graph: AnyGraph,
    search_on: Callable[[AnyGraph], Searching],
    ends: frozenset[Bound],
    relied: tuple[frozenset[Bound] | None, ...],
    begin: Counting,
    in_words: Callable[[Exception], str],
) -> tuple[Margin, ...]:
    """The margin of ends that move together, all latest or all earliest ones of the same value, relying on these sets
    of ends in turn, each within the next (None: on all). The rule must hold by each.

    `search_on`: how runs are looked for on a graph. `begin`: ends to count from the beginning. `in_words`: a limit that
    was hit.
    """
    found: list[Margin] = []
    before: Margin | None = None
    run: Run | None = None
    for kept in relied:
        there = graph if kept is None else relying_on(graph, kept | ends)
        counting = begin if kept is None else Counting(begin.always & kept, begin.while_open & kept)
        before, run = margin(there, search_on, ends, counting, in_words, before, run)
        found.append(before)
    for i in reversed(range(len(found) - 1)):  # what breaks it though more is relied on, breaks it too
        one, more = found[i], found[i + 1].breaks
        nearer = more is not None and (one.breaks is None or _sooner(more, one.breaks, one.ends[0].latest))
        if one.limit is not None and nearer:
            found[i] = replace(one, breaks=more)
    return tuple(found)


def margin(
    graph: AnyGraph,
    search_on: Callable[[AnyGraph], Searching],
    ends: frozenset[Bound],
    begin: Counting,
    in_words: Callable[[Exception], str],
    less: Margin | None = None,
    first: Run | None = None,
) -> tuple[Margin, Run | None]:
    """One margin, and the run that breaks the rule there. `less`: the margin relying on less, which this one is no
    smaller than, `first`: the run of that, tried first. Cost: some searches, each with one more end or another run than
    the last."""
    ordered = in_order(ends)
    counting = Counting(begin.always - ends, begin.while_open - ends)
    declared = as_declared(graph.system, ends)
    least = None if less is None or less.limit is not None else less
    if least is not None and least.breaks is None:
        return least, None
    breaks: Moment | None = None
    run: Run | None = None
    limit: str | None = None
    if first is not None and conflict([d for d in differences(graph, first) if d.bound not in ends]) is None:
        run, breaks = first, least_change(differences(graph, first), ends, declared.ticks)
    try:
        for _ in range(MOST_ROUNDS):
            inside = None if breaks is None else _just_inside(breaks)
            if inside == declared or (least is not None and breaks == least.breaks):
                break
            tried = with_end(graph, ends, inside)
            found, _, counting = Refinement(tried, search_on(tried)).sought(counting)
            if found is None:
                break
            before, run = breaks, found
            breaks = least_change(differences(graph, run), ends, declared.ticks)
            if before is not None and not _sooner(breaks, before, ordered[0].latest):
                raise EngineFault(f"a run for {graph.rule.id} does not happen at the value that was tried")
        else:
            limit = ROUNDS
    except (TooMany, TooManyZones, TooWide, Unsettling) as hit:
        limit = in_words(hit)
    if breaks is not None and run is not None:
        _followed(graph, ends, run, breaks)
    floor = None if least is None else least.breaks
    if floor is not None and breaks is not None and _sooner(breaks, floor, ordered[0].latest):
        raise EngineFault(f"a run for {graph.rule.id} needs less where more is relied on")
    return Margin(ordered, breaks, limit), run


def _just_inside(breaks: Moment) -> Moment:
    """The widest end at which what breaks there does not: open at the value if it breaks at it, else closed."""
    return Moment(breaks.ticks, not breaks.open)


def _sooner(one: Moment, other: Moment, latest: bool) -> bool:
    """Whether less change is needed for one than for the other."""
    sign = 1 if latest else -1
    return (sign * one.ticks, one.open) < (sign * other.ticks, other.open)


def relying_on(graph: AnyGraph, kept: frozenset[Bound]) -> AnyGraph:
    """The graph with all ends of windows left out but these."""
    return with_windows_of(graph, with_only(graph.system, kept))


def with_end(graph: AnyGraph, ends: frozenset[Bound], end: Moment | None) -> AnyGraph:
    """The graph with an end moved (None: left out), in ticks so fine that it is whole."""
    return with_windows_of(graph, with_ends_at(graph.system, ends, end))


def least_change(found: Collection[Difference], ends: frozenset[Bound], declared: Fraction) -> Moment:
    """The value of the ends, moved together and closed, from which on the differences are possible; `open`: not yet at
    the value itself. They must be possible without these ends. `declared`: the value to begin with.

    A latest v says t[i] - t[j] <= v, an earliest v says t[j] - t[i] <= -v: for both the weight must rise. Weights are
    pairs, compared in their order: ticks, and how often an amount as small as one likes. Cost: each turn (a circle, and
    no circle comes twice) differences times moments.
    """
    latest = all(one.latest for one in ends)
    n_moments = moments_of(found)
    ticks, little = declared if latest else -declared, Fraction(0)
    while True:
        whole, small = ticks.denominator, little.denominator
        room = n_moments * (small + little.numerator) + 1
        circle = negative_circle(
            [
                Weighted(d.of, d.minus, ticks.numerator * room + little.numerator, d)
                if d.bound in ends
                else Weighted(d.of, d.minus, d.ticks * whole * room - small * d.strict, d)
                for d in found
            ],
            n_moments,
        )
        if circle is None:
            return Moment(ticks if latest else -ticks, little > 0)
        others = [d for d in circle if d.bound not in ends]
        often = len(circle) - len(others)
        if not often:
            raise EngineFault("a run was found that cannot be timed without the end either")
        ticks = Fraction(-sum(d.ticks for d in others), often)
        little = Fraction(sum(d.strict for d in others), often)


def _followed(graph: AnyGraph, ends: frozenset[Bound], run: Run, breaks: Moment) -> None:
    """EngineFault if the run that breaks the rule cannot be followed through the plain meaning, the end being where it
    is said to break."""
    at = Moment(breaks.ticks)
    if breaks.open:  # at any value beyond
        at = Moment(breaks.ticks + 1 if next(iter(ends)).latest else breaks.ticks / 2)
    there = with_end(graph, ends, at)
    found = differences(there, run)
    if conflict(found) is not None:
        raise EngineFault(f"the run that breaks {graph.rule.id} cannot be timed at {at}")
    decided = Decided(run, times(found, 1 + len(run.strides) + run.too_late), (), Counting(), 0, 0)
    question: Question = graph.question
    wrong = replay_timed(there.system, question, scenario_of(there, decided, Ends.BREACH))
    if wrong is not None:
        raise EngineFault(f"the run that breaks {graph.rule.id} at {at} does not replay: {wrong}")
