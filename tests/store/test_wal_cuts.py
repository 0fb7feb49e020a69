"""Losses in a write-ahead log, compared with what SQLite itself still reads."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtimer.store.wal import FRAME, HEAD, lost_commits

PAGE = 512
ROWS = 12
QUIET = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(name="wal", scope="module")
def _wal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database whose last transactions, one row each, are only in its write-ahead log."""
    folder = tmp_path_factory.mktemp("wal")
    with closing(sqlite3.connect(folder / "a", isolation_level=None)) as db:
        db.execute(f"PRAGMA page_size = {PAGE}")
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("CREATE TABLE t (x)")
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for number in range(ROWS):
            db.execute("INSERT INTO t VALUES (?)", (f"{number}" * 40,))
        shutil.copyfile(folder / "a", folder / "b")
        shutil.copyfile(folder / "a-wal", folder / "b-wal")
    return folder / "b-wal"


def _read_rows(raw: bytes, wal: Path, place: Path) -> int:
    """How many rows SQLite reads with a write-ahead log of these bytes."""
    target = place / "c"
    shutil.copyfile(wal.with_name("b"), target)
    target.with_name("c-wal").write_bytes(raw)
    with closing(sqlite3.connect(target)) as db:
        return int(db.execute("SELECT count(*) FROM t").fetchone()[0])


def _lost(raw: bytes, place: Path) -> int:
    path = place / "d-wal"
    path.write_bytes(raw)
    return lost_commits(path)


@given(st.data())
@QUIET
def test_a_cut_off_press_was_never_confirmed(
    wal: Path, tmp_path: Path, data: st.DataObject
) -> None:
    """A write-ahead log cut off anywhere shows no lost press."""
    raw = wal.read_bytes()
    assert _lost(raw[: data.draw(st.integers(0, len(raw)))], tmp_path) == 0


@given(st.data())
@QUIET
def test_entries_after_damage_are_counted_as_sqlite_leaves_them(
    wal: Path, tmp_path: Path, data: st.DataObject
) -> None:
    """With one changed byte, the reported number of presses is what SQLite no longer reads."""
    raw = bytearray(wal.read_bytes())
    frames = (len(raw) - HEAD) // (FRAME + PAGE)
    frame = data.draw(st.integers(0, frames - 1))
    at = HEAD + frame * (FRAME + PAGE) + FRAME + data.draw(st.integers(0, PAGE - 1))
    raw[at] ^= data.draw(st.integers(1, 255))
    assert _lost(bytes(raw), tmp_path) == ROWS - _read_rows(bytes(raw), wal, tmp_path)


@pytest.mark.parametrize("at", [0, 8, 13, 24, 31])
def test_an_unreadable_header_counts_as_a_loss(wal: Path, tmp_path: Path, at: int) -> None:
    """With its header damaged, nothing after it is read, and the loss is reported."""
    raw = bytearray(wal.read_bytes())
    raw[at] ^= 0x55
    assert _lost(bytes(raw), tmp_path) == 1
    assert _read_rows(bytes(raw), wal, tmp_path) == 0


def test_leftovers_of_an_earlier_cycle_are_not_a_loss(wal: Path, tmp_path: Path) -> None:
    """Frames of an older round after the current last one are normal, not a loss."""
    raw = bytearray(wal.read_bytes())
    last = len(raw) - (FRAME + PAGE)
    raw[last + 8 : last + 16] = b"earlier!"
    assert _lost(bytes(raw), tmp_path) == 0
    assert lost_commits(tmp_path / "none") == 0
