"""The log: entries stay, in order, and can only be appended."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchtimer.run.events import Event, Noted, Started
from benchtimer.store.log import FILE_NAME, EventLog, RunLine, Stamp, StoreError
from benchtimer.store.schema import VERSION
from tests.behind import behind, seal_again

Opener = Callable[..., EventLog]


@pytest.fixture(name="opened")
def _opened() -> Iterator[Opener]:
    """Opens logs that are closed after the test."""
    logs: list[EventLog] = []

    def opened(folder: Path, *, read_only: bool = False) -> EventLog:
        logs.append(EventLog(folder, read_only=read_only))
        return logs[-1]

    yield opened
    for log in logs:
        log.close()


LINE = RunLine("2026-01-05-1", "running", "Test", ("bolster",), 1000, 3600)
STAMP = Stamp(noted_ms=5000, boot="b", count_ms=77, wall_ms=1000, offset_s=3600)


def _notes(*texts: str) -> list[Event]:
    return [Noted(press=1, t_ms=4000, by="maker", part=None, text=text) for text in texts]


def test_what_is_appended_reads_back(opened: Opener, tmp_path: Path) -> None:
    """Events come back in order, equal, with both clocks, also after reopening."""
    log = opened(tmp_path)
    written = log.append(LINE.name, _notes("one", "two ÅÖ 刃"), STAMP, LINE)
    log.close()
    assert opened(tmp_path).entries(LINE.name) == written


def test_the_log_is_durable_and_private(opened: Opener, tmp_path: Path) -> None:
    """The file is in WAL mode with full syncs, in a folder of its user alone."""
    folder = tmp_path / "bench"
    log = opened(folder)
    assert log._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert log._db.execute("PRAGMA synchronous").fetchone() == (2,)
    assert folder.stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize("statement", ["UPDATE event SET by = 'x'", "DELETE FROM event"])
def test_events_are_never_changed_or_deleted(
    opened: Opener, tmp_path: Path, statement: str
) -> None:
    """The file itself refuses to change or delete an event."""
    log = opened(tmp_path)
    log.append(LINE.name, _notes("one"), STAMP, LINE)
    with pytest.raises(sqlite3.IntegrityError, match="never"):
        log._db.execute(statement)


def test_a_press_is_written_whole_or_not_at_all(opened: Opener, tmp_path: Path) -> None:
    """If the second event of a press fails, the first is not in the log either."""
    log = opened(tmp_path)
    good, bad = _notes("one", "two")
    object.__setattr__(bad, "text", object())
    with pytest.raises(TypeError):
        log.append(LINE.name, [good, bad], STAMP, LINE)
    assert log.entries(LINE.name) == []
    assert log.runs() == []


def test_the_register_follows_the_events(opened: Opener, tmp_path: Path) -> None:
    """The list of runs has one line a run, newest first, with its last phase."""
    log = opened(tmp_path)
    log.append("a", _notes("x"), STAMP, RunLine("a", "idle", "A", ("p",), 1, 0))
    log.append("b", _notes("x"), STAMP, RunLine("b", "idle", "B", ("p", "q"), 2, 0))
    log.append("a", _notes("y"), STAMP, RunLine("a", "complete", "A", ("p",), 1, 0))
    assert [(r.name, r.phase) for r in log.runs()] == [("b", "idle"), ("a", "complete")]
    assert [r.name for r in log.runs(open_only=True)] == ["b"]


def test_readers_see_what_is_committed(opened: Opener, tmp_path: Path) -> None:
    """A reader in another connection sees each press as soon as it is written."""
    log = opened(tmp_path)
    log.append("a", _notes("one"), STAMP, LINE)
    reader = opened(tmp_path, read_only=True)
    log.append("a", _notes("two"), STAMP, LINE)
    assert [e.event.text for e in reader.entries_after(1) if isinstance(e.event, Noted)] == ["two"]


def test_a_reader_cannot_write(opened: Opener, tmp_path: Path) -> None:
    """The read-only view can't add an event."""
    opened(tmp_path).close()
    with pytest.raises(StoreError, match="readonly"):
        opened(tmp_path, read_only=True).append("a", _notes("x"), STAMP, LINE)


def test_a_missing_log_gets_a_message(opened: Opener, tmp_path: Path) -> None:
    """Watching a folder without a log gets a message."""
    with pytest.raises(StoreError, match="no log yet"):
        opened(tmp_path, read_only=True)


def test_a_newer_layout_is_refused_and_untouched(opened: Opener, tmp_path: Path) -> None:
    """A file from a newer program is neither opened nor changed."""
    opened(tmp_path).close()
    db = sqlite3.connect(tmp_path / FILE_NAME)
    db.execute(f"PRAGMA user_version = {VERSION + 1}")
    db.close()
    before = (tmp_path / FILE_NAME).read_bytes()
    with pytest.raises(StoreError, match="newer program"):
        opened(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == before


def test_an_older_layout_is_migrated_and_a_copy_kept(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file with an older layout is copied, then migrated, and keeps its events."""
    log = opened(tmp_path)
    written = log.append(LINE.name, _notes("one"), STAMP, LINE)
    log.close()
    from benchtimer.store import opening, schema

    def to_2(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE mood (text TEXT)")

    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, to_2))
    monkeypatch.setattr(schema, "VERSION", VERSION + 1)
    monkeypatch.setattr(opening, "VERSION", VERSION + 1)
    assert opened(tmp_path).entries(LINE.name) == written
    kept = sqlite3.connect(tmp_path / f"bench-layout-{VERSION}.sqlite3")
    assert kept.execute("SELECT count(*) FROM event").fetchone() == (1,)
    assert kept.execute("PRAGMA user_version").fetchone() == (VERSION,)
    kept.close()


def test_a_failed_migration_changes_nothing(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If a migration step fails, the file stays as it was."""
    opened(tmp_path).close()
    from benchtimer.store import opening, schema

    def broken(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE mood (text TEXT)")
        raise sqlite3.OperationalError("disk full")

    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, broken))
    monkeypatch.setattr(schema, "VERSION", VERSION + 1)
    monkeypatch.setattr(opening, "VERSION", VERSION + 1)
    with pytest.raises(StoreError, match="disk full"):
        opened(tmp_path)
    db = sqlite3.connect(tmp_path / FILE_NAME)
    assert db.execute("PRAGMA user_version").fetchone() == (VERSION,)
    assert "mood" not in [name for (name,) in db.execute("SELECT name FROM sqlite_master")]
    db.close()


def test_a_file_that_is_not_a_log_is_named(opened: Opener, tmp_path: Path) -> None:
    """A file with other contents is refused with its path."""
    (tmp_path / FILE_NAME).write_bytes(b"this is not a database, it is a shopping list" * 50)
    with pytest.raises(StoreError, match=r"bench\.sqlite3"):
        opened(tmp_path)


def test_an_entry_of_a_newer_program_is_named(opened: Opener, tmp_path: Path) -> None:
    """An entry of unknown kind is reported by its number."""
    log = opened(tmp_path)
    log.append("a", [Started(press=1, t_ms=0, by="maker")], STAMP, LINE)
    log.close()
    with behind(tmp_path / FILE_NAME) as db:
        db.execute("UPDATE event SET kind = 'levitated'")
        seal_again(db)
    with pytest.raises(StoreError, match=r"entry 1.*levitated"):
        opened(tmp_path).entries("a")


def test_a_folder_that_cannot_be_made_is_named(opened: Opener, tmp_path: Path) -> None:
    """A data folder under a plain file is refused with its path."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="file"):
        opened(tmp_path / "file" / "bench")
