"""Pages that the board opens, for reading, questions and rare actions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from benchtimer.bench.moment import Moment
from benchtimer.bench.plain_timer import TimerError, read_timer, set_timer
from benchtimer.run import commands as c
from benchtimer.run.refusals import Refused
from benchtimer.store.log import StoreError
from benchtimer.times import TimeError, duration
from benchtimer.tui.bench_screen import BenchScreen
from benchtimer.tui.dialogs import ChoicePage, HelpPage, LinePage, TextPage, ask_in_turn
from benchtimer.view.bathtrouble import remedies
from benchtimer.view.desk import Desk
from benchtimer.view.hazard_page import hazard_lines
from benchtimer.view.keys import DIGITS, KEYS, Key
from benchtimer.view.menu import MenuItem, bath_of, offers
from benchtimer.view.pagekeys import allowed
from benchtimer.view.picture.legend import LEGEND
from benchtimer.view.stations import page_rows
from benchtimer.view.words import work_page

PLANNED_AROUND = "The plan now keeps that time free. U on the board takes that back."
"""What saying that you leave has done."""


class BoardPages(BenchScreen):
    """The board's keys that open a page in front of it."""

    desk: Desk

    def refresh_board(self, moment: Moment | None = None, *, by_itself: bool = False) -> None:
        """Draw what has changed."""
        raise NotImplementedError

    def _after_press(self) -> None:
        """Draw what a press has changed."""
        raise NotImplementedError

    def action_work(self) -> None:
        """What to do about a bath out of range; otherwise the recipe's text about the work
        shown.
        """
        moment = self.desk.meant()
        shop = moment.shop
        texts = [remedies(shop.bench(run), shop.firsts(run)) for run in shop.runs]
        if any(texts):
            text = "\n\n".join(each for each in texts if each)
            self.app.push_screen(TextPage("What to do now", text))
            return
        action = self.desk.shown(moment)
        page = work_page(moment.bench_of(action), action) if action is not None else None
        if page is not None:
            self.app.push_screen(TextPage(*page))

    def action_log(self) -> None:
        """The record so far."""
        try:
            self.bench_app.show_record(self.desk.name)
        except StoreError as error:
            self.desk.message = str(error)
            self.refresh_board()

    def action_judge(self) -> None:
        """How the picked part came out, or every finished part."""
        from benchtimer.tui.judging import judge_in_turn

        desk = self.desk
        parts = desk.state.bench.parts.values()
        picked = desk.picked_in(desk.name)
        names = [p.name for p in parts if p.name == picked or (p.is_out and not picked)]
        if not names:
            desk.message = "No part is done yet. Pick one to judge it anyway."
        judge_in_turn(self.app, desk, names, self._after_press)

    def action_compare(self) -> None:
        """What differed between the tries of the part shown, in this run and earlier ones."""
        from benchtimer.records.try_comparison import tries_text_of

        action = self.desk.shown(self.desk.meant())
        shown = action.part if action is not None else None
        picked = self.desk.picked_in(self.desk.name)
        name = picked or shown or next(iter(self.desk.state.bench.parts))
        try:
            text = tries_text_of(self.desk.bench.records_with(name), name)
        except StoreError as error:
            self.desk.message = str(error)
            self.refresh_board()
            return
        self.app.push_screen(TextPage(f"Tries of {name}", text))

    def action_hazards(self) -> None:
        """All hazards of what is on the bench."""
        shop = self.desk.meant().shop
        benches = [shop.bench(run) for run in shop.runs]
        pages = [page for bench in benches for page in bench.clashes]
        pages += [h for b in benches for recipe in b.recipes.values() for h in recipe.hazard]
        texts = [
            "\n".join([page.title.upper(), *hazard_lines(page, 70)[:-1]])
            for page in {page.title + page.text: page for page in pages}.values()
        ]
        text = "\n\n".join(texts) or "The recipes on the bench name no hazards."
        self.app.push_screen(TextPage("Hazards", text))

    def action_stations(self) -> None:
        """All details of the stations."""
        moment = self.desk.meant()
        text = "\n".join(page_rows(moment.shop, moment.stamp))
        self.app.push_screen(TextPage("Stations", text))

    def action_help(self) -> None:
        """The keys, and the marks of the picture."""
        keys = allowed([DIGITS, *KEYS], read_only=self.desk.read_only)
        marks = [Key(m, f"mark('{m}')", m, "", words, changes=False) for m, words in LEGEND]
        self.app.push_screen(HelpPage("Keys and marks", [*keys, *marks]))

    def action_try_alarm(self) -> None:
        """Play the alarm, and ask whether you heard it."""
        self.bench_app.try_alarm()

    def action_note(self) -> None:
        """Write a note, about the picked part if there is one."""
        part = self.desk.picked_in(self.desk.name)
        ask = f"Note about {part}" if part else "Note"
        self._ask(ask, lambda text: self.desk.press(c.Note(text, part)))

    def action_timer(self) -> None:
        """Set a simple timer."""
        self._ask("Timer: name and time, like glue 24 h", self._set_timer)

    def _set_timer(self, words: str) -> bool:
        try:
            name, seconds = read_timer(words)
            set_timer(self.desk.bench, name, seconds)
        except (TimerError, Refused, StoreError) as error:
            self.desk.message = str(error)
            return False
        self.desk.message = f"Timer {name}: {duration(seconds)}"
        return True

    def action_add(self) -> None:
        """Add a part with a recipe of this run."""
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

        def join(given: dict[str, str]) -> None:
            name = given.pop("")
            self.desk.press(c.AddPart(name, key, properties=given))
            self._after_press()

        ask_in_turn(self.app, asks, join)

    def _ask(self, title: str, then: Callable[[str], bool]) -> None:
        """Ask for a line and do it; what can't be done is said there, and the line stays."""

        def refuse(text: str) -> str:
            if then(text):
                return ""
            wrong, self.desk.message = self.desk.message, ""
            return wrong or "That can't be done now. ESC goes back"

        page = LinePage(title, refuse=refuse)
        self.app.push_screen(page, lambda text: self._after_press() if text else None)

    def action_go(self) -> None:
        """Ask when you must go, plan around it, and say what that means for each part.

        The plan changes with the answer, and U takes that back.
        """
        back = "20:00 to Sat 08:00"  # without set hours you must also say when you'll be back
        like = back if self.bench_app.settings.work_hours.is_always else f"20:00, or {back}"
        ask = (
            f"When do you leave? {like}. The plan keeps that time free. "
            "Enter stay if you don't leave"
        )
        self._ask(ask, self._go)

    def _go(self, text: str) -> bool:
        # It imports the planner, so not at the start.
        from benchtimer.bench.advice import away_of, away_windows
        from benchtimer.view.leaving import leaving_lines, times_away

        desk, stamp = self.desk, self.desk.bench.stamp()
        try:
            stays = text.strip().lower() == "stay"
            away = None if stays else times_away(text, self.bench_app.settings.work_hours, stamp)
        except TimeError as error:
            desk.message = str(error)
            return False
        begin_ms, end_ms = away or (None, None)
        if not self.bench_app.open_runs():
            desk.message = "Nothing is on the bench to plan around."
            return False
        if not desk.leave(begin_ms, end_ms):
            return False
        if away is None:
            return True
        shop = desk.bench.planned_with(desk.bench.shop(stamp))
        windows = away_windows(away_of(shop), stamp, self.bench_app.settings.work_hours)

        def think() -> None:
            lines = leaving_lines(shop, away, windows, stamp)
            text = "\n".join([PLANNED_AROUND, "", *lines])
            page = TextPage("Before you go", text)
            self.app.call_from_thread(self.app.push_screen, page)

        self.run_worker(think, thread=True, group="leaving", exit_on_error=False)
        return True

    def action_prepare(self) -> None:
        """The checklist of this run."""
        self.bench_app.show_preparation(self.desk.name)

    def action_menu(self) -> None:
        """The menu of rare actions."""
        moment = self.desk.meant()
        action = self.desk.shown(moment)
        name = self.desk.picked_in(self.desk.name) or (action.part if action is not None else None)
        if self.desk.name in moment.shop.states:
            bench = moment.shop.bench(self.desk.name)
            part, suiting = bench.parts.get(name or ""), self._suiting()
            about = f"#{part.number} {part.name}" if part is not None and not part.is_out else ""
            title = f"{about}: more" if about else "More"
            self._offer(title, offers(bench, part, suiting, moment.now_ms), about)

    def _suiting(self) -> Mapping[str, tuple[str, ...]]:
        """The baths in the book that fit each place; none if the book can't be read."""
        book = self.desk.bench.book
        if book is None:
            return {}
        try:
            return book.suiting(self.desk.state.bench, self.desk.bench.stamp().noted_ms)
        except StoreError:
            return {}

    def _offer(self, title: str, items: list[MenuItem], about: str = "") -> None:
        page = ChoicePage(title, [_shown(offer) for offer in items], about)
        self.app.push_screen(page, partial(self._chosen, items))

    def _chosen(self, items: list[MenuItem], index: int | None) -> None:
        if index is None:
            return
        offer = items[index]
        if offer.command is not None:
            self.desk.press(offer.command)
            self._after_press()
        elif offer.choices:
            self._offer(offer.text, list(offer.choices))
        elif offer.with_words is not None:
            make = offer.with_words
            self._ask(offer.ask, lambda text: self.desk.press(make(text)))
        elif offer.mixes:
            mix = bath_of(self.desk.state.bench)[offer.mixes].mix or ""
            vessel = self.bench_app.settings.vessels.get(mix)
            volume = str(vessel) if vessel is not None else None
            self._ask(offer.ask, lambda text: self.desk.mix_bath(offer.mixes, text, volume))
        elif offer.in_book is not None:
            write = offer.in_book
            self._ask(offer.ask, lambda text: self.desk.write_bath(offer.bath, write(text)))
        else:
            self.desk.message = f"{offer.text}: not now."
            self.refresh_board()


def _shown(offer: MenuItem) -> str:
    """The line of an offer, with a note if it is not possible now."""
    return offer.text if offer.can else f"({offer.text}: not now)"
