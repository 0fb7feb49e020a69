"""The full sheet of each topic's own example: ``python -m tests.trade.sheets`` rewrites them.

Read the diff before you commit it: people rely on the hazards and limits.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from benchtimer.trade.figure import render_text
from benchtimer.trade.topics import TOPICS

FOLDER = Path(__file__).parent / "words" / "sheets"


@cache
def sheets() -> dict[str, str]:
    """The file of each topic and its expected contents."""
    return {
        f"{name}.txt": render_text(topic.figure(topic.example)) for name, topic in TOPICS.items()
    }


if __name__ == "__main__":
    for name, text in sheets().items():
        (FOLDER / name).write_text(text, "utf-8")
