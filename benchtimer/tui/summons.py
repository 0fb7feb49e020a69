"""The shop's own alarm command: gets what is due, runs without a shell, can fail without harm."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence

from benchtimer.records.inert import visible

PATIENCE_S = 20
"""A command that takes longer than this is stopped."""


def summon(command: Sequence[str], message: str) -> str | None:
    """Run the command with the message as its last argument. Returns what went wrong, or None. No
    shell ever sees the message, which contains typed names.
    """
    try:
        done = subprocess.run(  # noqa: S603 - the shop's own command, and no shell
            [*command, visible(message, keep="")],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=PATIENCE_S,
            check=False,
            start_new_session=True,
        )
    except subprocess.TimeoutExpired:
        return f"The alarm command took more than {PATIENCE_S} s and was stopped"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it can't be started"
        return f"The alarm command can't be run: {visible(command[0], keep='')}: {reason}"
    return f"The alarm command failed with exit code {done.returncode}" if done.returncode else None
