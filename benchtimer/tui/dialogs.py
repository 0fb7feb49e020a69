"""Pages in front of the board: a list to choose from, a line to write, a text to read."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from benchtimer.records.inert import visible
from benchtimer.tui.front import FrontPage

LOOK_S = 1.0
"""How often a page in front looks whether something calls."""


class Calling(Static):
    """What is late, due or not saved, else what comes next: the first line of every page in front.

    The application says it in ``calling_words``; one without has nothing to say.
    """

    class Changed(Message):
        """It says something else, and may take other rows."""

    def __init__(self) -> None:
        super().__init__("", markup=False, id="calling", classes="empty")
        self._words = ""

    def on_mount(self) -> None:
        """Say it now, and look again every second."""
        self.look()
        self.set_interval(LOOK_S, self.look)

    def look(self) -> None:
        """Say what calls now; drawn again only if that is news."""
        words = getattr(self.app, "calling_words", None)
        said, calls = words() if words is not None else ("", False)
        text = visible(said)
        if text != self._words:
            self._words = text
            self.update(text)
            self.set_class(not text, "empty")
            news = calls or not self.has_class("calm")  # a countdown takes no other rows
            self.set_class(not calls, "calm")
            if news:
                self.post_message(self.Changed())


class ChoiceRow(Static):
    """One numbered choice; a large target for a finger."""

    def __init__(self, number: int, text: str) -> None:
        super().__init__(f"{number}  {text}", markup=False, classes="row")
        self.number = number


MORE = "more ..."

ROW_HEIGHT = 2
"""A choice is so high where there is room."""

FRAME = 2
"""Rows that the frame of a page takes."""


def _is_hint(event: events.Click) -> bool:
    return event.widget is not None and event.widget.has_class("hint")


class ChoicePage(ModalScreen[int | None], FrontPage[int | None]):
    """A list of choices, nine to a page; gives the index chosen, or None."""

    BINDINGS = [
        Binding("escape", "leave", "back", show=False),
        Binding("f,F", "app.first_aid", show=False),
    ]

    def __init__(self, title: str, options: Sequence[str]) -> None:
        super().__init__()
        self._title = title
        self._options = [visible(option, keep="") for option in options]
        self._first = 0

    @property
    def _shown(self) -> dict[int, str]:
        """The rows of this page by their digits; where there are more, 9 turns the page."""
        if len(self._options) <= 9:
            return dict(enumerate(self._options, start=1))
        rows = dict(enumerate(self._options[self._first : self._first + 8], start=1))
        return {**rows, 9: MORE}

    def compose(self) -> ComposeResult:
        """The choices, one row each."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static(self._title, markup=False, classes="title")
            for number, option in self._shown.items():
                yield ChoiceRow(number, option)
            yield Static("a digit chooses, ESC goes back", classes="hint")

    def on_mount(self) -> None:
        """Give the rows the room there is."""
        self._make_room()

    def on_resize(self) -> None:
        """The room has changed."""
        self._make_room()

    def on_calling_changed(self) -> None:
        """What calls takes rows, too."""
        self._make_room()

    def _make_room(self) -> None:
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        """Rows two high where all of them find room so, one high where not."""
        lines = [line for line in self.query(Static) if line.display]
        others = sum(line.outer_size.height for line in lines if not isinstance(line, ChoiceRow))
        rows = sum(isinstance(line, ChoiceRow) for line in lines)
        self.set_class(others + ROW_HEIGHT * rows + FRAME > self.app.size.height, "low")

    async def on_key(self, event: events.Key) -> None:
        """A digit chooses."""
        if event.key.isdecimal():
            event.stop()
            await self._choose(int(event.key))

    async def on_click(self, event: events.Click) -> None:
        """A finger chooses; on the line at the bottom it goes back."""
        if isinstance(event.widget, ChoiceRow):
            await self._choose(event.widget.number)
        elif _is_hint(event):
            self.action_leave()

    async def _choose(self, number: int) -> None:
        if number not in self._shown:
            return  # the row is one of the list shown before
        if number == 9 and len(self._options) > 9:
            self._first = self._first + 8 if self._first + 8 < len(self._options) else 0
            await self.recompose()
            self._make_room()
        else:
            self.dismiss(self._first + number - 1)

    def action_leave(self) -> None:
        """Choose nothing."""
        self.dismiss(None)


class LinePage(ModalScreen[str | None], FrontPage[str | None]):
    """A line to write; gives the text, or None.

    Args:
        title: what is asked.
        value: what the line holds at first.
    """

    BINDINGS = [Binding("escape", "leave", "back", show=False)]

    def __init__(self, title: str, value: str = "") -> None:
        super().__init__()
        self._title = title
        self._value = value

    def compose(self) -> ComposeResult:
        """The line."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static(self._title, markup=False, classes="title")
            yield Input(self._value, max_length=2000, select_on_focus=False)
            yield Static("ENTER saves it, ESC goes back", classes="hint")

    async def on_click(self, event: events.Click) -> None:
        """A touch on the line at the bottom goes back."""
        if _is_hint(event):
            self.action_leave()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Give the text; an empty line says that nothing was typed."""
        text = event.value.strip()
        if text:
            self.dismiss(text)
        else:
            self.query_one(".hint", Static).update("Nothing typed yet. ESC goes back")

    def action_leave(self) -> None:
        """Write nothing."""
        self.dismiss(None)


class TextPage(ModalScreen[None], FrontPage[None]):
    """A text to read, scrolled with the arrow keys."""

    HINT = "arrow keys scroll, ESC goes back"

    BINDINGS = [
        Binding(
            "escape,question_mark,space,enter,q,Q,l,L,c,C,w,W,i,I", "leave", "back", show=False
        ),
        Binding("f,F", "app.first_aid", show=False),
        Binding("down", "scroll(1)", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("pagedown", "scroll(10)", show=False),
        Binding("pageup", "scroll(-10)", show=False),
        Binding("home", "to_end(False)", show=False),
        Binding("end", "to_end(True)", show=False),
    ]

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self._title = title
        self._text = text

    def compose(self) -> ComposeResult:
        """The text."""
        with Vertical(classes="page tall"):
            yield Calling()
            yield Static(self._title, markup=False, classes="title")
            yield from self.above()
            with VerticalScroll(can_focus=False):
                yield Static(self._text, markup=False)
            yield Static(self.HINT, classes="hint")

    def above(self) -> ComposeResult:
        """What stays in place above the text: nothing."""
        yield from ()

    async def on_click(self, event: events.Click) -> None:
        """A touch on the line at the bottom goes back."""
        if _is_hint(event):
            self.action_leave()

    def action_scroll(self, lines: int) -> None:
        """Scroll by some lines."""
        self.query_one(VerticalScroll).scroll_relative(y=lines, animate=False)

    def action_to_end(self, end: bool) -> None:
        """Scroll to the first or last line."""
        scroll = self.query_one(VerticalScroll)
        if end:
            scroll.scroll_end(animate=False)
        else:
            scroll.scroll_home(animate=False)

    def action_leave(self) -> None:
        """Back to the board."""
        self.dismiss(None)


class HelpPage(TextPage):
    """The keys of a page, and the way to the manual."""

    HINT = "M opens the manual, arrow keys scroll, ESC goes back"

    BINDINGS = [Binding("m,M", "app.manual", show=False)]

    def above(self) -> ComposeResult:
        """The way to the manual, for a finger."""
        yield Static("M  The manual", markup=False, classes="row manual")

    async def on_click(self, event: events.Click) -> None:
        """A touch on that row opens the manual."""
        if event.widget is not None and event.widget.has_class("manual"):
            await self.run_action("app.manual")


def ask_in_turn(
    app: App[None], asks: Sequence[tuple[str, str]], then: Callable[[dict[str, str]], None]
) -> None:
    """Ask several questions, one page each, and pass the answers on; leaving one leaves all.

    Args:
        app: the application.
        asks: a key and the question for it.
        then: gets the answers by their keys.
    """

    def ask(number: int, answers: dict[str, str]) -> None:
        if number == len(asks):
            then(answers)
            return
        key, question = asks[number]

        def answered(text: str | None) -> None:
            if text:
                ask(number + 1, {**answers, key: text})

        app.push_screen(LinePage(question), answered)

    ask(0, {})
