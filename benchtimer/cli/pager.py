"""Shows text that is longer than the terminal in your pager."""

from __future__ import annotations

import os
import shlex
import shutil
import sys

PAGERS = ("less", "more")
"""The pagers to try if PAGER is not set."""


def show(text: str) -> None:
    """Print text, through the pager if it is longer than the terminal."""
    if _on_terminal() and _rows(text) >= shutil.get_terminal_size().lines and _paged(text):
        return
    print(text, end="" if text.endswith("\n") else "\n")


def _on_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _rows(text: str) -> int:
    columns = max(1, shutil.get_terminal_size().columns)
    return sum(max(1, -(-len(line) // columns)) for line in text.splitlines())


def _paged(text: str) -> bool:
    """Show text in the pager. Returns whether one could be started."""
    import subprocess

    try:
        words = shlex.split(os.environ.get("PAGER", ""))
    except ValueError:
        words = []
    words = words or [found for name in PAGERS if (found := shutil.which(name))][:1]
    try:
        return bool(words) and bool(
            # Run the user's own pager, without a shell.
            subprocess.run(words, input=text.encode(), check=False)  # noqa: S603
        )
    except (OSError, ValueError):
        return False
