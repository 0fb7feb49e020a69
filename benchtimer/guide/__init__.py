"""The manual: one page per topic, in Markdown.

Pages are ASCII and at most 80 columns wide, so that they read well on any terminal. A page's file
name is its topic, so a link also tells you what to type.
"""

from __future__ import annotations

import os.path
import re
from collections.abc import Mapping
from functools import cache

TOPICS: Mapping[str, str] = {
    "first-run": "your first run: practice, then the real thing",
    "screen": "the board, its keys, and the other pages",
    "alarms": "when it goes off, how it sounds, and hearing it before you need it",
    "phone": "alarms on your phone or desktop, or through your own script",
    "second-screen": "the bench on a phone or tablet, with its alarms",
    "writing-recipes": "your own recipe, line by line",
    "plans": "when each part moves, and whether it can be done in your hours",
    "jobs": "an order from its parts to its delivery, and whether it will be ready",
    "bath-book": "baths: mixing, readings, use, disposal",
    "thermometer": "a probe that sends its own readings",
    "records": "what happened, what differed, what to keep",
    "safety": "hazards, gear, first aid, and what the program cannot do",
    "systems": "Linux, macOS, Windows: what works where, and how it was tested",
    "when-things-fail": "full disks, damaged logs, dead batteries, backups",
}
"""The pages in reading order, with one line about each."""

LINK = re.compile(r"\[([^\]]+)\]\(([a-z-]+)\.md(?:#[a-z0-9-]+)?\)")
"""A link to another page: its words and its topic."""


@cache
def page(topic: str) -> str:
    """The Markdown of a page."""
    # importlib.resources would take longer than the rest of a help page.
    path = os.path.join(os.path.dirname(__file__), f"{topic}.md")
    with open(path, encoding="utf-8") as file:
        return file.read()


def title(topic: str) -> str:
    """The heading of a page."""
    return page(topic).partition("\n")[0].removeprefix("# ")


def plain(topic: str) -> str:
    """A page as plain text: links keep only their words."""
    return LINK.sub(r"\1", page(topic))
