"""A system as data that others can read: `interlock.system/1`, described by schema_system.json beside this file.

Expressions stand once each in a table and refer to earlier entries by index, so that a reader evaluates them in order.
"""

from __future__ import annotations

from interlock.core.system import Action, Assignment, Mode, Property, System, TickWindow
from interlock.diag.place import Span
from interlock.logic.expression import Expression, Kind, walk

Json = dict[str, "Json"] | list["Json"] | str | int | bool | None


class _Table:
    def __init__(self, system: System) -> None:
        self.domains = {variable.name: variable.values for variable in system.variables}
        self.rows: list[Json] = []
        self.index: dict[int, int] = {}

    def add(self, root: Expression | None) -> int | None:
        if root is None:
            return None
        for node in walk(root):
            if id(node) not in self.index:
                self.index[id(node)] = len(self.rows)
                self.rows.append(self._row(node))
        return self.index[id(root)]

    def _row(self, node: Expression) -> Json:
        below: list[Json] = [self.index[id(operand)] for operand in node.operands]
        if node.kind is Kind.CONSTANT:
            return {"constant": node.values[0] == 1}
        if node.kind is Kind.IN:
            return {"variable": node.name, "in": [self.domains[node.name][i] for i in node.values]}
        if node.kind is Kind.AT_MOST:
            return {"at_most": node.values[0], "of": below}
        if node.kind is Kind.NAMED:
            return {"named": node.name, "is": below[0]}
        if node.kind in (Kind.NOT, Kind.WAS):
            return {node.kind.value: below[0]}
        return {node.kind.value: below}


def dump(system: System, *, places: bool = True) -> dict[str, Json]:
    """The system as JSON data. `places` False leaves out words, places and the digest: what remains is all that has a
    meaning. Same system, same data, in the same order."""
    table = _Table(system)

    def update(assignments: tuple[Assignment, ...]) -> list[Json]:
        made: list[Json] = []
        for assignment in assignments:
            domain = table.domains[assignment.variable]
            cases: list[Json] = [{"if": table.add(when), "value": domain[i]} for when, i in assignment.cases]
            made.append({"variable": assignment.variable, "cases": cases})
        return made

    def action(one: Action) -> Json:
        return {
            "id": one.id,
            "owner": one.owner,
            "name": one.name,
            "kind": one.kind.value,
            "tier": one.tier.value,
            "guard": table.add(one.guard),
            "update": update(one.update),
            "window": window_data(one.window),
            "obliged": one.obliged,
            "restarts": list(one.restarts),
            "modes": list(one.modes),
            "cost": one.cost,
            "ages_with": one.ages_with or one.id,
        }

    def mode(one: Mode) -> Json:
        return {
            "id": one.id,
            "common_cause": one.common_cause,
            "members": list(one.members),
            "guard": table.add(one.guard),
            "at_start": None if one.at_start is None else update(one.at_start),
        }

    def asked(one: Property) -> Json:
        return {
            "id": one.id,
            "kind": one.kind.value,
            "hazard": one.hazard,
            "condition": table.add(one.condition),
            "first": table.add(one.first),
            "since": table.add(one.since),
            "must": table.add(one.must),
            "unless": table.add(one.unless),
            "start": table.add(one.start),
            "trigger": table.add(one.trigger),
            "within": window_data(one.within),
            "helped_by": list(one.helped_by),
            "every_event": one.every_event,
            "passing": one.passing,
        }

    data: dict[str, Json] = {
        "format": "interlock.system/1",
        "tick_s": str(system.tick_s),
        "variables": [{"name": v.name, "kind": v.kind.value, "values": list(v.values)} for v in system.variables],
        "start": [[system.variables[i].values[k] for i, k in enumerate(start)] for start in system.start],
        "actions": [action(one) for one in system.actions],
        "modes": [mode(one) for one in system.modes],
        "properties": [asked(one) for one in system.properties],
        "conditions": [{"name": name, "is": table.add(expression)} for name, expression in system.conditions],
        "expressions": table.rows,
    }
    if places:
        data["title"] = system.title
        data["digest"] = system.digest
        data["origin"] = {
            key: {"words": origin.words, "place": place_data(origin.place)}
            for key, origin in sorted(system.origin.items())
        }
    return data


def window_data(window: TickWindow | None) -> Json:
    """A window as data; ages in ticks, `latest` null: never."""
    if window is None:
        return None
    return {
        "earliest": {"ticks": window.earliest, "open": window.earliest_open},
        "latest": None if window.latest is None else {"ticks": window.latest, "open": window.latest_open},
    }


def place_data(span: Span | None) -> Json:
    """A place as data; null if there is none."""
    if span is None:
        return None
    return {
        "file": span.file,
        "line": span.line,
        "column": span.column,
        "end_line": span.end_line,
        "end_column": span.end_column,
    }
