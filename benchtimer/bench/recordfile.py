"""The record of a run as a file in the data folder."""

from __future__ import annotations

from pathlib import Path

from benchtimer.atomic_file import make_own_folder, write_if_new
from benchtimer.records.record import Record
from benchtimer.run.run_state import OVER
from benchtimer.store.entries import is_of_run
from benchtimer.store.log import EventLog, StoreError

ENTRIES_BACK = 50
"""How many of the last entries are sure to include the last press, with its bath entries."""


def records_folder(folder: Path) -> Path:
    """Where the records of a data folder are."""
    return folder / "records"


def run_without_record(log: EventLog) -> str | None:
    """The run whose record a killed process may not have written: its last press ended the run."""
    newest = log.entries_after(max(0, log.last_seq() - ENTRIES_BACK))
    runs = [entry.run for entry in newest if is_of_run(entry.event)]
    line = log.run_line(runs[-1]) if runs else None
    return line.name if line is not None and line.phase in OVER else None


def write_record_file(folder: Path, record: Record) -> Path:
    """The record as a TOML file in the data folder; it replaces an older one of the run."""
    from benchtimer.records.export import as_toml  # not before a run ends: a bench opens sooner

    target = records_folder(folder) / f"{record.run}.toml"
    try:
        make_own_folder(target.parent)
        write_if_new(target, as_toml(record))
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise StoreError(target, reason, "The log has everything: benchtimer record") from None
    return target
