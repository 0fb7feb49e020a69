"""The runs, and the record of one."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchtimer.cli.archive import count, put_json, put_out
from benchtimer.cli.common import NO, YES, Wrong
from benchtimer.cli.shop import data_path

if TYPE_CHECKING:
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
        "--limit", type=count, default=50, metavar="N", help="how many runs to list (50)"
    )


def record(arguments: argparse.Namespace) -> int:
    """List the runs, or print the record of one."""
    from benchtimer.store.log import EventLog

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
    put_out(FORMS[arguments.format](record))
    return YES
