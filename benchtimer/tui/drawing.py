"""The drawn board on the screen: rows of cells; only changed rows are sent."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from benchtimer.view.picture.cells import Ink, PictureRow
from benchtimer.view.picture.scene import Scene
from benchtimer.view.picture.sheet import draw


class Drawing(Widget, can_focus=False):
    """A picture made of rows.

    Attributes:
        rows: the rows.
    """

    COMPONENT_CLASSES = {f"drawing--{ink.value}" for ink in Ink}

    DEFAULT_CSS = """
    Drawing {
        height: 1fr;
        .drawing--ink { color: $foreground; }
        .drawing--bold { color: $foreground; text-style: bold; }
        .drawing--quiet { color: $foreground-muted; }
        .drawing--faint { color: $foreground-muted 60%; }
        .drawing--now { color: $warning; text-style: bold; }
        .drawing--late { color: $error; text-style: bold; }
        .drawing--line { color: $accent; }
    }
    """

    def __init__(self, name: str) -> None:
        super().__init__(id=name)
        self.rows: tuple[PictureRow, ...] = ()
        self._scene: Scene | None = None
        self._held_s = 0
        self._inks: dict[Ink, Style] = {}

    def draw(self, scene: Scene) -> None:
        """Show a scene."""
        self._scene = scene
        if self.size.width and self.size.height:
            sheet = draw(scene, self.size.width, self.size.height, self._held_s)
            self._held_s = sheet.axis.step_s
            self._show(sheet.rows)

    def on_resize(self) -> None:
        """Draw for the new size."""
        if self._scene is not None:
            self.draw(self._scene)

    def _show(self, rows: tuple[PictureRow, ...]) -> None:
        """Show rows; unchanged ones are not drawn again."""
        before, self.rows = self.rows, rows
        longest = max(len(before), len(rows))
        width = self.size.width
        changed = [
            Region(0, y, width, 1)
            for y in range(longest)
            if y >= len(before) or y >= len(rows) or before[y] != rows[y]
        ]
        if changed and width:
            self.refresh(*changed)

    def notify_style_update(self) -> None:
        """Another theme has other colors."""
        super().notify_style_update()
        self._inks = {}

    def render_line(self, y: int) -> Strip:
        """One row."""
        if not self._inks:
            self._inks = {
                ink: self.get_component_rich_style(f"drawing--{ink.value}") for ink in Ink
            }
        if y >= len(self.rows):
            return Strip.blank(self.size.width, self._inks[Ink.INK])
        spans = self.rows[y].spans
        return Strip([Segment(span.text, self._inks[span.ink]) for span in spans], self.size.width)

    def part_at(self, y: int) -> int | None:
        """Number of the part whose lane is in a row of the widget."""
        return self.rows[y].part if 0 <= y < len(self.rows) else None
