"""Run the fault campaign: ``python -m tests.faults [FAMILY...] [--scale X] [--seed N]``.

Every campaign uses and prints a fresh seed unless you give one. With ``--write FILE`` the
table replaces the text between the two marks in that file. The exit code is 1 if anything
was lost.
"""

from __future__ import annotations

import argparse
import secrets
import sys
import time
from importlib import import_module
from pathlib import Path

from tests.faults.row import Row, table
from tests.marked import put_between

FAMILIES: dict[str, int] = {
    "kills": 1_000, "power": 2_000, "disk": 500, "clocks": 5_000, "together": 100,
    "files": 100_000, "flips": 2_000, "model": 60_000, "soak": 1, "keys": 200_000,
    "obey": 1_000, "shop_hands": 200,
}  # fmt: skip
"""Each family's module in this package, and the tries of its long form."""

START, END = "<!-- fault table -->", "<!-- end of fault table -->"


def main(arguments: list[str] | None = None) -> int:
    """Run the requested families and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("family", nargs="*", help=", ".join(FAMILIES), metavar="FAMILY")
    parser.add_argument("--scale", type=float, default=1.0, help="this many times the tries")
    parser.add_argument("--seed", type=int, default=None, help="repeat a campaign")
    parser.add_argument("--write", type=Path, help="put the table between the marks in a file")
    asked = parser.parse_args(arguments)
    unknown = set(asked.family) - set(FAMILIES)
    if unknown:
        parser.error(
            f"no such family: {', '.join(sorted(unknown))}; there are {', '.join(FAMILIES)}"
        )
    seed = secrets.randbits(32) if asked.seed is None else asked.seed
    print(f"seed {seed}", file=sys.stderr)
    rows = [row for name in asked.family or FAMILIES for row in _family(name, seed, asked.scale)]
    print(table(rows))
    if asked.write:
        put_between(asked.write, START, END, table(rows))
    return 1 if any(row.lost for row in rows) else 0


def _family(name: str, seed: int, scale: float) -> list[Row]:
    tries = max(1, round(FAMILIES[name] * scale))
    begun = time.monotonic()
    rows: list[Row] = import_module(f"tests.faults.{name}").campaign(tries, seed)
    print(f"{name}: {time.monotonic() - begun:.0f} s", file=sys.stderr)
    for row in rows:
        if row.first:
            print(f"  {row.fault}: {row.first}", file=sys.stderr)
    return rows


if __name__ == "__main__":
    sys.exit(main())
