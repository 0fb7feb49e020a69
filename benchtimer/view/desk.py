"""Between keys and bench: what a press means now. No screen is needed to use or test it."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import assert_never

from benchtimer.bath.bath_commands import BathCommand
from benchtimer.bench.advised import Advice
from benchtimer.bench.driver import Driver
from benchtimer.bench.watcher import Watcher
from benchtimer.recipe.checks import AskFigure, AskLine, AskOption, AskYesNo
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import CRITICAL_S, action_for
from benchtimer.run.events import Deviated, Held, Sent, TargetMoved
from benchtimer.run.refusals import ReadingFirst, Refused
from benchtimer.run.setup import PUT_OFF
from benchtimer.run.state import PartPhase, RunPhase, State
from benchtimer.shop.hours import ALWAYS, Hours
from benchtimer.store.log import Stamp, StoreError
from benchtimer.times import duration
from benchtimer.view.alarm import SILENCE_S, Alarm, alarms_of, in_order, message_of
from benchtimer.view.bathtrouble import limits_ahead
from benchtimer.view.board import Look
from benchtimer.view.keyguard import GUARD_S
from benchtimer.view.words import baths_out, clock_time, late_on_hold, start_words

INSIST_S = 10.0
"""So long a second press of Q counts as meant."""

MAX_ENTRY = 12

ADVICE_S = 10.0
"""The planner rests at least so long if nothing was pressed: time itself is news, too."""

REST_SHARE, LONGEST_REST_S, LATE_REST_S = 1000, 120.0, 600.0
"""It rests this many times as long as its last answer took, up to a limit, which is longer while no
plan keeps every limit: a hard question, such as a bench on which everything is late, must not
keep the laptop busy. A press, or a passed limit of the plan, is always a new question."""

NEWS = (Deviated, Sent, Held, TargetMoved)
"""Events to report at once after a press."""


class Desk:
    """One run on the bench, and you in front of it.

    Attributes:
        name: the run shown.
        picked: the part picked by hand, if one is.
        entry: what has been typed of a figure.
        message: the last thing that needs saying.
        reading: a hazard or a station is being read before it is due.
        unread: the place whose reading is being left out, while the reason is asked for.
        glance: the next action fills the screen.
        remark: what you should know before START; empty if nothing.
    """

    def __init__(
        self,
        bench: Driver | Watcher,
        name: str,
        monotonic: Callable[[], float] = time.monotonic,
        guard_s: float = GUARD_S,
        hours: Hours = ALWAYS,
    ) -> None:
        self.bench = bench
        self.name = name
        self.picked: str | None = None
        self.entry = ""
        self.message = ""
        self.reading = False
        self.unread: str | None = None
        self.glance = False
        self.remark = ""
        self._advised_presses: dict[str, int] = {}
        self._advised_at = float("-inf")
        self._asked_ms = 0
        self._thought_s = 0.0
        self._entry_for: tuple[str, ...] = ()
        self._monotonic = monotonic
        self._guard_s = guard_s
        self._hours = hours
        self._confirmed_at = float("-inf")
        self._picked_over: frozenset[tuple[str, ...]] = frozenset()
        self._seen: tuple[str, ...] | None = None
        self._seen_at = float("-inf")
        self._warned_at = float("-inf")

    @property
    def state(self) -> State:
        """The run's state."""
        return self.bench.state(self.name)

    @property
    def read_only(self) -> bool:
        """Looking on only."""
        return self.bench.read_only

    def actions(self, stamp: Stamp) -> tuple[Action, ...]:
        """The agenda of the run shown, as the planner advises."""
        return self.bench.agenda(self.name, stamp)

    @property
    def advice(self) -> Advice:
        """The planner's word on the run shown, as last heard."""
        return self.bench.plans.of(self.name)

    def to_plan(self) -> str | None:
        """The run that the planner should be asked about now, if any.

        The one shown after a press and when the planner's word is old, then any other that was
        not asked about since its last press. A watcher asks nothing: the driver's plan counts.
        """
        if self.read_only:
            return None
        if self._wants_advice():
            return self.name
        others = (name for name in self.bench.names if name != self.name)
        return next((name for name in others if self._is_unasked(name)), None)

    def _is_unasked(self, name: str) -> bool:
        state = self.bench.state(name)
        planned = state.bench.phase in (RunPhase.IDLE, RunPhase.RUNNING)
        return planned and self._advised_presses.get(name) != state.presses

    def _wants_advice(self) -> bool:
        if self.state.bench.phase not in (RunPhase.IDLE, RunPhase.RUNNING):
            return False
        longest_s = LATE_REST_S if self.advice.warnings else LONGEST_REST_S
        rest_s = min(max(ADVICE_S, REST_SHARE * self._thought_s), longest_s)
        old = self._monotonic() - self._advised_at > rest_s
        return old or self._is_unasked(self.name) or self._has_passed_a_limit()

    def _has_passed_a_limit(self) -> bool:
        """Whether a move can't be put off any more that could when the planner was asked."""
        now_ms = self.bench.stamp().noted_ms
        return any(self._asked_ms < t_ms <= now_ms for t_ms in self.advice.latest_ms.values())

    def ask_planner(self, name: str) -> Callable[[Callable[[], bool]], Advice]:
        """The question to the planner about a run, to be asked in a thread with a stop flag."""
        state, stamp = self.bench.state(name), self.bench.stamp()
        self._advised_presses[name] = state.presses
        if name == self.name:
            self._advised_at = self._monotonic()
            self._asked_ms = stamp.noted_ms
        bench, before = self.bench.planned_with(name), self.bench.plans.of(name)

        def ask(stop: Callable[[], bool]) -> Advice:
            from benchtimer.bench.advice import advise, away_windows  # the first frame comes before

            now_ms, away = stamp.noted_ms, away_windows(bench.away, stamp, self._hours)

            def say(seconds: int) -> str:
                return clock_time(now_ms + seconds * 1000, stamp)

            begun_s = time.thread_time()
            told = advise(bench, now_ms, away, before, clock=time.monotonic, stop=stop, say=say)
            if name == self.name:
                self._thought_s = time.thread_time() - begun_s
            return told

        return ask

    def heed(self, name: str, advice: Advice) -> None:
        """Hear the planner's answer about a run."""
        self.bench.plans.heed(name, advice, self.bench.names)

    @property
    def unsaved(self) -> str:
        """What must stay in sight whatever else is said: something is not on the disk."""
        return self.bench.unsaved if isinstance(self.bench, Driver) else ""

    @property
    def told(self) -> str:
        """All that needs saying, the most important first."""
        texts = (self.unsaved, self.danger, self.message, self.warning)
        return "\n".join(text for text in texts if text)

    def may_leave(self) -> bool:
        """Whether you may leave at once; else a message says why, and Q again leaves."""
        told = self.leaves_behind
        if not told:
            return True
        insists = self._monotonic() - self._warned_at < INSIST_S
        self._warned_at = self._monotonic()
        if not insists:
            self.message = told
        return insists

    @property
    def parts_at_work(self) -> list[str]:
        """The parts in hand or in a station, over all runs."""
        return [
            part.name
            for name in self.bench.names
            for part in self.bench.state(name).bench.parts.values()
            if part.phase in (PartPhase.IN_HAND, PartPhase.DWELLING)
        ]

    @property
    def leaves_behind(self) -> str:
        """What to know before you leave; empty if nothing."""
        if not isinstance(self.bench, Driver):
            return ""
        if self.bench.unsaved_entries:
            return "Not saved yet. Q again leaves anyway and says where it is kept."
        parts = self.parts_at_work
        if not parts:
            return ""
        count = "1 part is" if len(parts) == 1 else f"{len(parts)} parts are"
        return f"{count} at work, and nothing calls while this is closed. Q again leaves."

    @property
    def danger(self) -> str:
        """What must be seen whatever else is said: late parts on hold, baths out of range."""
        bench, now_ms = self.state.bench, self.bench.stamp().noted_ms
        return "\n".join([*late_on_hold(bench, now_ms), *baths_out(bench)])

    @property
    def warning(self) -> str:
        """What must stay in sight: the planner, baths that reach a limit soon, silent probes."""
        bench, now_ms = self.state.bench, self.bench.stamp().noted_ms
        probes = self.bench.probes.troubles if isinstance(self.bench, Driver) else ()
        before = [self.remark] if self.remark and bench.phase is RunPhase.IDLE else []
        return "\n".join([*self.advice.warnings, *limits_ahead(bench, now_ms), *probes, *before])

    def shown(self, stamp: Stamp) -> Action | None:
        """The action a figure is typed for, that of the part picked, or the most pressing one."""
        if self.entry:
            typed_for = self._typed_for(stamp)
            if typed_for is not None:
                return typed_for
            self.entry, self.message = "", "The figure typed was for something else; it is gone."
        return self._most_pressing(stamp)

    def _typed_for(self, stamp: Stamp) -> Action | None:
        """The action whose figure is being typed: it stays shown until the figure is written."""
        for action in self.actions(stamp):
            if _place_of(action) == self._entry_for and self.takes_figure(action, stamp):
                return action
        return None

    def _most_pressing(self, stamp: Stamp) -> Action | None:
        bench = self.state.bench
        actions = self.actions(stamp)
        part = bench.parts.get(self.picked or "")
        news = _critical(actions, stamp.noted_ms) - self._picked_over
        if part is not None and not news:
            action = action_for(bench, part, stamp.noted_ms)
            if action is not None:
                return action
        return actions[0] if actions else None

    def saw(self, action: Action | None, *, by_itself: bool) -> None:
        """What is drawn now: a press is meant for that.

        Args:
            action: the action of the large line.
            by_itself: time has changed it, and not a press.
        """
        about = _place_of(action) if action is not None else ()
        if about != self._seen and by_itself:
            self._seen_at = self._monotonic()
        self._seen = about

    def _is_meant(self, action: Action | None) -> bool:
        """Whether a press is for what is due now, and not for what was there a moment ago."""
        about = _place_of(action) if action is not None else ()
        new = self._monotonic() - self._seen_at < self._guard_s
        return self._seen is None or (about == self._seen and not new)

    def look(self, shown: Action | None, stamp: Stamp, marks: Sequence[str] = ()) -> Look:
        """How the board is looked at now."""
        bench = self.state.bench
        reads_hazard = self.reads_hazard(shown, stamp)
        return Look(
            self.name,
            entry=self.entry,
            marks=marks,
            reading=self.reading or reads_hazard,
            message=self.told,
            unread=self.unread is not None,
            picked=self.picked,
            glance=self.glance and not reads_hazard,  # what must be read needs the room
            put_off_ms=self.advice.put_off_until(bench),
            moves=self.advice.moves_of(bench),
            end_ms=self.advice.end_ms,
            read_only=self.read_only,
            usual=self._usual(shown),
        )

    def _usual(self, shown: Action | None) -> str:
        """How long the step shown usually takes you, once it is in your hands."""
        works = (ActionKind.BEGIN, ActionKind.FINISH)
        if shown is None or shown.kind not in works or shown.part is None or shown.index is None:
            return ""
        part = self.state.bench.parts[shown.part]
        step = self.state.bench.recipe_of(part).step[shown.index]
        return self.bench.learned(self.name).usual(part.recipe, step.id)

    def confirm(self) -> str | None:
        """Do what the large line says; ``"write"`` if words are wanted first."""
        if self.too_soon():
            return None
        stamp = self.bench.stamp()
        action = self.shown(stamp)
        if action is None or not self._is_meant(action):
            return None
        if self.unread is not None:
            self.unread = None
        elif self.takes_figure(action, stamp):
            self._write_figure(action)
        elif action.kind is ActionKind.READING:
            self.reading = True
        elif action.kind is ActionKind.ANSWER:
            if isinstance(action.form, AskLine):
                return "write"
            self.message = "Answer the question first."
        elif action.kind is ActionKind.HAZARD and not self.reads_hazard(action, stamp):
            self.reading = True
        elif action.kind is ActionKind.START and stamp.noted_ms < action.due_ms:
            self.message = f"{start_words(action.due_ms, stamp)}. E: set up and start now instead."
        elif action.kind is ActionKind.BEGIN and stamp.noted_ms < action.earliest_ms:
            self.message = "Too early for this part. E: pull it anyway."
        elif action.blocked is not None:
            self.message = f"{action.blocked}. E: do it anyway."
        elif action.command is not None:
            self.press(action.command)
        else:
            self.message = "The recipe stopped this part. M decides: send back, scrap, resume."
        return None

    def reads_hazard(self, action: Action | None, stamp: Stamp) -> bool:
        """Whether a hazard is on the screen in full: it is due, or was asked for."""
        if action is None or action.kind is not ActionKind.HAZARD:
            return False
        return self.reading or action.is_due(stamp.noted_ms)

    def leave(self, names: Sequence[str], from_ms: int | None, to_ms: int | None) -> bool:
        """Say in every run when you are away; whether that could be done.

        Args:
            names: the runs on the bench.
            from_ms: bench time at which you go; None: you stay after all.
            to_ms: bench time at which you are back.
        """
        if not isinstance(self.bench, Driver):
            return False
        try:
            for name in names:
                self.bench.press(name, c.Leave(from_ms, to_ms))
        except (Refused, StoreError) as error:
            self.message = str(error)
            return False
        self.message = ""
        return True

    def early(self) -> None:
        """Go on without what is missing, or earlier than planned; the engine has the last word.

        A reading is left out for one of a few reasons, which a digit chooses. Set-up work is
        put off, and the record says so.
        """
        action = self.shown(self.bench.stamp())
        if action is None:
            return
        if action.kind is ActionKind.READING and action.to_station is not None:
            self.unread, self.entry, self.reading = action.to_station, "", True
        elif action.kind is ActionKind.START and self.bench.stamp().noted_ms < action.due_ms:
            self.press(c.Postpone(None, None))
        elif action.kind in (ActionKind.MIX, ActionKind.HEAT, ActionKind.ASK):
            self.press(c.Prepare(action.item, said=PUT_OFF))
        elif isinstance(action.form, AskLine) and action.form.skip:
            self._answer(action, False)
        elif action.kind in (ActionKind.BEGIN, ActionKind.FINISH) and action.command is not None:
            self.press(action.command)

    def _skip(self, number: int) -> None:
        """Choose why a bath goes unread."""
        place, self.unread = self.unread, None
        if place is not None and number <= len(c.NO_READING):
            self.press(c.SkipReading(place, c.NO_READING[number - 1]))

    def say(self, answer: bool) -> None:
        """Answer a yes-no question; a key that bounces is one answer."""
        if self.too_soon():
            return
        action = self.shown(self.bench.stamp())
        if not self._is_meant(action):
            return
        if action is None or not isinstance(action.form, AskYesNo):
            self.message = "No yes-no question is open."
            return
        self._answer(action, answer)

    def write(self, text: str, asked: Action | None = None) -> None:
        """Answer a question that wants words: the one that was asked, whatever is due by now."""
        action = asked if asked is not None else self.shown(self.bench.stamp())
        self._answer(action, text)

    def _answer(self, action: Action | None, answer: str | bool) -> None:
        if action is not None and action.part is not None and action.check is not None:
            self.press(c.Answer(action.part, action.check.id, answer))

    def digit(self, char: str) -> bool:
        """A digit, point or minus: part of a figure, the number of an answer, or of a part.

        Returns:
            Whether it meant anything; if not it may be another key.
        """
        if self.unread is not None:
            self._skip(int(char) if char in "123456789" else len(c.NO_READING) + 1)
            return True
        stamp = self.bench.stamp()
        action = self.shown(stamp)
        if action is not None and self.takes_figure(action, stamp):
            self.entry = (self.entry + char)[:MAX_ENTRY]
            self._entry_for = _place_of(action)
            return True
        if char.isdecimal() and char != "0":
            self._number(int(char), action)
        return char.isdecimal()

    def _number(self, number: int, action: Action | None) -> None:
        match action.form if action is not None else None:
            case AskYesNo() if number <= 2:
                self.say(number == 1)
            case AskOption(options):
                if number <= len(options) and not self.too_soon() and self._is_meant(action):
                    self._answer(action, options[number - 1])
            case AskYesNo() | AskFigure() | AskLine() | None:
                self.pick(number)
            case form:
                assert_never(form)

    def rub_out(self) -> None:
        """Take the last character of a figure away."""
        self.entry = self.entry[:-1]

    def pick(self, number: int) -> None:
        """Pick a part by its number."""
        parts = list(self.state.bench.parts)
        if number > len(parts):
            self.message = f"There is no part {number}."
            return
        self.let_go()
        self._pick(parts[number - 1])

    def pick_next(self, step: int) -> None:
        """Pick the next part, or the one before."""
        parts = list(self.state.bench.parts)
        at = 0 if step > 0 else -1
        if self.picked in parts:
            at = parts.index(self.picked) + step
        self._pick(parts[at % len(parts)])

    def _pick(self, name: str) -> None:
        """Picked by hand, a part goes before all that is critical now, not what becomes so."""
        stamp = self.bench.stamp()
        self._picked_over = _critical(self.actions(stamp), stamp.noted_ms)
        self.picked, self.entry = name, ""

    def let_go(self) -> None:
        """Back to the most pressing action."""
        self.picked, self.entry, self.message, self.reading = None, "", "", False
        self.unread = None

    def undo(self) -> None:
        """Take the last press back."""
        self.press(c.Undo())

    def redo(self) -> None:
        """Redo the press taken back."""
        self.press(c.Redo())

    def back_date(self, seconds: int) -> None:
        """The last press was earlier."""
        self.press(c.BackDate(seconds * 1000), said=f"Back-dated by {duration(seconds)}.")

    def move_target(self, minutes: int) -> None:
        """The dwell of the part shown has its target later, or sooner; the part stays shown."""
        action = self.shown(self.bench.stamp())
        if action is None or action.part is None:
            self.message = "Pick a part first: press its number."
            return
        self._pick(action.part)
        self.press(c.MoveTarget(action.part, minutes * 60))

    def press(self, command: c.Command, said: str = "") -> bool:
        """Do it, or say why not; whether it was done."""
        if not isinstance(self.bench, Driver):
            self.message = "Looking on only: nothing can be changed here."
            return False
        self.entry, self.reading, self.unread = "", False, None
        self._confirmed_at = self._monotonic()  # what comes next is not confirmed by a slip
        try:
            events = self.bench.press(self.name, command)
        except Refused as refusal:
            self.message = str(refusal)
            if isinstance(refusal, ReadingFirst):
                self.unread = refusal.place
            return False
        except StoreError as error:
            self.message = f"NOT SAVED, NOT DONE: {error}"
            return False
        self._let_go_after(command)
        words = words_of(self.state.bench)
        news = [sentence(event, words) for event in events if isinstance(event, NEWS)]
        self.message = self.bench.complaint or said or "\n".join(news)
        return True

    def _let_go_after(self, command: c.Command) -> None:
        """A part picked by hand stays picked until it is in a station, out, or held."""
        if isinstance(command, c.MoveTarget):
            return  # the next press means the same part
        part = self.state.bench.parts.get(self.picked or "")
        stays = (c.Acknowledge, c.Read, c.SkipReading, c.Begin, c.Finish, c.Answer)
        in_work = part is not None and part.phase in (PartPhase.WAITING, PartPhase.IN_HAND)
        if not (isinstance(command, stays) and in_work and part and part.held is None):
            self.picked = None

    def write_bath(self, name: str, command: BathCommand) -> bool:
        """Write into the bath book, or say why not; whether it was written.

        The book has its own way back: undo at the bench takes back what was done at the bench.
        """
        if not isinstance(self.bench, Driver):
            self.message = "Looking on only: nothing can be changed here."
            return False
        try:
            self.bench.write_bath(name, command)
        except Refused as refusal:
            self.message = str(refusal)
            return False
        except StoreError as error:
            self.message = f"NOT SAVED, NOT DONE: {error}"
            return False
        self.message = f"Written into the bath book of {name}."
        return True

    def alarms(self, stamp: Stamp) -> list[Alarm]:
        """What to come for in every run on the bench, what is late and spoils first."""
        return in_order(
            alarm
            for name in self.bench.names
            for alarm in alarms_of(
                name, self.bench.state(name).bench, stamp.noted_ms, self.bench.agenda(name, stamp)
            )
        )

    def silence(self) -> bool:
        """Quiet for a minute, written down where it can be; whether anything called."""
        alarms = self.alarms(self.bench.stamp())
        if not alarms:
            self.message = "Nothing calls now."
            return False
        self.message = f"Quiet for {SILENCE_S} s. Still to do: {message_of(alarms)}"
        due: dict[str, list[Alarm]] = {}
        for alarm in alarms:
            due.setdefault(alarm.run, []).append(alarm)
        if isinstance(self.bench, Driver):
            try:
                words = {name: message_of(told) for name, told in due.items()}
                self.bench.silence(words, SILENCE_S * 1000)
            except StoreError as error:
                self.message = f"Quiet for {SILENCE_S} s, but that could not be written: {error}"
        return True

    def too_soon(self) -> bool:
        """Whether a press follows another one within a moment; it counts as one either way."""
        now = self._monotonic()
        soon = now - self._confirmed_at < self._guard_s
        self._confirmed_at = now
        return soon

    def takes_figure(self, action: Action, stamp: Stamp) -> bool:
        """Whether digits write a figure now: a reading that is due, or was asked for."""
        if action.kind is ActionKind.READING:
            return self.reading or action.is_due(stamp.noted_ms)
        asks = action.kind in (ActionKind.ANSWER, ActionKind.ASK)
        return asks and isinstance(action.form, AskFigure)

    def _write_figure(self, action: Action) -> None:
        if not self.entry:
            self.message = "Type the figure first."
        elif action.kind is ActionKind.READING and action.to_station is not None:
            self.press(c.Read(action.to_station, self.entry))
        elif action.kind is ActionKind.ASK:
            self.press(c.Prepare(action.item, said=self.entry))
        else:
            self._answer(action, self.entry)


def _critical(actions: Sequence[Action], now_ms: int) -> frozenset[tuple[str, ...]]:
    """What is nearly too late, or is."""
    return frozenset(
        _place_of(action)
        for action in actions
        if action.latest_ms is not None and action.latest_ms - CRITICAL_S * 1000 <= now_ms
    )


def _place_of(action: Action) -> tuple[str, ...]:
    """What an action is about, so that it is recognized when it is worked out again."""
    check = action.check.id if action.check is not None else ""
    if action.kind is ActionKind.READING:
        return (action.kind.value, action.to_station or "")
    return (action.kind.value, action.part or "", check)
