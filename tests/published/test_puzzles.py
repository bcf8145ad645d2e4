"""Puzzles with known counts and shortest ways, as core systems through the door that everything goes through.

Each source stands beside its check with the mark of how it was seen: READ in the document, MEMORY from memory, CALC
computed by an independent program.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import pytest

from interlock.core.meaning import Meaning, State
from interlock.core.question import Question, Verdict
from interlock.core.system import Action, System
from interlock.logic.expression import Expression, Kind, conjunction, constant, disjunction, fold, negate, rebuild
from tests.small_systems import Before, Event, Table, ask, avoid, counts, depths, reach

ENGINES = ["reference", "quick", "explicit"]


def n_shortest(system: System, condition_id: str) -> int:
    """How many shortest ways lead to a goal, counted level by level through the plain meaning."""
    meaning = Meaning(system, Question(condition_id))
    goal = meaning.system.property(condition_id).condition
    ways = dict.fromkeys(meaning.starts(), 1)
    known = set(ways)
    while ways:
        reached = sum(n for state, n in ways.items() if meaning.true(goal, state.valuation))
        if reached:
            return reached
        after: dict[State, int] = {}
        for state, n in ways.items():
            for following in {meaning.after(action, state) for action in meaning.enabled(state)}:
                if following not in known:
                    after[following] = after.get(following, 0) + n
        known |= set(after)
        ways = after
    return 0


# --- wolf, goat and cabbage ---


def river(*, pruned: bool) -> System:
    who = ("farmer", "wolf", "goat", "cabbage")
    table = Table(dict.fromkeys(who, ("here", "there")))
    events: list[Event] = []
    for cargo in ("", *who[1:]):
        for source, target in (("here", "there"), ("there", "here")):
            movers = ["farmer", cargo] if cargo else ["farmer"]
            before = {name: [source] for name in movers}
            events.append((f"{'+'.join(movers)} to {target}", before, dict.fromkeys(movers, target)))

    eaten = disjunction(
        table.all({"farmer": [other], first: [side], second: [side]})
        for side, other in (("here", "there"), ("there", "here"))
        for first, second in (("wolf", "goat"), ("goat", "cabbage"))
    )
    over = table.all({name: ["there"] for name in who})
    system = table.system(dict.fromkeys(who, "here"), events, (reach(over), avoid(eaten)))
    return only_if(system, eaten, pruned=pruned)


def only_if(system: System, unsafe: Expression, *, pruned: bool) -> System:
    """Unsafe situations are left out (`pruned`) or ends from which nothing leads on."""

    def after(action: Action) -> Expression:
        """Whether the event leads to an unsafe situation, read before it: what it changes is put in."""
        changed = {assignment.variable: assignment.cases[0][1] for assignment in action.update}

        def put(node: Expression, operands: tuple[Expression, ...]) -> Expression:
            if node.kind is Kind.IN and node.name in changed:
                return constant(changed[node.name] in node.values)
            return rebuild(node, operands)

        return fold(unsafe, put)

    actions = tuple(
        replace(action, guard=conjunction((action.guard, negate(after(action) if pruned else unsafe))))
        for action in system.actions
    )
    return replace(system, actions=actions)


@pytest.mark.parametrize("engine", ENGINES)
def test_wolf_goat_and_cabbage_cross_in_seven_by_two_ways(engine: str) -> None:
    # 10 of 16 situations, 20 crossings between them, 7 crossings at least, 2 shortest ways: MEMORY, recomputed CALC.
    system = river(pruned=True)
    answer = ask(engine, system, "goal")
    assert answer.verdict is Verdict.HOLDS
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 7
    assert counts(engine, system) == (10, 20)
    assert n_shortest(system, "goal") == 2


@pytest.mark.parametrize("engine", ENGINES)
def test_with_unsafe_situations_kept_the_goat_is_eaten_after_one_crossing(engine: str) -> None:
    # 16 situations, 6 of them unsafe, the first after one crossing: CALC.
    system = river(pruned=False)
    answer = ask(engine, system, "hazard")
    assert answer.verdict is Verdict.FAILS
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 1
    assert counts(engine, system)[0] == 16


# --- missionaries and cannibals ---


def missionaries(*, pruned: bool) -> System:
    table = Table({"m": (0, 1, 2, 3), "c": (0, 1, 2, 3), "boat": ("here", "there")})  # how many are still here
    events: list[Event] = []
    before: Before
    for m, c in ((1, 0), (2, 0), (0, 1), (0, 2), (1, 1)):
        for have_m, have_c in product(range(4), range(4)):
            if have_m >= m and have_c >= c:
                before = {"m": [have_m], "c": [have_c], "boat": ["here"]}
                events.append(
                    (
                        f"{m},{c} over from {have_m},{have_c}",
                        before,
                        {"m": have_m - m, "c": have_c - c, "boat": "there"},
                    )
                )
            if 3 - have_m >= m and 3 - have_c >= c:
                before = {"m": [have_m], "c": [have_c], "boat": ["there"]}
                events.append(
                    (f"{m},{c} back to {have_m},{have_c}", before, {"m": have_m + m, "c": have_c + c, "boat": "here"})
                )
    unsafe = disjunction(
        table.all({"m": [m], "c": [c]}) for m, c in product(range(4), range(4)) if 0 < m < c or 0 < 3 - m < 3 - c
    )
    goal = table.all({"m": [0], "c": [0]})
    system = table.system({"m": 3, "c": 3, "boat": "here"}, events, (reach(goal), avoid(unsafe)))
    return only_if(system, unsafe, pruned=pruned)


@pytest.mark.parametrize("engine", ENGINES)
def test_three_missionaries_and_three_cannibals_cross_in_eleven_by_four_ways(engine: str) -> None:
    # 16 situations, 34 crossings, 11 crossings at least: CALC; 4 shortest ways: READ (Calvin University course notes).
    system = missionaries(pruned=True)
    answer = ask(engine, system, "goal")
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 11
    assert counts(engine, system) == (16, 34)
    assert n_shortest(system, "goal") == 4


@pytest.mark.parametrize("engine", ENGINES)
def test_with_unsafe_situations_kept_one_crossing_is_enough_for_harm(engine: str) -> None:
    # 28 situations, 12 of them unsafe, the first after one crossing: CALC.
    system = missionaries(pruned=False)
    answer = ask(engine, system, "hazard")
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 1
    assert counts(engine, system)[0] == 28


# --- water jugs ---


@pytest.mark.parametrize("engine", ENGINES)
def test_four_litres_are_measured_with_jugs_of_three_and_five_in_six_steps(engine: str) -> None:
    # 16 situations: CALC; 6 steps: MEMORY.
    table = Table({"small": range(4), "large": range(6)})
    events: list[Event] = [
        ("fill small", {"small": [0, 1, 2]}, {"small": 3}),
        ("fill large", {"large": [0, 1, 2, 3, 4]}, {"large": 5}),
        ("empty small", {"small": [1, 2, 3]}, {"small": 0}),
        ("empty large", {"large": [1, 2, 3, 4, 5]}, {"large": 0}),
    ]
    for small, large in product(range(4), range(6)):
        for name, moved in (("small to large", min(small, 5 - large)), ("large to small", -min(large, 3 - small))):
            if moved:
                before: Before = {"small": [small], "large": [large]}
                events.append(
                    (f"{name} from {small},{large}", before, {"small": small - moved, "large": large + moved})
                )
    system = table.system({"small": 0, "large": 0}, events, (reach(table.among("large", [4])),))
    answer = ask(engine, system, "goal")
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 6
    assert counts(engine, system)[0] == 16


# --- towers of Hanoi ---


def hanoi(n: int) -> System:
    table = Table({f"disc {i}": ("a", "b", "c") for i in range(n)})
    events: list[Event] = []
    for i in range(n):
        for source, target in permutations("abc", 2):
            other = ({"a", "b", "c"} - {source, target}).pop()
            before: dict[str, list[str | int]] = {f"disc {i}": [source]}
            before |= {f"disc {k}": [other] for k in range(i)}
            events.append((f"disc {i} from {source} to {target}", before, {f"disc {i}": target}))
    goal = table.all({f"disc {i}": ["c"] for i in range(n)})
    return table.system({f"disc {i}": "a" for i in range(n)}, events, (reach(goal),))


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("n", range(1, 7))
def test_n_discs_have_3_to_the_n_positions_and_need_2_to_the_n_less_1_moves(engine: str, n: int) -> None:
    # 3^n positions, 3^(n+1) - 3 moves between them, 2^n - 1 moves at least: MEMORY, recomputed CALC.
    system = hanoi(n)
    answer = ask(engine, system, "goal")
    assert answer.scenario is not None
    assert len(answer.scenario.events) == 2**n - 1
    assert counts(engine, system) == (3**n, 3 ** (n + 1) - 3)


# --- sliding tiles ---


def sliding(rows: int, columns: int) -> System:
    cells = [(r, c) for r in range(rows) for c in range(columns)]
    tiles = list(range(len(cells)))  # 0 is the gap
    table = Table({f"{r},{c}": tiles for r, c in cells})
    events: list[Event] = []
    for r, c in cells:
        for dr, dc in ((0, 1), (1, 0), (0, -1), (-1, 0)):
            if (r + dr, c + dc) in cells:
                for tile in tiles[1:]:
                    there = f"{r + dr},{c + dc}"
                    before: dict[str, list[str | int]] = {f"{r},{c}": [0], there: [tile]}
                    events.append((f"{tile} from {there} to {r},{c}", before, {f"{r},{c}": tile, there: 0}))
    return table.system({f"{r},{c}": i for i, (r, c) in enumerate(cells)}, events)


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize(
    ("shape", "positions", "moves", "depth"), [((2, 2), 12, 24, 6), ((2, 3), 360, 840, 21)], ids=["2 x 2", "2 x 3"]
)
def test_sliding_tiles_reach_half_of_all_orders(
    engine: str, shape: tuple[int, int], positions: int, moves: int, depth: int
) -> None:
    # 12 and 360 positions, 24 and 840 moves, depths 6 and 21: MEMORY, recomputed CALC.
    system = sliding(*shape)
    assert counts(engine, system) == (positions, moves)
    assert len(depths(system)) - 1 == depth
