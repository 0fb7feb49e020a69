"""Measure everything, or the benchmarks named: ``python -m tests.benchmarks [NAME...]``.

Every figure is a ratio of two sides measured in turn in the same run. The table prints row by
row; ``--write FILE`` puts it between the two marks of a page.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks.figure import Asked, Figure, line, markdown, missed
from tests.marked import put_between

NAMES = (
    "commands", "start", "opening", "idle", "keys", "memory", "replay", "archive", "alarms",
    "learning", "planner", "late", "jobs",
)  # fmt: skip
"""Each a module of this package with ``measure(asked)``, which yields its figures."""

START, END = "<!-- figures -->", "<!-- end of figures -->"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print; the exit code does not depend on the figures."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("name", nargs="*", metavar="NAME", help=", ".join(NAMES))
    parser.add_argument("--quick", action="store_true", help="few rounds, to see that it works")
    parser.add_argument("--write", type=Path, help="put the table between the marks in a file")
    parser.add_argument("--json", type=Path, help="the figures for programs, into a file")
    asked = parser.parse_args(arguments)
    unknown = sorted(set(asked.name) - set(NAMES))
    if unknown:
        parser.error(f"no such benchmark: {', '.join(unknown)}; there are {', '.join(NAMES)}")
    print(machine())
    with tempfile.TemporaryDirectory(prefix="benchmarks-") as folder:
        figures = list(measured(asked.name or NAMES, Asked(Path(folder), asked.quick)))
    print(f"\n{markdown(figures, machine())}")
    if lost := missed(figures):
        print(f"\nMissed: {'; '.join(lost)}", file=sys.stderr)
    if asked.write:
        put_between(asked.write, START, END, markdown(figures, machine()))
    if asked.json:
        asked.json.write_text(json.dumps([f.as_table() for f in figures], indent=1) + "\n")
    return 0


def measured(names: Sequence[str], asked: Asked) -> Iterator[Figure]:
    """The figures of these benchmarks, each printed as soon as it is measured."""
    for name in names:
        begun = time.monotonic()
        for figure in import_module(f"tests.benchmarks.{name}").measure(asked):
            print(line(figure), flush=True)
            yield figure
        print(f"{name}: {time.monotonic() - begun:.0f} s", file=sys.stderr)


def machine() -> str:
    """The Python version, libraries and machine the figures apply to."""
    return (
        f"Python {platform.python_version()}, Textual {version('textual')}, "
        f"{len(os.sched_getaffinity(0))} cores"
    )


def alone(name: str) -> int:
    """Run one benchmark as its own command."""
    return main([Path(name).stem, *sys.argv[1:]])


if __name__ == "__main__":
    sys.exit(main())
