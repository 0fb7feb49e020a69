"""Which action the large line shows: the most urgent one, or that of a picked part."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from benchtimer.bench.moment import Moment
from benchtimer.recipe.answers import AskFigure
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import CRITICAL_S
from benchtimer.shop.shop_state import Shop

MAX_ENTRY = 12

SAID_S = 60.0
"""A message disappears after this time: it has been read, or is out of date."""

SECOND_DIGIT_S = 1.5
"""How long to wait for the second digit of a part's number."""

At = tuple[str, str]
"""A part: its run and its name."""

About = tuple[str, ...]


class Focus:
    """What is picked, and what is being typed.

    Args:
        monotonic: a clock in seconds that never goes back.

    Attributes:
        picked: run and name of the part picked by hand, if any.
        entry: the typed part of a figure.
        reading: whether a hazard or a station is being read before it is due.
        unread: the place whose reading is being skipped, with its run, while you choose the reason.
    """

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self.message = ""
        self.picked: At | None = None
        self.entry = ""
        self.reading = False
        self.unread: At | None = None
        self._entry_for: About = ()
        self._picked_over: frozenset[About] = frozenset()
        self._first_digit: tuple[int, float] | None = None

    @property
    def message(self) -> str:
        """The latest message; it disappears after a press or a minute."""
        return self._message

    @message.setter
    def message(self, text: str) -> None:
        self._message, self._said_at = text, self._monotonic()

    def forget_old(self) -> None:
        """Remove a message that is a minute old."""
        if self._message and self._monotonic() - self._said_at > SAID_S:
            self.message = ""

    def let_go(self) -> None:
        """Back to the most urgent action."""
        self.picked, self.entry, self.message, self.reading = None, "", "", False
        self.unread = None

    def picked_in(self, run: str) -> str | None:
        """The picked part, if it belongs to a run."""
        return self.picked[1] if self.picked is not None and self.picked[0] == run else None

    def pick(self, at: At, moment: Moment) -> None:
        """Pick a part; it comes before what is critical now, but not before later trouble."""
        self._picked_over = _critical(moment)
        self.picked, self.entry, self.message = at, "", ""

    def number_meant(self, digit: int, shop: Shop, now_s: float) -> int:
        """The part number that a digit means: with the digit before it, if there is such a part.

        Args:
            digit: 0 to 9.
            shop: the parts on the bench.
            now_s: a clock in seconds that never goes back.
        """
        first, self._first_digit = self._first_digit, (digit, now_s)
        if first is not None and now_s - first[1] < SECOND_DIGIT_S:
            both = first[0] * 10 + digit
            if shop.numbered(both) is not None:
                self._first_digit = None
                return both
        return digit

    def begins_number(self, now_s: float) -> bool:
        """Whether the digit pressed a moment ago may be the first of a part's number."""
        return self._first_digit is not None and now_s - self._first_digit[1] < SECOND_DIGIT_S

    def type(self, char: str, action: Action) -> None:
        """Add a character to the figure."""
        self.entry = (self.entry + char)[:MAX_ENTRY]
        self._entry_for = about(action)

    def shown(self, moment: Moment) -> Action | None:
        """The action that a figure is for, that of the picked part, or the most urgent one.

        Typed text belongs to its own action and is dropped with it.
        """
        if self.entry:
            typed_for = self._typed_for(moment)
            if typed_for is not None:
                return typed_for
            self.entry, self.message = (
                "",
                "The figure you typed was for something else, so it was dropped.",
            )
        news = _critical(moment) - self._picked_over
        action = moment.of_part(*self.picked) if self.picked is not None and not news else None
        return action if action is not None else moment.first

    def _typed_for(self, moment: Moment) -> Action | None:
        """The action whose figure is being typed, which stays on the screen until it is saved."""
        for action in moment.actions:
            if about(action) == self._entry_for and self.takes_figure(action, moment.now_ms):
                return action
        return None

    def takes_figure(self, action: Action, now_ms: int) -> bool:
        """Whether digits enter a figure now: a reading that is due, or one you asked for."""
        if action.kind is ActionKind.READING:
            return self.reading or action.is_due(now_ms)
        asks = action.kind in (ActionKind.ANSWER, ActionKind.ASK)
        return asks and isinstance(action.form, AskFigure)

    def reads_hazard(self, action: Action | None, now_ms: int) -> bool:
        """Whether a hazard is on the screen in full, because it is due or you asked for it."""
        if action is None or action.kind is not ActionKind.HAZARD:
            return False
        return self.reading or action.is_due(now_ms)


def _critical(moment: Moment) -> frozenset[About]:
    """Whether an action is nearly too late, or late."""
    return frozenset(about(action) for action in _closing(moment.actions, moment.now_ms))


def _closing(actions: Sequence[Action], now_ms: int) -> list[Action]:
    return [a for a in actions if a.latest_ms is not None
            and a.latest_ms - CRITICAL_S * 1000 <= now_ms]  # fmt: skip


def about(action: Action) -> About:
    """The identity of an action, to recognize it when it is computed again."""
    check = action.check.id if action.check is not None else ""
    if action.kind is ActionKind.READING:
        return (action.kind.value, action.place or action.to_station or "")
    what = action.part or action.item or action.to_station or ""
    return (action.kind.value, action.run, what, check)
