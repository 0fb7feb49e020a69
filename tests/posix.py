"""Which tests need a pseudo-terminal, fork or signals, and can't run on Windows."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

NEEDS = re.compile(
    r"^(?:import|from) (?:pty|fcntl|termios|resource|tests\.(?:terminal|shells|elsewhere))\b"
    r"|^    import pty\b|os\.fork|SIGKILL",
    re.MULTILINE,
)
"""Patterns of such a test."""


@cache
def needs_posix(path: Path) -> bool:
    """Whether a test module needs them."""
    return NEEDS.search(path.read_text(encoding="utf-8")) is not None
