"""The command lines that the README and the manual print, for the tests that try them."""

from __future__ import annotations

import re
from pathlib import Path

from benchtimer import guide

README = Path(__file__).parents[1] / "README.md"
PAGES = {"README": README.read_text(encoding="utf-8")} | {t: guide.page(t) for t in guide.TOPICS}
"""Every page of words, by its name."""

SCREEN = ("run", "watch")
"""Commands that open a screen: their lines are only parsed."""

_LINE = re.compile(r"^    (benchtimer .+?)(?:\s+# .*)?$", re.MULTILINE)
_SPAN = re.compile(r"`(benchtimer [a-z-][^`]*)`")
_USAGE = re.compile(r"\.\.\.|\b[A-Z]{3,}\b")  # words in capitals stand for others


def printed_lines() -> list[tuple[str, str]]:
    """Page and command line of everything to type that names no placeholder."""
    return [
        (name, line)
        for name, text in PAGES.items()
        for line in dict.fromkeys([*_LINE.findall(text), *_SPAN.findall(text)])
        if not _USAGE.search(line)
    ]


def recipe_of(name: str) -> str:
    """The recipe that a page prints."""
    return PAGES[name].partition("```toml\n")[2].partition("```")[0]
