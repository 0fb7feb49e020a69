"""What the maker does on the pages in front of the board and around a run."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.week.acts import Act, Keys
from tests.week.eyes import Sight

if TYPE_CHECKING:
    from tests.week.maker import Maker

TYPE_MS = 250
"""Typing speed of about four letters a second."""


def page_act(maker: Maker, sight: Sight) -> Act:
    """What to do on a page other than the board."""
    for words, act in PAGES:
        if words in sight.text:
            return act(maker, sight)
    raise AssertionError(f"what page is this?\n{sight.text}")


def _write(maker: Maker, sight: Sight) -> Act:
    """Fill in a line: the planned text, or what the story knows of a part."""
    text, maker.memory.write = maker.memory.write, ""
    for name, known in maker.story.answers.items():
        for question, result in known.items():
            if sight.title == f"{name}: {question}" and not text and not isinstance(result, tuple):
                text = maker.drawn(result)
    assert text, f"nothing to write here:\n{sight.text}"
    answers, maker.memory.answering = maker.memory.answering, False
    return Keys((*text, "enter"), 1000, TYPE_MS, presses=int(answers))


def _choose(maker: Maker, sight: Sight) -> Act:
    """Choose from a list: the planned line, or a part's verdict."""
    rows = dict(re.findall(r"[│┃║] *>?(\d) +(.+?) +[│┃║]", sight.text))
    wanted = _verdict(maker, sight.title) or maker.memory.choose.pop(0)
    digit = next((digit for digit, text in rows.items() if text.startswith(wanted)), None)
    assert digit is not None, f"no line {wanted!r} here:\n{sight.text}"
    return Keys((digit,), 2000, presses=int("how good is it?" in sight.text))


def _verdict(maker: Maker, title: str) -> str:
    if found := re.fullmatch(r"How did (.+) come out\?", title):
        return maker.story.verdicts[found[1]].verdict
    if found := re.fullmatch(r"(.+), \w+: how good is it\?", title):
        return maker.story.verdicts[found[1]].rating
    return ""


def _tick(maker: Maker, sight: Sight) -> Act:
    """Tick the checklist line by line with SPACE until all are ready."""
    if found := re.search(r"(\d+) of (\d+) lines checked off", sight.text):
        if found[1] == found[2]:
            return Keys(("escape",))
        return Keys(("space",), maker.between(10, 40), presses=1)
    raise AssertionError(f"how much is ready?\n{sight.text}")


def _over(maker: Maker, sight: Sight) -> Act:
    """Give the verdicts of a finished run once, then go back."""
    run = re.search(r"Run (\S+) is over", sight.text)
    return Keys(("j" if run and maker.once(f"judged {run[1]}") else "escape",), 5000)


def _back(_maker: Maker, _sight: Sight) -> Act:
    """Read a page."""
    return Keys(("escape",), 15_000)


def _set_up(_maker: Maker, _sight: Sight) -> Act:
    return Keys(("space",), 20_000)


PAGES: tuple[tuple[str, Callable[[Maker, Sight], Act]], ...] = (
    ("ENTER save", _write),
    ("ENTER goes on", _write),
    ("┃ >1  ", _choose),
    ("Checklist of run", _tick),
    ("Record of run", _over),
    ("Plan of a new", _set_up),
    ("ESC back  F first aid", _back),
)
"""Words that identify a page, front pages first, and what to do there."""
