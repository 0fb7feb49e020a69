"""Saves unsaved entries to another folder when the bench closes, and says where they are."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from itertools import count
from pathlib import Path

from benchtimer.bench.unsaved import SteadyLog, Unsaved, how_many
from benchtimer.pasted import command_line
from benchtimer.store.entries import body_of, kind_of, local_time
from benchtimer.store.errors import SQLITE_TROUBLE, Overtaken, StoreError
from benchtimer.store.log import EventLog, LogEntry
from benchtimer.store.place import FILE_NAME, make_empty
from benchtimer.values import asdict

LINES_NAME = "not-saved.jsonl"


def parting(
    log: SteadyLog, folder: Path, places: Sequence[Path], say: Callable[[LogEntry], str]
) -> str:
    """Save unsaved entries somewhere else. Returns what to say about it.

    Args:
        log: the log that could not be written.
        folder: the data folder it belongs in.
        places: folders to try, best first.
        say: what an entry is in words.
    """
    text = f"NOT SAVED: {how_many(log.unsaved)}: {log.trouble}"
    kept = rescue(log, places)
    if kept is None:
        lines = [_in_words(entry, say) for x in log.unsaved for entry in x.entries]
        no_copy = "It could not be saved anywhere else, either. Write this down:"
        return "\n".join([text, no_copy, *lines])
    whole = kept / FILE_NAME
    if not whole.exists():
        return f"{text}\nIt is saved as text, for reading only: {kept / LINES_NAME}"
    command = command_line(["benchtimer", "--data", str(folder), "restore", str(whole)])
    return (
        f"{text}\nA complete log that includes it is saved: {whole}\n"
        f"Once the disk works again, run this before anything else:\n  {command}"
    )


def _in_words(entry: LogEntry, say: Callable[[LogEntry], str]) -> str:
    when = local_time(entry.stamp.wall_ms, entry.stamp.offset_s)
    return f"  {when} {entry.run}: {say(entry)}"


def rescue(log: SteadyLog, places: Sequence[Path]) -> Path | None:
    """Save unsaved entries in a new folder, in the first place that works.

    The folder holds the entries as lines of JSON, and, if the log itself can still be read, a whole
    log that includes them, to work with or to restore.

    Returns:
        The folder, or None if no place worked.
    """
    for place in places:
        with suppress(OSError):
            folder = _new_folder(place)
            _write_lines(folder / LINES_NAME, log.unsaved)
            _write_whole(log, folder)
            return folder
    return None


def _new_folder(place: Path) -> Path:
    for number in count(1):
        folder = place / f"benchtimer-rescue-{number}"
        with suppress(FileExistsError):
            folder.mkdir(mode=0o700)
            return folder
    raise AssertionError


def _write_lines(target: Path, unsaved: Sequence[Unsaved]) -> None:
    make_empty(target)
    with target.open("w", encoding="utf-8") as file:
        for entry in (entry for x in unsaved for entry in x.entries):
            event = entry.event
            heading = {
                "seq": entry.seq, "run": entry.run, "kind": kind_of(event), "press": event.press,
                "t_ms": event.t_ms, "by": event.by, "body": body_of(event),
                **asdict(entry.stamp),
            }  # fmt: skip
            file.write(json.dumps(heading, ensure_ascii=False) + "\n")
        file.flush()
        os.fsync(file.fileno())


def _write_whole(log: SteadyLog, folder: Path) -> None:
    """A whole log that includes the unsaved entries, if possible; otherwise nothing."""
    target = folder / FILE_NAME
    try:
        log.copy_to(target)
        with closing(EventLog(folder)) as copy:
            if copy.last_seq() != log.saved_seq:
                raise Overtaken(target, "it has other entries", "")
            for x in log.unsaved:
                copy.append(x.run, x.events, x.stamp, x.line, x.also)
    except (StoreError, *SQLITE_TROUBLE, OSError):
        for path in folder.glob(f"{FILE_NAME}*"):
            path.unlink(missing_ok=True)
