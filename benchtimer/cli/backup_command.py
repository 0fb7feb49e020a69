"""Backup, restore, export of all runs, and import."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from benchtimer.cli.common import NO, STORE, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import opened
from benchtimer.cli.shop_context import data_path
from benchtimer.progress import counted

if TYPE_CHECKING:
    from benchtimer.store.log import EventLog


def backup_options(parser: argparse.ArgumentParser) -> None:
    """FILE."""
    parser.add_argument("file", metavar="FILE", help="a file that does not exist yet")
    json_option(parser)


def backup(arguments: argparse.Namespace) -> int:
    """Copy the whole log, even while the bench is running."""
    from benchtimer.store import log_transfer

    try:
        count = log_transfer.backup(data_path(arguments), Path(arguments.file))
    except log_transfer.NotCarried as error:
        raise Wrong(str(error), NO) from None
    if arguments.json:
        put_json({"file": arguments.file, "entries": count})
    else:
        print(f"{arguments.file}: {count} entries")
    return YES


def restore_options(parser: argparse.ArgumentParser) -> None:
    """FILE."""
    parser.add_argument(
        "file", metavar="FILE", help="a file made by benchtimer backup, or the log itself"
    )
    _dry_run_option(parser)
    json_option(parser)


def restore(arguments: argparse.Namespace) -> int:
    """Put a copy in the log's place; the old log is kept next to it."""
    from benchtimer.store import backups, log_transfer, place

    source, kept = Path(arguments.file), None
    try:
        if arguments.dry_run:
            count = log_transfer.try_restore(source)
        else:
            with _alone(arguments):
                kept = log_transfer.restore(data_path(arguments), source)
                count = log_transfer.checked(data_path(arguments) / place.FILE_NAME)
                backups.set_aside_newer(data_path(arguments), count)
    except log_transfer.NotCarried as error:
        raise Wrong(str(error), NO) from None
    if arguments.json:
        put_json(
            {
                "from": arguments.file, "entries": count, "changed": not arguments.dry_run,
                "kept": str(kept) if kept is not None else None,
            }
        )  # fmt: skip
    elif arguments.dry_run:
        print(f"{arguments.file}: {count} entries, all intact; nothing was changed")
    else:
        print(f"restored from {arguments.file}")
        if kept is not None:
            print(f"the old log is kept: {kept}")
    return YES


def _dry_run_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--dry-run", action="store_true", help="read and check everything, change nothing"
    )


@contextmanager
def _alone(arguments: argparse.Namespace) -> Iterator[None]:
    """Hold the lease of the data folder, so that no other process writes in the meantime."""
    from benchtimer.clock import SystemClock
    from benchtimer.store.lease import Lease, LeaseTaken

    folder = data_path(arguments)
    try:
        lease = Lease(folder, SystemClock().read().wall_ms)
    except LeaseTaken as taken:
        raise Wrong(f"{taken}; leave it first", STORE) from None
    except OSError as error:
        raise Wrong(f"{folder}: {error.strerror}", STORE) from None
    try:
        yield
    finally:
        lease.release()


def export_options(parser: argparse.ArgumentParser) -> None:
    """all DIR."""
    parser.add_argument("what", choices=("all",), help="every run")
    parser.add_argument("folder", metavar="DIR", help="a folder; it is created if it is missing")
    json_option(parser)


def export(arguments: argparse.Namespace) -> int:
    """Write every run as a file that import reads, with its record as TOML and as a process
    card.
    """
    from benchtimer.atomic_file import clear_away_halves, make_own_folder

    folder = Path(arguments.folder)
    done: list[str] = []
    with opened(arguments) as log:
        try:
            make_own_folder(folder)
            clear_away_halves(folder)
            for line in counted(log.runs(limit=10**9)[::-1], "runs", every=1):
                _export_run(log, line.name, folder)
                done.append(line.name)
        except OSError as error:
            raise Wrong(f"{folder}: {error.strerror}; {len(done)} runs were written", NO) from None
    if arguments.json:
        put_json({"folder": arguments.folder, "runs": done})
    else:
        print(f"{len(done)} runs in {folder}")
    return YES


def _export_run(log: EventLog, name: str, folder: Path) -> None:
    from benchtimer.atomic_file import write_whole
    from benchtimer.records.forms import FORMS
    from benchtimer.records.record_lookup import record_of
    from benchtimer.store.log_transfer import run_lines

    record = record_of(log, name)
    files = {
        f"{name}.jsonl": "\n".join(run_lines(log.entries(name))) + "\n",
        f"{name}.toml": FORMS["toml"](record),
        f"{name}.html": FORMS["html"](record),
    }
    for file, text in files.items():
        write_whole(folder / file, text)


def import_options(parser: argparse.ArgumentParser) -> None:
    """FILE..."""
    parser.add_argument("files", metavar="FILE", nargs="+", help=".jsonl files made by export")
    _dry_run_option(parser)
    json_option(parser)


class Imported(NamedTuple):
    """What happened to one file.

    Attributes:
        file: its name.
        run: the name that the run has, or would have; None if it is already there or was refused.
        reason: why it was refused; empty if it was not.
    """

    file: str
    run: str | None
    reason: str = ""

    @property
    def words(self) -> str:
        """One line about it."""
        return f"{self.file}: run {self.run}" if self.run else f"{self.file}: already there"


def import_runs(arguments: argparse.Namespace) -> int:
    """Import runs; a run that is already there stays as it is."""
    from benchtimer.store.log import EventLog

    dry, folder = arguments.dry_run, data_path(arguments)
    with nullcontext() if dry else _alone(arguments):
        log = _log_if_there(folder) if dry else EventLog(folder)
        try:
            done = list(_each_file(log, arguments))
        finally:
            if log is not None:
                log.close()
    if arguments.json:
        put_json([found._asdict() for found in done])
    elif dry:
        print("nothing was changed")
    return NO if any(found.reason for found in done) else YES


def _log_if_there(folder: Path) -> EventLog | None:
    from benchtimer.store.log import EventLog
    from benchtimer.store.place import FILE_NAME, is_there

    return EventLog(folder, read_only=True) if is_there(folder / FILE_NAME) else None


def _each_file(log: EventLog | None, arguments: argparse.Namespace) -> Iterator[Imported]:
    """Read the files one by one, and report each right away."""
    speed = arguments.speed or 1
    for file in counted(arguments.files, "files", every=1):
        found = _import_run(log, file, speed, dry=arguments.dry_run)
        if found.reason:
            print(f"benchtimer: {found.reason}", file=sys.stderr)
        elif not arguments.json:
            print(found.words)
        yield found


def _import_run(log: EventLog | None, file: str, speed: float, *, dry: bool) -> Imported:
    from benchtimer.bench.bench_time import Timeline, bench_clock
    from benchtimer.clock import SystemClock
    from benchtimer.store import log_transfer

    path = Path(file)
    try:
        carried = log_transfer.read_run(path)
        if log is None:  # no files there to conflict with
            return Imported(file, carried.name)
        clock = SystemClock()
        dated = log.last_dated()
        timeline = Timeline(bench_clock(clock, log, speed), log.last_entry(), dated=dated)
        name = log_transfer.carry_in(
            log, path, carried, clock.read().wall_ms,
            now_ms=timeline.stamp().noted_ms, speed=speed, dry=dry,
        )  # fmt: skip
    except log_transfer.NotCarried as error:
        return Imported(file, None, str(error))
    return Imported(file, name)
