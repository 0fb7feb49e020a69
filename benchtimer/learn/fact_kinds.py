"""The kinds of facts of a try; alone in its module, because a help page lists them."""

from __future__ import annotations

KINDS = ("answer", "reading", "bath", "dwell", "passes", "air", "setting", "hands", "part", "words")
"""The more telling first where all else is equal."""
