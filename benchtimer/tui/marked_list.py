"""Textual's list of options with a sign at the row that ENTER takes, not color alone."""

from __future__ import annotations

from rich.segment import Segment
from textual.strip import Strip
from textual.widgets import OptionList

MARK = ">"


class MarkedList(OptionList):
    """A list to touch or to walk through; the row at the mark begins with ``>``."""

    def render_line(self, y: int) -> Strip:
        """One line of what is in sight."""
        strip = super().render_line(y)
        line = self.scroll_offset.y + y
        if self._lines[line : line + 1] != [(self.highlighted, 0)]:
            return strip
        first = next(iter(strip.crop(0, 1)))
        return Strip.join([Strip([Segment(MARK, first.style)]), strip.crop(1)])
