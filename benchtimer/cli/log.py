"""The runs, and the record of one."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, YES, Wrong, data_path
from benchtimer.quantity import nearest

if TYPE_CHECKING:
    from benchtimer.store.log import EventLog


def options(parser: argparse.ArgumentParser) -> None:
    """RUN --as FORM."""
    parser.add_argument("run", metavar="RUN", nargs="?", help='a run\'s name, or "last"')
    parser.add_argument(
        "--as", dest="format", choices=("text", "json", "toml"), default="text", help="the form"
    )


def log_command(arguments: argparse.Namespace) -> int:
    """List the runs, or print the record of one."""
    from benchtimer.store.log import EventLog

    log = EventLog(data_path(arguments), read_only=True)
    try:
        return _log_run(arguments, log) if arguments.run else _log_list(arguments, log)
    finally:
        log.close()


def _log_list(arguments: argparse.Namespace, log: EventLog) -> int:
    from benchtimer.records.record import local_time

    runs = log.runs()
    if arguments.format == "json":
        keys = ("name", "phase", "title", "parts")
        print(json.dumps([{k: getattr(r, k) for k in keys} for r in runs], indent=2))
        return YES
    if not runs:
        print("no runs yet")
    for run in runs:
        day = local_time(run.created_ms, run.offset_s)[:16].replace("T", " ")
        print(f"{run.name:<14} {day}  {run.phase:<8}  {run.title}: {', '.join(run.parts)}")
    return YES


def _log_run(arguments: argparse.Namespace, log: EventLog) -> int:
    from benchtimer.bath.events import BathEvent
    from benchtimer.bathbook import BathBook
    from benchtimer.records.export import as_json, as_text, as_toml

    runs = log.runs()
    name = runs[0].name if arguments.run == "last" and runs else arguments.run
    entries = [x for x in log.entries(name) if not isinstance(x.event, BathEvent)]
    if not entries:
        near = nearest(name, [run.name for run in runs])
        hint = f', did you mean "{near}"?' if near else "; benchtimer log lists them"
        raise Wrong(f'there is no run "{name}"{hint}', NO)
    record = BathBook(log).record(name)
    print({"text": as_text, "json": as_json, "toml": as_toml}[arguments.format](record))
    return YES
