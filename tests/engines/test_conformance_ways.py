"""What every engine must do, continued: ways and endings, scenarios, limits, surveys. See `test_conformance.py`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from interlock.core.question import Counts, Ends, Overlay, Question, Timing, Verdict
from interlock.core.system import (
    Property,
    PropertyKind,
    TickWindow,
)
from interlock.engines.api import Engine, EngineFault, Limits, Probe, Where
from interlock.logic.expression import FALSE, named
from tests.engines.doors import ask, chain, door
from tests.engines.plan import Plan, always_ends, always_possible, before, never, possible

HOLDS, FAILS, UNDECIDED = Verdict.HOLDS, Verdict.FAILS, Verdict.UNDECIDED


class TestEveryEngine:
    """The checks. Each takes the engine it is run on."""

    # --- possible, always possible ---

    def test_possible_shows_the_shortest_way_and_fails_with_counts(self, engine: Engine) -> None:
        plan = chain(4)
        system = plan.system(possible("at 3", plan.at(n=3)), possible("never", FALSE))
        found = ask(engine, system, "at 3")
        assert (found.verdict, found.counts) == (HOLDS, None)
        assert found.scenario is not None
        assert found.scenario.ends is Ends.REACHED
        assert found.scenario.events == ("n to 1", "n to 2", "n to 3")
        lost = ask(engine, system, "never")
        assert (lost.verdict, lost.scenario, lost.counts) == (FAILS, None, Counts(4, 0, 3))

    def test_possible_is_read_in_settled_situations(self, engine: Engine) -> None:
        plan = door()
        dark = plan.at(door="shut", lamp="off")
        system = plan.system(possible("dark", dark), possible("dark, passing", dark, passing=True))
        assert ask(engine, system, "dark").verdict is FAILS
        assert ask(engine, system, "dark, passing").verdict is HOLDS

    def test_always_possible_finds_the_nearest_place_without_a_way(self, engine: Engine) -> None:
        plan = chain(4)
        plan.free("n back", {"n": 1}, {"n": 0})
        system = plan.system(always_possible("at 0", plan.at(n=0)), always_possible("at 3", plan.at(n=3)))
        found = ask(engine, system, "at 0")
        assert (found.verdict, found.counts) == (FAILS, Counts(4, 0, 4))
        assert found.scenario is not None
        assert found.scenario.ends is Ends.NO_WAY
        assert found.scenario.events == ("n to 1", "n to 2")
        assert ask(engine, system, "at 3").verdict is HOLDS

    def test_a_way_needs_neither_a_failure_nor_a_repair(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("door", "shut", "open")
        plan.failure("jam", repaired=True, at_start=False)
        plan.free("door opens", {"door": "shut", "jam": False}, {"door": "open"})
        plan.free("door shuts", {"door": "open"}, {"door": "shut"})
        system = plan.system(always_possible("open", plan.at(door="open")))
        assert ask(engine, system, "open").verdict is HOLDS
        found = ask(engine, system, "open", budget=1)
        assert found.verdict is FAILS
        assert found.scenario is not None
        assert found.scenario.events == ("jam happens",)

    def test_always_possible_is_asked_of_and_read_in_settled_situations(self, engine: Engine) -> None:
        # Dark is only ever passed through; and no way is asked from where things are still settling.
        plan = door()
        dark = plan.at(door="shut", lamp="off")
        system = plan.system(always_possible("dark", dark), always_possible("dark, passing", dark, passing=True))
        assert ask(engine, system, "dark").verdict is FAILS
        assert ask(engine, system, "dark, passing").verdict is HOLDS

    # --- always ends ---

    def test_a_free_move_may_never_come(self, engine: Engine) -> None:
        plan = chain(2)
        system = plan.system(
            always_ends("ends", plan.at(n=1), plan.at(n=0)),
            always_ends("helped", plan.at(n=1), plan.at(n=0), helped_by=("n to 1",)),
        )
        found = ask(engine, system, "ends")
        assert (found.verdict, found.counts) == (FAILS, Counts(2, 0, 1))
        assert found.scenario is not None
        assert (found.scenario.ends, found.scenario.events) == (Ends.STUCK, ())
        assert ask(engine, system, "helped").verdict is HOLDS

    def test_a_bound_move_comes_though_free_moves_come_for_ever(self, engine: Engine) -> None:
        # People come and go for ever; the bound move stays enabled all the while and so must happen.
        plan = Plan()
        plan.item("person", "away", "near")
        plan.item("shoe", "down", "up")
        plan.free("person comes", {"person": "away"}, {"person": "near"})
        plan.free("person goes", {"person": "near"}, {"person": "away"})
        plan.bound("shoe rises", {"shoe": "down"}, {"shoe": "up"})
        system = plan.system(always_ends("ends", plan.at(shoe="up")))
        assert ask(engine, system, "ends").verdict is HOLDS

    def test_a_bound_move_that_is_interrupted_again_and_again_may_never_come(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("person", "away", "near")
        plan.item("shoe", "down", "up")
        plan.free("person comes", {"person": "away"}, {"person": "near"})
        plan.free("person goes", {"person": "near"}, {"person": "away"})
        plan.bound("shoe rises", {"shoe": "down", "person": "away"}, {"shoe": "up"})
        system = plan.system(always_ends("ends", plan.at(shoe="up")))
        found = ask(engine, system, "ends")
        assert found.verdict is FAILS
        assert found.scenario is not None
        # At the start the shoe must rise; the person keeps it from rising for ever by coming and going, or, with the
        # person near, nothing is obliged: that is one event away, the loop none. Both are situations on a fair loop.
        assert found.scenario.ends is Ends.LOOP
        assert found.scenario.events == ("person comes", "person goes")
        assert found.scenario.loop_from == 0

    def test_a_zero_time_interruption_does_not_break_for_ever(self, engine: Engine) -> None:
        # The bound move is disabled only in passing situations of the loop: in all settled ones it is enabled.
        plan = Plan()
        plan.item("pulse", "off", "on")
        plan.item("shoe", "down", "up")
        plan.free("pulse comes", {"pulse": "off"}, {"pulse": "on"})
        plan.instant("pulse goes", {"pulse": "on"}, {"pulse": "off"})
        plan.bound("shoe rises", {"shoe": "down", "pulse": "off"}, {"shoe": "up"})
        system = plan.system(always_ends("ends", plan.at(shoe="up")))
        assert ask(engine, system, "ends").verdict is HOLDS

    def test_an_action_restarted_for_ever_does_not_stay_enabled_for_ever(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("pulse", "off", "on")
        plan.item("timer", "running", "done")
        plan.free("pulse comes", {"pulse": "off", "timer": "running"}, {"pulse": "on"})
        plan.instant("pulse goes", {"pulse": "on"}, {"pulse": "off"}, restarts=("timer elapses",))
        plan.bound("timer elapses", {"timer": "running"}, {"timer": "done"})
        system = plan.system(always_ends("ends", plan.at(timer="done")))
        found = ask(engine, system, "ends")
        assert found.verdict is FAILS
        assert found.scenario is not None
        assert (found.scenario.ends, found.scenario.events) == (Ends.LOOP, ("pulse comes", "pulse goes"))

    def test_an_obliged_action_that_happens_for_ever_is_no_excuse_for_another(self, engine: Engine) -> None:
        # The motor turns for ever, obliged; the shoe is obliged too and always enabled: it comes.
        plan = Plan()
        plan.item("motor", 0, 1)
        plan.item("shoe", "down", "up")
        plan.bound("motor to 1", {"motor": 0}, {"motor": 1})
        plan.bound("motor to 0", {"motor": 1}, {"motor": 0})
        plan.bound("shoe rises", {"shoe": "down"}, {"shoe": "up"})
        system = plan.system(
            always_ends("ends", plan.at(shoe="up")), always_ends("motor stops", FALSE, plan.at(motor=0))
        )
        assert ask(engine, system, "ends").verdict is HOLDS
        found = ask(engine, system, "motor stops").scenario
        assert found is not None
        # From the start: the loop must also see the shoe disabled or happen, and it never falls: up first.
        assert found.ends is Ends.LOOP
        assert found.events == ("shoe rises", "motor to 1", "motor to 0")
        assert found.loop_from == 1

    def test_a_loop_that_never_settles_is_a_breach(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("go", "no", "yes")
        plan.item("relay", 0, 1)
        plan.free("go", {"go": "no"}, {"go": "yes"})
        plan.instant("relay picks", {"go": "yes", "relay": 0}, {"relay": 1})
        plan.instant("relay drops", {"go": "yes", "relay": 1}, {"relay": 0})
        system = plan.system(always_ends("ends", FALSE, plan.at(go="no"), helped_by=("go",)))
        found = ask(engine, system, "ends")
        assert found.verdict is FAILS
        assert found.scenario is not None
        assert found.scenario.ends is Ends.LOOP
        assert found.scenario.events == ("go", "relay picks", "relay drops")

    def test_an_end_reached_only_in_passing_is_none_and_one_owed_only_in_passing_is_not_owed(
        self, engine: Engine
    ) -> None:
        plan = door()
        dark = plan.at(door="shut", lamp="off")
        system = plan.system(
            always_ends("passing end", dark, plan.at(door="open"), helped_by=("door shuts", "door opens")),
            always_ends("passing start", FALSE, dark),
        )
        assert ask(engine, system, "passing end").verdict is FAILS
        assert ask(engine, system, "passing start").verdict is HOLDS

    def test_a_failure_on_the_way_may_keep_a_run_from_its_end(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("shoe", "down", "up")
        plan.failure("jam", at_start=False)
        plan.bound("shoe rises", {"shoe": "down", "jam": False}, {"shoe": "up"})
        system = plan.system(always_ends("ends", plan.at(shoe="up")))
        assert ask(engine, system, "ends").verdict is HOLDS
        found = ask(engine, system, "ends", budget=1).scenario
        assert found is not None
        assert (found.ends, found.events) == (Ends.STUCK, ("jam happens",))

    def test_a_repair_may_never_come(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("shoe", "down", "up")
        plan.failure("jam", at_start=True, repaired=True)
        plan.bound("shoe rises", {"shoe": "down", "jam": False}, {"shoe": "up"})
        system = plan.system(always_ends("ends", plan.at(shoe="up")))
        assert ask(engine, system, "ends", budget=1).verdict is FAILS

    # --- scenarios, overlays, limits ---

    def test_among_equally_short_ways_the_first_in_declaration_order_is_shown(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("a", 0, 1)
        plan.item("b", 0, 1)
        plan.free("b rises", {"b": 0}, {"b": 1})
        plan.free("a rises", {"a": 0}, {"a": 1})
        found = ask(engine, plan.system(never("both", plan.at(a=1, b=1))), "both").scenario
        assert found is not None
        assert found.events == ("b rises", "a rises")

    def test_among_starts_the_first_that_has_a_shortest_way_is_shown(self, engine: Engine) -> None:
        plan = chain(4)
        plan.item("side", "left", "right")
        system = plan.system(never("at 3", plan.at(n=3)), start=((0, 1), (1, 1), (1, 0)))
        found = ask(engine, system, "at 3").scenario
        assert found is not None
        assert found.situations[0] == (1, 1)

    def test_an_overlay_pins_named_conditions_and_moves_windows(self, engine: Engine) -> None:
        plan = chain(3)
        plan.actions[1] = replace(plan.actions[1], guard=named("permit", plan.actions[1].guard))
        system = plan.system(never("at 2", plan.at(n=2)), always_ends("ends", plan.at(n=2), plan.at(n=1)))
        assert ask(engine, system, "at 2").verdict is FAILS
        assert ask(engine, system, "at 2", overlay=Overlay(pins=(("permit", False),))).verdict is HOLDS
        pinned = ask(engine, system, "at 2", overlay=Overlay(pins=(("permit", True),))).scenario
        assert pinned is not None
        assert pinned.events == ("n to 2",)
        assert ask(engine, system, "ends").verdict is FAILS
        soon = Overlay(windows=(("n to 2", TickWindow(0, 5)),))
        assert ask(engine, system, "ends", overlay=soon).verdict is HOLDS

    def test_beyond_the_limit_nothing_is_said_to_hold(self, engine: Engine) -> None:
        plan = chain(10)
        system = plan.system(
            never("no", FALSE),
            never("at 8", plan.at(n=8)),
            never("at 2", plan.at(n=2)),
            possible("nowhere", FALSE),
            always_possible("way", plan.at(n=9)),
            always_ends("ends", plan.at(n=9)),
        )
        for id in ("no", "at 8", "nowhere", "way", "ends"):
            beyond = ask(engine, system, id, limit=5)
            assert (beyond.verdict, beyond.scenario, beyond.counts) == (UNDECIDED, None, None)
            assert beyond.limit is not None
            assert "5 situations" in beyond.limit
        # A breach that was met before the limit stands; so does a limit that is just met.
        assert ask(engine, system, "at 2", limit=5).verdict is FAILS
        assert ask(engine, system, "no", limit=10).verdict is HOLDS
        assert ask(engine, system, "no", limit=9).verdict is UNDECIDED

    def test_a_breach_that_one_more_failure_leads_straight_to_stands_though_the_limit_is_hit(
        self, engine: Engine
    ) -> None:
        plan = chain(10)
        plan.failure("bang", when={"n": 1}, at_start=False)
        system = plan.system(never("bang", plan.at(bang=True)))
        found = ask(engine, system, "bang", budget=1, limit=4)
        assert found.verdict is FAILS
        assert found.scenario is not None
        assert found.scenario.events == ("n to 1", "bang happens")

    def test_questions_asked_together_get_the_answers_they_get_alone(self, engine: Engine) -> None:
        plan = door()
        plan.failure("jam", {"lamp": "off"})
        dark = plan.at(door="shut", lamp="off")
        rules = (
            never("dark", dark),
            never("dark, passing", dark, passing=True),
            never("jam", plan.at(jam=True)),
            before("shut first", plan.at(lamp="on"), plan.at(door="shut")),
            possible("on", plan.at(lamp="on")),
            always_possible("open", plan.at(door="open")),
            always_ends("shuts", plan.at(door="shut"), helped_by=("door shuts",)),
        )
        system = plan.system(*rules)
        questions = tuple(
            Question(rule.id, budget=budget, cut=cut)
            for budget in (1, 0, 2)
            for rule in rules
            for cut in ((), ("jam",))
            if not (cut and rule.kind in (PropertyKind.ALWAYS_POSSIBLE, PropertyKind.ALWAYS_ENDS))
        )
        together = engine.answer(system, questions, Limits())
        assert together == tuple(engine.answer(system, (question,), Limits())[0] for question in questions)

    def test_what_an_engine_does_not_decide_it_says_and_refuses(self, engine: Engine) -> None:
        plan = door()
        lit = plan.at(lamp="on")
        system = plan.system(
            never("lit", lit),
            Property("soon", PropertyKind.AFTER, False, lit, must=lit, within=TickWindow(0, 3)),
            Property("short", PropertyKind.LASTS, False, lit, within=TickWindow(0, 3)),
            always_possible("way", lit),
        )
        undecided = (
            Question("soon"),
            Question("short"),
            Question("lit", timing=Timing.DECLARED),
            Question("way", cut=("lit",)),
        )
        assert engine.decides(system, Question("lit"))
        for question in undecided:
            assert not engine.decides(system, question)
            with pytest.raises(EngineFault):
                engine.answer(system, (question,), Limits())

    def test_progress_is_told(self, engine: Engine) -> None:
        told: list[tuple[int, int | None]] = []
        plan = chain(5)
        limits = Limits(progress=lambda known, depth: told.append((known, depth)))
        engine.answer(plan.system(never("no", FALSE)), (Question("no"),), limits)
        # Where situations are taken in any order, no depth is known.
        assert told[-1] == (5, None if engine.name == "explicit" else 4)

    # --- surveys ---

    def test_a_survey_tells_what_happened_and_what_was_seen(self, engine: Engine) -> None:
        plan = door()
        plan.failure("jam", at_start=False)
        plan.free("door falls", FALSE, {"door": "shut"})
        dark = plan.at(door="shut", lamp="off")
        probes = (
            Probe("dark", dark, Where.EVERY),
            Probe("dark, deciding", dark, Where.DECIDING),
            Probe("dark, settled", dark, Where.SETTLED),
            Probe("lit, settled", plan.at(lamp="on"), Where.SETTLED),
        )
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), probes, Limits())
        assert seen.counts == Counts(2, 2, 4)
        assert seen.happened == {"door shuts", "door opens", "lamp becomes on", "lamp becomes off"}
        assert seen.seen == {"dark", "lit, settled"}
        assert (seen.stuck, seen.unsettling, seen.orders, seen.limit) == (None, None, None, None)

    def test_deciding_means_no_consequence_pending(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("step", 0, 1)
        plan.logic("step on", {"step": 0}, {"step": 1})
        probes = (Probe("deciding", plan.at(step=0), Where.DECIDING), Probe("settled", plan.at(step=0), Where.SETTLED))
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), probes, Limits())
        assert seen.seen == {"deciding"}

    def test_a_survey_finds_where_nothing_but_failures_is_enabled(self, engine: Engine) -> None:
        plan = chain(3)
        plan.failure("f", at_start=False, repaired=True)
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), (), Limits())
        assert seen.stuck is not None
        assert (seen.stuck.events, seen.stuck.ends) == (("n to 1", "n to 2"), Ends.STUCK)

    def test_a_survey_finds_logic_that_never_settles(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("go", "no", "yes")
        plan.item("step", 0, 1)
        plan.free("go", {"go": "no"}, {"go": "yes"})
        plan.logic("step to 1", {"go": "yes", "step": 0}, {"step": 1})
        plan.logic("step to 0", {"go": "yes", "step": 1}, {"step": 0})
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), (), Limits())
        assert seen.unsettling is not None
        assert seen.unsettling.events == ("go", "step to 1", "step to 0")
        assert seen.unsettling.loop_from == 1
        assert seen.unsettling.ends is Ends.LOOP

    def test_a_survey_finds_where_the_order_of_two_sequences_decides_where_they_settle(self, engine: Engine) -> None:
        plan = Plan()
        plan.item("go", "no", "yes")
        plan.item("left", "idle", "taken")
        plan.item("right", "idle", "taken")
        plan.free("go", {"go": "no"}, {"go": "yes"})
        plan.logic("left takes", {"go": "yes", "left": "idle", "right": "idle"}, {"left": "taken"})
        plan.logic("right takes", {"go": "yes", "left": "idle", "right": "idle"}, {"right": "taken"})
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), (), Limits())
        assert seen.orders is not None
        assert seen.orders.events == ("go",)

    def test_a_choice_of_one_sequence_is_no_matter_of_order(self, engine: Engine) -> None:
        # The left sequence has two moves to choose from, wherever the right one stands; the right one only follows.
        plan = Plan()
        plan.item("go", "no", "yes")
        plan.item("left", "idle", "a", "b")
        plan.item("right", "idle", "done")
        plan.free("go", {"go": "no"}, {"go": "yes"})
        plan.logic("left to a", {"go": "yes", "left": "idle"}, {"left": "a"}, owner="left")
        plan.logic("left to b", {"go": "yes", "left": "idle"}, {"left": "b"}, owner="left")
        plan.logic("right goes", {"go": "yes", "right": "idle"}, {"right": "done"}, owner="right")
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), (), Limits())
        assert seen.orders is None

    def test_a_survey_beyond_the_limit_says_so(self, engine: Engine) -> None:
        plan = chain(10)
        seen = engine.survey(plan.system(never("no", FALSE)), Question("no"), (), Limits(states=4))
        assert seen.limit is not None
        assert "4 situations" in seen.limit
        assert seen.stuck is None
