"""The golden file of the week's summary: ``python -m tests.week.golden`` writes it again.

Read the difference before it is committed: it is what a maker's week would be like now.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.week.diary import summary
from tests.week.week import Week

GOLDEN = Path(__file__).with_name("golden.txt")


def as_text(week: Week) -> str:
    """The summary without the folder of this very run."""
    return summary(week).replace(str(week.folder), "SHOP")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        GOLDEN.write_text(as_text(Week(Path(folder)).work()), encoding="utf-8")
