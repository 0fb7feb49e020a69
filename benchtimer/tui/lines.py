"""Lines of text on the screen, and keys to touch."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.text import Text
from textual.containers import Horizontal
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widgets import Static

from benchtimer.records.inert import visible
from benchtimer.view.text import fill

LABELS = r"(?m)^(DANGER|WARNING|CAUTION|WEAR|FIRST AID|NEVER):"
"""The rows of a hazard that must stand out begin with these."""

URGENCIES = ("wait", "now", "late", "calm")


class CachedLine(Static):
    """Text that is drawn again only when it changes.

    Attributes:
        said: the text shown.
    """

    def __init__(self, name: str, classes: str = "") -> None:
        super().__init__("", markup=False, id=name, classes=classes)
        self.said = ""

    def say(self, text: str) -> None:
        """Show text; the layout is redone only if the number of rows changes."""
        if text != self.said:
            same_rows = text.count("\n") == self.said.count("\n") and bool(self.said)
            self.said = text
            self.update(text, layout=not (same_rows and text))

    def press(self, urgency: str) -> None:
        """Set the urgency."""
        for name in URGENCIES:
            self.set_class(name == urgency, name)


class HazardText(CachedLine):
    """A hazard in full; each row's heading stands out."""

    def say(self, text: str) -> None:
        """Show the page from the top."""
        if text != self.said:
            self.said = text
            shown = Text(text)
            shown.highlight_regex(LABELS, "bold")
            self.update(shown)


class FixedLine(CachedLine):
    """Text that is already broken into rows: drawn as it is, without the cost of wrapping.

    Args:
        name: its id.
        indent: empty columns before the text.

    Attributes:
        beats: drawn on the background of an alarm. It is not a CSS class, which would restyle the
            line.
    """

    COMPONENT_CLASSES = {"fixed-line--beat"}

    def __init__(self, name: str, indent: int = 0) -> None:
        super().__init__(name)
        self._indent = " " * indent
        self.beats = False

    def say(self, text: str) -> None:
        """Show text; with the same number of rows, only changed rows are drawn again."""
        rows, before = text.split("\n"), self.said.split("\n")
        if len(rows) != len(before) or not (text and self.said):
            super().say(text)
            return
        pairs = enumerate(zip(rows, before, strict=True))
        self.said, width = text, self.content_size.width
        top = self._top
        changed = [Region(0, top + y, width, 1) for y, (row, was) in pairs if row != was]
        if changed:
            self.refresh(*changed)

    def get_content_height(self, *_: Size | int) -> int:
        """The rows of the text at any width: no row is broken."""
        return self.said.count("\n") + 1

    @property
    def _top(self) -> int:
        """The row of the widget where the text begins."""
        if self.styles.content_align_vertical != "middle":
            return 0
        return max(0, self.content_size.height - self.said.count("\n") - 1) // 2

    def beat(self, on: bool) -> None:
        """Draw it on the background of an alarm, or on its own again."""
        if on != self.beats:
            self.beats = on
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """One row of the text."""
        rows, width, y = self.said.split("\n"), self.content_size.width, y - self._top
        text = fill(self._indent + (rows[y] if 0 <= y < len(rows) else ""), width)
        if self.beats:
            style = self.get_component_rich_style("fixed-line--beat")
        else:
            style = self.visual_style.rich_style
        return Strip([Segment(text, style)], width)


class PageText(CachedLine):
    """Text on a page; empty text takes no room."""

    def say(self, text: str) -> None:
        """Show a text, without what could garble the screen in it."""
        super().say(visible(text))
        self.set_class(bool(text), "filled")


class TouchKey(CachedLine):
    """A key on the screen, for a finger."""

    key = ""


class TouchRow(Horizontal):
    """Keys side by side; they change with the question."""

    _shown: tuple[Sequence[tuple[str, str]], int] | None = None

    def show(self, keys: Sequence[tuple[str, str]], rows: int) -> None:
        """Show these keys, this many rows high."""
        if (keys, rows) == self._shown:
            return
        self._shown = keys, rows
        self.display = bool(keys) and rows > 0
        while len(self.children) < len(keys):
            self.mount(TouchKey(f"{self.id}-{len(self.children)}", "touch"))
        self.set_class(rows > 1, "large")
        for number, child in enumerate(self.children):
            child.display = number < len(keys)
            if isinstance(child, TouchKey) and number < len(keys):
                child.key, words = keys[number]
                child.say(words)
