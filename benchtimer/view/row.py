"""Rows of a page."""

from __future__ import annotations

from benchtimer.values import dataclass

LOOKS = ("plain", "head", "trouble", "muted", "now", "late", "hit")
"""How a row can look; its words always carry the meaning too."""


@dataclass(frozen=True, slots=True)
class Row:
    """Lines that belong together.

    Attributes:
        lines: the text, line by line.
        look: one of ``LOOKS``.
        key: what choosing the row means to its page; empty if it can't be chosen.
    """

    lines: tuple[str, ...]
    look: str = "plain"
    key: str = ""
