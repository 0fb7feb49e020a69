"""The command lines that the README and the manual print, for the tests that try them."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from benchtimer import guide
from benchtimer.cli.parser import whole_line

README = Path(__file__).parents[1] / "README.md"
PAGES = {"README": README.read_text(encoding="utf-8")} | {t: guide.page(t) for t in guide.TOPICS}
"""Every text page, by its name."""

SCREEN = ("run", "timer", "watch")
"""Commands that open a screen, so their lines are only parsed."""

_LINE = re.compile(r"^    (benchtimer .+?)(?:\s+# .*)?$", re.MULTILINE)
_SPAN = re.compile(r"`(benchtimer [a-z-][^`]*)`")
_USAGE = re.compile(r"\.\.\.|\b[A-Z]{3,}\b")  # words in capitals are placeholders


def printed_lines() -> list[tuple[str, str]]:
    """Page and text of each command line to type that has no placeholder."""
    return [
        (name, line)
        for name, text in PAGES.items()
        for line in dict.fromkeys([*_LINE.findall(text), *_SPAN.findall(text)])
        if not _USAGE.search(line) and (name, line) not in mentions()
    ]


@cache
def mentions() -> tuple[tuple[str, str], ...]:
    """Page and text of each command that a sentence names and that needs more words."""
    return tuple(
        (name, span)
        for name, text in PAGES.items()
        for span in dict.fromkeys(_SPAN.findall(text))
        if span not in _LINE.findall(text) and _asks_for_more(span.split()[1:])
    )


def _asks_for_more(words: list[str]) -> bool:
    """Whether these words are a command or verb that can't be typed alone."""
    parser = whole_line()
    for word in words:
        if word not in parser.verbs:
            return False
        parser = parser.verbs[word]
    return any(action.required and action.nargs != "*" for action in parser.actions)


def recipe_of(name: str) -> str:
    """The recipe that a page prints."""
    return PAGES[name].partition("```toml\n")[2].partition("```")[0]
