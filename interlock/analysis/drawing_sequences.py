"""The sequences of a spec as they are drawn.

In: a spec and its texts. Out: for each sequence its steps and changes in words, and a tree of moves: each step hangs
under the move by which it is first reached from the start step, going down the longest way first met in the order of
the spec. Everything else that leads to a step is drawn as a reference to it, so that lines never cross and one step
that everything leads to costs nothing.
"""

from __future__ import annotations

from interlock.analysis.drawing import Caption, DrawnChange, DrawnNeed, DrawnSequence, DrawnStep, SequencesPicture
from interlock.analysis.drawing_text import condition_text, set_text, window_text
from interlock.diag.place import Sources
from interlock.spec.model import ChangeKind, Sequence, Spec, StepChange


def sequences_picture(spec: Spec, sources: Sources, only: tuple[str, ...] = ()) -> SequencesPicture:
    """All sequences, or those with the ids `only`."""
    chosen = tuple(one for one in spec.sequences if not only or one.id in only)
    return SequencesPicture(caption_of(spec, "sequences"), tuple(drawn(one, sources) for one in chosen))


def caption_of(spec: Spec, subject: str) -> Caption:
    """What stands on every picture of a spec."""
    return Caption(spec.title or spec.file, spec.revision, spec.file, spec.digest[:12], subject)


def drawn(sequence: Sequence, sources: Sources) -> DrawnSequence:
    """A sequence in words."""
    return DrawnSequence(
        id=sequence.id,
        words=sequence.words,
        reacts="immediately" if sequence.reacts is None else f"within {window_text(sequence.reacts, sources)}",
        powered_by="" if sequence.powered_by is None else condition_text(sequence.powered_by, sources),
        steps=tuple(
            DrawnStep(step.name, step.name == sequence.start, step.drives, step.words) for step in sequence.steps
        ),
        changes=tuple(drawn_change(change, sequence, sources) for change in sequence.changes),
        priority=sequence.priority,
        tree=_tree(sequence),
    )


def drawn_change(change: StepChange, sequence: Sequence, sources: Sources) -> DrawnChange:
    """A change in words."""
    return DrawnChange(
        name=change.name,
        kind=change.kind.value,
        from_steps=change.from_steps,
        to=change.to,
        needs=tuple(
            DrawnNeed(one.name, condition_text(one.condition, sources), window_text(one.held_for, sources))
            for one in change.permissives
        ),
        after=window_text(change.after, sources),
        sets=tuple(set_text(one, sequence.id) for one in change.sets),
        words=change.words,
    )


def _tree(sequence: Sequence) -> tuple[tuple[str, str, str], ...]:
    """A step, the move that leaves it and the step that it is the first to reach. Depth first from the start step,
    moves in their order; then from each step not reached yet, in the order of the file. Cost: steps times changes."""
    leaving: dict[str, list[StepChange]] = {step.name: [] for step in sequence.steps}
    for change in sequence.changes:
        if change.kind is ChangeKind.MOVE:
            for name in change.from_steps:
                leaving[name].append(change)
    reached: set[str] = set()
    found: list[tuple[str, str, str]] = []
    for first in (sequence.start, *leaving):
        if first in reached:
            continue
        reached.add(first)
        stack = [(first, iter(leaving[first]))]
        while stack:
            here, ways = stack[-1]
            way = next(ways, None)
            if way is None:
                stack.pop()
            elif way.to not in reached:
                reached.add(way.to)
                found.append((here, way.name, way.to))
                stack.append((way.to, iter(leaving[way.to])))
    return tuple(found)
