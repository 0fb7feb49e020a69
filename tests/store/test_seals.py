"""The seal of an entry reveals any change made directly in the file."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.run.events import Noted
from benchtimer.store.check import check_whole
from benchtimer.store.errors import Damaged
from benchtimer.store.log import FILE_NAME, EventLog
from benchtimer.store.log_transfer import NotCarried, checked
from benchtimer.store.seal import COLUMNS, Broken, digest_of, trouble_in
from tests.behind import behind, lock_again
from tests.store.histories import stamp_at, write
from tests.support import Hands

NAMES = [name.strip() for name in COLUMNS.split(",")]
ENTRIES = 5
RUN = "2026-02-02-1"


@pytest.fixture(name="folder", scope="module")
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A closed log with two streams."""
    folder = tmp_path_factory.mktemp("log")
    with closing(EventLog(folder)) as log:
        hands = Hands(names=("bolster",))
        write(log, hands, RUN)
        for number in range(2):
            event = Noted(press=0, t_ms=hands.now_ms, by="x", part=None, text=f"note {number}")
            log.append("bath/salts", [event], stamp_at(hands.now_ms))
    return folder


@pytest.fixture(name="copy")
def _copy(folder: Path, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A copy of the log to change, as a connection."""
    (tmp_path / FILE_NAME).write_bytes((folder / FILE_NAME).read_bytes())
    with behind(tmp_path / FILE_NAME) as db:
        yield db


def _is_refused(db: sqlite3.Connection, folder: Path, said: str) -> None:
    """Check that the full check, opening and backup all report the damage."""
    lock_again(db)
    with pytest.raises(Broken, match=said):
        check_whole(db)
    db.close()
    with pytest.raises(Damaged, match=said):
        EventLog(folder)
    with pytest.raises(NotCarried, match=said):
        checked(folder / FILE_NAME)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "seq"])
@pytest.mark.parametrize("seq", [1, 3, ENTRIES])
def test_a_change_of_any_column_of_any_entry_is_refused(
    copy: sqlite3.Connection, tmp_path: Path, name: str, seq: int
) -> None:
    """A changed figure or text in any column of the first, middle or last entry is refused."""
    copy.execute(
        f"UPDATE event SET {name} = CASE typeof({name}) WHEN 'integer' THEN {name} + 1"  # noqa: S608
        f" ELSE coalesce({name}, '') || 'x' END WHERE seq = ?",
        (seq,),
    )
    _is_refused(copy, tmp_path, f"entry {seq}: ")


@pytest.mark.parametrize("seq", range(1, ENTRIES))
def test_a_removed_entry_is_noticed(copy: sqlite3.Connection, tmp_path: Path, seq: int) -> None:
    """A missing entry before the last is named by its number."""
    copy.execute("DELETE FROM event WHERE seq = ?", (seq,))
    _is_refused(copy, tmp_path, f"entry {seq} is missing")


def test_a_run_cut_short_is_noticed(copy: sqlite3.Connection, tmp_path: Path) -> None:
    """A stream without its last entry is damaged, since the register has its number."""
    copy.execute("DELETE FROM event WHERE seq >= 3")
    _is_refused(copy, tmp_path, f"the register says that {RUN} ends with entry 3")


def test_an_entry_moved_into_another_stream_is_found(
    copy: sqlite3.Connection, tmp_path: Path
) -> None:
    """An entry resealed in another stream still lacks the one before it there."""
    select = f"SELECT {COLUMNS} FROM event WHERE seq = 2"  # noqa: S608
    row = list(copy.execute(select).fetchone())
    row[1] = "bath/salts"
    row[-1] = digest_of(row[:-1])
    copy.execute("DELETE FROM event WHERE seq = 2")
    marks = ", ".join("?" * len(row))
    copy.execute(f"INSERT INTO event ({COLUMNS}) VALUES ({marks})", row)  # noqa: S608
    _is_refused(copy, tmp_path, "entry 2: the one before it in bath/salts is missing")


def test_an_intact_log_is_accepted(copy: sqlite3.Connection, tmp_path: Path) -> None:
    """An unchanged log passes every check."""
    lock_again(copy)
    check_whole(copy)
    assert checked(tmp_path / FILE_NAME) == ENTRIES


VALUES = st.one_of(st.integers(-(2**53), 2**53), st.text(st.characters(codec="utf-8"), max_size=20))
ROWS = st.lists(VALUES, min_size=14, max_size=14)


@given(ROWS, st.integers(0, 13), VALUES)
def test_a_row_has_one_seal(row: list[int | str], at: int, other: int | str) -> None:
    """Another value in any column gives another checksum that fits SQLite's integers."""
    changed = [*row[:at], other, *row[at + 1 :]]
    assert 0 <= digest_of(row) < 2**63
    assert trouble_in([*row, digest_of(row)]) is None
    if str(other) != str(row[at]):
        assert trouble_in([*changed, digest_of(row)]) == "its checksum is wrong"


@given(ROWS, st.integers(0, 12))
def test_columns_are_sealed_in_their_order(row: list[int | str], at: int) -> None:
    """Swapping two columns gives another checksum."""
    swapped = [*row[:at], row[at + 1], row[at], *row[at + 2 :]]
    assert (digest_of(swapped) == digest_of(row)) == (str(row[at]) == str(row[at + 1]))
