"""A desktop notice by the terminal: an operating system command (OSC) of ECMA-48.

Terminals agreed on no single one. The three kinds in use are OSC 9 (the text), OSC 777 (title
and text) and OSC 99 (title and text in two pieces). A terminal ignores a kind it doesn't know.
tmux passes them on inside its own wrapper, if its option ``allow-passthrough`` is on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from benchtimer.records.inert import visible

TITLE = "benchtimer"

LONGEST = 200
"""Letters of a message: notices are small, and terminals cut long sequences."""

ESC = "\x1b"
BEL = "\x07"
ST = f"{ESC}\\"


def _osc_9(text: str) -> str:
    return f"{ESC}]9;{text}{BEL}"


def _osc_777(text: str) -> str:
    # A semicolon ends a field here.
    return f"{ESC}]777;notify;{TITLE};{text.replace(';', ',')}{BEL}"


def _osc_99(text: str) -> str:
    return f"{ESC}]99;i=benchtimer:d=0;{TITLE}{ST}{ESC}]99;i=benchtimer:p=body;{text}{ST}"


KINDS: Mapping[str, Callable[[str], str]] = {"9": _osc_9, "777": _osc_777, "99": _osc_99}
"""By the number of the command."""


def notice(kind: str, message: str, environ: Mapping[str, str]) -> str:
    """What to write to the terminal so that it shows a message on the desktop.

    Args:
        kind: a key of ``KINDS``; anything else writes nothing.
        message: the words; what could end or disturb the sequence is taken out.
        environ: the environment: TMUX in it says that tmux is in between.
    """
    make = KINDS.get(kind)
    if make is None:
        return ""
    sequence = make(visible(" ".join(message.split()), keep="")[:LONGEST])
    if environ.get("TMUX"):
        return f"{ESC}Ptmux;{sequence.replace(ESC, ESC * 2)}{ST}"
    return sequence
