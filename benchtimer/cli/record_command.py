"""The runs, with filters, and the record of one run in any form."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, USAGE, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import count, opened, put_out
from benchtimer.cli.record_filters import filter_options, find_runs, print_tries, query_of
from benchtimer.cli.shop_context import data_path
from benchtimer.records.forms import FORMS

if TYPE_CHECKING:
    from pathlib import Path

    from benchtimer.records.record import Record
    from benchtimer.store.index import Query
    from benchtimer.store.log import EventLog, RunLine


def options(parser: argparse.ArgumentParser) -> None:
    """RUN --as FORM, or filters."""
    parser.add_argument("run", metavar="RUN", nargs="?", help='a run\'s name, or "last"')
    parser.add_argument(
        "--as", dest="format", metavar="FORM", choices=FORMS,
        help=f"the format of one record: {', '.join(FORMS)} (default: text)",
    )  # fmt: skip
    parser.add_argument(
        "--open", action="store_true",
        help="write the process card into the data folder and open it in your browser",
    )  # fmt: skip
    parser.add_argument(
        "--limit", type=count, default=50, metavar="N", help="how many runs to list (50)"
    )
    filter_options(parser)
    json_option(parser)


def record(arguments: argparse.Namespace) -> int:
    """List the runs, or the ones that match the filters, or print the record of one."""
    query = query_of(arguments)
    if arguments.run:
        if query is not None:
            raise Wrong("filters list runs: leave out RUN, or the filters", USAGE)
        if arguments.json:
            arguments.format = "json"
    elif arguments.open or arguments.format is not None:
        option = "--open" if arguments.open else "--as"
        raise Wrong(f"{option} takes one run: name it", USAGE)
    with opened(arguments) as log:
        if arguments.run:
            return _print_one(arguments, log)
        if query is not None and arguments.outcome is not None:
            return print_tries(arguments, log, query)
        return _print_list(arguments, log, query)


def _print_list(arguments: argparse.Namespace, log: EventLog, query: Query | None) -> int:
    limit = arguments.limit
    runs = log.runs(limit=limit) if query is None else find_runs(arguments, log, query)
    if arguments.json:
        keys = ("name", "phase", "title", "parts")
        put_json([{key: getattr(run, key) for key in keys} for run in runs])
        return YES
    if not runs:
        print("no runs yet")
    print_runs(runs)
    if len(runs) == limit:
        print(
            f"the newest {len(runs)}; --limit N shows more; filters such as --part and --date "
            f"show fewer"
        )
    return YES


def print_runs(runs: Sequence[RunLine]) -> None:
    """Runs, one line each."""
    from benchtimer.records.inert import visible
    from benchtimer.store.entries import local_time

    for run in runs:
        day = local_time(run.created_ms, run.offset_s)[:16].replace("T", " ")
        line = f"{run.name:<14} {day}  {run.phase:<8}  {run.title}: {', '.join(run.parts)}"
        print(visible(line, keep=""))


def _print_one(arguments: argparse.Namespace, log: EventLog) -> int:
    from benchtimer.records.record_lookup import record_of

    record = record_of(log, arguments.run)
    if arguments.open:
        return _open_card(data_path(arguments), record)
    put_out(FORMS[arguments.format or "text"](record))
    return YES


def _open_card(folder: Path, record: Record) -> int:
    """Write the card where records are saved, and open it in the browser."""
    import webbrowser

    from benchtimer.atomic_file import make_own_folder, write_whole
    from benchtimer.bench.recordfile import records_folder

    card = records_folder(folder) / f"{record.run}.html"
    make_own_folder(card.parent)
    write_whole(card, FORMS["html"](record))
    print(card)
    try:
        opened = webbrowser.open(card.absolute().as_uri())
    except webbrowser.Error:
        opened = False
    if not opened:
        raise Wrong("no browser could be started; open the file yourself", NO)
    return YES
