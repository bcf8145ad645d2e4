"""What the explicit engine does at its limits: it says so, and neither dies nor calls anything proved."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from interlock.core.question import Question, Verdict
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.explicit import machine
from interlock.engines.explicit.engine import ExplicitEngine
from interlock.engines.explicit.explore import Exploration
from interlock.engines.explicit.prepare import Pieces
from interlock.engines.explicit.style import Style, styled
from interlock.logic.expression import FALSE
from tests.small_systems import Event, Table, avoid


def counters(n: int, rule: Mapping[str, list[int]] | None = None) -> System:
    """`n` counters of ten values that go up by themselves, round and round: 10 ** n situations."""
    table = Table({f"counter {i}": range(10) for i in range(n)})
    events: list[Event] = [
        (f"{i} from {value}", {f"counter {i}": [value]}, {f"counter {i}": (value + 1) % 10})
        for i in range(n)
        for value in range(10)
    ]
    asked = avoid(FALSE if rule is None else table.all(rule))
    return table.system({f"counter {i}": 0 for i in range(n)}, events, (asked,))


def keys(n: int) -> System:
    """`n` keys that are turned and turned back: 2 ** n situations."""
    table = Table({f"key {i}": range(2) for i in range(n)})
    events: list[Event] = [
        (f"{i} from {value}", {f"key {i}": [value]}, {f"key {i}": 1 - value}) for i in range(n) for value in range(2)
    ]
    return table.system({f"key {i}": 0 for i in range(n)}, events, (avoid(FALSE),))


def test_a_system_of_a_million_million_situations_is_undecided_within_the_limit() -> None:
    (answer,) = ExplicitEngine().answer(counters(12), (Question("hazard"),), Limits(states=300_000))
    assert answer.verdict is Verdict.UNDECIDED
    assert answer.counts is None
    assert answer.limit is not None
    assert "300,000 situations" in answer.limit


def test_where_the_memory_does_not_do_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine, "available_bytes", lambda: 4 << 20)
    (answer,) = ExplicitEngine().answer(counters(12), (Question("hazard"),), Limits(states=10**12))
    assert answer.verdict is Verdict.UNDECIDED
    assert answer.limit is not None
    assert answer.limit.startswith("memory is full at ")
    survey = ExplicitEngine().survey(counters(12), Question(""), (), Limits(states=10**12))
    assert survey.limit is not None
    assert survey.limit.startswith("memory is full")


def test_a_breach_near_the_start_of_a_vast_system_is_found_before_the_limit() -> None:
    vast = counters(12, {"counter 3": [1], "counter 7": [2]})
    (found,) = ExplicitEngine().answer(vast, (Question("hazard"),), Limits(states=100_000))
    assert found.verdict is Verdict.FAILS
    assert found.scenario is not None
    assert found.scenario.events == ("3 from 0", "7 from 0", "7 from 1")


def test_progress_tells_situations_now_and_then() -> None:
    told: list[int] = []
    limits = Limits(states=200_000, progress=lambda known, depth: told.append(known))
    ExplicitEngine().answer(counters(8), (Question("hazard"),), limits)
    assert max(told) > 200_000


def test_blocks_lie_about_evenly_in_a_store_that_has_grown() -> None:
    # Looking for a key goes on from line to line while lines are in use: where blocks crowd, that takes for ever.
    prepared, _ = styled(Pieces.of(keys(40), [Question("hazard")]), Style(False, 0, 1))
    exploration = Exploration(prepared.ground, 0, Limits(states=1))
    exploration.store.admit(prepared.start_log())
    exploration.store.enqueue(0, 0)
    while exploration.store.blocks < 300_000:
        exploration.store.explore(0, 1000)
    used = exploration.store.store[:, prepared.ground.layout.words] != 0
    free = np.flatnonzero(~used)
    longest = int(np.diff(free).max())
    assert longest < 100, longest


def written(folder: Path, **texts: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        (folder / name.replace("__", ".")).write_text(text, encoding="ascii")


GIB = 1 << 30
PLENTY = f"MemTotal: {32 * GIB >> 10} kB\nMemAvailable: {16 * GIB >> 10} kB\n"


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine with 16 GiB free that tells nothing else, in a folder."""
    monkeypatch.setattr(machine, "PROC", tmp_path / "proc")
    monkeypatch.setattr(machine, "GROUPS", tmp_path / "groups")
    written(tmp_path / "proc", meminfo=PLENTY)
    return tmp_path


def test_what_is_free_on_the_machine_is_what_may_be_used(told: Path) -> None:
    assert machine.available_bytes() == 16 * GIB
    assert machine.room_for_stores(1) == int(16 * GIB * machine.SHARE)


def test_a_machine_that_tells_nothing_is_taken_to_have_two_gib(told: Path) -> None:
    (told / "proc" / "meminfo").unlink()
    assert machine.available_bytes() == 2 * GIB


def test_a_container_that_may_use_less_is_believed(told: Path) -> None:
    written(told / "proc" / "self", cgroup="0::/some/where\n")
    written(told / "groups", memory__max="max\n", memory__current=f"{9 * GIB}\n")
    written(told / "groups" / "some", memory__max=f"{3 * GIB}\n", memory__current=f"{2 * GIB}\n")
    written(told / "groups" / "some", memory__stat=f"anon 5\ninactive_file {GIB // 2}\n")
    assert machine.available_bytes() == GIB + GIB // 2


def test_a_group_of_the_older_kind_is_believed_too_and_one_used_up_leaves_nothing(told: Path) -> None:
    written(told / "proc" / "self", cgroup="5:devices:/\n4:cpu,memory:/outside\n0::/\n")
    folder = told / "groups" / "memory"
    written(folder, memory__limit_in_bytes=f"{GIB}\n", memory__usage_in_bytes=f"{GIB // 4}\n")
    assert machine.available_bytes() == GIB - GIB // 4
    written(folder, memory__usage_in_bytes=f"{2 * GIB}\n")
    assert machine.available_bytes() == 0


def test_things_of_more_states_than_a_word_has_bits_are_looked_at_like_any() -> None:
    """Two hundred states, the most of a spec: up to state 150, from 100 on also back to 0; 199 is never there."""
    table = Table({"level": range(200), "lamp": range(2)})
    events: list[Event] = [(f"up from {value}", {"level": [value]}, {"level": value + 1}) for value in range(150)]
    events.append(("all the way back", {"level": range(100, 200)}, {"level": 0, "lamp": 1}))
    for sought, verdict in ((150, Verdict.FAILS), (199, Verdict.HOLDS)):
        system = table.system({"level": 0, "lamp": 0}, events, (avoid(table.all({"level": [sought], "lamp": [1]})),))
        (answer,) = ExplicitEngine().answer(system, (Question("hazard"),), Limits())
        assert answer.verdict is verdict
        if answer.scenario is not None:
            assert len(answer.scenario.events) == 100 + 1 + 150
        elif answer.counts is not None:
            assert answer.counts.settled == 2 * 151
