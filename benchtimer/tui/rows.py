"""Rows on the screen: a list of any length drawn row by row, and the bar of keys below it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from rich.segment import Segment
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widgets import Static

from benchtimer.records.inert import visible
from benchtimer.tui.front import TouchMessage
from benchtimer.view.keys import Key
from benchtimer.view.row import LOOKS, Row
from benchtimer.view.text import fill

NEAR = 40
"""How many lines before the last one are close to it."""


class Rows(ScrollView, can_focus=False):
    """Rows with a cursor on one that can be chosen; only what is in sight is drawn."""

    COMPONENT_CLASSES = {"rows--cursor", *(f"rows--{look}" for look in LOOKS)}

    class Chosen(TouchMessage):
        """A row was touched."""

        def __init__(self, key: str) -> None:
            self.key = key
            super().__init__()

    class NearEnd(Message):
        """What is in sight is close to the last row."""

    def __init__(self, name: str = "rows") -> None:
        super().__init__(id=name)
        self._rows: list[Row] = []
        self._starts: list[int] = [0]
        self.cursor: int | None = None

    @property
    def room(self) -> int:
        """Columns there are for text."""
        return max(1, self.scrollable_content_region.width)

    @property
    def chosen(self) -> str:
        """The key of the row under the cursor; empty if there is none."""
        return self._rows[self.cursor].key if self.cursor is not None else ""

    @property
    def text(self) -> str:
        """All lines, for those who can't see them."""
        return "\n".join(line for row in self._rows for line in row.lines)

    def show(self, rows: Sequence[Row]) -> None:
        """Show these rows; the cursor stays on the row of the same key if it is still there."""
        if rows == self._rows:
            return
        before, key = self._flat(), self.chosen
        self._rows = list(rows)
        self._starts = [0, *accumulate(len(row.lines) for row in rows)]
        at = next((i for i, row in enumerate(rows) if key and row.key == key), None)
        self.cursor = at if at is not None else self._choosable(0, 1)
        self.virtual_size = Size(self.room, self._starts[-1])
        after = self._flat()
        for y in range(max(len(before), len(after))):
            if before[y : y + 1] != after[y : y + 1]:
                self.refresh_line(y)

    def _flat(self) -> list[tuple[str, str, bool]]:
        return [
            (line, row.look, i == self.cursor)
            for i, row in enumerate(self._rows)
            for line in row.lines
        ]

    def _choosable(self, start: int, step: int) -> int | None:
        places = range(start, len(self._rows)) if step > 0 else range(start, -1, -1)
        return next((i for i in places if self._rows[i].key), None)

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Say when the end comes near, so that more can be read."""
        super().watch_scroll_y(old_value, new_value)
        if new_value > old_value and new_value >= self.max_scroll_y - NEAR:
            self.post_message(self.NearEnd())

    def on_resize(self) -> None:
        """The width has changed."""
        self.virtual_size = Size(self.room, self._starts[-1])

    def render_line(self, y: int) -> Strip:
        """One line of what is in sight."""
        line = y + round(self.scroll_y)
        width = self.size.width
        if line >= self._starts[-1]:
            return Strip.blank(width, self.rich_style)
        index = bisect_right(self._starts, line) - 1
        row = self._rows[index]
        look = "cursor" if index == self.cursor else row.look
        style = self.get_component_rich_style(f"rows--{look}")
        text = row.lines[line - self._starts[index]]
        if index == self.cursor and line == self._starts[index]:
            text = f">{text[1:]}" if text[:1] == " " else text
        return Strip([Segment(fill(visible(text, keep=""), width), style)], width)

    def move(self, step: int) -> None:
        """The cursor to the next row that can be chosen; without any, the text moves."""
        here = self.cursor
        if here is None:
            self.scroll_relative(y=step, animate=False)
            return
        at = self._choosable(here + step, step)
        if at is None:
            self.scroll_relative(y=step * 2, animate=False)
        else:
            self.point_at(at)

    def point_at(self, index: int) -> None:
        """The cursor on a row, in sight."""
        for row in (index,) if self.cursor is None else (self.cursor, index):
            for y in range(self._starts[row], self._starts[row + 1]):
                self.refresh_line(y)
        self.cursor = index
        self.bring(self._starts[index], self._starts[index + 1] - 1)

    def point_at_key(self, key: str) -> None:
        """The cursor on the row of this key, if there is one."""
        at = next((i for i, row in enumerate(self._rows) if row.key == key), None)
        if at is not None:
            self.point_at(at)

    def bring(self, first: int, last: int) -> None:
        """Scroll as little as shows these lines."""
        height = self.scrollable_content_region.height
        top = round(self.scroll_y)
        if last >= top + height:
            top = last - height + 1
        self.scroll_to(y=min(top, first), animate=False)

    def bring_row(self, index: int) -> None:
        """Scroll so that a row is in the upper third, with what comes before it in sight."""
        top = self._starts[index] - self.scrollable_content_region.height // 3
        self.scroll_to(y=max(0, top), animate=False)

    def page(self, step: int) -> None:
        """A screenful up or down; the cursor comes along."""
        self.scroll_relative(y=step * max(1, self.size.height - 2), animate=False)
        if self.cursor is None:
            return
        line = min(max(0, round(self.scroll_target_y)), max(0, self._starts[-1] - 1))
        at = bisect_right(self._starts, line) - 1
        found = self._choosable(at, 1)
        if found is not None:
            self._point_only(found)

    def _point_only(self, index: int) -> None:
        self.cursor = index
        self.refresh()

    def to_end(self, end: bool) -> None:
        """To the first or the last row."""
        if self.cursor is not None:
            at = self._choosable(len(self._rows) - 1, -1) if end else self._choosable(0, 1)
            if at is not None:
                self._point_only(at)
        self.scroll_to(y=self._starts[-1] if end else 0, animate=False)

    def on_click(self, event: events.Click) -> None:
        """A touch chooses."""
        line = event.y + round(self.scroll_y)
        if line < self._starts[-1]:
            index = bisect_right(self._starts, line) - 1
            if self._rows[index].key:
                self.point_at(index)
                self.post_message(self.Chosen(self._rows[index].key))


GAP = "  "
PLAIN_KEYS = {"→": "RIGHT", "←": "LEFT"}
"""Keys by their names, where there are no arrows to draw."""


def bar_lines(keys: Sequence[Key], width: int) -> list[list[tuple[int, str, Key]]]:
    """The labelled keys in lines of this width: column, words and key of each."""
    lines: list[list[tuple[int, str, Key]]] = [[]]
    at = 0
    for key in keys:
        words = f"{key.shown} {key.label}"
        if lines[-1] and at + len(words) > width:
            lines.append([])
            at = 0
        lines[-1].append((at, words, key))
        at += len(words) + len(GAP)
    return lines


class KeyBar(Static):
    """The keys of a page with their words; each can be touched."""

    def __init__(self, keys: Sequence[Key]) -> None:
        super().__init__("", markup=False, id="keybar")
        self._keys = [key for key in keys if key.label]
        self._lines: list[list[tuple[int, str, Key]]] = []
        self._tall = 1

    def fit(self, width: int, height: int, *, plain: bool = False) -> None:
        """Break the keys into lines; a tall screen has room for targets of two rows."""
        keys = [
            replace(k, shown=PLAIN_KEYS.get(k.shown, k.shown)) if plain else k for k in self._keys
        ]
        self._lines = bar_lines(keys, max(20, width - 2))
        self._tall = 2 if height >= 30 else 1
        shown = []
        for line in self._lines:
            shown.append(GAP.join(words for _, words, _ in line))
            shown += [""] * (self._tall - 1)
        self.styles.height = len(shown)
        self.update("\n".join(shown))

    async def on_click(self, event: events.Click) -> None:
        """A touch is the key."""
        offset = event.get_content_offset(self)
        if offset is None:
            return
        number = offset.y // self._tall
        for at, words, key in self._lines[number] if number < len(self._lines) else ():
            if at <= offset.x < at + len(words) + 1:
                await self.screen.run_action(key.action)
