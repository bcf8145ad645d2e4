"""Situations merged by chosen things: boxes are combinations of their values, arrows the events between them.

In: a spec, the ids of the things, how many failures may happen. Out: a `SituationsPicture`. Any timing is allowed:
windows are left out of account, so more may be drawn than can really happen, never less. What cannot influence the
chosen things is left out, where it surely settles by itself; then the counts are those of the part that is left.
"""

from __future__ import annotations

from itertools import groupby

from interlock.analysis.drawing import Merge, MergeArrow, SituationsPicture
from interlock.analysis.drawing_sequences import caption_of
from interlock.analysis.options import Options
from interlock.core.elaborate import elaborate
from interlock.core.question import Question
from interlock.core.settling import settles_by_itself
from interlock.core.show import value_text
from interlock.core.slice import slice_on
from interlock.core.system import ActionKind
from interlock.engines.quick.merging import merged
from interlock.spec.model import Spec


def things_of(spec: Spec) -> tuple[str, ...]:
    """What situations can be merged by: items, sequences, memories, links that can be lost, failures."""
    found = [one.id for one in spec.items] + [one.id for one in spec.sequences]
    found += [memory.id for one in spec.sequences for memory in one.memories]
    found += [one.id for one in spec.links if one.watchdog is not None]
    return (*found, *(one.id for one in spec.failures if not one.common_cause))


def situations_picture(spec: Spec, by: tuple[str, ...], options: Options) -> SituationsPicture:
    """Explore and merge. `by`: ids among `things_of`. `options.failures` None: no failure happens."""
    system = elaborate(spec)
    failures = options.failures or 0
    question = Question("", budget=failures)
    part = slice_on(system, by)
    sliced = bool(part.dropped) and settles_by_itself(part)
    found = merged(part.system if sliced else system, question, by, options.limits)
    values = [system.variable(name).values for name in by]
    failing = {action.id for action in system.actions if action.kind is ActionKind.FAILURE}
    arrows = []
    for (before, after), group in groupby(found.between, key=lambda one: (one[0], one[1])):
        events = tuple((name, n) for _, _, name, n in group)
        arrows.append(MergeArrow(before, after, events, tuple(name for name, _ in events if name in failing)))
    return SituationsPicture(
        caption=caption_of(spec, "situations"),
        by=by,
        n_failures=failures,
        n_left_out=len(part.dropped) if sliced else 0,
        boxes=tuple(
            Merge(
                tuple(value_text(domain[i]) for domain, i in zip(values, one.values, strict=True)),
                one.n_settled,
                one.n_passing,
                one.start,
            )
            for one in found.combinations
        ),
        arrows=tuple(arrows),
        limit=found.limit,
    )
