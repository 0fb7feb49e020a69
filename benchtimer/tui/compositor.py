"""Drawing no more than what has changed."""

from __future__ import annotations

from textual._compositor import ChopsUpdate, Compositor
from textual.geometry import Region
from textual.widget import Widget


class NarrowCompositor(Compositor):
    """Asks only the widgets under a change for their lines.

    Textual's own asks every widget on the screen, however little has changed. A board with a
    clock in its first line is drawn once a second for days.
    """

    _changed: frozenset[Region] = frozenset()

    @property
    def visible_widgets(self) -> dict[Widget, tuple[Region, Region]]:
        """The widgets in sight by region and clip; while a change is drawn, those under it."""
        every = super().visible_widgets
        if not self._changed:
            return every
        return {
            widget: (region, clip)
            for widget, (region, clip) in every.items()
            if any(region.overlaps(changed) for changed in self._changed)
        }

    def render_partial_update(self) -> ChopsUpdate | None:
        """What has changed since the last time; None if nothing has."""
        self._changed = frozenset(self._dirty_regions)
        try:
            return super().render_partial_update()
        finally:
            self._changed = frozenset()
