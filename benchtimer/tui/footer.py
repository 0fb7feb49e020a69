"""Textual's footer with the keys of a page."""

from __future__ import annotations

from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Footer
from textual.widgets._footer import FooterKey


class KeyFooter(Footer):
    """The keys of the page in front, most needed first; keys without room are left out."""

    def __init__(self) -> None:
        super().__init__(id="keys", show_command_palette=False)
        self.set_reactive(Footer._bindings_ready, True)  # don't draw an empty footer first
        self._labels: dict[str, str] = {}
        self._offered: list[Binding] = []

    def compose(self) -> ComposeResult:
        """The keys, with what they do now."""
        self._offered = self._on_offer()
        for key in super().compose():
            if isinstance(key, FooterKey):
                # Compact at first, as the library has it, each key would be styled twice.
                key.set_reactive(FooterKey.compact, self.compact)
                if key.key in self._labels:
                    self._label(key)
            yield key
        self.call_after_refresh(self._fit)

    def bindings_changed(self, screen: Screen[Any]) -> None:
        """Rebuild the keys only if they differ; each is a widget to mount."""
        if self.is_attached and self._on_offer() != self._offered:
            super().bindings_changed(screen)

    def _on_offer(self) -> list[Binding]:
        active = self.screen.active_bindings.values()
        return [each.binding for each in active if each.binding.show]

    def on_resize(self) -> None:
        """The width has changed."""
        self.call_after_refresh(self._fit)

    def say(self, key: str, label: str) -> None:
        """Set what a key does now; a key that does nothing disappears."""
        if self._labels.get(key) == label:
            return
        self._labels[key] = label
        for shown in self.query(FooterKey):
            if shown.key == key:
                self._label(shown)
        self.call_after_refresh(self._fit)

    def enlarge(self, large: bool) -> None:
        """Keys three rows high, or one."""
        if large != self.has_class("large"):
            self.set_class(large, "large")
            self.call_after_refresh(self._fit)

    def _label(self, key: FooterKey) -> None:
        key.description = self._labels[key.key]
        key.display = bool(key.description)
        key.refresh(layout=True)

    def _fit(self) -> None:
        """No word is cut off at the edge."""
        room = self.size.width
        for key in self.query(FooterKey):
            if key.display:
                room -= key.render().cell_len + key.gutter.width + key.styles.margin.width
                key.visible = room >= 0
