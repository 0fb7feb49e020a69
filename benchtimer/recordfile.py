"""The record of a run as a file in the data folder."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from benchtimer.records.export import as_toml
from benchtimer.records.record import Record
from benchtimer.store.log import StoreError


def write_record_file(folder: Path, record: Record) -> Path:
    """The record as a TOML file in the data folder; an older one of the run is replaced whole."""
    target = folder / "records" / f"{record.run}.toml"
    try:
        target.parent.mkdir(exist_ok=True, mode=0o700)
        _replace(target, as_toml(record))
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise StoreError(target, reason, "The log has everything: benchtimer log") from None
    return target


def _replace(target: Path, text: str) -> None:
    """Write beside the target, force it to the disk, and put it in the target's place."""
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".writing-")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
