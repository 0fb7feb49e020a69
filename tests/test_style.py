"""Phrases that no native speaker would write are refused in every shipped text."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.style import PATTERNS, hits, shipped

REFUSED = {
    "nobody, somebody": "Nobody answers, somebody presses a key.",
    "so many": "Among so many runs.",
    "anew, for ever": "The screen is drawn anew.",
    "told": "The time is told.",
    "stands": "The bench stands there, idle.",
    "goes by": "The planner goes by the hours.",
    "holds good": "The limit holds good.",
    "hangs on": "It hangs on your solution.",
    "lies": "The window lies behind.",
    "who looks on": "For whoever sees it.",
    "is no": "It is no date.",
    "inversion": "Behind it stands a rule.",
    "the house": "The words of the house.",
    "as good as it gets": "It is as good as it gets.",
    "in the air": "A part in the air.",
    "any more": "It can't be avoided any more.",
    "tired": "A tired bath.",
    "British spelling": "The colour is grey.",
    "slack, overstay": "The overstay of a part.",
    "odds, commission": "The odds of it.",
}
PLAIN = "Salts read 302 F, above the 295 F limit. Stand back, pull the parts, turn off the heat."


def test_every_pattern_refuses_its_example() -> None:
    """Each pattern finds its own example and accepts plain shop English."""
    assert REFUSED.keys() == PATTERNS.keys()
    for name, text in REFUSED.items():
        assert re.search(PATTERNS[name], text, re.IGNORECASE), name
    assert not [name for name, p in PATTERNS.items() if re.search(p, PLAIN, re.IGNORECASE)]


@pytest.mark.parametrize("path", shipped(), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_a_shipped_text_reads_like_shop_english(path: Path) -> None:
    """Comments, docstrings, messages, recipes and manual have none of the refused phrases."""
    assert not [f"{hit.line}: [{hit.pattern}] {hit.text}" for hit in hits([path])]
