"""A table of keys in Textual's form."""

from __future__ import annotations

from collections.abc import Sequence

from textual.binding import Binding

from benchtimer.view.keys import Key


def bindings(keys: Sequence[Key]) -> list[Binding | tuple[str, str] | tuple[str, str, str]]:
    """A table of keys for a screen; letters work with CAPS LOCK on, too."""
    return [
        Binding(
            f"{key.key},{key.key.upper()}" if len(key.key) == 1 and key.key.isalpha() else key.key,
            key.action,
            key.label,
            show=bool(key.label),
            key_display=key.shown,
            priority=key.key == "tab",  # otherwise the screen's own focus keys would take it
        )
        for key in keys
    ]
