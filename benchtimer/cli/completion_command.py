"""Scripts that make a shell ask the program for completions."""

from __future__ import annotations

import argparse

from benchtimer.cli.common import YES, shipped_text

SHELLS = {"bash": "bash", "zsh": "zsh", "fish": "fish", "powershell": "ps1"}
"""The file extension of each script."""


def options(parser: argparse.ArgumentParser) -> None:
    """SHELL."""
    parser.add_argument("shell", metavar="SHELL", choices=tuple(SHELLS), help=", ".join(SHELLS))


def completion(arguments: argparse.Namespace) -> int:
    """Print the script."""
    print(shipped_text("shells", f"benchtimer.{SHELLS[arguments.shell]}"), end="")
    return YES
