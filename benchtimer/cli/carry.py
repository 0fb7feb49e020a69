"""Carrying the log: backup, restore, export of all runs, import."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.archive import opened
from benchtimer.cli.common import NO, STORE, YES, Wrong
from benchtimer.cli.shop import data_path

if TYPE_CHECKING:
    from benchtimer.store.log import EventLog


def backup_options(parser: argparse.ArgumentParser) -> None:
    """FILE."""
    parser.add_argument("file", metavar="FILE", help="a file that does not exist yet")


def backup(arguments: argparse.Namespace) -> int:
    """Copy the log, whole, although the bench may be running."""
    from benchtimer.store import carry

    try:
        count = carry.backup(data_path(arguments), Path(arguments.file))
    except carry.NotCarried as error:
        raise Wrong(str(error), NO) from None
    print(f"{arguments.file}: {count} entries")
    return YES


def restore_options(parser: argparse.ArgumentParser) -> None:
    """FILE."""
    parser.add_argument(
        "file", metavar="FILE", help="a file made by benchtimer backup, or the log itself"
    )


def restore(arguments: argparse.Namespace) -> int:
    """Put a copy in the log's place; the log that was there is kept beside it."""
    from benchtimer.store import backups, carry, place

    with _alone(arguments):
        try:
            kept = carry.restore(data_path(arguments), Path(arguments.file))
        except carry.NotCarried as error:
            raise Wrong(str(error), NO) from None
        count = carry.checked(data_path(arguments) / place.FILE_NAME)
        backups.set_aside_newer(data_path(arguments), count)
    print(f"restored from {arguments.file}")
    if kept is not None:
        print(f"the log that was there is kept: {kept}")
    return YES


@contextmanager
def _alone(arguments: argparse.Namespace) -> Iterator[None]:
    """Hold the lease of the data folder, so that nobody else writes meanwhile."""
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
    parser.add_argument("folder", metavar="DIR", help="a folder, made if it is not there")


def export(arguments: argparse.Namespace) -> int:
    """Every run as a file that import reads, with its record as TOML and as a process card."""
    from benchtimer.whole import clear_away_halves, make_own_folder

    folder = Path(arguments.folder)
    done = 0
    with opened(arguments) as log:
        try:
            make_own_folder(folder)
            clear_away_halves(folder)
            for line in reversed(log.runs(limit=10**9)):
                _export_run(log, line.name, folder)
                done += 1
        except OSError as error:
            raise Wrong(f"{folder}: {error.strerror}; {done} runs were written", NO) from None
    print(f"{done} runs in {folder}")
    return YES


def _export_run(log: EventLog, name: str, folder: Path) -> None:
    from benchtimer.records.archive import record_of
    from benchtimer.records.forms import FORMS
    from benchtimer.store.carry import run_lines
    from benchtimer.whole import write_whole

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
    parser.add_argument("files", metavar="FILE", nargs="+", help="files ending in .jsonl of export")


def import_runs(arguments: argparse.Namespace) -> int:
    """Read runs in; one that is there already is left as it is."""
    from benchtimer.store.log import EventLog

    with _alone(arguments):
        log = EventLog(data_path(arguments))
        try:
            speed = arguments.speed or 1
            done = [_import_run(log, Path(file), speed) for file in arguments.files]
        finally:
            log.close()
    return YES if all(done) else NO


def _import_run(log: EventLog, file: Path, speed: float) -> bool:
    from benchtimer.bench.timeline import Timeline, bench_clock
    from benchtimer.clock import SystemClock
    from benchtimer.store import carry

    clock = SystemClock()
    timeline = Timeline(bench_clock(clock, log, speed), log.last_entry(), dated=log.last_dated())
    try:
        name = carry.carry_in(
            log, file, carry.read_run(file), clock.read().wall_ms,
            now_ms=timeline.stamp().noted_ms, speed=speed,
        )  # fmt: skip
    except carry.NotCarried as error:
        print(f"benchtimer: {error}", file=sys.stderr)
        return False
    print(f"{file}: run {name}" if name else f"{file}: there already")
    return True
