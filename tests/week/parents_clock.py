"""The command line with a clock from its parent: ``PARENTS_CLOCK`` has both counts."""

from __future__ import annotations

import json
import os
import sys
from unittest.mock import patch

from benchtimer.cli import main
from benchtimer.clock import ManualClock


def parents_clock() -> ManualClock:
    """The clock of the process that started this one."""
    known = json.loads(os.environ["PARENTS_CLOCK"])
    clock = ManualClock(known["wall_ms"], known["boot"], known["offset_s"])
    clock.count_ms = known["count_ms"]
    return clock


if __name__ == "__main__":
    clock = parents_clock()
    with patch("benchtimer.clock.SystemClock", lambda: clock):
        sys.exit(main(sys.argv[1:]))
