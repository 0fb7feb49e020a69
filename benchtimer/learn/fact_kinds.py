"""The kinds of facts about a try; in a separate module because a help page lists them."""

from __future__ import annotations

KINDS = ("answer", "reading", "bath", "dwell", "passes", "air", "setting", "hands", "part", "words")
"""The more useful kind comes first if all else is equal."""
