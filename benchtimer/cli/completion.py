"""Scripts that make a shell ask the program what may stand at the cursor."""

from __future__ import annotations

import argparse

from benchtimer.cli.common import YES, shipped_text

SHELLS = ("bash", "zsh", "fish")


def options(parser: argparse.ArgumentParser) -> None:
    """SHELL."""
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help="bash, zsh or fish")


def completion(arguments: argparse.Namespace) -> int:
    """Print the script."""
    print(shipped_text("shells", f"benchtimer.{arguments.shell}"), end="")
    return YES
