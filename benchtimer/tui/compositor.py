"""Draws only what has changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from textual._compositor import ChopsUpdate, Compositor
from textual.geometry import Region
from textual.strip import Strip

Render = tuple[Region, Region, list[Strip]]
"""The region of a widget, the visible part of it, and its rows."""


class NarrowCompositor(Compositor):
    """Asks widgets only for rows that have changed. Textual's own compositor asks every widget for
    all its rows, even after a small change, and a board with a clock is drawn once a second for
    days.
    """

    _changed: frozenset[Region] = frozenset()

    def render_partial_update(self) -> ChopsUpdate | None:
        """What has changed since the last time; None if nothing has."""
        self._changed = frozenset(self._dirty_regions)
        try:
            return super().render_partial_update()
        finally:
            self._changed = frozenset()

    def _get_renders(self, crop: Region | None = None) -> Iterable[Render]:
        """Visible widgets, from front to back."""
        return self._narrow_renders() if self._changed else super()._get_renders(crop)

    def _narrow_renders(self) -> Iterator[Render]:
        rows = sorted({y for region in self._changed for y in region.line_range})
        for widget, (region, clip) in self.visible_widgets.items():
            seen = region.intersection(clip)
            span = seen.line_range
            for y, height in runs([y for y in rows if y in span]):
                drawn = Region(seen.x, y, seen.width, height)
                yield region, drawn, widget.render_lines(drawn.translate(-region.offset))
            if seen.width == self.size.width:  # nothing behind it can be seen
                rows = [y for y in rows if y not in span]


def runs(rows: Sequence[int]) -> list[tuple[int, int]]:
    """Adjacent rows: the first one, and how many there are."""
    groups = (list(run) for _, run in groupby(enumerate(rows), lambda at: at[1] - at[0]))
    return [(run[0][1], len(run)) for run in groups]
