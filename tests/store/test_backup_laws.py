"""Which backups are kept, whatever backups existed before."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtimer.atomic_file import WRITING
from benchtimer.run.events import Noted
from benchtimer.store.backups import (
    BackupKeeper,
    backups,
    make_backup,
    newer_backup_words,
    newest_good,
    set_aside_newer,
    way_back,
)
from benchtimer.store.log import EventLog
from benchtimer.store.log_transfer import checked
from tests.behind import behind
from tests.store.histories import stamp_at

LAST_DAY_MS = 1_767_225_600_000
"""2026-01-01, the day of the log's only entry."""


@pytest.fixture(name="folder")
def _folder(tmp_path: Path) -> Path:
    """A closed log with nine entries."""
    with closing(EventLog(tmp_path)) as log:
        for number in range(9):
            event = Noted(press=0, t_ms=LAST_DAY_MS, by="x", part=None, text=str(number))
            log.append("bath/salts", [event], stamp_at(LAST_DAY_MS))
    return tmp_path


def _put(folder: Path, names: Iterable[str]) -> None:
    shutil.rmtree(folder / "backups", ignore_errors=True)
    (folder / "backups").mkdir()
    for name in names:
        (folder / "backups" / name).write_text("a copy")


def _name(day: int, hour: int, seq: int) -> str:
    return f"bench-202511{day:02}-{hour:02}0000-{seq:07}.sqlite3"


OLD = st.lists(
    st.tuples(st.integers(1, 20), st.integers(0, 23)), max_size=30, unique=True
).map(sorted)  # fmt: skip


@given(OLD)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_newest_five_and_the_last_of_each_of_seven_days_stay(
    folder: Path, old: list[tuple[int, int]]
) -> None:
    """The newest five stay, and the last of each of the seven days before."""
    names = [_name(day, hour, 100 + i) for i, (day, hour) in enumerate(old)]
    _put(folder, names)
    made = make_backup(folder)
    assert made is not None
    there = [*names, made.name]
    newest, rest = there[-5:], there[:-5]
    last_of_day = {name[:14]: name for name in rest}  # later ones replace earlier ones
    days = [last_of_day[day] for day in sorted(last_of_day)[-7:]]
    assert [copy.path.name for copy in backups(folder)] == sorted([*newest, *days], reverse=True)


def test_files_that_are_not_backups_are_left_alone(folder: Path) -> None:
    """Other files among the backups are left alone; unfinished backups are deleted."""
    others = ["bench-x.sqlite3", "notes.txt", "set-aside-bench-20251101-000000-0000001.sqlite3"]
    _put(folder, [*others, f"{WRITING}0-bench-20251101-000000-0000001.sqlite3"])
    made = make_backup(folder)
    assert made is not None
    assert {path.name for path in made.parent.iterdir()} == {*others, made.name}
    assert [(copy.path, copy.day, copy.seq) for copy in backups(folder)] == [(made, "20260101", 9)]


def test_a_copy_is_made_only_if_something_is_new(folder: Path) -> None:
    """Without a new entry there is no new copy, and an empty log is never copied."""
    assert make_backup(folder) is not None
    assert make_backup(folder) is None
    empty = folder / "empty"
    EventLog(empty).close()
    assert make_backup(empty) is None
    assert backups(empty) == []


@pytest.mark.parametrize(
    ("noted_ms", "expected"), [(9 * 10**15, "99991231-235959"), (0, "19700101-000000")]
)
def test_a_time_outside_the_calendar_still_gives_a_name(
    tmp_path: Path, noted_ms: int, expected: str
) -> None:
    """With any clock error, a copy has a name that sorts."""
    with closing(EventLog(tmp_path)) as log:
        event = Noted(press=0, t_ms=0, by="x", part=None, text="x")
        log.append("bath/salts", [event], stamp_at(noted_ms))
    made = make_backup(tmp_path)
    assert made is not None
    assert made.name == f"bench-{expected}-0000001.sqlite3"


def test_restore_uses_the_newest_whole_copy(folder: Path) -> None:
    """Recovery skips a damaged newer copy for an older whole one, and says so if none is left."""
    made = make_backup(folder)
    assert made is not None
    damaged = made.with_name("bench-20260105-000000-0000012.sqlite3")
    damaged.write_text("torn")
    with behind(folder / "bench.sqlite3") as db:
        db.execute("UPDATE event SET by = 'me' WHERE seq = 1")
    good = newest_good(folder)
    assert good is not None
    assert (good.path, checked(good.path)) == (made, 9)
    assert f"restore {made}" in way_back(folder)
    assert "has 9 entries" in way_back(folder)
    assert newer_backup_words(folder, 9) is None
    assert "ends with entry 8, but a backup of it has 9" in (newer_backup_words(folder, 8) or "")
    made.unlink()
    assert newest_good(folder) is None
    assert way_back(folder).startswith("There is no backup next to it")


def test_newer_copies_are_set_aside_and_older_ones_stay(folder: Path) -> None:
    """After you restore an older copy, backups with more entries no longer count."""
    _put(folder, [_name(1, 0, seq) for seq in (3, 5, 7)])
    set_aside_newer(folder, 5)
    assert [copy.seq for copy in backups(folder)] == [5, 3]
    kept = {path.name for path in (folder / "backups").iterdir()}
    assert f"set-aside-{_name(1, 0, 7)}" in kept


@pytest.mark.parametrize(("wanted", "made"), [(True, 1), (False, 0)])
def test_practice_needs_no_backups(folder: Path, wanted: bool, made: int) -> None:
    """The keeper makes one copy of new entries, and none in practice or without entries."""
    keeper = BackupKeeper(folder, wanted=wanted)
    for seq in (0, 9, 9):
        keeper.begin(seq)
        keeper.end()
    assert len(backups(folder)) == made
    assert keeper.trouble == ""


@pytest.fixture(name="blocked")
def _blocked(folder: Path) -> Iterator[BackupKeeper]:
    """A keeper with a file in the way of its folder."""
    (folder / "backups").write_text("in the way")
    keeper = BackupKeeper(folder)
    keeper.begin(9)
    keeper.end()
    yield keeper
    keeper.end()


def test_a_failed_backup_is_reported_and_retried_each_minute(
    blocked: BackupKeeper, folder: Path
) -> None:
    """The error stays on screen, and the next try comes a minute after the last, not sooner."""
    assert blocked.trouble.startswith("NO BACKUP: ")
    (folder / "backups").unlink()
    blocked.retry(9, 59_999)
    blocked.end()
    assert blocked.trouble
    blocked.retry(9, 60_000)
    blocked.end()
    assert blocked.trouble == ""
    assert len(backups(folder)) == 1
