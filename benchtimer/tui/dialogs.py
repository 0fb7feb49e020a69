"""Pages in front of the board: a list to choose from, a line to type, a text to read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from textual import events
from textual.app import App, ComposeResult
from textual.binding import ActiveBinding, Binding
from textual.containers import Vertical, VerticalScroll
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, KeyPanel, OptionList, Static
from textual.widgets.option_list import Option

from benchtimer.records.inert import visible
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.front import AHEAD_S, FrontPage, too_early
from benchtimer.tui.marked_list import MarkedList
from benchtimer.view.keys import Key
from benchtimer.view.letters import ROWS, fits, large
from benchtimer.view.text import whole_pieces

LOOK_S = 1.0
"""How often a page in front checks for alarms."""


class Calling(Static):
    """What is late, due or not saved, or else what comes next: the first line of every page in
    front. It comes from the application's ``calling_words``, if it has that method.
    """

    class Changed(Message):
        """The line has new words, and may need a different number of rows."""

    def __init__(self) -> None:
        super().__init__("", markup=False, id="calling", classes="empty")
        self._words = ""

    def on_mount(self) -> None:
        """Show it now, and check again every second."""
        self.look()
        self.set_interval(LOOK_S, self.look)

    def on_resize(self) -> None:
        """Only now is it known how much fits."""
        self.look()

    def look(self) -> None:
        """Show what is urgent now; drawn again only if it is new."""
        words = getattr(self.app, "calling_words", None)
        said, calls = words() if words is not None else ("", False)
        text = visible(said)
        if not calls and self.content_size.width:
            text = whole_pieces(text, self.content_size.width)
        if text != self._words:
            self._words = text
            self.update(text)
            self.set_class(not text, "empty")
            news = calls or not self.has_class("calm")  # a countdown takes no extra rows
            self.set_class(not calls, "calm")
            if news:
                self.post_message(self.Changed())


def say_in(line: Static, text: str) -> None:
    """Say something in a line that has no row while it is empty."""
    line.update(visible(text))
    line.set_class(not text, "empty")


MORE = "more ..."

PAGE_SHARE = 0.9
"""The part of the screen's width that a page in front takes; its style has the same."""

ROW_HEIGHT = 2
"""The height of a choice if there is room."""

FRAME = 3
"""Rows for the frame of a page and its keys."""

BACK = Binding("escape", "leave", "back", key_display="ESC", system=True)
FIRST_AID = Binding("f,F", "app.first_aid", "first aid", key_display="F", system=True)


class ChoicePage(ModalScreen[int | None], FrontPage[int | None]):
    """A list of choices, nine to a page; gives the index chosen, or None.

    Args:
        title: what is chosen.
        options: the choices.
        about: what all of them are about, such as a part: large where there is room.
    """

    CAUTIOUS = True
    BINDINGS = [BACK, FIRST_AID]

    def __init__(self, title: str, options: Sequence[str], about: str = "") -> None:
        super().__init__()
        self._title = title
        self._about = about
        self._options = [visible(option, keep="") for option in options]
        self._first = 0
        self._gap = ""

    def is_ahead(self, key: str, at_s: float) -> bool:
        """ENTER takes the row at the mark, so it counts only once the rows could be seen.

        A digit means the same before, but not the rest of a burst whose first key was dropped.
        """
        in_burst = at_s < self._early_at + AHEAD_S and self.is_deliberate(key)
        return in_burst or (key == "enter" and super().is_ahead(key, at_s))

    @property
    def _shown(self) -> dict[int, str]:
        """The rows of this page by digit; if there are more, 9 turns the page."""
        if len(self._options) <= 9:
            return dict(enumerate(self._options, start=1))
        rows = dict(enumerate(self._options[self._first : self._first + 8], start=1))
        return {**rows, 9: MORE}

    def _numbered(self) -> Iterator[Option]:
        for digit, text in self._shown.items():
            yield Option(f" {digit}  {text}{self._gap}", id=str(digit))

    def compose(self) -> ComposeResult:
        """The choices, one row each."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static("", markup=False, classes="about empty")
            yield Static(self._title, markup=False, classes="title")
            yield Static("", markup=False, classes="wrong empty")
            yield MarkedList(*self._numbered(), markup=False)
            yield KeyFooter()

    def on_mount(self) -> None:
        """Give the rows the available height."""
        self._make_room()

    def say_early(self, key: str) -> None:
        """Say that a key came before the choices could be seen."""
        say_in(self.query_one(".wrong", Static), too_early(key))
        self._make_room()

    def on_resize(self) -> None:
        """The available height has changed."""
        self._make_room()

    def on_calling_changed(self) -> None:
        """The alarm line takes rows, too."""
        self._make_room()

    def _make_room(self) -> None:
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        """What the choices are about as large as fits, then rows two high if all of them fit so."""
        if not self.is_there:
            return
        about = self.query_one(".about", Static)
        lines = [line for line in self.query(Static) if line.display and line is not about]
        others = sum(line.outer_size.height for line in lines) + FRAME
        rows, width = self.app.size.height, int(self.app.size.width * PAGE_SHARE) - 4
        number = self._about.split()[0] if self._about else ""
        drawn = next((t for t in (self._about, number) if t and fits(t, width)), "")
        is_large = bool(drawn) and others + ROWS + len(self._shown) <= rows
        say_in(about, "\n".join(large(drawn)) if is_large else "")
        high = others + ROWS * is_large + ROW_HEIGHT * len(self._shown)
        gap = "\n" if high <= rows else ""
        if gap != self._gap:
            self._gap = gap
            self._show(self.query_one(MarkedList).highlighted)

    def _show(self, mark: int | None = 0) -> None:
        self.query_one(MarkedList).set_options(self._numbered()).highlighted = mark

    def on_key(self, event: events.Key) -> None:
        """A digit chooses."""
        if event.key.isdecimal():
            event.stop()
            self._choose(int(event.key))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A touch chooses, and so does ENTER."""
        self._choose(int(event.option_id or 0))

    def _choose(self, number: int) -> None:
        if number not in self._shown:
            return
        if number == 9 and len(self._options) > 9:
            self._first = self._first + 8 if self._first + 8 < len(self._options) else 0
            self._show()
            self._make_room()
        else:
            self.dismiss(self._first + number - 1)

    def action_leave(self) -> None:
        """Leave without a choice."""
        self.dismiss(None)


class Field(Input):
    """A text field; the footer of its page says that ENTER saves."""

    BINDINGS = [Binding("enter", "submit", "save", key_display="ENTER")]


class LinePage(ModalScreen[str | None], FrontPage[str | None]):
    """A line to write; gives the text, or None.

    Args:
        title: what is asked.
        value: what the line holds at first.
        refuse: does what was typed, or says why it can't be done: then the line stays.
    """

    BINDINGS = [BACK]

    def __init__(
        self, title: str, value: str = "", refuse: Callable[[str], str] | None = None
    ) -> None:
        super().__init__()
        self._title = title
        self._value = value
        self._refuse = refuse

    def compose(self) -> ComposeResult:
        """The line."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static(self._title, markup=False, classes="title")
            yield Field(self._value, max_length=2000, select_on_focus=False)
            yield Static("", markup=False, classes="wrong empty")
            yield KeyFooter()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Return the text; on an empty line, say that nothing was typed."""
        text = event.value.strip()
        if not text:
            self.query_one(Field).placeholder = "Nothing typed yet. ESC goes back"
            return
        wrong = self._refuse(text) if self._refuse is not None and self.takes_input else ""
        if wrong:
            say_in(self.query_one(".wrong", Static), wrong)
        else:
            self.dismiss(text)

    def action_leave(self) -> None:
        """Leave without text."""
        self.dismiss(None)


class TextPage(ModalScreen[None], FrontPage[None]):
    """A text to read, scrolled with the arrow keys."""

    BINDINGS = [
        BACK,
        FIRST_AID,
        Binding("question_mark,space,enter,q,Q,l,L,c,C,w,W,i,I", "leave", show=False, system=True),
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
            yield self.body()
            yield KeyFooter()

    def body(self) -> VerticalScroll:
        """The text to read."""
        return VerticalScroll(Static(self._text, markup=False))

    def action_leave(self) -> None:
        """Back to the board."""
        self.dismiss(None)


class HelpPage(TextPage):
    """The keys of a page in Textual's key panel, and the way to the manual.

    Args:
        title: the page.
        keys: its keys.
    """

    BINDINGS = [Binding("m,M", "app.manual", "the manual", key_display="M", system=True)]

    def __init__(self, title: str, keys: Sequence[Key]) -> None:
        super().__init__(title, "")
        self._keys = keys

    def body(self) -> VerticalScroll:
        """The keys, in two columns."""
        return KeyPanel(can_focus=True)

    def on_mount(self) -> None:
        """The arrow keys belong to the panel; Textual skips it when it looks for a focus."""
        self.query_one(KeyPanel).focus()

    @property
    def active_bindings(self) -> dict[str, ActiveBinding]:
        """The page's own keys in its footer, the keys of the page behind it in the panel."""
        behind = {
            f"behind {key.key}": ActiveBinding(
                self,
                Binding(key.key, key.action, key.help, show=False, key_display=key.shown),
                enabled=True,
                tooltip="",
            )
            for key in self._keys
        }
        own = {key: at for key, at in super().active_bindings.items() if at.binding.show}
        return {**own, **behind}


def ask_in_turn(
    app: App[None], asks: Sequence[tuple[str, str]], then: Callable[[dict[str, str]], None]
) -> None:
    """Ask several questions, one page each, and pass on the answers; ESC on one cancels all.

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
