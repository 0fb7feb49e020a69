"""Records how the parts of a run came out."""

from __future__ import annotations

import argparse

from benchtimer.cli.common import YES, json_option, put_json
from benchtimer.cli.record_common import opened
from benchtimer.cli.record_filters import VERDICTS
from benchtimer.cli.shop_context import driven


def options(parser: argparse.ArgumentParser) -> None:
    """RUN PART --verdict --rating --note."""
    parser.add_argument("run", metavar="RUN", help='a run\'s name, or "last"')
    parser.add_argument("part", metavar="PART", help="the part")
    parser.add_argument("--verdict", choices=VERDICTS, required=True, help="how it came out")
    parser.add_argument(
        "--rating", type=int, choices=range(1, 6), metavar="1-5", help="1 poor, 5 flawless"
    )
    parser.add_argument("--note", metavar="TEXT", help='a note; "photo: PATH" adds a picture')
    json_option(parser)


def judge(arguments: argparse.Namespace) -> int:
    """Save a judgment in the log, through the same engine as at the bench."""
    from benchtimer.records.record_lookup import run_name
    from benchtimer.run.commands import Judge, Note

    with opened(arguments) as log:
        name = run_name(log, arguments.run)
    with driven(arguments, "judge there, or when it has ended") as bench:
        bench.press(name, Judge(arguments.part, arguments.verdict, arguments.rating))
        if arguments.note:
            bench.press(name, Note(arguments.note, arguments.part))
    if arguments.json:
        keys = ("part", "verdict", "rating", "note")
        put_json({"run": name, **{key: getattr(arguments, key) for key in keys}})
        return YES
    rating = f", rating {arguments.rating} of 5" if arguments.rating is not None else ""
    print(f"{name}: {arguments.part}: {arguments.verdict}{rating}")
    return YES
