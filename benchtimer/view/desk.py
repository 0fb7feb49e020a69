"""Between keys and bench: what a press means now. It needs no screen."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import assert_never

from benchtimer.bench.asking import Asking, begins_later_ms
from benchtimer.bench.moment import Moment
from benchtimer.bench.open_bench import OpenBench
from benchtimer.recipe.answers import AskFigure, AskLine, AskOption, AskYesNo
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.run_state import Bench, RunPhase
from benchtimer.run.setup import PUT_OFF, known_of
from benchtimer.shop.hours import ALWAYS, Hours
from benchtimer.shop.shop_state import also_pressed, last_press
from benchtimer.values import replace
from benchtimer.view.atwork import leaves_behind
from benchtimer.view.board_text import BoardView
from benchtimer.view.doing import Doing
from benchtimer.view.keyguard import GUARD_S, LineRead
from benchtimer.view.trouble import trouble_lines
from benchtimer.view.words import (
    is_whole_reading,
    reading_unit,
    start_words,
    steps_of,
    window_read,
    with_unit,
)

JUST_CHANGED = "The line just changed. Look, then press again."

INSIST_S = 10.0
"""A second press of Q within this time confirms the first."""

HABIT_GUARDS = 4
"""A SPACE or digit this many ``GUARD_S`` or less after a reading counts as part of it."""

HABIT_S = 3.0
"""A SPACE this soon after a reading that saved itself begins nothing before its time (the program's
own guess).
"""

DRAWN_MS = 1500
"""How long a press refers to the drawn agenda; the board draws once a second."""

EARLY = (ActionKind.START, ActionKind.BEGIN, ActionKind.FINISH)
"""What the key for going ahead early does as it is."""


class Desk(Doing):
    """Your side of the bench: what you have picked and typed.

    Args:
        bench: the bench.
        name: the run that pages are about at first; on the board, that of the action shown.
        monotonic: a clock in seconds that never goes back.
        guard_s: how long a second press counts as a slip.
        hours: when you work.

    Attributes:
        glance: whether the next action fills the screen.
        remark: what you should know before START; empty if nothing.
        begins_early: a part that SPACE would begin before its planned time, and that time.
    """

    def __init__(
        self,
        bench: OpenBench,
        name: str = "",
        monotonic: Callable[[], float] = time.monotonic,
        guard_s: float = GUARD_S,
        hours: Hours = ALWAYS,
    ) -> None:
        super().__init__(bench, name, monotonic)
        self.glance = False
        self.remark = ""
        self.begins_early: tuple[Moment, Action] | None = None
        self.asking = Asking(bench, monotonic, hours)
        self._guard_s = guard_s
        self._drawn: Moment | None = None
        self._line = LineRead(monotonic, guarded=guard_s > 0)
        self._warned_at = float("-inf")
        self._saved_at = float("-inf")

    def meant(self) -> Moment:
        """The moment of a press; its agenda is the one that was drawn."""
        stamp = self.bench.stamp()
        drawn = self._drawn
        if drawn is not None and 0 <= stamp.noted_ms - drawn.now_ms <= DRAWN_MS:
            same = drawn.shop is self.bench.shown_shop(stamp)
            if same and drawn.advice is self.bench.plans.advice:
                return replace(drawn, stamp=stamp)
        return self.bench.moment(stamp)

    def said_at(self, moment: Moment, *, reads_hazard: bool = False) -> str:
        """The latest message, after what is not saved; before START, what you should know.

        Args:
            moment: the bench now.
            reads_hazard: whether a hazard is being read and needs the rows.
        """
        self.forget_old()
        idle = any(moment.shop.bench(r).phase is RunPhase.IDLE for r in moment.shop.runs)
        remark = self.remark if idle and not reads_hazard else ""
        return "\n".join(text for text in (self.bench.unsaved, self.message, remark) if text)

    def may_leave(self) -> bool:
        """Whether you can leave right away.

        If not, a message says why, and Q again leaves.
        """
        leaving = leaves_behind(self.bench)
        if not leaving:
            return True
        insists = self._monotonic() - self._warned_at < INSIST_S
        self._warned_at = self._monotonic()
        if not insists:
            self.message = leaving
        return insists

    def saw(self, moment: Moment, action: Action | None, *, by_itself: bool) -> None:
        """Note what is drawn now, because a press refers to it.

        Args:
            moment: the moment drawn.
            action: the action of the large line.
            by_itself: whether time changed it, not a press.
        """
        self._line.saw(action, by_itself=by_itself)
        self._drawn = moment

    def _read(self, moment: Moment) -> Action | None:
        """The action a press is for: the one that was read, if it can still be done."""
        leads = self.shown(moment)
        action = self._line.meant(leads, moment)
        if action is None and leads is not None:
            self.message = JUST_CHANGED
        return action

    def look(self, shown: Action | None, moment: Moment, marks: Sequence[str] = ()) -> BoardView:
        """How you are looking at the board now.

        Args:
            shown: the action on the large line.
            moment: the bench now.
            marks: words for the corner of the board.
        """
        reads_hazard = self.reads_hazard(shown, moment.now_ms)
        states = self._states()
        undo = last_press(states)
        return BoardView(
            self.name,
            entry=self.entry,
            marks=marks,
            reading=self.reading or reads_hazard,
            message=self.said_at(moment, reads_hazard=reads_hazard),
            trouble=trouble_lines(moment, self.bench.probe_troubles),
            unread=self.unread is not None,
            picked=self.picked,
            glance=self.glance,
            read_only=self.read_only,
            usual=self._usual(shown),
            undo=undo,
            also=also_pressed(states, undo[0]) if undo is not None else (),
            bench=self.bench.state(undo[0]).bench if undo is not None else Bench(),
        )

    def _usual(self, shown: Action | None) -> str:
        """How long the step shown usually takes you, once you have it in hand."""
        works = (ActionKind.BEGIN, ActionKind.FINISH)
        if shown is None or shown.kind not in works or shown.part is None or shown.index is None:
            return ""
        run = shown.run or self.name
        bench = self.bench.state(run).bench
        steps = [step.id for step in steps_of(bench, shown)]
        return self.bench.learned(run).usual(bench.parts[shown.part].recipe, steps)

    def confirm(self) -> str | None:
        """Do what the large line says; ``"write"`` if words are needed first.

        ``"early"`` if a part would begin before its planned time; ``begins_early`` has the part.
        """
        if self.too_soon():
            return None
        if self._is_said_again():
            self._saved_at = float("-inf")  # once only: the next press is taken normally
            return None
        self.message = ""
        moment = self.meant()
        action = self._read(moment)
        if action is None:
            return None
        if self.unread is not None:
            self.unread = None
        elif self.takes_figure(action, moment.now_ms):
            self._write_figure(action)
        elif action.kind is ActionKind.READING:
            self.reading = True
        elif action.kind is ActionKind.ANSWER:
            if isinstance(action.form, AskLine):
                return "write"
            self.message = "Answer the question first."
        elif action.kind is ActionKind.HAZARD and not self.reads_hazard(action, moment.now_ms):
            self.reading = True
        elif action.kind is ActionKind.START and action.command is None:
            starts = start_words(action.due_ms, moment.stamp)
            self.message = f"{starts}. E: set up and start now instead."
        elif action.kind is ActionKind.BEGIN and moment.now_ms < action.earliest_ms:
            self.message = "Too early for this part. E: pull it anyway."
        elif action.blocked is not None and not _is_shut(moment, action):
            self.message = f"{action.blocked}. E: do it anyway."
        elif begins_later_ms(moment, action) is not None and self._just_saved(HABIT_S):
            self.message = "The reading is saved. SPACE again begins this early."
        elif begins_later_ms(moment, action) is not None:
            self.begins_early = moment, action
            return "early"
        elif action.command is not None:
            self.press(action.command, action.run, at=moment.stamp)
        else:
            self.message = "The recipe stopped this part. Press M: send back, scrap, resume."
        return None

    def leave(self, from_ms: int | None, to_ms: int | None) -> bool:
        """Note for every run on the bench when you are away; return whether that worked.

        Args:
            from_ms: bench time at which you leave; None: you stay after all.
            to_ms: bench time at which you are back.
        """
        runs = self.bench.open_runs()
        return bool(runs) and self.press(c.Leave(from_ms, to_ms), runs[0])

    def early(self) -> None:
        """Continue without what is missing, or earlier than planned; the engine decides.

        A reading is skipped for one of a few reasons, chosen by digit. Setup work is put off, and
        the record says so. A part begins even with another part in hand.
        """
        moment = self.meant()
        action = self._read(moment)
        if action is None:
            return
        command = action.command
        if action.kind is ActionKind.READING and action.to_station is not None:
            self.unread, self.entry = (action.run, action.to_station), ""
            self.reading = True
        elif action.kind is ActionKind.START and action.command is None:
            self.press(c.Postpone(None, None), action.run)
        elif action.kind in (ActionKind.MIX, ActionKind.HEAT, ActionKind.ASK):
            self.press(c.Prepare(action.item, said=PUT_OFF), action.run)
        elif isinstance(action.form, AskLine) and action.form.skip:
            self._answer(action, False)
        elif isinstance(command, c.Begin):
            self.press(replace(command, anyway=True, loads=False), action.run)
        elif action.kind in EARLY and command is not None:
            self.press(command, action.run)

    def _skip(self, number: int) -> None:
        """Choose why a bath goes unread."""
        at, self.unread = self.unread, None
        if at is not None and number <= len(c.NO_READING):
            run, place = at
            self.press(c.SkipReading(place, c.NO_READING[number - 1]), run)

    def say(self, answer: bool) -> None:
        """Answer a yes-no question; a key that bounces is one answer."""
        if self.too_soon():
            return
        action = self._read(self.meant())
        if action is None and self.message == JUST_CHANGED:
            return
        if action is None or not isinstance(action.form, AskYesNo):
            self.message = "No yes-no question is open."
            return
        self._answer(action, answer)

    def write(self, text: str, asked: Action | None = None) -> None:
        """Answer a question in words: the one that was asked, even if something else is due now."""
        action = asked if asked is not None else self.shown(self.meant())
        self._answer(action, text)

    def _answer(self, action: Action | None, answer: str | bool) -> None:
        if action is not None and action.part is not None and action.check is not None:
            self.press(c.Answer(action.part, action.check.id, answer), action.run)

    def digit(self, char: str) -> bool:
        """Use a digit, point or minus for a figure, an answer or a part number.

        Returns:
            Whether it was used; if not, it may be another key.
        """
        if self._is_said_again():
            return True
        if self.unread is not None:
            self._skip(int(char) if char in "123456789" else len(c.NO_READING) + 1)
            return True
        moment = self.meant()
        action = self._line.meant(self.shown(moment), moment)
        begun = char.isdecimal() and self.begins_number(self._monotonic())
        if begun and self._picks_on(int(char), moment):
            return True
        if action is not None and self.takes_figure(action, moment.now_ms):
            self.message = ""  # such as "Type the figure first."
            self.type(char, action)
            self._save_whole(action)
            return True
        if char.isdecimal() and char != "0":
            self._number(int(char), action, moment)
        return char.isdecimal()

    def _save_whole(self, action: Action) -> None:
        """Save a reading in range at its last digit; a SPACE out of habit then does nothing."""
        bench = self.meant().bench_of(action)
        read = with_unit(self.entry, reading_unit(bench, action))
        command: c.Command | None = None
        if is_whole_reading(self.entry, window_read(bench, action)) and action.to_station:
            command = c.Read(action.to_station, read)
        elif action.part is not None and action.check is not None:
            form = action.check.form(known_of(bench, bench.parts[action.part]))
            if isinstance(form, AskFigure) and form.is_whole(self.entry):
                command = c.Answer(action.part, action.check.id, self.entry)
        said = f"Saved: {read}. U takes it back."
        if command is not None and self.press(command, action.run, said=said):
            self._saved_at = self._monotonic()

    def _is_said_again(self) -> bool:
        """Whether a press only repeats what the last digit of a reading has saved."""
        return self._just_saved(HABIT_GUARDS * self._guard_s)

    def _just_saved(self, within_s: float) -> bool:
        return self._monotonic() - self._saved_at < within_s

    def _picks_on(self, digit: int, moment: Moment) -> bool:
        """Whether a digit is the second one of a part's number; if so, that part is picked."""
        number = self.number_meant(digit, moment.shop, self._monotonic())
        if number == digit:
            return False
        self.pick_number(number, moment)
        return True

    def _number(self, number: int, action: Action | None, moment: Moment) -> None:
        match action.form if action is not None else None:
            case AskYesNo() if number <= 2:
                self.say(number == 1)
            case AskOption(options):
                if number <= len(options) and not self.too_soon():
                    self._answer(action, options[number - 1])
            case AskYesNo() | AskFigure() | AskLine() | None:
                self.number_meant(number, moment.shop, self._monotonic())
                self.pick_number(number, moment)
            case form:
                assert_never(form)

    def rub_out(self) -> None:
        """Delete the last character of a figure."""
        self.entry = self.entry[:-1]

    def pick_number(self, number: int, moment: Moment | None = None) -> None:
        """Pick a part by its number, wherever it is."""
        moment = moment if moment is not None else self.meant()
        at = moment.shop.numbered(number)
        if at is None:
            self.message = f"There is no part {number}."
            return
        self.let_go()
        self.pick(at, moment)

    def pick_next(self, step: int) -> None:
        """Pick the next part, or the one before."""
        moment = self.meant()
        parts = [(run, part.name) for run, part in moment.shop.parts()]
        at = 0 if step > 0 else -1
        if self.picked in parts:
            at = parts.index(self.picked) + step
        if parts:
            self.pick(parts[at % len(parts)], moment)

    def pick_run(self, run: str) -> None:
        """Show the next action of a run, even if another run's is more urgent."""
        self.let_go()
        self.name = run
        moment = self.meant()
        first = moment.first_of(run)
        if first is None or first is moment.first:
            return
        parts = self.bench.state(run).bench.parts.values()
        name = first.part or next((part.name for part in parts if not part.is_out), None)
        if name is not None:
            self.pick((run, name), moment)

    def move_target(self, minutes: int) -> None:
        """Move the target of the part's dwell later or sooner; the part stays shown."""
        moment = self.meant()
        action = self.shown(moment)
        if action is None or action.part is None:
            self.message = "Pick a part first: press its number."
            return
        self.pick((action.run, action.part), moment)
        self.press(c.MoveTarget(action.part, minutes * 60), action.run)

    def too_soon(self) -> bool:
        """Whether a press follows another within a moment; either way it counts as one."""
        now = self._monotonic()
        soon = now - self._confirmed_at < self._guard_s
        self._confirmed_at = now
        return soon

    def _write_figure(self, action: Action) -> None:
        if not self.entry:
            self.message = "Type the figure first."
        elif action.kind is ActionKind.READING and action.to_station is not None:
            unit = reading_unit(self.meant().bench_of(action), action)
            self.press(c.Read(action.to_station, with_unit(self.entry, unit)), action.run)
        elif action.kind is ActionKind.ASK:
            self.press(c.Prepare(action.item, said=self.entry), action.run)
        else:
            self._answer(action, self.entry)


def _is_shut(moment: Moment, action: Action) -> bool:
    """Whether no press can do an action: its place is out of service, or full with the part in
    your hands. The refusal then says what to do first.
    """
    bench = moment.bench_of(action)
    place = bench.places.get(action.to_station or "")
    if place is None:
        return False
    part = bench.parts[action.part] if action.part and action.kind is ActionKind.FINISH else None
    full = part and len(bench.occupants(place.station.id, part)) >= place.station.holds
    return place.closed is not None or bool(full)
