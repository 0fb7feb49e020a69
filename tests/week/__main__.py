"""Prints the week as a diary: ``python -m tests.week [--seed N]``.

``--seeds N`` works that many weeks, one seed after another, and prints the differences.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.week.diary import diary, late_in, records
from tests.week.week import Week


def main() -> None:
    """Work a week or several and print it."""
    parser = argparse.ArgumentParser(prog="python -m tests.week", description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="how long hands take, what is read")
    parser.add_argument("--seeds", type=int, default=1, help="so many weeks, from --seed on")
    arguments = parser.parse_args()
    for seed in range(arguments.seed, arguments.seed + arguments.seeds):
        with tempfile.TemporaryDirectory() as folder:
            week = Week(Path(folder), seed=seed).work()
            late = [stay for record in records(week) for stay in late_in(record)]
            print(diary(week) if arguments.seeds == 1 else f"seed {seed}: late {late or 'nothing'}")


if __name__ == "__main__":
    main()
