"""The permissive chain as a ladder: each rung a change of the ordinary cycle, with what proves it and what for.

In: a spec, its texts, the step at which energy flows if it is named. Out: a `ChainPicture`. Which hazards a permissive
is there for is worked out on paper (see `drawing_holds`), not explored.
"""

from __future__ import annotations

from interlock.analysis.drawing import ChainPicture, DrawnStep, Proof, Rung
from interlock.analysis.drawing_cycle import ordinary_cycle
from interlock.analysis.drawing_holds import Paper, TooMany, spoken_of
from interlock.analysis.drawing_sequences import caption_of, drawn_change
from interlock.analysis.drawing_text import named_in
from interlock.diag.place import Sources
from interlock.spec.model import ChangeKind, Sequence, Spec, StepChange


def chain_picture(spec: Spec, sources: Sources, through: tuple[str, str] | None = None) -> ChainPicture:
    """The ladder of the ordinary cycle. NoCycle if there is none to draw."""
    cycle = ordinary_cycle(spec, through)
    paper = Paper(spec)
    rungs = []
    for i, (name, change) in enumerate(zip(cycle.steps, cycle.changes, strict=True)):
        step = cycle.sequence.step(name)
        before = cycle.sequence.step(cycle.steps[i - 1]).drives
        rungs.append(
            Rung(
                step=DrawnStep(step.name, step.name == cycle.sequence.start, step.drives, step.words),
                gives=tuple(one for one in step.drives if one not in before),
                withdraws=tuple(one for one in before if one not in step.drives),
                trips=_other_ways(cycle.sequence, name, change),
                change=drawn_change(change, cycle.sequence, sources),
                proofs=proofs(spec, paper, cycle.sequence, change, sources),
            )
        )
    held = {id for rung in rungs for proof in rung.proofs for id in (*proof.excludes, *proof.joins)}
    return ChainPicture(
        caption=caption_of(spec, "permissive chain"),
        sequence=cycle.sequence.id,
        through=cycle.through,
        chosen=cycle.chosen,
        rungs=tuple(rungs),
        named=named_in((one.condition for change in cycle.changes for one in change.permissives), spec, sources),
        hazards=tuple((one.id, one.words) for one in spec.hazards),
        unheld=tuple(one.id for one in spec.hazards if one.id not in held),
    )


def proofs(spec: Spec, paper: Paper, sequence: Sequence, change: StepChange, sources: Sources) -> tuple[Proof, ...]:
    """What each permissive of a change shows, and the hazards it is there for. A trip says when it goes, which
    excludes nothing that it is there to prevent: nothing is worked out for it."""
    drawn = drawn_change(change, sequence, sources)
    if change.kind is not ChangeKind.MOVE:
        return tuple(Proof(need, (), (), (), False) for need in drawn.needs)
    conditions = [one.condition for one in change.permissives]
    try:
        together = paper.excluded(conditions)
    except TooMany:
        together = None
    told = []
    for i, need in enumerate(drawn.needs):
        try:
            alone = paper.excluded((conditions[i],))
            others = paper.excluded([*conditions[:i], *conditions[i + 1 :]])
        except TooMany:
            told.append(Proof(need, (), (), (), False))
            continue
        joins = frozenset() if together is None else together - others - alone
        items = paper.equipment_of((conditions[i],))
        related = [one.id for one in spec.hazards if items & spoken_of(paper, one)] if not alone and not joins else []
        told.append(
            Proof(
                need=need,
                excludes=tuple(one.id for one in spec.hazards if one.id in alone),
                joins=tuple(one.id for one in spec.hazards if one.id in joins),
                concerns=tuple(related),
                checked=together is not None,
            )
        )
    return tuple(told)


def _other_ways(sequence: Sequence, step: str, taken: StepChange) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Trips and timeouts out of a step, other than the change of the cycle, by where they lead."""
    found: dict[str, list[str]] = {}
    for change in sequence.changes:
        if change is not taken and change.kind is not ChangeKind.MOVE and step in change.from_steps:
            name = "timeout" if change.kind is ChangeKind.TIMEOUT else change.name
            found.setdefault(change.to, []).append(name)
    return tuple((tuple(names), to) for to, names in found.items())
