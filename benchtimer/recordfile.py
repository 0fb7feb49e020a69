"""The record of a run as a file in the data folder."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from benchtimer.bath.events import BathEvent
from benchtimer.records.export import as_toml
from benchtimer.records.record import Record
from benchtimer.run.state import OVER
from benchtimer.store.log import EventLog, StoreError

WRITING = ".writing-"
"""What the name of a file begins with that is not yet written to its end."""


SO_FAR_BACK = 50
"""Among so many entries is that of the last press: what it booked on baths stands behind it."""


def clear_away_halves(folder: Path) -> None:
    """Remove what killed processes left unfinished; the caller holds the lease."""
    with suppress(OSError):  # where nothing can be written, nothing can be cleared away
        for left in (folder / "records").glob(f"{WRITING}*"):
            left.unlink(missing_ok=True)


def owed(log: EventLog) -> str | None:
    """The run whose record a killed process may not have written: its last press ended it."""
    newest = log.entries_after(max(0, log.last_seq() - SO_FAR_BACK))
    runs = [entry.run for entry in newest if not isinstance(entry.event, BathEvent)]
    line = log.run_line(runs[-1]) if runs else None
    return line.name if line is not None and line.phase in OVER else None


def write_record_file(folder: Path, record: Record) -> Path:
    """The record as a TOML file in the data folder; an older one of the run is replaced whole."""
    target = folder / "records" / f"{record.run}.toml"
    try:
        target.parent.mkdir(exist_ok=True, mode=0o700)
        text = as_toml(record)
        if not (target.is_file() and target.read_bytes() == text.encode()):
            _replace(target, text)
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise StoreError(target, reason, "The log has everything: benchtimer log") from None
    return target


def _replace(target: Path, text: str) -> None:
    """Write beside the target, force it to the disk, and put it in the target's place."""
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=WRITING)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
