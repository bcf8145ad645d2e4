"""Fine points of the declared timing, worked out by hand, one by one, for every engine that decides them.

Times are in ticks from the start. `NAME comes` happens at one time exactly (`TimedPlan.at_time`).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.core.question import Ends, Question, Timing
from interlock.core.system import Assignment, Property, System, TickWindow
from interlock.engines.api import Limits
from interlock.logic.expression import conjunction, negate
from tests.engines.in_time import ENGINES, TimedPlan, able, after, ask, decides, deciding, lasts, verdicts
from tests.engines.plan import always_possible, before, never, possible

HOLDS, FAILS = {"holds"}, {"fails"}
OVER_2 = TickWindow(2, None, earliest_open=True)
UNDER_2 = TickWindow(0, 2, latest_open=True)


class TestAges:
    """What an age counts, and what it is kept over."""

    def glitch(self, instant: bool) -> System:
        """X takes 3 once the gate is open; at 2 the gate shuts, and opens again at once."""
        plan = TimedPlan()
        plan.item("gate", "open", "shut")
        plan.item("x", "no", "yes")
        plan.item("blip", "no", "yes")
        plan.within("x comes", {"gate": "open", "x": "no"}, {"x": "yes"}, 3, 3)
        plan.within("blip comes", {"blip": "no"}, {"blip": "yes", "gate": "shut"}, 2, 2)
        if instant:
            plan.instant("gate opens", {"gate": "shut"}, {"gate": "open"})
        else:
            plan.within("gate opens", {"gate": "shut"}, {"gate": "open"}, 0, 0)
        plan.at_time("four", 4)
        return plan.system(never("late", plan.at(four="yes", x="no")))

    def test_an_age_is_kept_over_a_glitch_that_takes_no_time_and_never_settles(self) -> None:
        assert verdicts(self.glitch(instant=True), "late") == HOLDS

    def test_an_age_starts_afresh_when_disabled_in_a_settled_situation_though_no_time_passes_there(self) -> None:
        system = self.glitch(instant=False)
        assert verdicts(system, "late") == FAILS
        for engine in able(system, "late"):
            scenario = ask(engine, system, "late").scenario
            assert scenario is not None
            assert scenario.events == ("blip comes", "gate opens", "four comes")

    @pytest.mark.parametrize(("end", "verdict"), [(3, FAILS), (4, HOLDS), (5, HOLDS)])
    def test_an_age_starts_afresh_when_it_has_happened(self, end: int, verdict: set[str]) -> None:
        plan = TimedPlan()
        plan.item("n", 0, 1, 2)
        for i in (0, 1):
            plan.within(f"n to {i + 1}", {"n": i}, {"n": i + 1}, 2, 2)
        plan.at_time("end", end)
        assert verdicts(plan.system(possible("twice", plan.at(n=2, end="no"))), "twice") == verdict

    @pytest.mark.parametrize(("end", "verdict"), [(3, FAILS), (4, HOLDS)])
    def test_an_event_that_stays_enabled_starts_afresh_when_it_has_happened(self, end: int, verdict: set[str]) -> None:
        # The guard of `bell rings` never changes; it rings at 2 and at 4.
        plan = TimedPlan()
        plan.item("bell", 0, 1, 2)
        plan.windowed("bell rings", {"bell": (0, 1, 2)}, {}, TickWindow(2, 2))
        rung = Assignment("bell", ((plan.at(bell=0), 1), (plan.at(bell=1), 2)))
        plan.actions[-1] = replace(plan.actions[-1], update=(rung,))
        plan.at_time("end", end)
        assert verdicts(plan.system(possible("twice", plan.at(bell=2, end="no"))), "twice") == verdict

    @pytest.mark.parametrize(("restarts", "verdict"), [((), HOLDS), (("dog barks",), FAILS)])
    def test_an_age_starts_afresh_when_it_is_restarted(self, restarts: tuple[str, ...], verdict: set[str]) -> None:
        # It barks at 3; kicked at 2, at 5.
        plan = TimedPlan()
        plan.item("dog", "quiet", "barks")
        plan.item("kicked", "no", "yes")
        plan.within("dog barks", {"dog": "quiet"}, {"dog": "barks"}, 3, 3)
        plan.windowed("kick comes", {"kicked": "no"}, {"kicked": "yes"}, TickWindow(2, 2), restarts)
        plan.at_time("four", 4)
        assert verdicts(plan.system(possible("bark", plan.at(dog="barks", four="no"))), "bark") == verdict

    def test_a_restart_in_a_passing_situation_counts(self) -> None:
        plan = TimedPlan()
        plan.item("dog", "quiet", "barks")
        plan.item("kick", "no", "due", "done")
        plan.within("dog barks", {"dog": "quiet"}, {"dog": "barks"}, 3, 3)
        plan.within("kick is due", {"kick": "no"}, {"kick": "due"}, 2, 2)
        plan.instant("kick comes", {"kick": "due"}, {"kick": "done"}, restarts=("dog barks",))
        plan.at_time("four", 4)
        assert verdicts(plan.system(possible("bark", plan.at(dog="barks", four="no"))), "bark") == FAILS

    def test_what_is_enabled_first_in_the_first_settled_situation_begins_at_0(self) -> None:
        plan = TimedPlan()
        plan.item("lamp", "off", "on")
        plan.item("x", "no", "yes")
        plan.instant("lamp goes on", {"lamp": "off"}, {"lamp": "on"})
        plan.within("x comes", {"lamp": "on", "x": "no"}, {"x": "yes"}, 2, 2)
        plan.at_time("end", 2)
        system = plan.system(possible("first", plan.at(x="yes", end="no")), never("last", plan.at(x="no", end="yes")))
        assert verdicts(system, "first") == HOLDS
        # Both come at 2, in any order.
        assert verdicts(system, "last") == FAILS

    def test_a_failure_in_an_event_has_the_age_of_that_event(self) -> None:
        # The switch closes at 2, or welds then and stays open; it then closes at 4.
        plan = TimedPlan()
        plan.item("switch", "open", "closed")
        plan.within("switch closes", {"switch": "open"}, {"switch": "closed"}, 2, 2)
        plan.failure("weld", at_start=False)
        plan.actions = [action for action in plan.actions if action.id != "weld happens"]
        plan.rides("switch closes and weld", "switch closes", "weld", {})
        for ticks in (1, 3, 4, 5):
            plan.at_time(f"t{ticks}", ticks)
        rules = [
            never("soon", conjunction([plan.has("weld", True), plan.at(t1="no")])),
            possible("later", plan.at(switch="open", t3="yes")),
            possible("at 4", plan.at(switch="closed", weld=True, t5="no")),
            never("too late", plan.at(switch="open", t5="yes")),
            possible("sooner", plan.at(switch="closed", weld=True, t3="no")),
        ]
        system = plan.system(*rules)
        assert verdicts(system, "soon", 1) == HOLDS
        assert verdicts(system, "later", 0) == FAILS
        assert verdicts(system, "later", 1) == HOLDS
        assert verdicts(system, "at 4", 1) == HOLDS
        assert verdicts(system, "too late", 1) == HOLDS
        assert verdicts(system, "sooner", 1) == FAILS

    @pytest.mark.parametrize(("end", "verdict"), [(5, FAILS), (6, FAILS), (7, HOLDS)])
    def test_a_slow_twin_ages_from_the_failure_on(self, end: int, verdict: set[str]) -> None:
        # The move takes 1; slow, up to 5 from when it becomes slow, which is at 1 at the latest: 6 in all.
        plan = TimedPlan()
        plan.item("shoe", "up", "down")
        plan.failure("slow", at_start=False)
        plan.within("shoe falls", {"shoe": "up", "slow": False}, {"shoe": "down"}, 1, 1)
        plan.within("shoe falls, slowly", {"shoe": "up", "slow": True}, {"shoe": "down"}, 0, 5)
        plan.at_time("end", end)
        system = plan.system(never("late", plan.at(shoe="up", end="yes")))
        assert verdicts(system, "late", 1) == verdict
        assert verdicts(system, "late", 0) == HOLDS


class TestTime:
    """Where it passes, and how far."""

    def test_consequences_come_before_time_passes(self) -> None:
        for instant, verdict in ((True, HOLDS), (False, FAILS)):
            plan = TimedPlan()
            plan.item("door", "open", "shut")
            plan.item("lamp", "off", "on")
            plan.free("door shuts", {"door": "open"}, {"door": "shut"})
            if instant:
                plan.instant("lamp goes on", {"door": "shut", "lamp": "off"}, {"lamp": "on"})
            else:
                plan.within("lamp goes on", {"door": "shut", "lamp": "off"}, {"lamp": "on"}, 0, 1)
            rule = after("lit", plan.at(door="shut"), plan.at(lamp="on"), TickWindow(0, 0))
            assert verdicts(plan.system(rule), "lit") == verdict

    def test_time_does_not_pass_beyond_the_latest_of_what_is_obliged(self) -> None:
        plan = TimedPlan()
        plan.item("x", "no", "yes")
        plan.item("y", "no", "yes")
        plan.within("x comes", {"x": "no"}, {"x": "yes"}, 1, 3)
        plan.within("y comes", {"y": "no"}, {"y": "yes"}, 3, None)
        plan.at_time("four", 4)
        system = plan.system(
            possible("y first", plan.at(x="no", y="yes")),
            never("late", plan.at(x="no", four="yes")),
            never("y by 4", plan.at(y="no", four="yes")),
        )
        assert verdicts(system, "y first") == HOLDS
        assert verdicts(system, "late") == HOLDS
        assert verdicts(system, "y by 4") == FAILS

    def test_events_that_follow_each_other_at_once_for_ever_stop_time(self) -> None:
        plan = TimedPlan()
        plan.item("wheel", 0, 1)
        plan.within("wheel to 1", {"wheel": 0}, {"wheel": 1}, 0, 0)
        plan.within("wheel to 0", {"wheel": 1}, {"wheel": 0}, 0, 0)
        plan.at_time("one", 1)
        never_met = plan.at(one="yes")
        system = plan.system(
            possible("one", plan.at(one="yes")),
            after("soon", plan.at(one="no"), never_met, TickWindow(0, 0)),
            always_possible("still", plan.at(one="yes")),
        )
        assert verdicts(system, "one") == FAILS
        assert verdicts(system, "soon") == HOLDS
        assert verdicts(system, "still") == FAILS

    def test_events_that_can_come_ever_sooner_do_not_keep_a_deadline(self) -> None:
        plan = TimedPlan()
        plan.item("wheel", 0, 1)
        plan.within("wheel to 1", {"wheel": 0}, {"wheel": 1}, 0, 1)
        plan.within("wheel to 0", {"wheel": 1}, {"wheel": 0}, 0, 1)
        plan.at_time("four", 4)
        system = plan.system(
            after("by 4", plan.at(four="no"), plan.at(four="yes"), TickWindow(0, 4)),
            after("by 3", plan.at(four="no"), plan.at(four="yes"), TickWindow(0, 3)),
        )
        assert verdicts(system, "by 4") == HOLDS
        assert verdicts(system, "by 3") == FAILS

    def race(self, x: TickWindow, y: TickWindow) -> System:
        """Two events, once each; whether X can be first."""
        plan = TimedPlan()
        plan.item("x", "no", "yes")
        plan.item("y", "no", "yes")
        plan.windowed("x comes", {"x": "no"}, {"x": "yes"}, x)
        plan.windowed("y comes", {"y": "no"}, {"y": "yes"}, y)
        return plan.system(possible("x first", plan.at(x="yes", y="no")))

    @pytest.mark.parametrize(
        ("x", "y", "verdict"),
        [
            (TickWindow(2, 3), TickWindow(0, 2), HOLDS),
            (TickWindow(2, 3, earliest_open=True), TickWindow(0, 2), FAILS),
            (TickWindow(2, 3), TickWindow(0, 2, latest_open=True), FAILS),
            (TickWindow(2, 3, earliest_open=True), TickWindow(0, 3, latest_open=True), HOLDS),
            (TickWindow(2, 3, True, True), TickWindow(0, 3, latest_open=True), HOLDS),
            (TickWindow(2, 3), TickWindow(1, 1), FAILS),
            (TickWindow(2_000, 2_001), TickWindow(0, 2_000), HOLDS),
            (TickWindow(2_001, 2_001), TickWindow(0, 2_000), FAILS),
        ],
    )
    def test_an_end_is_reached_only_if_it_is_closed(self, x: TickWindow, y: TickWindow, verdict: set[str]) -> None:
        assert verdicts(self.race(x, y), "x first") == verdict

    def test_two_times_between_two_ticks_can_be_told_apart(self) -> None:
        # A and B both within the second tick, open ends: B at the end of a stretch of under 1 that began with A.
        plan = TimedPlan()
        plan.item("a", "no", "yes")
        plan.item("b", "no", "yes")
        between = TickWindow(1, 2, True, True)
        plan.windowed("a comes", {"a": "no"}, {"a": "yes"}, between)
        plan.windowed("b comes", {"a": "yes", "b": "no"}, {"b": "yes"}, TickWindow(0, 1, True, True))
        plan.at_time("two", 2)
        system = plan.system(
            possible("before 2", plan.at(b="yes", two="no")), always_possible("always", plan.at(b="yes", two="no"))
        )
        assert verdicts(system, "before 2") == HOLDS
        # Once two has come with B still out, no way leads back.
        assert verdicts(system, "always") == FAILS


class TestDeadlines:
    """`after` and `lasts`."""

    def answered(self, window: TickWindow, within: TickWindow, unless: bool = False) -> System:
        """A from the start, B in a window; C at 2."""
        plan = TimedPlan()
        plan.item("b", "no", "yes")
        plan.windowed("b comes", {"b": "no"}, {"b": "yes"}, window)
        plan.at_time("c", 2)
        closes = plan.at(c="yes") if unless else None
        return plan.system(after("rule", plan.at(b="no"), plan.at(b="yes"), within, closes))

    @pytest.mark.parametrize(
        ("window", "within", "verdict"),
        [
            (TickWindow(3, 3), TickWindow(0, 3), HOLDS),
            (TickWindow(3, 4), TickWindow(0, 3), FAILS),
            (TickWindow(3, 3), TickWindow(0, 3, latest_open=True), FAILS),
            (TickWindow(2, 3, latest_open=True), TickWindow(0, 3, latest_open=True), HOLDS),
            (TickWindow(3, None), TickWindow(0, 3), FAILS),
            (TickWindow(0, 0), TickWindow(0, 0), HOLDS),
        ],
    )
    def test_a_deadline_is_met_at_its_end_if_that_is_closed(
        self, window: TickWindow, within: TickWindow, verdict: set[str]
    ) -> None:
        assert verdicts(self.answered(window, within), "rule") == verdict

    def test_a_missed_deadline_is_a_scenario_that_ends_with_its_last_event(self) -> None:
        system = self.answered(TickWindow(5, 5), TickWindow(0, 3))
        for engine in able(system, "rule"):
            scenario = ask(engine, system, "rule").scenario
            assert scenario is not None
            assert scenario.ends is Ends.BREACH
            # Time passes 3 only once C has come, at 2.
            assert scenario.events == ("c comes",)

    @pytest.mark.parametrize(("within", "verdict"), [(1, FAILS), (2, HOLDS), (3, HOLDS)])
    def test_unless_closes_an_obligation_as_the_goal_does(self, within: int, verdict: set[str]) -> None:
        assert verdicts(self.answered(TickWindow(5, 5), TickWindow(0, within), unless=True), "rule") == verdict

    @pytest.mark.parametrize(("b", "verdict"), [(3, HOLDS), (4, FAILS)])
    def test_an_obligation_is_kept_though_the_condition_falls(self, b: int, verdict: set[str]) -> None:
        plan = TimedPlan()
        plan.item("a", "yes", "no")
        plan.within("a falls", {"a": "yes"}, {"a": "no"}, 1, 1)
        plan.at_time("b", b)
        assert (
            verdicts(plan.system(after("rule", plan.at(a="yes"), plan.at(b="yes"), TickWindow(0, 3))), "rule")
            == verdict
        )

    @pytest.mark.parametrize(("b", "verdict"), [(4, HOLDS), (5, FAILS)])
    def test_the_oldest_obligation_counts(self, b: int, verdict: set[str]) -> None:
        # A at 1, not at 2, again at 3; B within 3 of 1.
        plan = TimedPlan()
        plan.item("a", "before", "yes", "no", "again")
        for i, (was_, now) in enumerate([("before", "yes"), ("yes", "no"), ("no", "again")]):
            plan.within(f"a {i}", {"a": was_}, {"a": now}, 1, 1)
        plan.at_time("b", b)
        rule = after("rule", plan.at(a=("yes", "again")), plan.at(b="yes"), TickWindow(0, 3))
        assert verdicts(plan.system(rule), "rule") == verdict

    def test_an_obligation_opens_when_the_condition_rises_not_while_it_stays(self) -> None:
        # Opened at 0, closed at 1 by B, which falls at 2; A goes on and opens nothing more.
        plan = TimedPlan()
        plan.item("b", "no", "yes", "no more")
        plan.within("b comes", {"b": "no"}, {"b": "yes"}, 1, 1)
        plan.within("b goes", {"b": "yes"}, {"b": "no more"}, 1, 1)
        plan.item("a", "yes", "no", "again")
        rule = after("rule", plan.at(a=("yes", "again")), plan.at(b="yes"), TickWindow(0, 1))
        assert verdicts(plan.system(rule), "rule") == HOLDS
        plan.within("a falls", {"a": "yes"}, {"a": "no"}, 3, 3)
        assert verdicts(plan.system(rule), "rule") == HOLDS
        plan.within("a rises", {"a": "no"}, {"a": "again"}, 1, 1)
        assert verdicts(plan.system(rule), "rule") == FAILS

    @pytest.mark.parametrize("instantly", [False, True])
    def test_a_goal_in_the_same_settled_situation_closes_it_and_one_in_a_passing_situation_does_not(
        self, instantly: bool
    ) -> None:
        # A rises with B at 1; B falls at once, in a settled situation or in a passing one.
        plan = TimedPlan()
        plan.item("a", "no", "yes")
        plan.item("b", "no", "yes", "no more")
        plan.within("a rises", {"a": "no"}, {"a": "yes", "b": "yes"}, 1, 1)
        if instantly:
            plan.instant("b falls", {"b": "yes"}, {"b": "no more"})
        else:
            plan.within("b falls", {"b": "yes"}, {"b": "no more"}, 0, 0)
        rule = after("rule", plan.at(a="yes"), plan.at(b="yes"), TickWindow(0, 2))
        assert verdicts(plan.system(rule), "rule") == (FAILS if instantly else HOLDS)

    def test_a_condition_that_holds_in_passing_situations_only_opens_nothing(self) -> None:
        for instant, verdict in ((True, HOLDS), (False, FAILS)):
            plan = TimedPlan()
            plan.item("a", "no", "yes", "no more")
            plan.within("a rises", {"a": "no"}, {"a": "yes"}, 1, 1)
            if instant:
                plan.instant("a falls", {"a": "yes"}, {"a": "no more"})
            else:
                plan.within("a falls", {"a": "yes"}, {"a": "no more"}, 0, 0)
            plan.item("b", "no", "yes")
            rule = after("rule", plan.at(a="yes"), plan.at(b="yes"), TickWindow(0, 2))
            assert verdicts(plan.system(rule), "rule") == verdict

    def stretch(self, earliest: int, latest: int | None, within: TickWindow) -> System:
        """A lasts from 1 for a time in a window; an interruption at 2 takes no time and does not settle."""
        plan = TimedPlan()
        plan.item("a", "no", "yes", "no more")
        plan.item("blip", "no", "now", "over")
        plan.within("a rises", {"a": "no"}, {"a": "yes"}, 1, 1)
        plan.within("a falls", {"a": "yes"}, {"a": "no more"}, earliest, latest)
        plan.within("blip comes", {"blip": "no"}, {"blip": "now"}, 2, 2)
        plan.instant("blip goes", {"blip": "now"}, {"blip": "over"})
        return plan.system(lasts("rule", plan.at(a="yes", blip=("no", "over")), within))

    @pytest.mark.parametrize(
        ("earliest", "latest", "within", "verdict"),
        [
            (2, 3, TickWindow(2, 3), HOLDS),
            (2, 3, TickWindow(3, 3), FAILS),
            (2, 3, TickWindow(2, 2), FAILS),
            (2, 3, TickWindow(0, 3, latest_open=True), FAILS),
            (2, 3, TickWindow(2, 3, earliest_open=True), FAILS),
            (2, 3, TickWindow(1, 4, True, True), HOLDS),
            (2, None, TickWindow(2, None), HOLDS),
            (2, None, TickWindow(2, 9), FAILS),
        ],
    )
    def test_how_long_a_condition_lasts_is_told_to_both_ends(
        self, earliest: int, latest: int | None, within: TickWindow, verdict: set[str]
    ) -> None:
        assert verdicts(self.stretch(earliest, latest, within), "rule") == verdict

    def test_a_stretch_that_ends_too_soon_is_broken_by_the_event_that_ends_it(self) -> None:
        system = self.stretch(2, 3, TickWindow(3, 3))
        for engine in able(system, "rule"):
            scenario = ask(engine, system, "rule").scenario
            assert scenario is not None
            assert scenario.events[-1] == "a falls"

    @pytest.mark.parametrize(("starts", "verdict"), [(("off",), HOLDS), (("off", "on"), FAILS)])
    def test_every_start_counts_and_what_holds_there_has_risen_there(
        self, starts: tuple[str, ...], verdict: set[str]
    ) -> None:
        plan = TimedPlan()
        plan.item("a", "off", "on", start=starts)
        plan.item("b", "no", "yes")
        rule = after("rule", plan.at(a="on"), plan.at(b="yes"), TickWindow(0, 1))
        assert verdicts(plan.system(rule), "rule") == verdict

    def test_a_failure_at_the_start_begins_an_obligation_there(self) -> None:
        plan = TimedPlan()
        plan.failure("leak")
        plan.item("tap", "open", "shut")
        plan.within("tap shuts", {"tap": "open", "leak": True}, {"tap": "shut"}, 1, 2)
        rules = [after(f"by {t}", plan.has("leak", True), plan.at(tap="shut"), TickWindow(0, t)) for t in (1, 2)]
        system = plan.system(*rules)
        assert verdicts(system, "by 1", 0) == HOLDS
        assert verdicts(system, "by 1", 1) == FAILS
        assert verdicts(system, "by 2", 1) == HOLDS
        for engine in able(system, "by 1", 1):
            scenario = ask(engine, system, "by 1", 1).scenario
            assert scenario is not None
            assert (scenario.at_start, scenario.events) == (("leak",), ())


class TestQuestions:
    """Budgets, allowed failures, cuts, limits, counts."""

    def two(self, *rules: Property) -> System:
        plan = TimedPlan()
        plan.at_time("a", 1)
        plan.at_time("b", 2)
        plan.failure("fault", {"b": "yes"})
        return plan.system(*rules)

    def rules(self) -> tuple[Property, ...]:
        plan = TimedPlan()
        plan.at_time("a", 1)
        plan.at_time("b", 2)
        plan.failure("fault")
        b_first = plan.at(a="no", b="yes")
        return (
            never("b first", b_first),
            never("any a", plan.at(a="yes")),
            possible("b", plan.at(b="yes")),
            before("a before b", plan.at(b="yes"), plan.at(a="yes")),
            never("becomes", conjunction([plan.at(a="yes"), negate(plan.at(b="no"))]), every_event=True),
        )

    def test_order_in_time_decides_and_a_failure_is_at_any_time(self) -> None:
        system = self.two(*self.rules())
        for rule in ("b first", "a before b"):
            assert verdicts(system, rule, 0) == HOLDS
            assert verdicts(system, rule, 1) == FAILS
        assert verdicts(system, "becomes", 0) == FAILS

    def test_failures_that_are_not_allowed_do_not_happen(self) -> None:
        system = self.two(*self.rules())
        question = Question("b first", Timing.DECLARED, 1, allowed=())
        for engine in deciding(system, question):
            (answer,) = engine.answer(system, (question,), Limits(states=100))
            assert answer.verdict.value == "holds"

    def test_a_run_ends_where_it_is_cut(self) -> None:
        system = self.two(*self.rules())
        question = Question("b", Timing.DECLARED, 0, cut=("any a",))
        for engine in deciding(system, question):
            (answer,) = engine.answer(system, (question,), Limits(states=100))
            assert answer.verdict.value == "fails", engine.name

    def test_what_can_be_reached_in_time_is_counted_whatever_the_ages(self) -> None:
        # no no, yes no, yes yes: the fourth is only reached without times.
        system = self.two(*self.rules())
        for engine in ("ticks", "regions"):
            counts = ask(engine, system, "b first").counts
            assert counts is not None
            assert (counts.settled, counts.passing, counts.events) == (3, 0, 2)

    def test_beyond_the_limit_nothing_is_decided_and_the_limit_is_told(self) -> None:
        system = self.two(*self.rules())
        for engine in ("ticks", "regions"):
            (answer,) = ENGINES[engine].answer(system, (Question("b first", Timing.DECLARED),), Limits(states=2))
            assert (answer.verdict.value, answer.limit) == (
                "undecided",
                "more than 2 situations with their ages can be reached",
            )

    def test_whole_ticks_are_not_claimed_to_decide_open_ends(self) -> None:
        plan = TimedPlan()
        plan.item("x", "no", "yes")
        plan.windowed("x comes", {"x": "no"}, {"x": "yes"}, OVER_2)
        closed = after("closed", plan.at(x="no"), plan.at(x="yes"), TickWindow(0, 2))
        assert not decides("ticks", plan.system(closed), "closed")
        assert verdicts(plan.system(closed), "closed") == FAILS
        plan.windowed("x comes", {"x": "no"}, {"x": "yes"}, TickWindow(0, 1))
        plan.actions.pop(0)
        rules = (closed, after("open", plan.at(x="no"), plan.at(x="yes"), UNDER_2))
        assert [decides("ticks", plan.system(*rules), rule) for rule in ("closed", "open")] == [True, False]
        assert verdicts(plan.system(*rules), "open") == HOLDS
