"""A few tries side by side."""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, USAGE, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import opened, put_out
from benchtimer.quantity import did_you_mean

if TYPE_CHECKING:
    from benchtimer.records.tries import Try
    from benchtimer.store.log import EventLog

_NAMED = re.compile(r"(?P<run>[^:]+)(?::(?P<part>.*?)(?::(?P<number>[0-9]{1,4}))?)?")


def options(parser: argparse.ArgumentParser) -> None:
    """RUN..."""
    parser.add_argument(
        "runs",
        metavar="RUN[:PART[:TRY]]",
        nargs="*",
        help="runs, parts or tries; one run alone compares all its tries",
    )
    json_option(parser)


def compare(arguments: argparse.Namespace) -> int:
    """What differed, likeliest reason first."""
    from benchtimer.records import try_comparison as comparing

    with opened(arguments) as log:
        tries = _tries(log, arguments.runs)
    if len(tries) < 2:
        needed = "name two tries: RUN RUN, RUN:PART:1 RUN:PART:2, or a run with several"
        raise Wrong(needed, USAGE)
    found = comparing.compare(tries)
    if arguments.json:
        put_json(comparing.comparison_table(found))
    else:
        put_out(comparing.comparison_text(found))
    return YES


def _tries(log: EventLog, names: list[str]) -> list[Try]:
    """The tries you named: all tries of a run named alone, otherwise each part's last."""
    from benchtimer.records.record_lookup import record_of
    from benchtimer.records.tries import tries_of

    tries: list[Try] = []
    for name in names:
        match = _NAMED.fullmatch(name)
        if match is None:
            raise Wrong(f'"{name}" is not RUN, RUN:PART or RUN:PART:TRY', USAGE)
        record = record_of(log, match["run"])
        parts = [p for p in record.parts if match["part"] in (None, p.name)]
        if not parts:
            known = [part.name for part in record.parts]
            hint = did_you_mean(match["part"], known, f"its parts: {', '.join(known)}")
            raise Wrong(f'{record.run} has no part "{match["part"]}"; {hint}', NO)
        for part in parts:
            all_of_them = tries_of(record, part)
            if match["number"]:
                tries.append(_numbered(all_of_them, int(match["number"]), name))
            else:
                tries += all_of_them if len(names) == 1 else all_of_them[-1:]
    return tries


def _numbered(tries: list[Try], number: int, name: str) -> Try:
    if not 1 <= number <= len(tries):
        raise Wrong(f'"{name}": there were {len(tries)} tries', NO)
    return tries[number - 1]
