"""The parts of the explicit engine: cubes, layout, moves within a block, what is kept on disk."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from random import Random

import numpy as np
import pytest

from interlock.core.meaning import Meaning
from interlock.core.question import Question
from interlock.core.system import Variable, VariableKind
from interlock.engines.explicit import choose, compiling, parts
from interlock.engines.explicit.codes import codes_for
from interlock.engines.explicit.cubes import Splitter, before_event, plain
from interlock.engines.explicit.layout import Layout
from interlock.logic.expression import Expression, conjunction, has, negate, was
from tests.random_systems import random_case


def holds(expression: Expression, valuation: dict[str, int]) -> bool:
    kind, inner = expression.kind.value, [holds(operand, valuation) for operand in expression.operands]
    if kind == "in":
        return valuation[expression.name] in expression.values
    if kind == "constant":
        return expression.values[0] == 1
    if kind == "at most":
        return sum(inner) <= expression.values[0]
    return {"not": not inner[0], "and": all(inner), "or": any(inner), "named": inner[0], "was": inner[0]}[kind]


@pytest.mark.parametrize("seed", range(40))
def test_cubes_are_disjoint_and_cover_just_where_a_guard_is_true(seed: int) -> None:
    system = random_case(seed, False).system
    variables = system.variables
    splitter = Splitter(variables, {})
    every = list(product(*(range(len(v.values)) for v in variables)))
    some = Random(seed).sample(every, min(len(every), 200))
    for action in system.actions:
        cubes = [cube for _, cube in splitter.where(plain(action.guard), (1, {}))]
        for values in some:
            valuation = {v.name: value for v, value in zip(variables, values, strict=True)}
            inside = sum(all(among >> valuation[name] & 1 for name, among in cube.items()) for cube in cubes)
            assert inside == holds(action.guard, valuation)


@pytest.mark.parametrize("seed", range(30))
def test_a_condition_on_an_event_is_one_on_the_situation_before_it(seed: int) -> None:
    rng = Random(seed)
    names = ["a", "b", "c"]
    now = conjunction([has("a", [rng.randrange(3)], 3), negate(has("b", [0, 1], 3))])
    event = conjunction([now, negate(was(has("c", [rng.randrange(3)], 3)))])
    assigned = {name: rng.randrange(3) for name in rng.sample(names, 2)}
    on_before = before_event(plain(event), assigned)
    for values in product(range(3), repeat=3):
        before = dict(zip(names, values, strict=True))
        after = {**before, **assigned}
        expected = holds(now, after) and not holds(event.operands[-1].operands[0].operands[0], before)
        assert holds(on_before, before) == expected


@pytest.mark.parametrize("words", [1, 2, 3])
def test_what_is_packed_is_unpacked_again(words: int) -> None:
    for seed in range(30):
        case = random_case(seed, seed % 3 == 0)
        question = Question("nothing", budget=2)
        meaning = Meaning(case.system, question)
        codes = codes_for(meaning)
        low = tuple(v.name for v in case.system.variables if v.kind is VariableKind.ITEM)[:2]
        layout = Layout(case.system.variables, codes, (), low, words)
        assert layout.words >= words or sum(len(v.values) for v in case.system.variables) < 20
        for state in meaning.starts():
            assert layout.unpack(layout.pack(state.valuation, state.spent)) == (state.valuation, state.spent)


def test_moving_within_a_block_is_moving_each_of_its_situations() -> None:
    rng = Random(0)
    for _ in range(500):
        bits, on = rng.getrandbits(64), rng.getrandbits(6)
        off = rng.getrandbits(6) & ~on
        moved = sum(1 << p for p in {(p | on) & ~off for p in range(64) if bits >> p & 1})
        assert int(parts.moved(np.uint64(bits), np.uint64(on), np.uint64(off))) == moved
        into = rng.getrandbits(64)
        from_there = sum(1 << p for p in range(64) if into >> ((p | on) & ~off) & 1)
        assert int(parts.came_from(np.uint64(into), np.uint64(on), np.uint64(off))) == from_there


def test_the_places_in_a_block_are_the_variables_that_fill_it() -> None:
    # Two switches that are free, one that is the same as another, one item that never changes.
    variables = tuple(Variable(name, (0, 1), VariableKind.ITEM) for name in ("free", "other", "same", "as", "never"))
    case = random_case(0, False)
    codes = codes_for(Meaning(case.system, Question("nothing")))
    layout = Layout(variables, type(codes)((), (0,), (0,), {(0, 0): 0}))
    log = np.zeros((8, 4), np.uint64)
    for i, (free, other, same) in enumerate(product((0, 1), repeat=3)):
        log[i, :2] = layout.pack((free, other, same, same, 0), 0).key[0], 1
    assert set(choose.places_for(layout, log)) >= {"free", "other"}
    assert "never" not in choose.places_for(layout, log)


def test_compiled_kernels_are_kept_by_what_all_their_files_say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here = Path(compiling.__file__).parent.parent
    files = [path for path in here.glob("*/*.py") if "compiling import" in path.read_text("utf-8")]
    assert {path.relative_to(here).as_posix() for path in files} <= set(compiling.SOURCES)
    for name in compiling.SOURCES:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes((here / name).read_bytes())
    monkeypatch.setattr(compiling, "__file__", str(tmp_path / "explicit" / "compiling.py"))
    same = compiling.digest()
    parts = "explicit/parts.py"
    (tmp_path / parts).write_bytes((here / parts).read_bytes() + b"\n# changed\n")
    assert compiling.digest() != same
    from interlock.engines.explicit.kernels import explore

    stamp = explore._cache._cache_file._source_stamp  # type: ignore[attr-defined]
    assert same in stamp
