"""Speed of the explicit engine as ratios within one run: `python -m tests.bench.explicit_report [--large]`.

Two coupled berths (29 million situations) against a compiled hash set with a linear scan of guards and against decision
diagrams, in turn, medians of five: verdict and count, and with the shortest scenario. Two berths side by side (331,776
situations) against packed pure Python and, with `--large`, networkx over dictionaries (a minute or two, once); one
berth against a driven machine of `transitions`; the same as whole processes. Then logic that reacts at once and
failures under a budget, against a hash set that knows these, and a part of Brackwater Quay, with what is stored:
situations a block, bytes a situation. `--large`: that part against the hash set and at one failure, 80 million
situations, each once (half an hour in all). Then
runs of immediate logic fused into the event before them or not; the time to prepare guards; and cost against size.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from interlock.core.elaborate import elaborate
from interlock.core.question import Question, Verdict
from interlock.core.slice import slice_for
from interlock.core.system import System
from interlock.engines.api import Limits
from interlock.engines.explicit.answers import Group
from interlock.engines.explicit.engine import SAMPLE, ExplicitEngine
from interlock.engines.explicit.explore import Exploration, Sought
from interlock.engines.explicit.parts import STARTS
from interlock.engines.explicit.prepare import Pieces, Prepared
from interlock.engines.explicit.store import Store
from interlock.engines.explicit.style import Style, on_full_blocks, styled
from interlock.spec.files import beside
from interlock.spec.loading import load_text
from tests.bench import coupled_berths, peers, peers_with_failures, two_berths

LIMITS = Limits(states=200_000_000)
STYLE = Style(True, SAMPLE, 1)


def taken(run: Callable[[], object]) -> float:
    """Seconds of processor time of one run."""
    begin = time.process_time()
    run()
    return time.process_time() - begin


def medians(runs: dict[str, Callable[[], object]], times: int) -> dict[str, float]:
    """Medians of some runs, taken in turn."""
    found: dict[str, list[float]] = {name: [] for name in runs}
    for _ in range(times):
        for name, run in runs.items():
            found[name].append(taken(run))
    return {name: statistics.median(some) for name, some in found.items()}


def asked(system: System, rule: str, budget: int = 0) -> Callable[[], tuple[int, int]]:
    """The engine asked a rule, by its door; its situations and events (zero where it is broken)."""

    def run() -> tuple[int, int]:
        (answer,) = ExplicitEngine().answer(system, (Question(rule, budget=budget),), LIMITS)
        if answer.counts is None:
            assert answer.verdict is Verdict.FAILS
            return 0, 0
        return answer.counts.settled + answer.counts.passing, answer.counts.events

    return run


def stored(system: System, rule: str, budget: int = 0) -> str:
    """Blocks and memory of an exploration."""
    return told(explored(system, rule, budget).store)


def told(store: Store) -> str:
    """Blocks and memory of a store."""
    known = int(store.by_spent.sum())
    return f"{known / store.blocks:.1f} situations a block, {store.bytes / known:.2f} bytes a situation"


def row(name: str, seconds: float, base: float, n: int) -> None:
    """Print a line of the report."""
    print(f"  {name:44s} {seconds:9.3f} s {n / seconds:14,.0f} situations a second {seconds / base:9.1f} times")


def coupled(times: int) -> None:
    """Two coupled berths against the compiled hash set."""
    system = coupled_berths.coupled_berths()
    n, events = coupled_berths.SITUATIONS, coupled_berths.EVENTS
    hash_set = peers.compiled_hash_set(system, 26)
    small = peers.compiled_hash_set(coupled_berths.coupled_berths(1), 14)
    small(), asked(system, "is broken")()  # compile
    assert asked(system, "holds")() == (n, events)
    diagrams = peers_with_failures.decision_diagrams(system)
    assert diagrams() == (n, events)
    runs: dict[str, Callable[[], object]] = {
        "holds": asked(system, "holds"), "is broken": asked(system, "is broken"), "peer": hash_set,
        "dd": diagrams,
    }  # fmt: skip
    found = medians(runs, times)
    assert hash_set() == (n, events)
    print(f"two coupled berths: {n:,} situations, {events:,} events")
    row("explicit, verdict and count", found["holds"], found["holds"], n)
    row("explicit, with shortest scenario (is broken)", found["is broken"], found["holds"], n)
    row("compiled hash set, linear guard scan", found["peer"], found["holds"], n)
    row("decision diagrams (dd), verdict and count", found["dd"], found["holds"], n)
    print(f"  hash set / verdict and count: {found['peer'] / found['holds']:.1f}")
    print(f"  hash set / shortest scenario: {found['peer'] / found['is broken']:.1f}")
    print(f"  {stored(system, 'holds')}")


def side_by_side(large: bool) -> None:
    """Two berths side by side against slow peers; one berth against a driven machine."""
    system = two_berths.berths(2)
    n = two_berths.SITUATIONS
    run = asked(system, "hazard")
    assert run() == (n, two_berths.EVENTS)
    base = medians({"explicit": run}, 5)["explicit"]
    prepared, places = styled(Pieces.of(system, [Question("hazard")]), STYLE)
    kernel = medians({"k": lambda: Group(prepared, [Question("hazard")], LIMITS, places).answers()}, 5)["k"]
    print(f"two berths: {n:,} situations, {two_berths.EVENTS:,} events")
    row("explicit, through its door", base, kernel, n)
    row("explicit, kernels alone", kernel, kernel, n)
    slow = {"packed pure Python": peers.packed_python(system)}
    if large:
        slow["networkx over dictionaries"] = peers.networkx_graph(system)
    for name, peer in slow.items():
        row(name, taken(peer), kernel, n)
    one = two_berths.berths(1)
    kernel = medians({"k": asked(one, "hazard")}, 5)["k"]
    print("one berth: 576 situations")
    row("explicit, through its door", kernel, kernel, 576)
    row("transitions, driven", medians({"t": peers.driven_machine(one)}, 3)["t"], kernel, 576)


def with_failures(times: int) -> None:
    """Logic that reacts at once and failures under a budget, against the hash set; then cost against size."""
    system = coupled_berths.with_failures()
    print("two coupled berths, immediate logic, failures under a budget (situations told apart by failures spent)")
    for budget in (0, 1, 2):
        against_hash_set(f"{budget} failures", system, "holds", budget, times)
    for budget in (3, 6):
        run = asked(system, "holds", budget)
        n = run()[0]
        row(f"{budget} failures: {n:,} situations", taken(run), 1.0, n)


def against_hash_set(name: str, system: System, rule: str, budget: int, times: int) -> None:
    """One rule by the engine's door against the compiled hash set, in turn."""
    known = sum(layer.known for layer in explored(system, rule, budget).layers)
    bits = max(16, (2 * known).bit_length())
    hash_set = peers_with_failures.compiled_hash_set(system, rule, budget, bits)
    assert hash_set()[0] == known, (name, hash_set(), known)
    run = asked(system, rule, budget)
    run()
    found = medians({"explicit": run, "peer": hash_set}, times)
    row(f"{name}: explicit", found["explicit"], found["explicit"], known)
    row(f"{name}: compiled hash set", found["peer"], found["explicit"], known)
    print(f"  {stored(system, rule, budget)}")


def explored(system: System, rule: str, budget: int) -> Exploration:
    """A rule's exploration, done."""
    questions = [Question(rule, budget=budget)]

    def done(prepared: Prepared, places: tuple[str, ...], watched: bool) -> Exploration:
        group = Group(prepared, questions, LIMITS, places, watched=watched)
        group.answers()
        return group.exploration

    return on_full_blocks(Pieces.of(system, questions), STYLE, done)


def quay_part() -> System:
    """What a hazard of Brackwater Quay depends on."""
    file = Path(__file__).parents[2] / "specs" / "brackwater_quay.yaml"
    spec, bag, _ = load_text(file.read_text(encoding="utf-8"), file.name, beside(str(file.parent)))
    assert spec is not None, bag.sorted()
    return slice_for(elaborate(spec), ("H1",)).system


def quay(large: bool) -> None:
    """A part of Brackwater Quay; the hash set, whose scan of guards takes minutes, only if `large`, and once. With one
    failure it is 80 million situations of two words, its table 4 GiB and its scan hours: it is left out."""
    part = quay_part()
    print(f"Brackwater Quay, what H1 depends on: {len(part.variables)} variables, {len(part.actions)} actions")
    run = asked(part, "H1")
    n = run()[0]
    row(f"0 failures: explicit, {n:,} situations", taken(run), 1.0, n)
    print(f"  {stored(part, 'H1')}")
    if large:
        against_hash_set("0 failures", part, "H1", 0, 1)
        begin = time.process_time()
        exploration = explored(part, "H1", 1)
        known = int(exploration.store.by_spent.sum())
        seconds = time.process_time() - begin
        row("1 failure: explicit, preparation and choice of places too", seconds, seconds, known)
        print(f"  {told(exploration.store)}")


def whole_process(large: bool) -> None:
    """Whole processes, warm: two berths by the engine against pure Python, and with `large` networkx (once)."""
    ours = "from tests.bench import whole; whole.explicit()"
    theirs = "from tests.bench import peers, two_berths; peers.packed_python(two_berths.berths(2))()"
    graph = "from tests.bench import peers, two_berths; peers.networkx_graph(two_berths.berths(2))()"

    def process(line: str) -> float:
        begin = time.monotonic()
        subprocess.run([sys.executable, "-c", line], check=True)
        return time.monotonic() - begin

    process(ours)
    found = [(process(ours), process(theirs)) for _ in range(5)]
    one, other = (statistics.median(times) for times in zip(*found, strict=True))
    print(f"whole process, warm: explicit {one:.2f} s, packed pure Python {other:.2f} s: {other / one:.1f} times")
    if large:
        other = process(graph)
        print(f"  networkx over dictionaries {other:.1f} s: {other / one:.1f} times")


def fused(times: int) -> None:
    """Runs of immediate logic with one outcome fused into the event before them, against the same without."""
    print("runs of immediate logic fused, time of exploring as a share of that without (medians, in turn)")
    whole = coupled_berths.with_failures()
    for name, system, rule, budget in (
        *((f"berths, {n} failures", whole, "holds", n) for n in (0, 1, 2)),
        ("Brackwater Quay, 0 failures", quay_part(), "H1", 0),
    ):
        pieces = Pieces.of(system, [Question(rule, budget=budget)])
        usual, places = styled(pieces, STYLE)
        without = pieces.prepared(places)
        without.ground.tables.rows[:, STARTS] = 0

        def explored_on(prepared: Prepared, budget: int = budget) -> Callable[[], object]:
            return lambda: Exploration(prepared.ground, budget, LIMITS).run(prepared.start_log(), [Sought(budget)])

        found = medians({"fused": explored_on(usual), "not": explored_on(without)}, 3 * times)
        print(f"  {name:44s} {found['fused'] / found['not']:.2f}")


def preparing() -> None:
    """The time to prepare the guards of 480 actions."""
    system = coupled_berths.coupled_berths(16)
    question = [Question("holds")]
    seconds = medians({"p": lambda: Pieces.of(system, question).prepared()}, 5)["p"]
    print(f"preparing {len(system.actions)} actions: {1000 * seconds:.0f} ms")


def main(large: bool) -> None:
    """Measure and print."""
    coupled(5)
    side_by_side(large)
    whole_process(large)
    with_failures(5)
    quay(large)
    fused(5)
    preparing()


if __name__ == "__main__":
    main("--large" in sys.argv)
