"""Scripts that make a shell ask the program what may stand at the cursor."""

from __future__ import annotations

import argparse
from importlib.resources import files

from benchtimer.cli.common import YES

SHELLS = ("bash", "zsh", "fish")


def options(parser: argparse.ArgumentParser) -> None:
    """SHELL."""
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help="bash, zsh or fish")


def completion(arguments: argparse.Namespace) -> int:
    """Print the script."""
    script = files("benchtimer.cli") / "shells" / f"benchtimer.{arguments.shell}"
    print(script.read_text("utf-8"), end="")
    return YES
