"""Writes the golden file of the week's summary: ``python -m tests.week.golden``.

Read the difference before you commit it: it shows how a maker's week changes.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.week.diary import summary
from tests.week.week import Week

GOLDEN = Path(__file__).with_name("golden.txt")


def as_text(week: Week) -> str:
    """The summary without this run's folder."""
    return summary(week).replace(str(week.folder), "SHOP")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        GOLDEN.write_text(as_text(Week(Path(folder)).work()), encoding="utf-8")
