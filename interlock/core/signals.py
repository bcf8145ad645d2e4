"""Readings and links: values on their way from what is true to what is shown. Sections 3 and 4 of specs/MEANING.md."""

from __future__ import annotations

from fractions import Fraction

from interlock.core.draft import Draft
from interlock.core.failing import Faults
from interlock.core.phrases import Phrases, Shown, truth
from interlock.core.plant import shown as words_of
from interlock.core.plant import slowed
from interlock.core.system import ActionKind, Assignment, TickWindow, Tier, VariableKind
from interlock.logic.expression import TRUE, Expression, conjunction, disjunction, negate
from interlock.logic.formula import Ref, Value
from interlock.spec.model import EffectKind, Link, Signal, Spec, Window

NONE = "-"


class Signals:
    """Makes the variables of all signals (in an order in which each may be read by later ones), then their actions.

    `starting` collects, for variables that start as what is true, the condition for each value index.
    """

    def __init__(self, spec: Spec, draft: Draft, faults: Faults, phrases: Phrases) -> None:
        self.spec = spec
        self.draft = draft
        self.faults = faults
        self.phrases = phrases
        self.starting: list[tuple[str, Shown]] = []

    def variables(self, *, links: bool) -> None:
        """Variables of readings and (if `links`) of links and what they carry."""
        for reading in self.spec.readings:
            self._signal_variables(reading, carried_as_variable=False)
            for fault in self.faults.on(reading.id, EffectKind.FROZEN):
                self._garble_variable(reading, f"{reading.id} frozen by {fault.failure}")
            for fault in self.faults.on(reading.id, EffectKind.ANYTHING):
                self._garble_variable(reading, f"{reading.id} garbled by {fault.failure}")
        if not links:
            return
        for link in self.spec.links:
            if link.watchdog is not None:
                self.draft.variable(link.id, ("up", "lost"), VariableKind.LINK, "up", link.words, link.span)
            stoppable = bool(self.faults.stopping(link.id))
            for value in link.carries:
                self._signal_variables(value, carried_as_variable=stoppable)
                for fault in self.faults.on(link.id, EffectKind.ANYTHING):
                    self._garble_variable(value, f"{value.id} garbled by {fault.failure}")

    def actions(self, *, links: bool) -> None:
        """The events of readings, then of links."""
        for reading in self.spec.readings:
            self._signal_actions(reading, TRUE, ())
            for fault in self.faults.on(reading.id, EffectKind.ANYTHING):
                self._garble_actions(reading, fault.failure)
        if links:
            for link in self.spec.links:
                self._link_actions(link)

    # --- variables ---

    def _garble_variable(self, signal: Signal, name: str) -> None:
        words = f"what {signal.id} shows while the failure lasts"
        self.draft.variable(name, signal.values, VariableKind.SIGNAL, signal.values[0], words, signal.span)

    def _signal_variables(self, signal: Signal, *, carried_as_variable: bool) -> None:
        truth_of = self._truth(signal)
        shown = truth_of
        first = signal.values[0]

        def variable(name: str, values: tuple[Value, ...], start: Value) -> None:
            words = f"{signal.id}: {name.removeprefix(signal.id).strip()}"
            self.draft.variable(name, values, VariableKind.SIGNAL, start, words, signal.span)

        if signal.steady is not None:
            filtered = f"{signal.id} filtered"
            variable(filtered, signal.values, first)
            self.starting.append((filtered, truth_of))
            shown = self._variable_shown(filtered)
        if signal.late is not None:
            name = f"{signal.id} shown"
            variable(name, signal.values, first)
            self.starting.append((name, shown))
            for slot in range(1, signal.in_flight + 1):
                variable(f"{signal.id} in flight {slot}", (NONE, *signal.values), NONE)
            variable(f"{signal.id} newest", tuple(range(signal.in_flight + 1)), 0)
            variable(f"{signal.id} overrun", (NONE, *signal.values), NONE)
            shown = self._variable_shown(name)
        elif carried_as_variable:
            name = f"{signal.id} shown"
            variable(name, signal.values, first)
            self.starting.append((name, shown))
            shown = self._variable_shown(name)
        self.phrases.signals[signal.id] = (signal, shown)

    def _variable_shown(self, name: str) -> Shown:
        return lambda values: self.draft.has(name, *values)

    def _truth(self, signal: Signal) -> Shown:
        shows = signal.shows
        if isinstance(shows, Ref):
            return lambda values: self.phrases.has(shows, values)
        return lambda values: truth(self.phrases.expression(shows), values)

    # --- events ---

    def _signal_actions(
        self, signal: Signal, sending: Expression, slowing: tuple[tuple[str, Fraction | None], ...]
    ) -> None:
        source = self._truth(signal)
        if signal.steady is not None:
            filtered = f"{signal.id} filtered"
            window = self.draft.window(signal.steady)
            for value in signal.values:
                guard = conjunction((source((value,)), negate(self.draft.has(filtered, value))))
                update = (self.draft.to(filtered, value),)
                self._event(
                    signal, f"settles on {words_of(value)}", guard, update, window, window_of=f"{signal.id} steady"
                )
            source = self._variable_shown(filtered)
        if signal.late is not None:
            self._late(signal, source, sending, signal.late, slowing)

    def _event(
        self,
        signal: Signal,
        name: str,
        guard: Expression,
        update: tuple[Assignment, ...],
        window: TickWindow | None,
        *,
        instant: bool = False,
        restarts: tuple[str, ...] = (),
        window_of: str = "",
    ) -> None:
        kind, tier = (ActionKind.CONSEQUENCE, Tier.CONSEQUENCE) if instant else (ActionKind.READING, Tier.OTHER)
        self.draft.action(
            signal.id,
            name,
            kind,
            tier,
            guard,
            update,
            signal.span,
            window=window,
            restarts=restarts,
            words=signal.words,
            window_of=window_of,
        )

    def _late(
        self,
        signal: Signal,
        source: Shown,
        sending: Expression,
        late: Window,
        slowing: tuple[tuple[str, Fraction | None], ...],
    ) -> None:
        draft, name, n = self.draft, signal.id, signal.in_flight
        slots = [f"{name} in flight {k}" for k in range(1, n + 1)]
        newest, overrun, shown = f"{name} newest", f"{name} overrun", f"{name} shown"
        no_overrun = draft.has(overrun, NONE)
        window = draft.window(late)

        def newest_is(k: int) -> Expression:
            return draft.has(newest, k)

        def last(value: Value) -> Expression:
            in_slots = (conjunction((newest_is(k), draft.has(slots[k - 1], value))) for k in range(1, n + 1))
            usual = disjunction((conjunction((newest_is(0), draft.has(shown, value))), *in_slots))
            return disjunction((draft.has(overrun, value), conjunction((no_overrun, usual))))

        next_of = {k: k % n + 1 for k in range(n + 1)}
        room = disjunction(conjunction((newest_is(k), draft.has(slots[next_of[k] - 1], NONE))) for k in range(n + 1))
        arrives_overrun = [
            f"{name} {twin}" for twin, _, _ in slowed("newest arrives", TRUE, window, slowing, self.phrases)
        ]
        for value in signal.values:
            fresh = conjunction((sending, source((value,)), negate(last(value))))
            push = [
                Assignment(
                    slots[next_of[k] - 1],
                    ((newest_is(k), draft.to(slots[0], value).cases[0][1]),),
                )
                for k in range(n + 1)
            ]
            push.append(Assignment(newest, tuple((newest_is(k), next_of[k]) for k in range(n + 1))))
            self._event(
                signal,
                f"sends {words_of(value)}",
                conjunction((fresh, no_overrun, room)),
                tuple(push),
                None,
                instant=True,
            )
            self._event(
                signal,
                f"overruns with {words_of(value)}",
                conjunction((fresh, disjunction((negate(no_overrun), negate(room))))),
                (draft.to(overrun, value), *self._cleared(signal)),
                None,
                instant=True,
                restarts=tuple(arrives_overrun),
            )
        for k in range(1, n + 1):
            update = [
                Assignment(shown, tuple((draft.has(slots[k - 1], v), i) for i, v in enumerate(signal.values))),
                draft.to(slots[k - 1], NONE),
                Assignment(newest, ((newest_is(k), 0),)),
            ]
            for j in range(1, n + 1):
                if j != k:
                    older = disjunction(newest_is(m) for m in range(1, n + 1) if (m - j) % n > (m - k) % n)
                    update.append(draft.to(slots[j - 1], NONE, older))
            guard = negate(draft.has(slots[k - 1], NONE))
            base = f"arrives from {k}"
            for twin, twin_guard, twin_window in slowed(base, guard, window, slowing, self.phrases):
                of = f"{name} late{twin.removeprefix(base)}"
                self._event(signal, twin, twin_guard, tuple(update), twin_window, window_of=of)
        update = [
            Assignment(shown, tuple((draft.has(overrun, v), i) for i, v in enumerate(signal.values))),
            draft.to(overrun, NONE),
        ]
        for twin, twin_guard, twin_window in slowed(
            "newest arrives", negate(no_overrun), window, slowing, self.phrases
        ):
            of = f"{name} late{twin.removeprefix('newest arrives')}"
            self._event(signal, twin, twin_guard, tuple(update), twin_window, window_of=of)
        for value in signal.values:
            guard = conjunction((negate(no_overrun), negate(draft.has(shown, value))))
            self._event(signal, f"shows {words_of(value)} at random", guard, (draft.to(shown, value),), TickWindow())

    def _cleared(self, signal: Signal) -> tuple[Assignment, ...]:
        slots = (f"{signal.id} in flight {k}" for k in range(1, signal.in_flight + 1))
        return (*(self.draft.to(slot, NONE) for slot in slots), self.draft.to(f"{signal.id} newest", 0))

    def _garble_actions(self, signal: Signal, failure: str) -> None:
        variable = f"{signal.id} garbled by {failure}"
        for value in signal.values:
            guard = conjunction((self.phrases.present(failure), negate(self.draft.has(variable, value))))
            update = (self.draft.to(variable, value),)
            self._event(signal, f"shows {words_of(value)} by {failure}", guard, update, TickWindow())

    def _link_actions(self, link: Link) -> None:
        draft = self.draft
        up = TRUE if link.watchdog is None else draft.has(link.id, "up")
        stopped = disjunction(self.phrases.present(failure) for failure in self.faults.stopping(link.id))
        sending = conjunction((up, negate(stopped)))
        late_faults = self.faults.on(link.id, EffectKind.LATE)
        slowing = tuple((fault.failure, fault.effect.latest_s) for fault in late_faults)
        for value in link.carries:
            self._signal_actions(value, sending, slowing)
            if value.late is None and f"{value.id} shown" in draft.variables:
                shown = f"{value.id} shown"
                source = self._variable_shown(f"{value.id} filtered") if value.steady else self._truth(value)
                for state in value.values:
                    guard = conjunction((sending, source((state,)), negate(draft.has(shown, state))))
                    update = (draft.to(shown, state),)
                    self._event(value, f"carries {words_of(state)}", guard, update, None, instant=True)
            for fault in self.faults.on(link.id, EffectKind.ANYTHING):
                self._garble_actions(value, fault.failure)
        if link.watchdog is not None:
            self._watchdog(link, link.watchdog)

    def _return_window(self, link: Link) -> TickWindow:
        """From the smallest earliest to the largest latest of what the link carries; any age if nothing is late."""
        lates = [self.draft.window(value.late) for value in link.carries if value.late is not None]
        if not lates:
            return TickWindow()
        if len(lates) < len(link.carries):
            lates.append(TickWindow(0, 0))
        earliest, earliest_open = min((window.earliest, window.earliest_open) for window in lates)
        if any(window.latest is None for window in lates):
            return TickWindow(earliest, None, earliest_open)
        latest, latest_closed = max((window.latest or 0, not window.latest_open) for window in lates)
        return TickWindow(earliest, latest, earliest_open, not latest_closed)

    def _watchdog(self, link: Link, watchdog: Window) -> None:
        draft = self.draft
        up = draft.has(link.id, "up")
        lost = disjunction(self.phrases.present(f.failure) for f in self.faults.on(link.id, EffectKind.LOST))
        values = {value.id: value for value in link.carries}
        losing = [draft.to(link.id, "lost")]
        for name, taken in link.when_lost:
            if f"{name} shown" in draft.variables:
                losing.append(draft.to(f"{name} shown", taken))
            if values[name].late is not None:
                losing += [*self._cleared(values[name]), draft.to(f"{name} overrun", NONE)]
        draft.action(
            link.id,
            "is lost",
            ActionKind.TIMER,
            Tier.OTHER,
            conjunction((up, lost)),
            losing,
            link.span,
            window=draft.window(watchdog),
            words=link.words,
        )
        draft.action(
            link.id,
            "is back",
            ActionKind.READING,
            Tier.OTHER,
            conjunction((draft.has(link.id, "lost"), negate(lost))),
            (draft.to(link.id, "up"),),
            link.span,
            window=self._return_window(link),
            words=link.words,
        )
