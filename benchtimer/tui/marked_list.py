"""Textual's option list with a mark at the row that ENTER takes, not just a color."""

from __future__ import annotations

from collections.abc import Callable

from rich.segment import Segment
from textual.strip import Strip
from textual.widgets import OptionList

from benchtimer.view.picture.scene import Level

MARK = ">"

OVERDRAWN = (" ", Level.LATE.mark)
"""What the mark covers in the first column."""


class MarkedList(OptionList):
    """A list to touch or to move through; the marked row begins with ``>``."""

    def action_cursor_up(self) -> None:
        """To the row above. One press too many must not jump to the other end of the list."""
        self._walk(super().action_cursor_up, up=True)

    def action_cursor_down(self) -> None:
        """To the row below; the last row is the end."""
        self._walk(super().action_cursor_down, up=False)

    def action_page_up(self) -> None:
        """A page up, once the rows are laid out: keys can come before the first drawing."""
        if (self.highlighted or 0) in self._index_to_line:
            super().action_page_up()  # type: ignore[no-untyped-call]

    def action_page_down(self) -> None:
        """A page down, in the same way."""
        if (self.highlighted or 0) in self._index_to_line:
            super().action_page_down()  # type: ignore[no-untyped-call]

    def _walk(self, walk: Callable[[], None], *, up: bool) -> None:
        here = self.highlighted
        walk()
        there = self.highlighted
        if here is not None and there is not None and (there > here) is up:
            self.highlighted = here

    def render_line(self, y: int) -> Strip:
        """One visible line."""
        strip = super().render_line(y)
        line = self.scroll_offset.y + y
        first = next(iter(strip.crop(0, 1)), None)
        is_marked = self._lines[line : line + 1] == [(self.highlighted, 0)]
        if first is None or first.text not in OVERDRAWN or not is_marked:
            return strip
        return Strip.join([Strip([Segment(MARK, first.style)]), strip.crop(1)])
