"""The runs, and the record of one."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchtimer.cli.archive import count, put_out
from benchtimer.cli.common import NO, USAGE, YES, Wrong, put_json
from benchtimer.cli.shop import data_path

if TYPE_CHECKING:
    from pathlib import Path

    from benchtimer.records.record import Record
    from benchtimer.store.log import EventLog, RunLine


def options(parser: argparse.ArgumentParser) -> None:
    """RUN --as FORM."""
    parser.add_argument("run", metavar="RUN", nargs="?", help='a run\'s name, or "last"')
    forms = ("text", "markdown", "csv", "json", "toml", "html")
    parser.add_argument(
        "--as", dest="format", metavar="FORM", choices=forms, default="text",
        help=f"the form: {', '.join(forms)}",
    )  # fmt: skip
    parser.add_argument(
        "--open", action="store_true",
        help="write the process card into the data folder and open it in your browser",
    )  # fmt: skip
    parser.add_argument(
        "--limit", type=count, default=50, metavar="N", help="how many runs to list (50)"
    )


def record(arguments: argparse.Namespace) -> int:
    """List the runs, or print the record of one."""
    from benchtimer.store.log import EventLog

    if arguments.open and not arguments.run:
        raise Wrong("--open shows the card of one run: name it", USAGE)
    log = EventLog(data_path(arguments), read_only=True)
    try:
        return _log_run(arguments, log) if arguments.run else _log_list(arguments, log)
    finally:
        log.close()


def _log_list(arguments: argparse.Namespace, log: EventLog) -> int:
    runs = log.runs(limit=arguments.limit)
    if arguments.format == "json":
        keys = ("name", "phase", "title", "parts")
        put_json([{k: getattr(r, k) for k in keys} for r in runs])
        return YES
    if not runs:
        print("no runs yet")
    print_runs(runs)
    if len(runs) == arguments.limit:
        print(f"the newest {len(runs)}; --limit N shows more, benchtimer find looks for some")
    return YES


def print_runs(runs: Sequence[RunLine]) -> None:
    """Runs, one line each."""
    from benchtimer.records.inert import visible
    from benchtimer.store.days import local_time

    for run in runs:
        day = local_time(run.created_ms, run.offset_s)[:16].replace("T", " ")
        told = f"{run.name:<14} {day}  {run.phase:<8}  {run.title}: {', '.join(run.parts)}"
        print(visible(told, keep=""))


def _log_run(arguments: argparse.Namespace, log: EventLog) -> int:
    from benchtimer.records.archive import NoSuchRun, record_of
    from benchtimer.records.forms import FORMS

    try:
        record = record_of(log, arguments.run)
    except NoSuchRun as error:
        raise Wrong(str(error), NO) from None
    if arguments.open:
        return _open_card(data_path(arguments), record)
    put_out(FORMS[arguments.format](record))
    return YES


def _open_card(folder: Path, record: Record) -> int:
    """Write the card where records are kept, and let the browser show it."""
    import webbrowser

    from benchtimer.bench.recordfile import records_folder
    from benchtimer.records.forms import FORMS
    from benchtimer.whole import make_own_folder, write_whole

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
