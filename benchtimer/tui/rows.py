"""Rows on the screen: Textual's option list made from rows, with a mark on one."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.message import Message
from textual.widgets.option_list import Option

from benchtimer.records.inert import visible
from benchtimer.tui.marked_list import MarkedList
from benchtimer.view.row import Row
from benchtimer.view.text import fill

NEAR = 40
"""How many lines from the end count as close."""

LOOK_STYLES = {
    "plain": "$foreground",
    "muted": "$foreground-muted",
    "head": "$foreground bold underline",
    "trouble": "$foreground bold on $error 25%",
    "now": "$now-ink bold on $now-ground",
    "late": "$late-ink bold on $late-ground",
    "hit": "bold reverse",
}
"""How each look in ``view.row.LOOKS`` is drawn."""


class RowOption(Option):
    """A row as an option; a row without a key can't be chosen.

    Attributes:
        row: the row.
    """

    def __init__(self, row: Row, width: int) -> None:
        text = "\n".join(fill(visible(line, keep=""), width) for line in row.lines)
        super().__init__(Content.styled(text, LOOK_STYLES[row.look]), disabled=not row.key)
        self.row = row


class Rows(MarkedList, inherit_bindings=False):
    """The rows of a page. Its keys are in the page's table, like all others. It is not a
    ``DataTable``: with three runs at 60 and 80 columns, that put their state and outcome beyond its
    right edge, visible only by scrolling sideways.
    """

    class NearEnd(Message):
        """The visible part is close to the last row."""

    def __init__(self) -> None:
        super().__init__(id="rows")
        self._drawn: tuple[list[Row], int] = ([], 0)

    @property
    def chosen(self) -> str:
        """The key of the marked row; empty if there is none."""
        option = self.highlighted_option
        return option.row.key if isinstance(option, RowOption) else ""

    @property
    def text(self) -> str:
        """All lines, for screen readers."""
        return "\n".join(line for row in self._drawn[0] for line in row.lines)

    def show(self, rows: Sequence[Row]) -> None:
        """Show these rows; the mark stays on the row with the same key if it still exists."""
        width = self.scrollable_content_region.width
        before, self._drawn = self._drawn, (list(rows), width)
        if before == self._drawn:
            return
        if width and before[1] == width and _shape(before[0]) == _shape(rows):
            for index, (old, new) in enumerate(zip(before[0], rows, strict=True)):
                if old != new:
                    self._replace(index, old, RowOption(new, width))
            return
        key = self.chosen
        y = self.scroll_offset.y
        with self.prevent(self.NearEnd):  # it has not moved
            self.set_options(RowOption(row, width) for row in rows)
            self.highlighted = self._row_of(key)
            if self.highlighted is None:
                self.action_first()
            self.scroll_to(y=y, animate=False, immediate=True)

    def _replace(self, index: int, old: Row, option: RowOption) -> None:
        """Draw the lines of a row that differ; Textual's own method draws every row again.

        Args:
            index: where the row is.
            old: the row before.
            option: the row now, of the same height.
        """
        del self._option_to_index[self._options[index]]
        self._options[index] = option
        self._option_to_index[option] = index
        first, new = self._index_to_line.get(index), option.row
        if first is None:  # a new width: Textual lays the lines out at the next drawing
            self.refresh()
            return
        for line, (before, now) in enumerate(zip(old.lines, new.lines, strict=True), first):
            if before != now or old.look != new.look:
                self.refresh_line(line)

    def _row_of(self, key: str) -> int | None:
        rows = enumerate(self._drawn[0])
        return next((index for index, row in rows if key and row.key == key), None)

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Report when the end is close, so that more can be read."""
        super().watch_scroll_y(old_value, new_value)
        if new_value > old_value and new_value >= self.max_scroll_y - NEAR:
            self.post_message(self.NearEnd())

    def scroll_to_highlight(self, top: bool = False) -> None:
        """Scroll to the marked row; to the first and last with everything next to them."""
        super().scroll_to_highlight(top)
        choosable = [index for index, row in enumerate(self._drawn[0]) if row.key]
        if choosable and self.highlighted == choosable[0]:
            self.scroll_home(animate=False, immediate=True)
        elif choosable and self.highlighted == choosable[-1]:
            self.scroll_end(animate=False, immediate=True)

    def point_at_key(self, key: str) -> None:
        """Mark the row with this key, if there is one."""
        index = self._row_of(key)
        if index is not None:
            self.highlighted = index

    def bring_row(self, index: int) -> None:
        """Scroll so that a row is in the upper third, with the rows before it visible."""
        line = sum(len(row.lines) for row in self._drawn[0][:index])
        top = line - self.scrollable_content_region.height // 3
        self.scroll_to(y=max(0, top), animate=False)


def _shape(rows: Sequence[Row]) -> list[tuple[str, int]]:
    """What must be unchanged for the rows to be where they were."""
    return [(row.key, len(row.lines)) for row in rows]
