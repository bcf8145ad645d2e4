"""Fine points of `always_possible` and `always_ends` under the declared timing, worked out by hand, one by one.

Times are in ticks from the start. `NAME comes` happens at one time exactly (`TimedPlan.at_time`).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.core.question import Ends, Question, Timing
from interlock.core.system import System, TickWindow
from interlock.engines.api import EngineFault, Limits
from tests.engines.in_time import ENGINES, TimedPlan, ask, can_be_run, decides, verdicts
from tests.engines.plan import always_ends, always_possible, possible

HOLDS, FAILS = {"holds"}, {"fails"}


class TestAlwaysPossible:
    """Decided by regions and by sets of ages with a way."""

    def periods(self, together: bool) -> System:
        """Two beats of 2, each seen for no time; B where both are. The second begins when it likes, or together."""
        plan = TimedPlan()
        plan.item("p", "waits", "beats")
        plan.item("q", "off", "waits", "beats")
        plan.item("b", "no", "yes")
        plan.within("p beats", {"p": "waits"}, {"p": "beats"}, 2, 2)
        plan.within("p waits", {"p": "beats"}, {"p": "waits"}, 0, 0)
        plan.free("q starts", {"q": "off", **({"p": "beats"} if together else {})}, {"q": "waits"})
        plan.within("q beats", {"q": "waits"}, {"q": "beats"}, 2, 2)
        plan.within("q waits", {"q": "beats"}, {"q": "waits"}, 0, 0)
        plan.free("b comes", {"p": "beats", "q": "beats", "b": "no"}, {"b": "yes"})
        return plan.system(always_possible("meet", plan.at(b="yes")), possible("can meet", plan.at(b="yes")))

    def test_an_offset_that_is_chosen_once_and_for_all_shuts_the_way(self) -> None:
        assert verdicts(self.periods(together=True), "meet") == HOLDS
        assert verdicts(self.periods(together=False), "meet") == FAILS
        assert verdicts(self.periods(together=False), "can meet") == HOLDS

    @pytest.mark.parametrize(("at_once", "verdict"), [(True, HOLDS), (False, FAILS)])
    def test_one_single_moment_may_shut_the_way(self, at_once: bool, verdict: set[str]) -> None:
        # P and Q turn every 1, Q from when it starts, at rest as P is. Q lags behind P by anything from 0 to 1, and
        # only while it does can B come: at once, or after any time that is longer than none. At lag 0 that is never.
        plan = TimedPlan()
        plan.item("p", 0, 1)
        plan.item("q", "off", 0, 1)
        plan.item("b", "no", "yes")
        for item in ("p", "q"):
            plan.within(f"{item} to 1", {item: 0}, {item: 1}, 1, 1)
            plan.within(f"{item} to 0", {item: 1}, {item: 0}, 1, 1)
        plan.free("q starts", {"q": "off", "p": 0}, {"q": 0})
        soon = TickWindow(0, None, earliest_open=not at_once)
        plan.windowed("b comes", {"p": 1, "q": 0, "b": "no"}, {"b": "yes"}, soon)
        assert verdicts(plan.system(always_possible("b", plan.at(b="yes"))), "b") == verdict

    @pytest.mark.parametrize(("obliged", "verdict"), [(True, HOLDS), (False, FAILS)])
    def test_what_need_not_come_and_may_come_too_late_shuts_the_way(self, obliged: bool, verdict: set[str]) -> None:
        plan = TimedPlan()
        plan.item("b", "no", "yes")
        plan.windowed("b comes", {"b": "no"}, {"b": "yes"}, TickWindow(1, 5))
        system = plan.system(always_possible("b", plan.at(b="yes")))
        system = replace(system, actions=tuple(replace(one, obliged=obliged) for one in system.actions))
        assert verdicts(system, "b") == verdict

    def test_whole_ticks_do_not_claim_to_decide_it(self) -> None:
        system = self.periods(together=False)
        assert {engine for engine in ENGINES if decides(engine, system, "meet")} == {
            "regions",
            "ways",
            "ways with all ages",
        }
        with pytest.raises(EngineFault):
            ENGINES["ticks"].answer(system, (Question("meet", Timing.DECLARED),), Limits())

    def test_the_scenario_ends_where_no_way_leads_on_and_can_be_run(self) -> None:
        system = self.periods(together=False)
        for engine in ("regions", "ways"):
            scenario = ask(engine, system, "meet").scenario
            assert scenario is not None
            assert scenario.ends is Ends.NO_WAY
            assert scenario.events == ("q starts",)
            assert can_be_run(system, Question("meet", Timing.DECLARED), scenario)
            assert scenario.times is not None
            # At a whole number of periods it would meet the other.
            assert scenario.times.run[0] % 2 != 0

    def test_time_that_passes_is_part_of_the_way_and_may_also_shut_it(self) -> None:
        # U at 3 shuts the way; Z may start a W that takes 2, so it is too late for Z after 1.
        plan = TimedPlan()
        plan.item("z", "no", "yes")
        plan.item("w", "no", "yes")
        plan.at_time("u", 3)
        plan.free("z comes", {"z": "no", "u": "no"}, {"z": "yes"})
        plan.within("w comes", {"z": "yes", "w": "no", "u": "no"}, {"w": "yes"}, 2, None)
        system = plan.system(possible("w", plan.at(w="yes")), always_possible("still w", plan.at(w="yes")))
        assert verdicts(system, "w") == HOLDS
        assert verdicts(system, "still w") == FAILS
        for engine in ("regions", "ways"):
            scenario = ask(engine, system, "still w").scenario
            assert scenario is not None
            assert scenario.events == ()
            assert scenario.times is not None
            assert len(scenario.times.run) == 1
            assert scenario.times.run[0] > 1

    def test_a_way_needs_no_failure_and_no_repair(self) -> None:
        plan = TimedPlan()
        plan.item("x", "no", "yes")
        plan.failure("stuck", repaired=True)
        plan.within("x comes", {"x": "no", "stuck": False}, {"x": "yes"}, 1, 2)
        system = plan.system(always_possible("x", plan.at(x="yes")))
        assert verdicts(system, "x", 0) == HOLDS
        assert verdicts(system, "x", 1) == FAILS


class TestAlwaysEnds:
    """Decided by regions, and by whole ticks where all ends are closed."""

    def ends(self, window: TickWindow, *helped_by: str) -> System:
        plan = TimedPlan()
        plan.item("x", "no", "yes")
        plan.windowed("x comes", {"x": "no"}, {"x": "yes"}, window)
        return plan.system(always_ends("x", plan.at(x="yes"), helped_by=helped_by))

    @pytest.mark.parametrize(
        ("window", "helped_by", "verdict"),
        [
            (TickWindow(1, 2), (), HOLDS),
            (TickWindow(1, None), (), FAILS),
            (TickWindow(1, None), ("x comes",), HOLDS),
            (TickWindow(0, 2, latest_open=True), (), HOLDS),
        ],
    )
    def test_a_run_may_stop_where_nothing_is_obliged(
        self, window: TickWindow, helped_by: tuple[str, ...], verdict: set[str]
    ) -> None:
        system = self.ends(window, *helped_by)
        assert verdicts(system, "x") == verdict
        scenario = ask("regions", system, "x").scenario
        assert (scenario is None) == (verdict == HOLDS)
        assert scenario is None or (scenario.ends, scenario.events) == (Ends.STUCK, ())

    def wheel(self, turns: TickWindow, x: TickWindow) -> System:
        """X needs the wheel at 0 for a while; the wheel goes round."""
        plan = TimedPlan()
        plan.item("wheel", 0, 1)
        plan.item("x", "no", "yes")
        plan.windowed("wheel to 1", {"wheel": 0}, {"wheel": 1}, turns)
        plan.windowed("wheel to 0", {"wheel": 1}, {"wheel": 0}, turns)
        plan.windowed("x comes", {"wheel": 0, "x": "no"}, {"x": "yes"}, x)
        return plan.system(always_ends("x", plan.at(x="yes")))

    @pytest.mark.parametrize(
        ("turns", "x", "verdict"),
        [
            (TickWindow(0, 1), TickWindow(1, 1), FAILS),  # turned away each time before 1, or at 1
            (TickWindow(2, 3), TickWindow(1, 1), HOLDS),
            (TickWindow(1, 1), TickWindow(1, 1), FAILS),  # at 1 either may be first
            (TickWindow(1, 1), TickWindow(0, 1, latest_open=True), HOLDS),
            (TickWindow(0, 0), TickWindow(0, 1), HOLDS),  # round and round, but time does not pass
            (TickWindow(0, 1, latest_open=True), TickWindow(1, 1), FAILS),
        ],
    )
    def test_runs_go_round_for_ever_only_if_time_passes_for_ever(
        self, turns: TickWindow, x: TickWindow, verdict: set[str]
    ) -> None:
        system = self.wheel(turns, x)
        assert verdicts(system, "x") == verdict
        scenario = ask("regions", system, "x").scenario
        assert (scenario is None) == (verdict == HOLDS)
        if scenario is not None:
            assert scenario.ends is Ends.LOOP
            assert scenario.loop_from is not None
            assert scenario.situations[-1] == scenario.situations[scenario.loop_from]
            assert can_be_run(system, Question("x", Timing.DECLARED), scenario)

    def test_ever_shorter_turns_are_no_way_to_stay_for_ever(self) -> None:
        # X comes within 1 whatever the wheel does; only ever shorter turns could go round before that.
        plan = TimedPlan()
        plan.item("wheel", 0, 1)
        plan.item("x", "no", "yes")
        for i in (0, 1):
            plan.windowed(f"wheel to {1 - i}", {"wheel": i}, {"wheel": 1 - i}, TickWindow(0, 1, True, True))
        plan.within("x comes", {"x": "no"}, {"x": "yes"}, 1, 1)
        assert verdicts(plan.system(always_ends("x", plan.at(x="yes"))), "x") == HOLDS

    @pytest.mark.parametrize(("settles", "verdict"), [(True, HOLDS), (False, FAILS)])
    def test_what_never_settles_never_ends_though_no_time_passes(self, settles: bool, verdict: set[str]) -> None:
        # At 1 the wheel is let go; then it turns in no time, once or for ever. X comes at 3.
        plan = TimedPlan()
        plan.at_time("go", 1)
        plan.item("wheel", 0, 1)
        plan.instant("wheel to 1", {"go": "yes", "wheel": 0}, {"wheel": 1})
        if not settles:
            plan.instant("wheel to 0", {"go": "yes", "wheel": 1}, {"wheel": 0})
        plan.at_time("x", 3)
        system = plan.system(always_ends("x", plan.at(x="yes")))
        assert verdicts(system, "x") == verdict
        scenario = ask("ticks", system, "x").scenario
        assert scenario is None or (scenario.ends, scenario.loop_from) == (Ends.LOOP, 1)

    def test_a_scenario_has_the_times_of_one_run(self) -> None:
        # The wheel turns each time before X, which takes 1.
        scenario = ask("ticks", self.wheel(TickWindow(0, 1), TickWindow(1, 1)), "x").scenario
        assert scenario is not None
        assert scenario.times is not None
        assert len(scenario.times.run) == len(scenario.events)
