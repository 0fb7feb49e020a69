"""A command that you can paste into your shell: sh, or cmd and PowerShell alike."""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Sequence

PLAIN = re.compile(r"[A-Za-z0-9_./:\\+,@=~-]+")
"""What needs no quotation marks in cmd or PowerShell."""

POWERSHELL_ONLY = re.compile(r"[$`\"]")
"""Characters that double quotation marks don't protect in PowerShell; cmd has no others."""


def command_line(words: Sequence[str], platform: str = sys.platform) -> str:
    """The words as one line to paste.

    On Windows the line reads the same in cmd and in PowerShell, unless a name has a dollar sign or
    a backtick in it: then it is for PowerShell.

    Args:
        words: program and arguments.
        platform: the operating system, as ``sys.platform`` names it.
    """
    if platform != "win32":
        return shlex.join(words)
    program, *rest = words
    # PowerShell takes a quoted program as text, not as a command, so it gets only the name.
    name = re.split(r"[\\/]", program)[-1].removesuffix(".exe")
    return " ".join([name, *(_for_windows(word) for word in rest)])


def _for_windows(word: str) -> str:
    if PLAIN.fullmatch(word):
        return word
    if POWERSHELL_ONLY.search(word):
        return "'" + word.replace("'", "''") + "'"
    # A backslash before the closing quote would escape it.
    return f'"{word}\\"' if word.endswith("\\") else f'"{word}"'
