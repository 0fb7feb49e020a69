"""What the commands about records share: opening the log, naming runs, printing."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, Wrong
from benchtimer.cli.pager import show
from benchtimer.cli.shop_context import data_path

if TYPE_CHECKING:
    from benchtimer.store.log import EventLog


@contextmanager
def opened(arguments: argparse.Namespace) -> Iterator[EventLog]:
    """The log, for reading; a run that doesn't exist is refused with a plain message."""
    from benchtimer.records.record_lookup import NoSuchRun
    from benchtimer.store.log import EventLog

    with closing(EventLog(data_path(arguments), read_only=True)) as log:
        try:
            yield log
        except NoSuchRun as error:
            raise Wrong(str(error), NO) from None


def count(text: str) -> int:
    """A number of runs, 1 or more."""
    if not text.isdecimal() or not 1 <= int(text[:8]) <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 1 to 1000000")
    return int(text)


def newest_option(parser: argparse.ArgumentParser) -> None:
    """Add the option for how many runs to look at."""
    parser.add_argument(
        "--newest",
        type=count,
        default=1000,
        metavar="N",
        help="look at up to this many runs (1000)",
    )


def put_out(text: str) -> None:
    """Print a long text through the pager, with its own line endings unchanged."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if "\r\n" in text and reconfigure is not None:
        reconfigure(newline="")
    show(text)


def known_parts(log: EventLog) -> list[str]:
    """The parts of the newest runs."""
    from benchtimer.records.record_lookup import NEAR

    return list(dict.fromkeys(part for run in log.runs(limit=NEAR) for part in run.parts))
