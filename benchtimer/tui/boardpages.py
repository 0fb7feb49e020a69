"""Pages that the board opens: what is read, asked for or seldom done."""

from __future__ import annotations

from functools import partial

from benchtimer.bench.driver import Driver
from benchtimer.bench.plain_timer import TimerError, read_timer, set_timer
from benchtimer.records.compare import tries_text_of
from benchtimer.run import commands as c
from benchtimer.run.refusals import Refused
from benchtimer.store.log import Stamp, StoreError
from benchtimer.times import TimeError
from benchtimer.tui.dialogs import ChoicePage, HelpPage, LinePage, TextPage, ask_in_turn
from benchtimer.tui.judging import judge_in_turn
from benchtimer.tui.passages import BenchScreen
from benchtimer.view.bathtrouble import remedies
from benchtimer.view.board import hazard_lines
from benchtimer.view.desk import Desk
from benchtimer.view.keys import help_lines
from benchtimer.view.menu import Offer, offers
from benchtimer.view.stations import page_rows
from benchtimer.view.words import work_page


class BoardPages(BenchScreen):
    """The part of the board's keys that open a page in front of it."""

    desk: Desk

    def refresh_board(self, at: Stamp | None = None) -> None:
        """Draw what has changed."""
        raise NotImplementedError

    def _after_press(self) -> None:
        """Draw what a press has changed."""
        raise NotImplementedError

    def action_work(self) -> None:
        """What to do about a bath out of range; else the recipe's own words on the work shown."""
        bench = self.desk.state.bench
        told = remedies(bench)
        if told:
            self.app.push_screen(TextPage("What to do now", told))
            return
        page = work_page(bench, self.desk.shown(self.desk.bench.stamp()))
        if page is not None:
            self.app.push_screen(TextPage(*page))

    def action_log(self) -> None:
        """The record so far."""
        try:
            self.house.show_record(self.desk.name)
        except StoreError as error:
            self.desk.message = str(error)
            self.refresh_board()

    def action_judge(self) -> None:
        """How the part picked came out, or each part that is through."""
        desk = self.desk
        parts = desk.state.bench.parts.values()
        told = [p.name for p in parts if p.name == desk.picked or (p.is_out and not desk.picked)]
        if not told:
            desk.message = "No part is done yet. Pick one to judge it anyway."
        judge_in_turn(self.app, desk, told, self._after_press)

    def action_compare(self) -> None:
        """What differed between the tries of the part shown, over this run and earlier ones."""
        action = self.desk.shown(self.desk.bench.stamp())
        shown = action.part if action is not None else None
        name = self.desk.picked or shown or next(iter(self.desk.state.bench.parts))
        try:
            text = tries_text_of(self.desk.bench.records_with(name), name)
        except StoreError as error:
            self.desk.message = str(error)
            self.refresh_board()
            return
        self.app.push_screen(TextPage(f"Tries of {name}", text))

    def action_hazards(self) -> None:
        """All hazards of the run's recipes."""
        told: list[str] = []
        for recipe in self.desk.state.bench.recipes.values():
            for hazard in recipe.hazard:
                told += [hazard.title.upper(), *hazard_lines(hazard, 70)[:-1], ""]
        text = "\n".join(told) or "The recipes of this run name no hazards."
        self.app.push_screen(TextPage("Hazards", text))

    def action_stations(self) -> None:
        """The stations in full."""
        bench, stamp = self.desk.state.bench, self.desk.bench.stamp()
        self.app.push_screen(TextPage("Stations", "\n".join(page_rows(bench, stamp))))

    def action_home(self) -> None:
        """What runs, what waits, what was."""
        self.house.show_home()

    def action_help(self) -> None:
        """The keys."""
        self.app.push_screen(HelpPage("Keys", "\n".join(help_lines(read_only=self.desk.read_only))))

    def action_try_alarm(self) -> None:
        """Play the alarm, and say whether it was heard."""
        self.house.try_alarm()

    def action_note(self) -> None:
        """Write a note, about the part picked if one is."""
        part = self.desk.picked
        ask = f"Note about {part}" if part else "Note"
        self._ask(ask, lambda text: self.desk.press(c.Note(text, part)))

    def action_timer(self) -> None:
        """Set a plain timer."""
        self._ask("Timer: name and time, like glue 24 h", self._set_timer)

    def _set_timer(self, words: str) -> None:
        bench = self.desk.bench
        try:
            if isinstance(bench, Driver):
                self.house.show_run(set_timer(bench, *read_timer(words)))
        except (TimerError, Refused, StoreError) as error:
            self.desk.message = str(error)

    def action_add(self) -> None:
        """Let a part join with a recipe of this run."""
        recipes = list(self.desk.state.bench.recipes)
        if len(recipes) == 1:
            self._name_part(recipes[0])
            return
        self.app.push_screen(
            ChoicePage("Which recipe does the new part follow?", recipes),
            lambda i: self._name_part(recipes[i]) if i is not None else None,
        )

    def _name_part(self, key: str) -> None:
        known = self.desk.state.bench.recipes[key].part_properties
        asks = [("", "Name of the new part"), *((p.id, p.ask) for p in known)]

        def join(told: dict[str, str]) -> None:
            name = told.pop("")
            self.desk.press(c.AddPart(name, key, properties=told))
            self._after_press()

        ask_in_turn(self.app, asks, join)

    def _ask(self, title: str, then: object) -> None:
        def written(text: str | None) -> None:
            if text and callable(then):
                then(text)
                self._after_press()

        self.app.push_screen(LinePage(title), written)

    def action_go(self) -> None:
        """Ask when you must go, plan around it, and say what that means for each part."""
        self._ask(
            "When must you go? 20:00, or 20:00 to Sat 08:00; stay to stay after all", self._go
        )

    def _go(self, text: str) -> None:
        from benchtimer.bench.advice import away_windows  # the planner, not at the start
        from benchtimer.view.leaving import leaving_lines, times_away

        desk, stamp = self.desk, self.desk.bench.stamp()
        try:
            stays = text.strip().lower() == "stay"
            away = None if stays else times_away(text, self.house.settings.work_hours, stamp)
        except TimeError as error:
            desk.message = str(error)
            return
        begin_ms, end_ms = away or (None, None)
        names = self.house.open_runs()
        if not desk.leave(names, begin_ms, end_ms) or away is None:
            return
        benches = {name: desk.bench.state(name).bench for name in names}
        hours = self.house.settings.work_hours

        def think() -> None:
            lines = leaving_lines(
                benches, away, lambda b: away_windows(b.away, stamp, hours), stamp
            )
            page = TextPage("Before you go", "\n".join(lines))
            self.app.call_from_thread(self.app.push_screen, page)

        self.run_worker(think, thread=True, group="leaving", exit_on_error=False)

    def action_prepare(self) -> None:
        """The preparation page of this run."""
        self.house.show_preparation(self.desk.name)

    def action_menu(self) -> None:
        """What is done seldom."""
        bench = self.desk.state.bench
        action = self.desk.shown(self.desk.bench.stamp())
        name = self.desk.picked or (action.part if action is not None else None)
        self._offer("More", offers(bench, bench.parts.get(name or "")))

    def _offer(self, title: str, told: list[Offer]) -> None:
        page = ChoicePage(title, [_shown(offer) for offer in told])
        self.app.push_screen(page, partial(self._chosen, told))

    def _chosen(self, told: list[Offer], index: int | None) -> None:
        if index is None:
            return
        offer = told[index]
        if offer.command is not None:
            self.desk.press(offer.command)
            self._after_press()
        elif offer.choices:
            self._offer(offer.text, list(offer.choices))
        elif offer.with_words is not None:
            make = offer.with_words
            self._ask(offer.ask, lambda text: self.desk.press(make(text)))
        elif offer.in_book is not None:
            write = offer.in_book
            self._ask(offer.ask, lambda text: self.desk.write_bath(offer.bath, write(text)))


def _shown(offer: Offer) -> str:
    """An offer's line; one that can't be taken now says so."""
    return offer.text if offer.can else f"({offer.text}: not now)"
