"""What every engine must do: one class of checks on hand-made systems with known answers, run on each engine.

Nothing here knows how an engine works. Each answer was worked out by hand; where it is not plain, the proof stands in a
comment.
"""

from __future__ import annotations

from interlock.core.question import Counts, Ends, Verdict
from interlock.core.system import (
    ActionKind,
    Mode,
    Tier,
    Variable,
    VariableKind,
)
from interlock.engines.api import Engine
from interlock.engines.table import ENGINES, pick
from interlock.logic.expression import FALSE, TRUE, conjunction, negate, was
from tests.engines.doors import ask, chain, door
from tests.engines.plan import Plan, before, never, possible

HOLDS, FAILS, UNDECIDED = Verdict.HOLDS, Verdict.FAILS, Verdict.UNDECIDED


class TestEveryEngine:
    """The checks. Each takes the engine it is run on."""

    # --- never ---

    def test_never_looks_at_settled_situations_only(self, engine: Engine) -> None:
        plan = door()
        dark = plan.at(door="shut", lamp="off")
        system = plan.system(never("dark", dark), never("dark, passing too", dark, passing=True))
        assert ask(engine, system, "dark").verdict is HOLDS
        found = ask(engine, system, "dark, passing too")
        assert found.verdict is FAILS
        assert found.scenario is not None
        assert found.scenario.events == ("door shuts",)
        assert found.scenario.situations == ((0, 0), (1, 0))
        assert found.scenario.ends is Ends.BREACH

    def test_a_breach_at_the_start_is_a_scenario_without_events(self, engine: Engine) -> None:
        plan = door()
        found = ask(engine, plan.system(never("open", plan.at(door="open"))), "open")
        assert found.scenario is not None
        assert (found.scenario.events, found.scenario.situations) == ((), ((0, 0),))

    def test_counts_are_of_distinct_situations_settled_and_passing_and_of_events(self, engine: Engine) -> None:
        # Settled: open+off, shut+on. Passing: shut+off, open+on. One event leaves each of the four.
        plan = door()
        assert ask(engine, plan.system(never("no", FALSE)), "no").counts == Counts(2, 2, 4)

    def test_a_breach_comes_without_counts(self, engine: Engine) -> None:
        plan = door()
        assert ask(engine, plan.system(never("shut", plan.at(door="shut"))), "shut").counts is None

    def test_an_event_that_changes_nothing_is_an_event(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("bell", "quiet")
        plan.free("bell rings", TRUE, {})
        assert ask(engine, plan.system(never("no", FALSE)), "no").counts == Counts(1, 0, 1)

    def test_every_start_is_explored(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("a", 0, 1, 2, start=(0, 2))
        plan.item("b", 0, 1, start=(0, 1))
        system = plan.system(never("2 and 1", plan.at(a=2, b=1)), never("1", plan.at(a=1)))
        assert ask(engine, system, "2 and 1").verdict is FAILS
        assert ask(engine, system, "1").counts == Counts(4, 0, 0)

    def test_becomes_speaks_of_the_event_and_nothing_becomes_at_the_start(self, engine: Engine) -> None:
        plan = door()
        shut, opened = plan.at(door="shut"), plan.at(door="open")
        system = plan.system(
            never("becomes shut", conjunction([shut, negate(was(shut))]), every_event=True),
            never("becomes open", conjunction([opened, negate(was(opened))]), every_event=True),
        )
        first = ask(engine, system, "becomes shut").scenario
        second = ask(engine, system, "becomes open").scenario
        assert first is not None
        assert second is not None
        assert first.events == ("door shuts",)
        # It is open at the start, but does not become so there.
        assert second.events == ("door shuts", "lamp becomes on", "door opens")

    def test_was_at_the_start_reads_the_start(self, engine: Engine) -> None:
        plan = door()
        opened = plan.at(door="open")
        system = plan.system(never("was open", was(opened), every_event=True))
        found = ask(engine, system, "was open").scenario
        assert found is not None
        assert found.events == ()

    def test_an_event_that_changes_nothing_a_rule_names_is_judged_too(self, engine: Engine) -> None:
        # The lamp is on, and was: only an event that leaves the lamp alone can breach this.
        plan = door()
        lit = plan.at(lamp="on")
        rule = never("lit twice", conjunction([lit, was(lit)]), every_event=True)
        found = ask(engine, plan.system(rule), "lit twice").scenario
        assert found is not None
        assert found.events == ("door shuts", "lamp becomes on", "door opens")

    def test_names_are_read_after_an_event_that_changes_them(self, engine: Engine) -> None:
        # One event lifts the shoe and opens the feeder: the shoe becomes up while the feeder *is* open already.
        plan = Plan()
        plan.item("shoe", "down", "up")
        plan.item("feeder", "closed", "open")
        plan.free("shoe rises", {"shoe": "down"}, {"shoe": "up", "feeder": "open"})
        up, closed = plan.at(shoe="up"), plan.at(feeder="closed")
        rises = conjunction([up, negate(was(up))])
        system = plan.system(
            never("now", conjunction([rises, closed]), every_event=True),
            never("before", conjunction([rises, was(closed)]), every_event=True),
        )
        assert ask(engine, system, "now").verdict is HOLDS
        assert ask(engine, system, "before").verdict is FAILS

    # --- tiers ---

    def test_consequences_go_before_logic_and_logic_before_all_else(self, engine: Engine) -> None:
        # Once pressed: the wire follows (tier 0), then the logic (tier 1) acts on the wire, then others may move.
        plan = Plan()
        plan.item("button", "out", "in")
        plan.item("wire", "dead", "live")
        plan.item("step", "idle", "early", "late")
        plan.free("button is pressed", {"button": "out"}, {"button": "in"})
        plan.free("button is freed", {"button": "in"}, {"button": "out"})
        plan.instant("wire becomes live", {"button": "in", "wire": "dead"}, {"wire": "live"})
        plan.logic("step early", {"button": "in", "wire": "dead", "step": "idle"}, {"step": "early"})
        plan.logic("step late", {"wire": "live", "step": "idle"}, {"step": "late"})
        system = plan.system(
            never("early", plan.at(step="early"), passing=True),
            never("freed in between", plan.at(button="out", step="idle", wire="live"), passing=True),
            possible("late", plan.at(step="late")),
        )
        assert ask(engine, system, "early").verdict is HOLDS
        assert ask(engine, system, "freed in between").verdict is HOLDS
        found = ask(engine, system, "late").scenario
        assert found is not None
        assert found.events == ("button is pressed", "wire becomes live", "step late")

    def test_events_of_one_tier_happen_in_every_order(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("start", "no", "yes")
        plan.item("a", 0, 1)
        plan.item("b", 0, 1)
        plan.free("start", {"start": "no"}, {"start": "yes"})
        plan.instant("a follows", {"start": "yes", "a": 0}, {"a": 1})
        plan.instant("b follows", {"start": "yes", "b": 0}, {"b": 1})
        # Two orders: start 00, then 10 or 01, then 11; three passing, two settled, 1 + 2 + 1 + 1 events.
        assert ask(engine, plan.system(never("no", FALSE)), "no").counts == Counts(2, 3, 5)

    def test_a_failure_that_rides_on_an_event_does_not_unsettle(self, engine: Engine) -> None:
        # The instant opening may be replaced by a weld; where only the weld's guard is true, all is settled.
        plan = Plan()
        plan.item("contactor", "closed", "open")
        plan.item("command", "close", "open")
        plan.free("command changes", {"command": "close"}, {"command": "open"})
        plan.variables.append(Variable("welded", (False, True), VariableKind.FAILURE))
        plan.first["welded"] = (False,)
        plan.modes.append(Mode("welded", False, (), plan.at(welded=False), None))
        plan.event(
            "contactor opens",
            {"command": "open", "contactor": "closed", "welded": False},
            {"contactor": "open"},
            kind=ActionKind.CONSEQUENCE,
            tier=Tier.CONSEQUENCE,
        )
        plan.event(
            "contactor opens and welded",
            {"contactor": "closed", "welded": False},
            {"welded": True},
            kind=ActionKind.FAILURE,
            tier=Tier.CONSEQUENCE,
            modes=("welded",),
            cost=1,
        )
        system = plan.system(
            never("welded", plan.at(welded=True)),
            never("welded too early", plan.at(welded=True, command="close"), passing=True),
        )
        assert ask(engine, system, "welded").counts == Counts(2, 1, 2)
        found = ask(engine, system, "welded", budget=1).scenario
        assert found is not None
        assert found.events == ("command changes", "contactor opens and welded")
        assert ask(engine, system, "welded too early", budget=1).verdict is HOLDS

    # --- failures and budgets ---

    def test_the_budget_counts_failures_that_have_happened_repaired_or_not(self, engine: Engine) -> None:
        # One at a time, since each is repaired before the other; still two in all.
        plan = Plan()
        plan.item("seen", "none", "a", "both")
        plan.failure("a", repaired=True, at_start=False)
        plan.failure("b", repaired=True, at_start=False)
        plan.instant("seen a", {"a": True, "seen": "none"}, {"seen": "a"})
        plan.instant("seen b", {"b": True, "a": False, "seen": "a"}, {"seen": "both"})
        system = plan.system(never("both", plan.at(seen="both")))
        assert ask(engine, system, "both", budget=1).verdict is HOLDS
        found = ask(engine, system, "both", budget=2).scenario
        assert found is not None
        assert found.events == ("a happens", "seen a", "a is repaired", "b happens", "seen b")

    def test_fewer_failures_go_before_fewer_events(self, engine: Engine) -> None:
        plan = chain(5)
        plan.failure("jump", {"n": 4})
        system = plan.system(never("at 4", plan.at(n=4)))
        found = ask(engine, system, "at 4", budget=2).scenario
        assert found is not None
        assert found.at_start == ()
        assert found.events == ("n to 1", "n to 2", "n to 3", "n to 4")

    def test_a_failure_may_be_there_at_the_start(self, engine: Engine) -> None:
        plan = chain(3)
        plan.failure("jump", {"n": 2}, when={"n": 0})
        plan.actions = [action for action in plan.actions if action.id == "jump happens"]
        system = plan.system(never("at 2", plan.at(n=2)))
        found = ask(engine, system, "at 2", budget=1).scenario
        assert found is not None
        assert (found.at_start, found.events) == (("jump",), ())
        assert found.situations == ((2, 1),)

    def test_only_allowed_failures_happen_and_common_causes_only_if_named(self, engine: Engine) -> None:
        plan = Plan()
        plan.failure("a", at_start=False)
        plan.failure("b", at_start=False)
        plan.common_cause("both", "a", "b")
        system = plan.system(never("both", plan.at(a=True, b=True)), never("a", plan.at(a=True)))
        assert ask(engine, system, "both", budget=1).verdict is HOLDS
        assert ask(engine, system, "a", budget=1, allowed=("b",)).verdict is HOLDS
        assert ask(engine, system, "a", budget=1, allowed=("a",)).verdict is FAILS
        # The common cause is one failure, at the start already.
        found = ask(engine, system, "both", budget=1, allowed=("a", "b", "both")).scenario
        assert found is not None
        assert (found.at_start, found.events) == (("both",), ())

    def test_spent_budget_is_no_part_of_a_situation_but_of_an_event(self, engine: Engine) -> None:
        # Situations: 0 and 1 (failure there). With one failure spent and repaired, 0 again: not a new situation.
        # Events: (0, none spent) happens; (1, one spent) repaired. In (0, one spent) nothing more can happen.
        plan = Plan()
        plan.failure("f", repaired=True, at_start=False)
        system = plan.system(never("no", FALSE))
        assert ask(engine, system, "no", budget=0).counts == Counts(1, 0, 0)
        assert ask(engine, system, "no", budget=1).counts == Counts(2, 0, 2)
        # Budget 2: (0,0) happens, (1,1) repaired, (0,1) happens, (1,2) repaired.
        assert ask(engine, system, "no", budget=2).counts == Counts(2, 0, 4)

    # --- before ---

    def test_before_is_judged_by_the_flag_as_it_was_before_the_event(self, engine: Engine) -> None:
        # X and Y rise in one event: Y came not first.
        plan = Plan()
        plan.item("x", 0, 1)
        plan.item("y", 0, 1)
        plan.free("both rise", {"x": 0, "y": 0}, {"x": 1, "y": 1})
        system = plan.system(before("y first", plan.at(x=1), plan.at(y=1)))
        assert ask(engine, system, "y first").verdict is FAILS

    def test_before_lets_a_since_in_the_same_event_pass(self, engine: Engine) -> None:
        # Y, then an event that raises X and Z together: the flag before the event stands. A second round needs Y anew.
        plan = Plan()
        plan.item("y", 0, 1)
        plan.item("x", 0, 1)
        plan.free("y rises", {"y": 0}, {"y": 1})
        plan.free("y falls", {"y": 1}, {"y": 0})
        plan.free("x rises", {"x": 0, "y": 1}, {"x": 1, "y": 0})
        plan.free("x falls", {"x": 1}, {"x": 0})
        plan.free("x rises again", {"x": 0, "y": 0}, {"x": 1})
        x, y = plan.at(x=1), plan.at(y=1)
        system = plan.system(before("once", x, y, x), before("ever", x, y))
        found = ask(engine, system, "ever").scenario
        assert found is not None
        assert found.events == ("x rises again",)
        plan.actions = [a for a in plan.actions if a.id != "x rises again"]
        again = plan.system(before("once", x, y, x))
        assert ask(engine, again, "once").verdict is HOLDS

    def test_before_permits_stale_proof(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("y", 0, 1)
        plan.item("x", 0, 1)
        plan.item("z", 0, 1)
        plan.free("y rises", {"y": 0}, {"y": 1})
        plan.free("y falls", {"y": 1}, {"y": 0})
        plan.free("z rises", {"z": 0}, {"z": 1})
        plan.free("x rises", conjunction([plan.at(x=0, y=0)]), {"x": 1})
        x, y, z = plan.at(x=1), plan.at(y=1), plan.at(z=1)
        # X can only rise while Y is false: never at once with Y. Without Y at all it breaks the rule at once.
        system = plan.system(before("y first", x, y), before("since z", x, y, z))
        short = ask(engine, system, "y first").scenario
        assert short is not None
        assert short.events == ("x rises",)
        # From a start at which Y holds the flag is set, and stale proof will do; not once Z has risen.
        started = plan.system(before("y first", x, y), before("since z", x, y, z), start=((1, 0, 0),))
        assert ask(engine, started, "y first").verdict is HOLDS
        found = ask(engine, started, "since z").scenario
        assert found is not None
        assert sorted(found.events) == ["x rises", "y falls", "z rises"]
        assert found.events == ("y falls", "z rises", "x rises")

    def test_what_comes_first_may_speak_of_an_event_that_changes_nothing_it_names(self, engine: Engine) -> None:
        # "The proof has stood for an event": only an event that leaves the proof alone can bring that about.
        plan = Plan()
        plan.item("proof", "no", "yes")
        plan.item("people", 0, 1, 2)
        plan.item("feeder", "open", "closed")
        plan.free("proof given", {"proof": "no"}, {"proof": "yes"})
        plan.free("people come", {"people": 0, "proof": "yes"}, {"people": 1})
        plan.free("feeder closes", {"feeder": "open", "people": 1}, {"feeder": "closed"})
        proof = plan.at(proof="yes")
        stood = conjunction([proof, was(proof)])
        system = plan.system(before("stood first", plan.at(feeder="closed"), stood))
        assert ask(engine, system, "stood first").verdict is HOLDS

    def test_flags_of_a_before_rule_are_not_counted(self, engine: Engine) -> None:
        plan = door()
        shut, lit = plan.at(door="shut"), plan.at(lamp="on")
        system = plan.system(before("shut first", lit, shut, negate(shut)), never("no", FALSE))
        counted = ask(engine, system, "shut first")
        assert counted.verdict is HOLDS
        assert counted.counts == ask(engine, system, "no").counts == Counts(2, 2, 4)

    # --- cuts ---

    def test_a_run_ends_at_its_first_breach_of_a_cutting_rule(self, engine: Engine) -> None:
        plan = chain(5)
        system = plan.system(never("at 2", plan.at(n=2)), never("at 4", plan.at(n=4)), never("no", FALSE))
        assert ask(engine, system, "at 4").verdict is FAILS
        assert ask(engine, system, "at 4", cut=("at 2",)).verdict is HOLDS
        # 0 and 1 are reached; the event to 2 is explored, and cut.
        assert ask(engine, system, "no", cut=("at 2",)).counts == Counts(2, 0, 2)

    def test_a_breach_that_cuts_is_not_one_of_the_rule_asked(self, engine: Engine) -> None:
        plan = chain(3)
        system = plan.system(never("at 2", plan.at(n=2)), never("at 1 or 2", plan.at(n=(1, 2))))
        assert ask(engine, system, "at 2", cut=("at 1 or 2",)).verdict is HOLDS
        assert ask(engine, system, "at 1 or 2", cut=("at 2",)).verdict is FAILS

    def test_a_start_may_be_cut_already(self, engine: Engine) -> None:
        plan = chain(3)
        system = plan.system(never("at 0", plan.at(n=0)), never("at 2", plan.at(n=2)))
        cut = ask(engine, system, "at 2", cut=("at 0",))
        assert cut.verdict is HOLDS
        assert cut.counts == Counts(0, 0, 0)

    def test_rules_on_events_cut_at_the_event(self, engine: Engine) -> None:
        plan = door()
        lit = plan.at(lamp="on")
        rises = never("rises", conjunction([lit, negate(was(lit))]), every_event=True)
        first = before("never first", lit, FALSE)
        system = plan.system(rises, first, never("lit", lit, passing=True), never("no", FALSE))
        for cutting in ("rises", "never first"):
            assert ask(engine, system, "lit", cut=(cutting,)).verdict is HOLDS
            # Open+off and shut+off; both events are explored, the second is cut.
            assert ask(engine, system, "no", cut=(cutting,)).counts == Counts(1, 1, 2)

    def test_a_settled_cut_lets_passing_situations_through(self, engine: Engine) -> None:
        plan = door()
        system = plan.system(never("dark", plan.at(lamp="off", door="shut")), never("lit", plan.at(lamp="on")))
        assert ask(engine, system, "lit", cut=("dark",)).verdict is FAILS


def test_the_size_decides_where_no_engine_is_named() -> None:
    assert pick(None).name == "by size"
    assert {pick(name).name for name in ENGINES} == set(ENGINES)
